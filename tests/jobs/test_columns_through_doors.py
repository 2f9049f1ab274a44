"""Each column that came with raw field readings, through every door: one tree a column.

A workbook is read, its formulas are worked out, it is checked, filled, exported, merged, compared
with a second entry and with a later survey. Heights are worked out by hand: distance times the
difference of two readings in percent.
"""

import csv
import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest

from tests.jobs.books import GOOD, PLOT, keyed, run
from tests.live.formula_books import stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.change.change import change
from xlhelpers.jobs.change.compare_surveys import Change
from xlhelpers.jobs.compare.compare import compare
from xlhelpers.jobs.fill.fill import Filled, fill
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import check
from xlhelpers.reading.survey import read_survey
from xlhelpers.template.keyed_rows import key_rows

Cells = dict[str, Any]
FIRST = 6
WITH_FILL = "comes with fill"
NO_READINGS: Cells = dict.fromkeys(("distance", "foot_reading", "base_reading", "tip_reading"))
FOUR_RADII = {"crown_widths": "four radii"}
NO_WIDTHS: Cells = {"width_widest": None, "width_across": None}
RADII: Cells = {"radius_north": 4, "radius_east": 3, "radius_south": 2, "radius_west": 5}
# 10 m farther away the eye sees the same tip and the same foot under these slopes
STATIONS: Cells = {
    "distance": None, "station_step": 10, "second_tip_reading": 50, "second_foot_reading": -30 / 7,
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One column: what is typed, and what each door must make of it.

    `live` are formula columns of the line; `wrong` are other cells, and the check that they cause;
    `tab` is heading and value on Trees, `export` column and value in trees.csv; `other` are the
    cells of another entry. `grows` says which growths count.
    """

    name: str
    typed: Cells
    live: Cells
    wrong: tuple[Cells, str]
    tab: tuple[str, Any]
    export: tuple[str, Any]
    other: Cells
    grows: tuple[str, ...] = ("height", "diameter")
    rules: Cells = field(default_factory=dict)


HEIGHT = {"live_total": 25 * 0.76, "live_warning": ""}
PLACE = {"latitude": 51.2, "longitude": -1.75}
CASES = (
    Case("recorded height", {"recorded_height": 19.0}, HEIGHT,
         ({"recorded_height": 21}, "recorded-height-differs"),
         ("Recorded height (m)", 19.0), ("recorded_height", 19.0), {"recorded_height": 19.1}),
    Case("tag", {"tag": "A 17"}, HEIGHT, ({"tag": "A 1"}, "tag-twice"),
         ("Tag", "A 17"), ("tag", "A 17"), {"tag": "A 18"}),
    Case("latitude", PLACE, HEIGHT, ({"latitude": 95}, "value-impossible"),
         ("Latitude (°)", 51.2), ("latitude", 51.2), {"latitude": 51.3}),
    Case("longitude", PLACE, HEIGHT, ({"longitude": None}, "position-incomplete"),
         ("Longitude (°)", -1.75), ("longitude", -1.75), {"longitude": 1.75}),
    Case("position off the plot", PLACE, HEIGHT,
         (PLACE | {"latitude": 51.25}, "position-off-plot"),
         ("Latitude (°)", 51.2), ("latitude", 51.2), {"latitude": 51.25}),
    Case("cut back", {"condition": "C"}, HEIGHT | {"live_top": 25 * 0.76},
         ({"condition": "Q"}, "word-unknown"),
         ("Condition", "cut back"), ("condition", "C"), {"condition": "T"}, grows=()),
    Case("two stations", STATIONS,
         {"live_total": WITH_FILL, "live_distance": WITH_FILL, "live_warning": ""},
         ({"second_tip_reading": 66}, "stations-too-near"),
         ("Total height (m)", 19.0), ("total_height", 19.0), {"station_step": 11}),
    Case("height by eye", NO_READINGS | {"height_by_eye": 22},
         {"live_total": "", "live_warning": ""}, ({"height_by_eye": 500}, "value-impossible"),
         ("Height by eye (m)", 22), ("height_by_eye", 22), {"height_by_eye": 23},
         grows=("diameter",)),
    Case("diameter elsewhere", {"diameter_at": 0.8}, HEIGHT,
         ({"diameter_at": 0.7}, "diameter-elsewhere"),
         ("Diameter measured at (m)", 0.8), ("diameter_at", 0.8), {"diameter_at": 0.9}),
    Case("four radii", NO_WIDTHS | RADII, HEIGHT, ({"radius_west": None}, "radii-missing"),
         ("Crown width, north-south (m)", 6), ("crown_offset", 2**0.5),
         {"radius_north": 4.5}, rules=FOUR_RADII),
)  # fmt: skip
of_column = pytest.mark.parametrize("case", CASES, ids=lambda case: case.name.replace(" ", "-"))


def trees_of(case: Case) -> tuple[Case, ...]:
    """The trees of the workbook that a case is in: all with its rules."""
    return tuple(one for one in CASES if one.rules == case.rules)


def line_of(case: Case) -> int:
    return trees_of(case).index(case)


def book_of(path: Path, case: Case, cells: Callable[[Case], Cells], year: int = 2020) -> Path:
    """A workbook with one tree for each case of the same rules, and four more beside them."""
    cases = trees_of(case)
    lines = [GOOD | {"tree": str(at)} | cells(one) for at, one in enumerate(cases, 1)]
    spare = {"tag": "A 1", **PLACE} | ({} if not case.rules else NO_WIDTHS | RADII)
    lines += [GOOD | {"tree": str(90 + at)} | spare | {"tag": f"A {at}"} for at in range(1, 5)]
    for at, line in enumerate(lines):
        line["diameter"] = 36 + 1.7 * ((at * 5) % 8) + (year - 2020)
        line["species"] = ("Quercus robur", "Tilia cordata", "Acer platanoides")[at % 3]
    book = keyed(path, lines, [PLOT | {"trees_counted": len(lines), "slope": 1}])
    package = Package.open(book)
    key_rows(package, RULES, [case.rules])
    key_rows(package, PLOTS, [{"date": datetime.datetime(year, 6, 1), "plot": "1"}],
             after_existing=False)  # fmt: skip
    book.write_bytes(package.to_bytes())
    return book


def once(folder: Path, case: Case, name: str, make: Callable[[Path], Any]) -> Any:
    """What a door makes of the workbook of a case, made once for all cases in it."""
    key = (name, bool(case.rules))
    if key not in _MADE:
        place = folder / f"{name} {bool(case.rules)}"
        place.mkdir()
        _MADE[key] = make(place)
    return _MADE[key]


_MADE: dict[tuple[str, bool], Any] = {}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    _MADE.clear()
    return tmp_path_factory.mktemp("columns")


def filled(folder: Path, case: Case) -> tuple[Path, Filled]:
    def make(place: Path) -> tuple[Path, Filled]:
        book = book_of(place / "town.xlsx", case, lambda one: one.typed)
        return book, fill(book)

    found: tuple[Path, Filled] = once(folder, case, "filled", make)
    return found


@of_column
def test_it_is_read(folder: Path, case: Case) -> None:
    lines = filled(folder, case)[1].outcome.survey.lines
    for name, value in case.typed.items():
        given = lines[name].iloc[line_of(case)]
        assert pd.isna(given) if value is None else given == pytest.approx(value), name


@of_column
def test_its_formulas_give_a_value_or_say_that_it_comes_with_fill(folder: Path, case: Case) -> None:
    book, done = filled(folder, case)
    assert not [note for note in done.notes if "formula" in note]
    shown = stored(book, tuple(case.live), FIRST, len(trees_of(case)))
    for name, value in case.live.items():
        assert shown[name].tolist()[line_of(case)] == (
            value if isinstance(value, str) else pytest.approx(value)
        )


@of_column
def test_a_wrong_entry_has_its_finding_and_a_right_one_has_not(folder: Path, case: Case) -> None:
    at, (_, found) = line_of(case), case.wrong

    def make(place: Path) -> Any:
        return check(book_of(place / "wrong.xlsx", case, lambda one: one.typed | one.wrong[0]))

    wrong = once(folder, case, "wrong", make)
    assert found in {f.check for f in wrong.findings if at in f.lines}
    right = filled(folder, case)[1].outcome.findings
    if found != "diameter-elsewhere":
        assert found not in {f.check for f in right if at in f.lines}


@of_column
def test_it_is_on_the_tab_trees(folder: Path, case: Case) -> None:
    def make(_: Path) -> list[tuple[Any, ...]]:
        book = openpyxl.load_workbook(filled(folder, case)[0])
        return list(book["Trees"].iter_rows(values_only=True))

    rows = once(folder, case, "trees", make)
    head = next(i for i, row in enumerate(rows) if row[0] == "Plot" and row[1] == "Tree")
    row = dict(zip(map(str, rows[head]), rows[head + 1 + line_of(case)], strict=True))
    heading, value = case.tab
    assert row[heading] == (value if isinstance(value, str) else pytest.approx(value))


@of_column
def test_it_is_exported(folder: Path, case: Case) -> None:
    def make(place: Path) -> list[dict[str, str]]:
        book = book_of(place / "town.xlsx", case, lambda one: one.typed)
        assert run("export", book, "--out", place / "data", "--with-places") in (0, 1)
        with (place / "data" / "trees.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    row = once(folder, case, "export", make)[line_of(case)]
    column, value = case.export
    given = row[column]
    assert given == value if isinstance(value, str) else float(given) == pytest.approx(value)


@of_column
def test_a_merge_keeps_it(folder: Path, case: Case) -> None:
    def make(place: Path) -> Any:
        book = book_of(place / "one.xlsx", case, lambda one: one.typed)
        plot = PLOT | {"plot": "2", "trees_counted": 1}
        other = keyed(place / "two.xlsx", [{"tree": "1", "plot": "2"}], [plot])
        package = Package.open(other)
        key_rows(package, RULES, [case.rules])
        other.write_bytes(package.to_bytes())
        assert run("merge", book, other, "--out", place / "out.xlsx") in (0, 1)
        return [read_survey(Package.open(path)).lines for path in (book, place / "out.xlsx")]

    before, after = once(folder, case, "merge", make)
    assert len(after) == len(before) + 1
    for name in case.typed:
        one, other = before[name].iloc[line_of(case)], after[name].iloc[line_of(case)]
        assert one == other or (pd.isna(one) and pd.isna(other))


@of_column
def test_another_entry_of_it_is_listed(folder: Path, case: Case) -> None:
    def make(place: Path) -> pd.DataFrame:
        one = book_of(place / "one.xlsx", case, lambda one: one.typed)
        two = book_of(place / "two.xlsx", case, lambda one: one.typed | one.other)
        return compare(one, two)[0].open

    listed = once(folder, case, "compare", make)
    here = listed[listed["tree"] == str(line_of(case) + 1)]
    assert set(here["field"]) == set(case.other)
    assert set(here["label"]) == {FIELD_SHEET[name].label for name in case.other}


@of_column
def test_a_later_survey_takes_it_into_account(folder: Path, case: Case) -> None:
    """Trees that were cut back are in no growth, heights by eye in none of heights."""

    def make(place: Path) -> Change:
        old = book_of(place / "old.xlsx", case, lambda one: one.typed)
        new = book_of(place / "new.xlsx", case, lambda one: one.typed, year=2025)
        return change(old, new)[0]

    found = once(folder, case, "change", make)
    tree = found.trees.set_index("tree_old").loc[str(line_of(case) + 1)]
    assert tree["fate"] == "alive"
    grown = {what for what in ("height", "diameter") if np.isfinite(tree[f"growth_{what}"])}
    assert grown == set(case.grows)
    areas = next(net for net in found.nets if net.measure.key == "crown-area")
    assert areas.change == pytest.approx(0.0)
