"""Result tabs grafted into a workbook: names, formats, and nothing of the user's lost."""

from __future__ import annotations

import io
import re

import pytest
import xlsxwriter
from lxml import etree

from tests.package.books import (
    parts_of,
    plain_book,
    result_tabs,
    user_book,
    with_parts,
    written,
)
from xlhelpers.errors import SpecificationError, WorkbookError
from xlhelpers.package.graft.graft import graft_sheets, rename_sheet
from xlhelpers.package.parts.parts import defined_names, sheet_named, sheets
from xlhelpers.package.parts.relations import CONTENT_TYPES, related_parts, relations_of
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package

WORKBOOK = "xl/workbook.xml"
MAY_CHANGE = {CONTENT_TYPES, WORKBOOK, "xl/_rels/workbook.xml.rels", "xl/styles.xml"}
OURS = {"result_trees": "Trees!$A$1", "result_plots": "='By plot'!$A$1"}


def grafted(data: bytes, tabs: bytes | None = None) -> tuple[bytes, tuple[str, ...]]:
    package = Package.from_bytes(data)
    names = graft_sheets(package, tabs or result_tabs(), replacing={}, defined=OURS)
    return package.to_bytes(), names


def again(data: bytes, names: tuple[str, ...], tabs: bytes | None = None) -> Package:
    package = Package.from_bytes(data)
    replacing = dict(zip(("Trees", "By plot"), names, strict=True))
    assert graft_sheets(package, tabs or result_tabs(), replacing=replacing, defined=OURS) == names
    return package


def part_named(package: Package, name: str) -> str:
    sheet = sheet_named(package, name)
    assert sheet is not None
    return sheet.part


def test_tabs_are_appended_and_every_other_part_stays() -> None:
    before = user_book(tab="Notes")
    after, names = grafted(before)
    assert names == ("Trees", "By plot")
    old, new = parts_of(before), parts_of(after)
    assert set(old) <= set(new)
    assert {name for name in old if old[name] != new[name]} == MAY_CHANGE
    package = Package.from_bytes(after)
    listed = [sheet.name for sheet in sheets(package)]
    assert listed == ["Field sheet", "Own sums", "Notes", "Trees", "By plot"]
    identifiers = [sheet.sheet_id for sheet in sheets(package)]
    assert len(set(identifiers)) == len(identifiers)
    grid = read_grid(package, sheets(package)[3])
    assert grid.value(1, 2) == "height"
    assert grid.value(3, 2) == 25.0
    assert grid.number_format(3, 2) == '0.0" m"'
    assert grid.value(1, 6) == 76.0
    assert grid.value(1, 7) == "plain loud"
    assert (1, 6) not in grid.uncalculated


def test_old_formats_keep_their_numbers() -> None:
    before = user_book(tab="Notes")
    after, _ = grafted(before)
    old = etree.fromstring(parts_of(before)["xl/styles.xml"])
    new = etree.fromstring(parts_of(after)["xl/styles.xml"])
    for listed in ("fonts", "fills", "borders", "cellXfs", "dxfs", "numFmts"):
        was, now = (list(root.find(f"{{*}}{listed}")) for root in (old, new))
        texts = [[etree.tostring(item, method="c14n") for item in items] for items in (was, now)]
        assert texts[1][: len(was)] == texts[0]
        assert new.find(f"{{*}}{listed}").get("count") == str(len(now))
        assert len(set(texts[1])) == len(texts[1])


def test_conditional_formats_point_to_their_own_look() -> None:
    package = Package.from_bytes(grafted(user_book(tab="Notes"))[0])
    styles = etree.fromstring(package.read("xl/styles.xml"))
    looks = list(styles.find("{*}dxfs"))
    sheet = etree.fromstring(package.read(part_named(package, "Trees")))
    rule = next(sheet.iter("{*}cfRule"))
    assert b"FFFF9999" in etree.tostring(looks[int(rule.get("dxfId"))])
    table = etree.fromstring(
        package.read(related_parts(package, part_named(package, "Trees"), "table")[0])
    )
    column = list(table.iter("{*}tableColumn"))[1]
    assert b"FFDDEEFF" in etree.tostring(looks[int(column.get("dataDxfId"))])


