"""Write two workbooks that compute the same trees: one with our functions, one without Python.

Usage, with the project installed: python demo_workbooks/make_functions.py [--out FOLDER]

`functions.xlsx` calls the functions of the category “Tree measures”: first with one call for all
rows of a column, then with one call for each cell. `native_formulas.xlsx` has plain formulas in
their places. The results stored in both are those of the functions. The trees are invented; only
the names of the species are real.
"""

import argparse
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from xlsxwriter import Workbook

from xlhelpers.doors.excel import functions
from xlhelpers.measure.slopes import SCALES
from xlhelpers.measure.solids import SOLIDS, volume_over_area

CREATED = datetime(2025, 7, 1)
FIRST = 7  # the first row of trees, from 1
WHOLE, SINGLE = "Whole columns", "Trees"
"""The tabs with one call for many rows, and with a call for each."""

TREES = (
    ("A1", "Quercus robur", "percent", None, 25, -6, 10, 70, 62, 12.4, 11.0, "ellipsoid"),
    ("A2", "Tilia cordata", "percent", None, 20, -8, 12, 78, 44, 9.0, 8.2, "ellipsoid"),
    ("A3", "Acer platanoides", "degrees", None, 22, -4, 8, 36, 38, 8.6, 7.9, "ellipsoid"),
    ("A4", "Picea abies", "degrees", None, 24, -5, 3, 41, 47, 6.2, 5.8, "cone"),
    ("A5", "Betula pendula", "topographic", None, 18, -5, 9, 52, 29, 6.6, 6.0, "paraboloid"),
    ("A6", "Fraxinus excelsior", "topographic", None, 26, -4, 11, 48, 55, 10.8, 9.6, "ellipsoid"),
    ("A7", "Carpinus betulus", "fixed distance", 15, 15, -1.5, 2.5, 11, 33, 8.0, 7.4, "ellipsoid"),
    ("A8", "Fagus sylvatica", "fixed distance", 20, 20, -2, 3, 19, 71, 13.2, 12.1, "ellipsoid"),
    ("B1", "Sorbus aucuparia", "percent", None, 14, -10, 8, 46, 18, 4.4, 4.0, "ellipsoid"),
    ("B2", "Aesculus indica", "percent", None, "fence", -6, 9, 66, 66, 11.6, 11.2, "ellipsoid"),
)  # fmt: skip
INPUTS = (
    ("Tree", 7), ("Species", 25), ("Scale read", 15), ("Made for (m)", 10), ("Distance (m)", 10),
    ("Foot reading", 9), ("Crown base reading", 11), ("Tip reading", 9), ("Diameter (cm)", 10),
    ("Widest width (m)", 9), ("Width across (m)", 9), ("Crown outline", 12),
)  # fmt: skip


class Result(NamedTuple):
    """One column of results: heading, unit format, the function's call and the plain formula.

    `{name}` stands for a cell of the row; names are those of `COLUMNS`.
    """

    name: str
    heading: str
    look: str
    call: str
    plain: str


COLUMNS = {
    "tree": "A", "species": "B", "scale": "C", "made_for": "D", "distance": "E", "foot": "F",
    "base": "G", "tip": "H", "diameter": "I", "widest": "J", "across": "K", "outline": "L",
}  # fmt: skip
RESULTS_FROM = "M"


def _slope(reading: str) -> str:
    names = ",".join(f'"{name}"' for name in SCALES)
    ways = {
        "percent": "{r}/100",
        "degrees": "TAN(RADIANS({r}))",
        "topographic": "{r}/66",
        "fixed distance": "{r}/{made_for}",
    }
    listed = ",".join(ways[name] for name in SCALES)
    text = f"CHOOSE(MATCH({{scale}},{{{{{names}}}}},0),{listed})"
    return text.replace("{r}", f"{{{reading}}}")


def _where(cells: str, formula: str) -> str:
    """Return a formula that stays blank where a number is missing and says where it is a text."""
    wanted = cells.split()
    blank = ",".join(f'{{{cell}}}=""' for cell in wanted)
    numbers = ",".join(f"ISNUMBER({{{cell}}})" for cell in wanted)
    return f'IF(OR({blank}),"",IF(AND({numbers}),{formula},"text, not a number"))'


def _height(point: str) -> str:
    return _where(f"{point} foot distance", f"{{distance}}*({_slope(point)}-{_slope('foot')})")


