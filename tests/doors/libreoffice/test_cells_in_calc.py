"""The functions in cells of LibreOffice Calc, against the room ``measure`` and stored results."""

from __future__ import annotations

import os
import re
import signal
import time
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from tests.doors.excel.cases import CASES, ROWS
from tests.doors.libreoffice.conftest import Remote
from xlhelpers.measure import heights

pytestmark = [pytest.mark.slow, pytest.mark.libreoffice]
ROOT = Path(__file__).parents[3]
NEW = "private:factory/scalc"
SHEET = "Sheet1"
MANY = 10_000


def letter(column: int) -> str:
    return chr(ord("A") + column)


@pytest.fixture
def sheet(remote: Remote) -> Remote:
    remote.open(NEW)
    return remote


def column_of(remote: Remote, cells: str) -> list[Any]:
    return [row[0] for row in remote.get("", SHEET, cells)]


@pytest.mark.parametrize("name", CASES)
def test_each_function_gives_what_measure_gives(name: str, sheet: Remote) -> None:
    case = CASES[name]
    width = len(case.columns)
    rows = [list(row) for row in zip(*case.columns.values(), strict=True)]
    sheet.set("", SHEET, f"A1:{letter(width - 1)}{ROWS}", rows)
    whole = ";".join(f"{letter(at)}1:{letter(at)}{ROWS}" for at in range(width))
    single = [
        f"={name}({';'.join(f'{letter(at)}{row}' for at in range(width))})" for row in range(1, 9)
    ]
    sheet.array("", SHEET, f"K1:K{ROWS}", f"={name}({whole})")
    sheet.formulas("", SHEET, "L1:L8", [[text] for text in single])
    assert column_of(sheet, f"K1:K{ROWS}") == pytest.approx(case.expected, rel=1e-9)
    assert column_of(sheet, "L1:L8") == pytest.approx(case.expected[:8], rel=1e-9)


def test_ten_thousand_trees_as_array_and_as_single_cells(sheet: Remote) -> None:
    random = np.random.default_rng(5)
    point, foot = random.uniform(20, 90, MANY), random.uniform(-20, 0, MANY)
    distance = random.uniform(8, 40, MANY)
    rows = np.column_stack([point, foot, distance]).tolist()
    sheet.set("", SHEET, f"A1:C{MANY}", rows)
    ranges = ";".join(f"{one}1:{one}{MANY}" for one in "ABC")
    once = sheet.array("", SHEET, f"E1:E{MANY}", f'=height_above_foot({ranges};"percent")')
    expected = np.asarray(heights.from_percent(point, foot, distance))
    assert column_of(sheet, f"E1:E{MANY}") == pytest.approx(expected.tolist(), rel=1e-9)
    began = time.monotonic()
    sheet.formulas("", SHEET, "F1:F1", [['=height_above_foot(A1;B1;C1;"percent")']])
    sheet.fill_down("", SHEET, f"F1:F{MANY}")
    assert column_of(sheet, f"F1:F{MANY}") == pytest.approx(expected.tolist(), rel=1e-9)
    each = time.monotonic() - began
    print(f"{MANY:,} trees: {once:.2f} s as one array formula, {each:.1f} s as single cells")


def test_several_stems_of_a_tree_in_one_row(sheet: Remote) -> None:
    sheet.set("", SHEET, "A1:C3", [[30, 40, None], [None, None, None], [5, "x", 12]])
    sheet.array("", SHEET, "E1:E3", "=combined_diameter(A1:C3)")
    found = column_of(sheet, "E1:E3")
    assert found[0] == pytest.approx(50, rel=1e-9)  # the root of 30² + 40²
    assert found[1:] == ["", "stem_diameters: 'x' is not a number"]


def test_blanks_words_errors_and_text_numbers(sheet: Remote) -> None:
    """Each cell is what it is in Excel; an error cell alone gives its own error."""
    cells = [[None], [0], ["abc"], ["12,5"], ["1,250"], ["  40 "], [50]]
    sheet.set("", SHEET, "A1:A7", cells)
    sheet.formulas("", SHEET, "A8:A10", [["=NA()"], ['=""'], ["=TRUE()"]])
    texts = [[f'=height_above_foot(A{row};-4;20;"percent")'] for row in range(1, 11)]
    sheet.formulas("", SHEET, "C1:C10", texts)
    sheet.array("", SHEET, "D1:D7", '=height_above_foot(A1:A7;-4;20;"percent")')
    found = column_of(sheet, "C1:C7")
    assert found[0] == ""
    assert found[1] == pytest.approx(0.8, rel=1e-9)
    assert found[2] == "point_reading: 'abc' is not a number"
    assert found[3] == pytest.approx(3.3, rel=1e-9)
    assert found[4] == "point_reading: '1,250' could be 1.250 or 1250"
    assert found[5:] == pytest.approx([8.8, 10.8], rel=1e-9)
    assert column_of(sheet, "D1:D7") == found
    assert sheet.shown("", SHEET, "C8") == ["#N/A", 32767]
    # Calc does not call the function for a range with an error in it
    sheet.array("", SHEET, "E1:E8", '=height_above_foot(A1:A8;-4;20;"percent")')
    assert {tuple(sheet.shown("", SHEET, f"E{row}")) for row in range(1, 9)} == {("#N/A", 32767)}
    assert sheet.shown("", SHEET, "C9") == ["", 0]
    # Calc hands over TRUE as 1
    assert column_of(sheet, "C10:C10") == pytest.approx([1.0], rel=1e-9)