def test_names_that_are_taken_give_way_and_everything_follows() -> None:
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    own = book.add_worksheet("trees")
    own.add_table(0, 0, 2, 1, {"name": "Tree_results"})
    book.define_name("tree_list", "=trees!$A$1")
    data = written(book, stream)
    after, names = grafted(data)
    assert names == ("Trees (2)", "By plot")
    package = Package.from_bytes(after)
    part = part_named(package, "Trees (2)")
    text = package.read(part).decode()
    assert "SUM(Tree_results_2[height])" in text
    assert "<formula1>tree_list_2</formula1>" in text
    chart = package.read("xl/charts/chart1.xml").decode()
    assert set(re.findall("<c:f>(.*?)!", chart)) == {"'Trees (2)'"}
    known = {item.name: item.text for item in defined_names(package)}
    assert known["tree_list"] == "trees!$A$1"
    assert known["tree_list_2"] == "'Trees (2)'!$A$2:$A$4"
    assert known["result_trees"] == "'Trees (2)'!$A$1"
    tables = [
        etree.fromstring(package.read(name)) for name in package.names() if "/tables/" in name
    ]
    assert sorted(str(table.get("displayName")) for table in tables) == [
        "Tree_results", "Tree_results_2"
    ]  # fmt: skip
    assert len({table.get("id") for table in tables}) == 2
    assert again(after, names).changed() == ()


def test_hyperlinks_follow_a_renamed_tab() -> None:
    after, names = grafted(user_book(tab="By plot"))
    package = Package.from_bytes(after)
    assert names == ("Trees", "By plot (2)")
    text = package.read(part_named(package, "Trees")).decode()
    assert "location=\"'By plot (2)'!A1\"" in text
    assert "'By plot (2)'!A2+SUM(" in text


def test_a_second_graft_changes_nothing() -> None:
    after, names = grafted(user_book(tab="Notes"))
    package = again(after, names)
    assert package.changed() == ()
    assert package.to_bytes() == after


def test_a_graft_of_new_results_changes_their_parts_alone() -> None:
    after, names = grafted(user_book(tab="Notes"))
    package = again(after, names, result_tabs(height=13.0))
    assert set(package.changed()) <= {
        "xl/worksheets/sheet4.xml", "xl/charts/chart2.xml", "xl/tables/table2.xml"
    }  # fmt: skip
    assert "xl/worksheets/sheet4.xml" in package.changed()
    assert read_grid(package, sheets(package)[3]).value(3, 2) == 26.0


def test_a_tab_that_was_moved_is_replaced_where_it_stands() -> None:
    after, _ = grafted(user_book(tab="Notes"))
    root = etree.fromstring(parts_of(after)[WORKBOOK])
    listed = root.find("{*}sheets")
    listed.insert(0, listed[3])
    listed[0].set("name", "Tree list")
    for name in root.iter("{*}definedName"):
        name.text = (name.text or "").replace("Trees!", "'Tree list'!")
    moved = with_parts(after, {WORKBOOK: etree.tostring(root)})
    package = again(moved, ("Tree list", "By plot"))
    first = sheets(package)[0]
    assert (first.name, first.part, first.sheet_id) == ("Tree list", "xl/worksheets/sheet4.xml", 4)
    chart = package.read("xl/charts/chart2.xml").decode()
    assert set(re.findall("<c:f>(.*?)!", chart)) == {"'Tree list'"}
    known = {item.name: item for item in defined_names(package)}
    assert known["result_trees"].text == "'Tree list'!$A$1"
    assert known["_xlnm.Print_Area"].local_sheet == 4


def test_what_a_replaced_tab_no_longer_needs_is_taken_out() -> None:
    after, names = grafted(user_book(tab="Notes"))
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    book.add_worksheet("Trees").write(0, 0, 1)
    book.add_worksheet("By plot").write(0, 0, 1)
    package = again(after, names, written(book, stream))
    gone = [name for name in package.changed() if name not in package.names()]
    assert "xl/charts/chart2.xml" in gone
    assert "xl/tables/table2.xml" in gone
    types = package.read(CONTENT_TYPES).decode()
    for name in gone:
        assert f"/{name}" not in types
    assert "xl/charts/chart1.xml" in package.names()
    assert "_FilterDatabase" not in package.read(WORKBOOK).decode()


