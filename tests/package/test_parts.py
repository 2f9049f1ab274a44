"""Sheets, names and settings of the workbook part, and what forbids writing."""

from __future__ import annotations

import pytest

from tests.package.books import (
    parts_of,
    plain_book,
    plain_parts,
    user_book,
    with_parts,
    zipped,
)
from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts import parts
from xlhelpers.package.zip.container import Package

WORKBOOK = "xl/workbook.xml"


def changed_workbook(old: str, new: str) -> Package:
    files = plain_parts("")
    text = files[WORKBOOK].decode()
    assert old in text
    return Package.from_bytes(zipped({**files, WORKBOOK: text.replace(old, new).encode()}))


def test_sheets_and_names_of_a_usual_workbook() -> None:
    package = Package.from_bytes(user_book())
    found = parts.sheets(package)
    assert [sheet.name for sheet in found] == ["Field sheet", "Own sums", "Trees"]
    assert [sheet.position for sheet in found] == [0, 1, 2]
    assert found[0].part == "xl/worksheets/sheet1.xml"
    assert {sheet.kind for sheet in found} == {"worksheet"}
    assert {sheet.state for sheet in found} == {"visible"}
    names = {item.name: item for item in parts.defined_names(package)}
    assert names["all_heights"].text == "'Field sheet'!$C$2:$C$6"
    assert names["all_heights"].local_sheet is None
    assert names["here"].local_sheet == 1
    assert parts.why_not_writable(package) is None
    assert not parts.date1904(package)


def test_hidden_sheets_and_sheets_without_a_part() -> None:
    package = changed_workbook(
        "</sheets>",
        '<sheet name="lost" sheetId="9" state="veryHidden" r:id="rId77"/></sheets>',
    )
    lost = parts.sheets(package)[1]
    assert (lost.part, lost.kind, lost.state) == ("", "", "veryHidden")


def test_the_date_system_of_1904() -> None:
    assert parts.date1904(changed_workbook("<sheets>", '<workbookPr date1904="1"/><sheets>'))


def test_locked_structure_forbids_writing() -> None:
    package = changed_workbook("<sheets>", '<workbookProtection lockStructure="1"/><sheets>')
    assert parts.is_structure_locked(package)
    assert "is protected, so no sheet can be added" in str(parts.why_not_writable(package))


def test_strict_workbooks_are_read_and_not_written() -> None:
    package = Package.from_bytes(plain_book('<row r="1"><c r="A1"><v>2</v></c></row>', strict=True))
    assert parts.is_strict(package)
    assert [sheet.kind for sheet in parts.sheets(package)] == ["worksheet"]
    assert "Save it as an ordinary Excel workbook" in str(parts.why_not_writable(package))


def with_relation(owner: str, kind: str, target: str) -> Package:
    files = parts_of(plain_book(""))
    relation = f'<Relationship Id="rId50" Type="http://x/{kind}" Target="{target}"/>'
    text = files[owner].decode().replace("</Relationships>", relation + "</Relationships>")
    return Package.from_bytes(zipped({**files, owner: text.encode(), "xl/extra.xml": b"<x/>"}))


@pytest.mark.parametrize(
    ("owner", "kind", "target", "expected"),
    [
        ("_rels/.rels", "origin", "xl/extra.xml", "is signed"),
        ("xl/_rels/workbook.xml.rels", "revisionHeaders", "extra.xml", "shared workbook"),
    ],
)
def test_signed_and_shared_workbooks(owner: str, kind: str, target: str, expected: str) -> None:
    assert expected in str(parts.why_not_writable(with_relation(owner, kind, target)))


@pytest.mark.parametrize("name", ["S", "T"])
def test_a_sheet_that_is_listed_twice(name: str) -> None:
    data = plain_book("")
    listed = '<sheet name="S" sheetId="1" r:id="rId1"/>'
    again = f'<sheet name="{name}" sheetId="2" r:id="rId1"/>'
    text = parts_of(data)["xl/workbook.xml"].decode().replace(listed, listed + again)
    package = Package.from_bytes(with_parts(data, {"xl/workbook.xml": text.encode()}))
    with pytest.raises(WorkbookError, match="one sheet is listed twice"):
        parts.sheets(package)
