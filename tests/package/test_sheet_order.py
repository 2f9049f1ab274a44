"""A tab moved to the front: order, names of single tabs, and the tab that is shown."""

import io

from openpyxl import Workbook, load_workbook

from xlhelpers.package.graft.sheet_order import move_to_front
from xlhelpers.package.zip.container import Package


def book_with_print_areas() -> bytes:
    book = Workbook()
    for name in ("One", "Two", "Three"):
        sheet = book.create_sheet(name)
        sheet["A1"] = name
        sheet.print_area = f"A1:{'BCD'[('One', 'Two', 'Three').index(name)]}9"
    assert book.active is not None
    book.remove(book.active)
    book.active = 1
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


def test_a_moved_tab_is_first_and_shown_and_names_follow_their_tabs() -> None:
    package = Package.from_bytes(book_with_print_areas())
    move_to_front(package, "Three")
    book = load_workbook(io.BytesIO(package.to_bytes()))
    assert book.sheetnames == ["Three", "One", "Two"]
    assert book.active is not None
    assert book.active.title == "Three"
    # each tab keeps its own area, and only one tab is marked: typing in two at once is a danger
    areas = {sheet.title: str(sheet.print_area).rpartition("$")[0][-4:] for sheet in book}
    assert {name: area.replace("$", "")[-1] for name, area in areas.items()} == {
        "One": "B",
        "Two": "C",
        "Three": "D",
    }
    assert [sheet.sheet_view.tabSelected for sheet in book].count(True) == 1


def test_a_tab_that_is_not_there_changes_nothing() -> None:
    package = Package.from_bytes(book_with_print_areas())
    before = package.to_bytes()
    move_to_front(package, "Four")
    assert package.to_bytes() == before