def test_a_picture_that_another_sheet_shows_too_stays() -> None:
    after, names = grafted(user_book(tab="Notes"))
    package = Package.from_bytes(after)
    drawing = related_parts(package, part_named(package, "By plot"), "drawing")[0]
    owner = "xl/drawings/_rels/drawing1.xml.rels"
    picture = related_parts(package, drawing, "image")[0]
    text = package.read(owner).decode().replace("media/image1.png", picture.removeprefix("xl/"))
    package.replace(owner, text.encode())
    result = again(package.to_bytes(), names)
    assert picture in result.names()
    assert related_parts(result, "xl/drawings/drawing1.xml", "image") == (picture,)


def test_only_the_tab_that_was_in_front_is_selected() -> None:
    after, names = grafted(user_book(tab="Notes"))
    package = Package.from_bytes(after)
    chosen = [s.name for s in sheets(package) if b'tabSelected="1"' in package.read(s.part)]
    assert chosen == ["Field sheet"]
    part = part_named(package, "Trees")
    text = package.read(part).replace(b"<sheetView ", b'<sheetView tabSelected="1" ')
    package.replace(part, text)
    result = again(package.to_bytes(), names)
    assert b'tabSelected="1"' in result.read(part)


def test_relationships_lead_to_parts_that_exist_and_are_declared() -> None:
    package = Package.from_bytes(grafted(user_book(tab="Notes"))[0])
    types = package.read(CONTENT_TYPES).decode()
    for part in ("", *package.names()):
        for relation in relations_of(package, part):
            assert relation.external or relation.target in package.names(), (part, relation)
    for name in package.names():
        if name.endswith(".xml") and name != CONTENT_TYPES:
            assert f'PartName="/{name}"' in types, name


def test_a_workbook_without_styles_gets_them() -> None:
    files = parts_of(plain_book('<row r="1"><c r="A1"><v>1</v></c></row>'))
    del files["xl/styles.xml"]
    relations = files["xl/_rels/workbook.xml.rels"].decode()
    files["xl/_rels/workbook.xml.rels"] = re.sub(
        r'<Relationship Id="rId3"[^>]*/>', "", relations
    ).encode()
    from tests.package.books import zipped

    after, names = grafted(zipped(files))
    package = Package.from_bytes(after)
    assert read_grid(package, sheets(package)[1]).number_format(2, 2) == '0.0" m"'
    assert again(after, names).changed() == ()


def test_long_names_are_cut_to_fit() -> None:
    name = "N" * 31
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    book.add_worksheet(name)
    data = written(book, stream)
    package = Package.from_bytes(data)
    assert graft_sheets(package, data, replacing={}, defined={}) == ("N" * 27 + " (2)",)


def test_what_may_not_be_written_is_refused() -> None:
    package = Package.from_bytes(plain_book("", strict=True))
    with pytest.raises(WorkbookError, match="Strict"):
        graft_sheets(package, result_tabs(), replacing={}, defined={})
    with pytest.raises(SpecificationError, match="no worksheet"):
        graft_sheets(
            Package.from_bytes(user_book()),
            result_tabs(),
            replacing={"Trees": "absent"},
            defined={},
        )


def test_a_kept_tab_gets_another_name_and_our_names_move_to_the_new_one() -> None:
    after, _ = grafted(user_book(tab="Notes"))
    package = Package.from_bytes(after)
    rename_sheet(package, "trees", "Trees (kept)")
    assert package.changed() == (WORKBOOK,)
    known = {item.name: item.text for item in defined_names(package)}
    # what pointed into the sheet waits for the new one
    assert known["result_trees"] == "Trees!$A$1"
    assert known["all_heights"] == "'Field sheet'!$C$2:$C$6"
    names = graft_sheets(package, result_tabs(), replacing={"By plot": "By plot"}, defined=OURS)
    assert names == ("Trees", "By plot")
    known = {item.name: item.text for item in defined_names(package)}
    assert known["result_trees"] == "Trees!$A$1"
    listed = [sheet.name for sheet in sheets(package)]
    assert listed == ["Field sheet", "Own sums", "Notes", "Trees (kept)", "By plot", "Trees"]
    with pytest.raises(SpecificationError):
        rename_sheet(package, "Trees", "notes")
