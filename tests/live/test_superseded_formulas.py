"""Formulas that gave another result in earlier workbooks, and what takes their place."""

from pathlib import Path

import pytest

from tests.jobs.books import keyed
from tests.live.formula_books import keyed_before, stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.live.formulas import EARLIER
from xlhelpers.live.syntax import render
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.references import column_letters
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey

FIRST = 6
DEAD = [
    {"tree": "1", "condition": "D", "base_reading": None},
    {"tree": "1", "setup": 2, "condition": None, "base_reading": None, "diameter": None},
    {"tree": "2"},
    {"tree": "2", "setup": 2, "diameter": None},
]


def test_later_set_ups_of_a_dead_tree_have_no_crown_top(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", DEAD)
    fill(book)
    found = stored(book, ("live_top", "live_base", "live_total"), FIRST, len(DEAD))
    assert found["live_top"].tolist()[:2] == ["", ""]
    assert found["live_base"].tolist()[:2] == ["", ""]
    assert found["live_total"].tolist() == pytest.approx([19.0] * 4)
    assert found["live_top"].tolist()[2:] == pytest.approx([19.0] * 2)


def with_superseded(book: Path) -> int:
    """Put the formulas of before into a workbook; return how many."""
    package = Package.open(book)
    columns = read_survey(package).columns
    letters = {name: column_letters(at) for (tab, name), at in columns.items()
               if tab == FIELD_SHEET.tab}  # fmt: skip
    replaced = 0
    for part in sheets(package):
        content = package.read(part.part).decode()
        for row in range(FIRST, FIRST + 400):
            for name, before in EARLIER.superseded.items():
                now = render(EARLIER.formulas[name], letters, row)
                old = render(before, letters, row)
                for sign, written in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;")):
                    now, old = now.replace(sign, written), old.replace(sign, written)
                replaced += content.count(now)
                content = content.replace(now, old)
        package.replace(part.part, content.encode())
    book.write_bytes(package.to_bytes())
    return replaced


def test_a_fill_replaces_them_and_says_nothing(tmp_path: Path) -> None:
    book = keyed_before(tmp_path / "town.xlsx", DEAD)
    assert with_superseded(book) >= len(EARLIER.superseded)
    filled = fill(book)
    assert not [sentence for sentence in filled.notes if "formula" in sentence]
    found = stored(book, ("live_top",), FIRST, len(DEAD))
    assert found["live_top"].tolist()[:2] == ["", ""]
    assert not fill(book).wrote


def test_an_impossible_radius_is_said_while_it_is_typed(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", [{"tree": "1"}, {"tree": "2", "radius_north": 60}])
    fill(book)
    shown = stored(book, ("live_warning",), FIRST, 2)["live_warning"]
    assert shown.tolist() == ["", "value not possible"]
