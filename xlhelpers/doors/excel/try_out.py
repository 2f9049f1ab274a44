"""Workbooks and a check list for somebody who has Excel: what to click and what must show.

Nobody has seen the functions and the button in Excel yet. Whoever works through the list can tell.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from xlsxwriter import Workbook

from xlhelpers.doors.excel import functions
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.cautions import SHORT_CAUTIONS
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PLOTS
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

SURVEY, FUNCTIONS, PAGE = "survey_to_try.xlsx", "functions_to_try.xlsx", "what_to_click.txt"
# two invented trees; the second is seen from two places
_INSTRUMENT = {"instrument": "C1", "kind": "clinometer, percent and degrees"}
_PLOT = {
    "plot": "1",
    "status": "measured",
    "crew": "AB",
    "instrument": "C1",
    "scale": "percent",
    "distance_kind": "level",
    "trees_counted": 2,
}
LINES: tuple[dict[str, Any], ...] = (
    {"tree": "1", "species": "Tilia cordata", "diameter": 44, "width_widest": 9.0,
     "width_across": 8.2, "distance": 20, "foot_reading": -8, "base_reading": 12,
     "tip_reading": 78},
    {"tree": "2", "species": "Quercus robur", "diameter": 62, "width_widest": 12.4,
     "width_across": 11.0, "distance": 25, "foot_reading": -6, "base_reading": 10,
     "tip_reading": 70},
    {"tree": "2", "setup": 2, "species": "Quercus robur", "distance": 20, "foot_reading": -8,
     "base_reading": 12, "tip_reading": 87},
)  # fmt: skip


@dataclass(frozen=True)
class Call:
    """One call of a function: its name and the values in the cells beside it."""

    name: str
    values: tuple[Any, ...]


CALLS = (
    Call("height_above_foot", (78, -8, 20, "percent")),
    Call("height_above_foot", (36, -4, 22, "degrees")),
    Call("height_above_foot", (36, None, 22, "degrees")),
    Call("height_above_foot", ("fence", -4, 22, "degrees")),
    Call("level_distance", (21.5, 20, "percent")),
    Call("height_from_straight_distances", (28.3, 36, 22.1, -4)),
    Call("crown_depth", (17.2, 4.0)),
    Call("crown_ratio", (17.2, 4.0, 17.2)),
    Call("crown_mean_width", (9.0, 8.2)),
    Call("crown_area", (9.0, 8.2)),
    Call("basal_area", (44, "cm")),
)
_WIDEST = max(len(call.values) for call in CALLS)
_COMPARE = "The same?"
STEPS = (
    "Close Excel. Run: xlhelpers excel install. Follow what it prints: import the macro, put it "
    "on a button, and on Windows set up the functions.",
    "Open {survey}. The tab Guide must show first. On Field sheet, lines 1 to 3 must show these "
    "heights: {heights}.",
    "Change the tip reading of tree 1 from 78 to 80, and do not save. Its height must change at "
    "once to {changed}.",
    "Press the button FillOpenWorkbook. The workbook must close and open again at the same cell, "
    "with the tabs Plots, Trees and To check filled. The message must name the backup first.",
    "Look at the tip reading of tree 1: it must still be 80. The backup must be in that folder.",
    "Close the workbook. Run: xlhelpers restore {survey}. The reading must be 78 or 80 again, as "
    "you choose.",
    "On Windows, open {functions} and save it as .xlsm. In the macro editor (Alt+F11) tick xlwings "
    "under Tools > References. Press Import Functions, then Ctrl+Alt+F9. Every line must say "
    "yes under “{compare}”.",
    "Empty one value on a line of {functions}. The result must be blank, not 0.",
    "Type # in place of a number. The result must say in words what is wrong.",
)
REPORT = (
    "Please report for each step: as described, or what you saw instead, with the version of "
    "Excel (File > Account) and of the system. Nobody has seen these steps in Excel before."
)


def write_try_out(folder: Path) -> tuple[Path, ...]:
    """Write the two workbooks and the page into a folder.

    Parameters
    ----------
    folder : Path
        Made if it is not there; files in it are never replaced.

    Raises
    ------
    WorkbookError
        If one of the files is there already.
    """
    paths = tuple(folder / name for name in (SURVEY, FUNCTIONS, PAGE))
    there = [path.name for path in paths if path.exists()]
    if there:
        raise WorkbookError(f"{folder} already has {', '.join(there)}. Name another folder.")
    folder.mkdir(parents=True, exist_ok=True)
    write_book(paths[0], _make_survey(), backup=False)
    _write_functions(paths[1])
    paths[2].write_text(write_page(), encoding="utf-8")
    return paths


def _make_survey() -> bytes:
    package = Package.from_bytes(make_template("metric", "a4", 5), SURVEY)
    key_rows(package, INSTRUMENTS, [_INSTRUMENT])
    key_rows(package, PLOTS, [_PLOT])
    key_rows(package, FIELD_SHEET, [{"plot": "1"} | line for line in LINES])
    return package.to_bytes()


def _write_functions(path: Path) -> None:
    book = Workbook(str(path))
    sheet = book.add_worksheet("Functions")
    for column, width in enumerate([32, *[12] * _WIDEST, 16, 16, 12]):
        sheet.set_column(column, column, width)
    bold = book.add_format({"bold": True})
    headings = ["Function", *(f"Value {n + 1}" for n in range(_WIDEST))]
    sheet.write_row(0, 0, [*headings, "Result", "Expected", _COMPARE], bold)
    for row, call in enumerate(CALLS, 1):
        _write_call(sheet, row, call)
    book.close()


def _write_call(sheet: Any, row: int, call: Call) -> None:
    sheet.write_string(row, 0, call.name)
    for at, value in enumerate(call.values, 1):
        sheet.write(row, at, value)
    cells = ",".join(f"{chr(ord('B') + at)}{row + 1}" for at in range(len(call.values)))
    expected = getattr(functions, call.name)(*call.values)
    result, right = (f"{chr(ord('B') + _WIDEST + at)}{row + 1}" for at in (0, 1))
    sheet.write_formula(row, _WIDEST + 1, f"={call.name}({cells})", value=expected)
    sheet.write(row, _WIDEST + 2, expected)
    near = f'IF(ISNUMBER({right}),ABS({result}-{right})<1E-9,{result}&""={right}&"")'
    sheet.write_formula(row, _WIDEST + 3, f'=IF(IFERROR({near},FALSE),"yes","no")', value="yes")


def _height(line: Mapping[str, Any]) -> float:
    tip, foot, distance = line["tip_reading"], line["foot_reading"], line["distance"]
    return float(functions.height_above_foot(tip, foot, distance, "percent"))


def write_page() -> str:
    """Return the check list as a text, with the heights that the workbook must show."""
    heights = [_height(line) for line in LINES]
    values = {
        "survey": SURVEY,
        "functions": FUNCTIONS,
        "heights": ", ".join(f"{height:.1f} m" for height in heights),
        "changed": f"{_height(LINES[0] | {'tip_reading': 80}):.1f} m",
        "compare": _COMPARE,
    }
    steps = [f"{n}. {step.format(**values)}" for n, step in enumerate(STEPS, 1)]
    return "\n\n".join(["Ten minutes in Excel", *steps, REPORT, SHORT_CAUTIONS]) + "\n"