def _factors() -> str:
    names = ",".join(f'"{name}"' for name in SOLIDS)
    numbers = ",".join(repr(float(volume_over_area(name, 1.0, 1.0))) for name in SOLIDS)
    return f"INDEX({{{{{numbers}}}}},MATCH({{outline}},{{{{{names}}}}},0))"


RESULTS = (
    Result("height", "Total height (m)", "0.0",
           "height_above_foot({tip},{foot},{distance},{scale},{made_for})", _height("tip")),
    Result("crown_base", "Crown base (m)", "0.0",
           "height_above_foot({base},{foot},{distance},{scale},{made_for})", _height("base")),
    Result("depth", "Crown depth (m)", "0.0",
           "crown_depth({height},{crown_base})",
           _where("height crown_base", "{height}-{crown_base}")),
    Result("ratio", "Live crown ratio", "0%",
           "crown_ratio({height},{crown_base},{height})",
           _where("height crown_base", "({height}-{crown_base})/{height}")),
    Result("width", "Mean width (m)", "0.0",
           "crown_mean_width({widest},{across})",
           _where("widest across", "AVERAGE({widest},{across})")),
    Result("area", "Crown area (m²)", "0",
           "crown_area({widest},{across})", _where("widest across", "PI()/4*{widest}*{across}")),
    Result("volume", "Crown volume (m³)", "0",
           "crown_volume({outline},{widest},{across},{depth})",
           _where("depth area", f"{_factors()}*{{area}}*{{depth}}")),
    Result("basal", "Basal area (m²)", "0.000",
           'basal_area({diameter},"cm")', _where("diameter", "PI()/4*({diameter}/100)^2")),
    Result("stand", "Stand at least (m)", "0.0",
           "standing_distance({height},1.5,45)",
           _where("height", "MAX(0,{height}-1.5)/TAN(RADIANS(45))")),
)  # fmt: skip
NOTES = {
    "functions": (
        "Tree measures with our functions",
        "Needs LibreOffice (run xlhelpers libreoffice install), or Excel on Windows with the "
        "xlwings add-in (run xlhelpers excel install, then press Import Functions).",
    ),
    "native_formulas": (
        "The same tree measures with plain formulas",
        "Needs no Python. Tried in LibreOffice; nobody here has seen it in Excel. Text in place "
        "of a number is said; what else may be wrong is found by the functions and xlhelpers fill.",
    ),
}
FORMS = {
    ("functions", WHOLE): "Each column of results is one call for all rows: mark the cells, type "
    "the formula and press Ctrl+Shift+Enter. That is much faster than a call in each cell. Without "
    f"the functions LibreOffice shows #NAME? here; the tab {SINGLE} has the results.",
    ("functions", SINGLE): f"A call in each cell. The tab {WHOLE} shows one call for many rows. "
    "Without the functions the results below are those that were stored; a cell that is calculated "
    "again shows #NAME?.",
}
"""What a tab says of itself."""
CAUTION = (
    "Invented trees. While measuring: one person watches the traffic, never step back while "
    "aiming, treat every wire as live, nobody under a dead or split top."
)


def letters() -> dict[str, str]:
    """Return the column of every name."""
    start = ord(RESULTS_FROM)
    return COLUMNS | {result.name: chr(start + at) for at, result in enumerate(RESULTS)}


def results_of(tree: Sequence[Any]) -> dict[str, Any]:
    """Return what the functions give for one tree, by the name of the result."""
    cells: dict[str, Any] = dict(zip(COLUMNS, tree, strict=True))
    for result in RESULTS:
        name, _, rest = result.call.partition("(")
        given = [
            cells[text.strip("{}")] if text.startswith("{")
            else text.strip('"') if text.startswith('"') else float(text)
            for text in rest.rstrip(")").split(",")
        ]  # fmt: skip
        cells[result.name] = getattr(functions, name)(*given)
    return {result.name: cells[result.name] for result in RESULTS}


def stored(kind: str, tree: Sequence[Any], name: str, value: Any) -> Any:
    """Return the result to be stored: that of the function, or the plain formula's own words."""
    if kind == "functions" or not isinstance(value, str) or value == "":
        return value
    return "text, not a number"