def test_what_is_left_out_or_unknown_is_answered_with_a_text(sheet: Remote) -> None:
    sheet.set("", SHEET, "A1:A1", [[15]])
    calls = [
        '=height_above_foot(11;-1.5;15;"fixed distance";A1)',
        '=height_above_foot(11;-1.5;15;"fixed distance")',
        '=height_above_foot(11;-1.5;15;"furlongs")',
        "=height_above_foot(11)",
        '=height_above_foot(A1*2;-4;20;"percent")',
        "=SUM(crown_depth(12;4);1)",
        '=IF(crown_depth(4;12)="";"";"text")',
    ]
    sheet.formulas("", SHEET, "C1:C7", [[text] for text in calls])
    found = column_of(sheet, "C1:C7")
    assert found[0] == pytest.approx(12.5, rel=1e-9)
    assert found[1] == ""
    assert found[2].startswith("reading_scale: 'furlongs' is not one of percent, degrees")
    assert found[3] == ""
    assert found[4] == pytest.approx(6.8, rel=1e-9)
    assert found[5] == pytest.approx(9, rel=1e-9)
    assert found[6] == "text"


def test_the_demo_workbook_calculates_what_is_stored_in_it(remote: Remote, tmp_path: Path) -> None:
    source = ROOT / "demo_workbooks" / "functions.xlsx"
    stored = openpyxl.load_workbook(source, data_only=True)["Trees"]["M7:U16"]
    remote.open(str(source))
    remote.set("functions.xlsx", "Trees", "M7:U16", [["?"] * 9] * 10)  # nothing stored is left
    formulas = openpyxl.load_workbook(source)["Trees"]
    texts = [
        [formulas.cell(row, column).value.replace(",", ";") for column in range(13, 22)]
        for row in range(7, 17)
    ]
    remote.formulas("functions.xlsx", "Trees", "M7:U16", texts)
    shown = remote.get("functions.xlsx", "Trees", "M7:U16")
    for cells, row in zip(stored, shown, strict=True):
        expected = ["" if cell.value is None else cell.value for cell in cells]
        for one, other in zip(expected, row, strict=True):
            assert other == (pytest.approx(one, rel=1e-9) if isinstance(one, float) else one)


def test_the_whole_columns_of_the_demo_workbook(remote: Remote) -> None:
    """One call for all rows, calculated as it is stored: each cell is that of the single call."""
    source = ROOT / "demo_workbooks" / "functions.xlsx"
    remote.open(str(source))
    for tab in ("Whole columns", "Trees"):
        remote.set("functions.xlsx", tab, "E7:E16", [[50]] * 10)  # nothing stored is left
    remote.calculate("functions.xlsx")
    whole = remote.get("functions.xlsx", "Whole columns", "M7:U16")
    single = remote.get("functions.xlsx", "Trees", "M7:U16")
    assert all(cell > 0 for row in single for cell in row)
    for one, other in zip(whole, single, strict=True):
        assert one == pytest.approx(other, rel=1e-9)


def test_the_demo_workbook_as_it_is_loaded_and_its_names_when_saved(
    remote: Remote, tmp_path: Path
) -> None:
    source = ROOT / "demo_workbooks" / "functions.xlsx"
    stored = openpyxl.load_workbook(source, data_only=True)["Trees"]["M7:U16"]
    remote.open(str(source))
    remote.set("functions.xlsx", "Trees", "E7:E7", [[50]])  # double the distance
    remote.calculate("functions.xlsx")
    height, base = remote.get("functions.xlsx", "Trees", "M7:N7")[0]
    assert height == pytest.approx(2 * stored[0][0].value, rel=1e-9)
    assert base == pytest.approx(2 * stored[0][1].value, rel=1e-9)
    saved = tmp_path / "saved.xlsx"
    remote.save_as("functions.xlsx", str(saved), FilterName="Calc MS Excel 2007 XML")
    text = zipfile.ZipFile(saved).read("xl/worksheets/sheet1.xml").decode()
    names = set(re.findall(r"<f[^>]*>([A-Za-z_.0-9]+)\(", text))
    assert {name.lower() for name in names} == {
        "height_above_foot", "crown_depth", "crown_ratio", "crown_mean_width", "crown_area",
        "crown_volume", "basal_area", "standing_distance",
    }  # fmt: skip


def helpers_of(pid: int) -> list[int]:
    """The processes that an office has started to compute."""
    found = []
    for place in Path("/proc").iterdir():
        if place.name.isdigit():
            try:
                words = (place / "cmdline").read_bytes().split(b"\0")
                status = (place / "status").read_text()
            except OSError:
                continue
            if b"xlhelpers.doors.libreoffice.helper" in words and "State:\tZ" not in status:
                ancestors = _ancestors(int(place.name))
                if pid in ancestors:
                    found.append(int(place.name))
    return found


def _ancestors(pid: int) -> set[int]:
    found: set[int] = set()
    while pid > 1:
        try:
            pid = int(re.findall(r"PPid:\t(\d+)", Path(f"/proc/{pid}/status").read_text())[0])
        except (OSError, IndexError):
            break
        found.add(pid)
    return found


def test_a_killed_helper_is_started_again_and_a_stopped_one_gives_a_text(sheet: Remote) -> None:
    sheet.formulas("", SHEET, "A1:A1", [["=crown_depth(12;4)"]])
    (first,) = helpers_of(sheet.pid())
    os.kill(first, signal.SIGKILL)
    sheet.calculate("")
    assert sheet.shown("", SHEET, "A1") == ["8", 0]
    (second,) = helpers_of(sheet.pid())
    assert second != first
    os.kill(second, signal.SIGSTOP)
    sheet.formulas("", SHEET, "A1:A3", [[f"=crown_depth(12;{row})"] for row in (3, 4, 5)])
    text = "xlhelpers did not answer within 10 seconds. Calculate again later."
    assert [sheet.shown("", SHEET, f"A{row}")[0] for row in (1, 2, 3)] == [text] * 3
    assert helpers_of(sheet.pid()) == []
