"""What is set on a sheet, put on the sheet that takes its place: references follow their columns.

The elements of the later kinds are written as [MS-XLSX] 2.3 (extensions) has them.
"""

import re
from pathlib import Path

import pytest
from lxml import etree
from openpyxl import Workbook, load_workbook
from openpyxl.styles import Alignment, Font, PatternFill

from xlhelpers.package.formulas.follow import Move
from xlhelpers.package.graft.looks import Look, OldLook, lost_settings, merged_areas, put_on
from xlhelpers.package.parts.cell_looks import ASPECTS, MixedFormats, cell_looks
from xlhelpers.package.parts.xml_text import Element, parse
from xlhelpers.package.zip.container import Package

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
X14 = "http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"
XM = "http://schemas.microsoft.com/office/excel/2006/main"
# one column put in before the second; the third is gone; headings in row 2 are now in row 3
MOVE = Move("Trees", {1: 1, 2: 3, 4: 4}, 2, 1)
LATER = f"""
<extLst><ext xmlns:x14="{X14}" uri="{{CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF}}">
<x14:dataValidations xmlns:xm="{XM}" count="2">
<x14:dataValidation type="list"><x14:formula1><xm:f>Lists!$A$1:$A$5</xm:f></x14:formula1>
<xm:sqref>B3:B9</xm:sqref></x14:dataValidation>
<x14:dataValidation type="list"><x14:formula1><xm:f>$A$1:$A$5</xm:f></x14:formula1>
<xm:sqref>C3</xm:sqref></x14:dataValidation></x14:dataValidations></ext></extLst>"""


def sheet(inside: str = "") -> Element:
    text = f'<worksheet xmlns="{MAIN}"><sheetData/>{inside}</worksheet>'
    return parse(text.encode(), "sheet")


def look_at(old: Element) -> Look:
    return Look(OldLook(old, {}, {}), MOVE, (2, 3), {row: row + 1 for row in range(2, 20)})


def put(inside: str) -> str:
    """The new sheet with what was set on an old one, as text."""
    new = sheet()
    put_on(new, look_at(sheet(inside)))
    return re.sub(r' xmlns(:\w+)?="[^"]*"', "", etree.tostring(new).decode())


def test_the_formula_of_a_rule_follows_its_columns() -> None:
    rule = '<cfRule type="expression" priority="1"><formula>$B3&gt;D$2</formula></cfRule>'
    found = put(f'<conditionalFormatting sqref="A3:B9">{rule}</conditionalFormatting>')
    assert "<conditionalFormatting" not in found  # A and B are apart now
    found = put(f'<conditionalFormatting sqref="B3:B9">{rule}</conditionalFormatting>')
    assert '<conditionalFormatting sqref="C4:C10">' in found
    assert "<formula>$C4&gt;D$3</formula>" in found


def test_a_rule_whose_formula_has_lost_its_column_is_counted_as_lost() -> None:
    rule = '<cfRule type="expression" priority="1"><formula>$C3&gt;2</formula></cfRule>'
    old = sheet(f'<conditionalFormatting sqref="B3:B9">{rule}</conditionalFormatting>')
    new = sheet()
    assert lost_settings(new, look_at(old)) == {"rules": 1}
    assert b"cfRule" not in etree.tostring(new)


def test_a_validation_follows_with_its_formula() -> None:
    found = put(
        '<dataValidations count="1"><dataValidation type="custom" sqref="D3:D9">'
        "<formula1>D3&gt;Trees!$B$1</formula1></dataValidation></dataValidations>"
    )
    assert 'sqref="D4:D10"' in found
    assert "<formula1>D4&gt;Trees!$C$1</formula1>" in found


def test_lists_of_the_later_kind_go_over_and_lost_ones_are_counted() -> None:
    found = put(LATER)
    assert "<xm:f>Lists!$A$1:$A$5</xm:f>" in found
    assert "<xm:sqref>C4:C10</xm:sqref>" in found
    assert 'count="1"' in found
    assert lost_settings(sheet(), look_at(sheet(LATER))) == {"validations": 1}


def test_breaks_between_columns_that_moved_are_counted_as_lost() -> None:
    old = sheet('<colBreaks count="1"><brk id="3" max="9" man="1"/></colBreaks>')
    assert lost_settings(sheet(), look_at(old)) == {"breaks": 1}


def test_merged_cells_go_over_where_they_are_still_together() -> None:
    old = sheet(
        '<mergeCells count="2"><mergeCell ref="A4:B4"/><mergeCell ref="B5:C5"/></mergeCells>'
    )
    new = sheet()
    put_on(new, look_at(old))
    assert merged_areas(new) == set()
    old = sheet('<mergeCells count="1"><mergeCell ref="A4:B4"/></mergeCells>')
    look = Look(OldLook(old, {}, {}), Move("Trees", {1: 2, 2: 3}), (2, 3), {4: 7})
    put_on(new, look)
    assert merged_areas(new) == {(7, 2, 7, 3)}


@pytest.fixture
def package(tmp_path: Path) -> Package:
    """A1 plain, A2 bold, A3 grey ground and three places, A4 in the middle."""
    opened = Workbook()
    own = opened["Sheet"]
    for row in range(1, 5):
        own.cell(row, 1, row)
    own["A2"].font = Font(bold=True)
    own["A3"].fill = PatternFill("solid", fgColor="FFDDDDDD")
    own["A3"].number_format = "0.000"
    own["A4"].alignment = Alignment(horizontal="center")
    opened.save(tmp_path / "own.xlsx")
    return Package.open(tmp_path / "own.xlsx")


def test_mixed_formats_take_the_aspects_asked_for_and_are_made_once(package: Package) -> None:
    mixed = MixedFormats(package)
    number = mixed.number(1, 2, {"ground"})
    both = mixed.number(number, 3, {"alignment"})
    assert mixed.number(1, 2, {"ground"}) == number
    mixed.save()
    looks = cell_looks(package)
    assert looks[number] == tuple(
        looks[2][at] if aspect == "ground" else looks[1][at] for at, aspect in enumerate(ASPECTS)
    )
    assert looks[both][ASPECTS.index("alignment")] == "horizontal center"
    again = MixedFormats(package)
    assert (again.number(1, 2, {"ground"}), len(cell_looks(package))) == (number, len(looks))


def test_looks_are_the_same_after_a_save_by_another_program(
    package: Package, tmp_path: Path
) -> None:
    before = cell_looks(package)
    opened = load_workbook(tmp_path / "own.xlsx")
    opened.save(tmp_path / "again.xlsx")
    assert cell_looks(Package.open(tmp_path / "again.xlsx")) == before