def columns_of(trees: Sequence[Sequence[Any]]) -> dict[str, list[Any]]:
    """Return what one call for many rows gives, by the name of the result."""
    cells = {name: [[tree[at]] for tree in trees] for at, name in enumerate(COLUMNS)}
    for result in RESULTS:
        name, _, rest = result.call.partition("(")
        given = [
            cells[text.strip("{}")] if text.startswith("{")
            else text.strip('"') if text.startswith('"') else float(text)
            for text in rest.rstrip(")").split(",")
        ]  # fmt: skip
        cells[result.name] = getattr(functions, name)(*given)
    return {result.name: [row[0] for row in cells[result.name]] for result in RESULTS}


def write_book(path: Path, kind: str) -> None:
    """Write one of the two workbooks."""
    book = Workbook(str(path))
    book.set_properties({"created": CREATED})
    for tab in (WHOLE, SINGLE) if kind == "functions" else (SINGLE,):
        _write_sheet(book, tab, kind)
    book.close()


def _write_sheet(book: Workbook, tab: str, kind: str) -> None:
    sheet = book.add_worksheet(tab)
    looks = {
        "title": book.add_format({"bold": True, "font_size": 14}),
        "note": book.add_format({"text_wrap": True, "valign": "top"}),
        "head": book.add_format(
            {"bold": True, "text_wrap": True, "border": 1, "valign": "top", "bg_color": "#E2EFDA"}
        ),
        "given": book.add_format({"border": 1, "bg_color": "#FFFFFF"}),
    }
    last = len(INPUTS) + len(RESULTS) - 1
    title, note = NOTES[kind]
    sheet.write_string(0, 0, title, looks["title"])
    sheet.merge_range(
        1, 0, 1, last, " ".join(filter(None, (FORMS.get((kind, tab)), note))), looks["note"]
    )
    sheet.merge_range(2, 0, 2, last, CAUTION, looks["note"])
    sheet.set_row(1, 32)
    sheet.merge_range(4, 0, 4, len(INPUTS) - 1, "Typed", looks["head"])
    sheet.merge_range(4, len(INPUTS), 4, last, "Computed", looks["head"])
    for at, (heading, width) in enumerate(INPUTS):
        sheet.set_column(at, at, width)
        sheet.write_string(FIRST - 2, at, heading, looks["head"])
    shown = {}
    for at, result in enumerate(RESULTS, len(INPUTS)):
        sheet.set_column(at, at, 12)
        sheet.write_string(FIRST - 2, at, result.heading, looks["head"])
        shown[result.name] = book.add_format(
            {"border": 1, "bg_color": "#F2F2F2", "num_format": result.look}
        )
    for row, tree in enumerate(TREES, FIRST):
        for at, value in enumerate(tree):
            sheet.write(row - 1, at, value, looks["given"])
    if tab == WHOLE:
        _write_columns(sheet, shown)
    else:
        _write_cells(sheet, kind, shown)
    sheet.set_row(FIRST - 2, 48)
    sheet.freeze_panes(FIRST - 1, 1)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)


def _write_columns(sheet: Any, shown: dict[str, Any]) -> None:
    """Write one array formula for each column, and beside its first result the others."""
    last = FIRST + len(TREES) - 1
    places = {name: f"{letter}{FIRST}:{letter}{last}" for name, letter in letters().items()}
    values = columns_of(TREES)
    for at, result in enumerate(RESULTS, len(INPUTS)):
        text, look = f"{{={result.call.format(**places)}}}", shown[result.name]
        first, *others = values[result.name]
        sheet.write_array_formula(FIRST - 1, at, last - 1, at, text, look, first)
        for row, value in enumerate(others, FIRST):
            sheet.write(row, at, value, look)


def _write_cells(sheet: Any, kind: str, shown: dict[str, Any]) -> None:
    """Write a formula into each cell."""
    for row, tree in enumerate(TREES, FIRST):
        places = {name: f"{letter}{row}" for name, letter in letters().items()}
        values = results_of(tree)
        for at, result in enumerate(RESULTS, len(INPUTS)):
            text = result.call if kind == "functions" else result.plain
            value = stored(kind, tree, result.name, values[result.name])
            sheet.write_formula(row - 1, at, f"={text.format(**places)}", shown[result.name], value)


def main(arguments: Sequence[str] | None = None) -> int:
    """Write both workbooks into a folder, this one unless stated; returns the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="folder")
    folder = parser.parse_args(arguments).out
    folder.mkdir(parents=True, exist_ok=True)
    for kind in NOTES:
        write_book(folder / f"{kind}.xlsx", kind)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
