"""Where the work on a workbook stands, in one line."""

from pathlib import Path

import openpyxl
import pytest

from tests.jobs.books import PLOT, keyed, varied, write_filled
from tests.town import TOWN, filled_town, town_outcome
from xlhelpers.reading.work_state import say_day, say_state


def test_a_workbook_that_was_never_filled(tmp_path: Path) -> None:
    plots = [PLOT, PLOT | {"plot": "2"}, PLOT | {"plot": "3", "status": "later"}]
    said = say_state(keyed(tmp_path / "a.xlsx", varied(3), plots))
    assert said.startswith("Not filled yet. ")
    # plot 3 says itself why it has no trees
    assert said.endswith(" 1 plot not entered.")


def test_a_filled_one_says_when_and_how_much_is_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1747036800")  # 12 May 2025, 08:00 UTC
    said = say_state(write_filled(tmp_path / "dated.xlsx", varied(3)))
    assert said == "Filled 12 May 2025, 08:00. 0 findings open."


def test_the_town(tmp_path: Path) -> None:
    book = tmp_path / TOWN.name
    book.write_bytes(filled_town())
    assert f" {len(town_outcome().open_findings)} findings open. " in say_state(book)


@pytest.mark.slow
def test_what_the_spreadsheet_program_last_computed_is_said(tmp_path: Path) -> None:
    """The cell behind the third line of each tab, with what LibreOffice stores in it."""
    book = write_filled(tmp_path / "b.xlsx", varied(3))
    assert "Something was entered since." not in say_state(book)
    opened = openpyxl.load_workbook(book)
    sheet, _, cell = opened.defined_names["xlh_keyed_state"].attr_text.rpartition("!")
    opened[sheet.strip("'")][cell.replace("$", "")] = "Out of date: “Tip” has changed. Run fill."
    opened.save(book)
    assert "Something was entered since." in say_state(book)


def test_open_elsewhere(tmp_path: Path) -> None:
    book = keyed(tmp_path / "c.xlsx", varied(1))
    book.with_name("~$c.xlsx").write_bytes(b"x")
    assert say_state(book).endswith("It is open in another program.")


def test_days() -> None:
    assert say_day("2025-05-12 08:00") == "12 May 2025, 08:00"
    assert say_day("2025-05-12") == "12 May 2025"
    assert say_day("yesterday") == "yesterday"
