"""Formulas of workbooks made before the words of the warnings changed stay ours."""

from pathlib import Path

import pytest

from tests.jobs.books import PLOT
from tests.live.formula_books import keyed_before, stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.live.progress import progress_text
from xlhelpers.live.warnings import FORMER, NO_READINGS
from xlhelpers.package.parts.parts import sheet_named, sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey

NO_READING = dict.fromkeys(("distance", "foot_reading", "base_reading", "tip_reading"))
# two lines more than the workbook has prepared
LINES = [
    {"tree": "1"},
    {"tree": "2", "tip_reading": None, "diameter": 35},
    {"tree": "3", **NO_READING, "diameter": 30},
    *({"tree": str(n), "tip_reading": None, "diameter": 20 + n} for n in range(4, 15)),
]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = keyed_before(tmp_path / "town.xlsx", LINES, [PLOT | {"trees_counted": len(LINES)}])
    package = Package.open(path)
    words = {f'"{now}"': f'"{before}"' for now, before in FORMER.items()}
    words |= {" entered, ": " keyed, ", " to check before": " to look at before"}
    replaced = 0
    for part in sheets(package):
        content = package.read(part.part).decode()
        for now, before in words.items():
            replaced += content.count(now)
            content = content.replace(now, before)
        package.replace(part.part, content.encode())
    assert replaced > len(FORMER)
    path.write_bytes(package.to_bytes())
    return path


@pytest.mark.slow
def test_they_keep_the_words_that_they_show(book: Path) -> None:
    filled = fill(book)
    words = stored(book, ("live_warning",), 6, len(LINES))["live_warning"].tolist()
    assert words[:3] == ["", "no tip reading", "no readings"]
    # lines below the prepared ones get the formula of the first line
    assert words[3:] == ["no tip reading"] * 11
    assert not [sentence for sentence in filled.notes if "formula" in sentence]
    assert not fill(book).wrote


def test_the_count_on_a_plot_keeps_its_words(book: Path) -> None:
    fill(book)
    package = Package.open(book)
    part = sheet_named(package, PLOTS.tab)
    assert part is not None
    grid = read_grid(package, part)
    shown = grid.value(6, read_survey(package).columns[PLOTS.tab, "progress"])
    assert shown == "14 of 14 keyed, 13 to look at before you leave"
    assert shown != progress_text(14, 14, 13)


def test_no_word_of_before_is_one_of_now() -> None:
    assert not set(FORMER) & set(FORMER.values())
    assert NO_READINGS in FORMER
    assert FIELD_SHEET["live_warning"].former == "Look at"
