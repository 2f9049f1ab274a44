"""Crown rules, tape ends and eye heights from the cells of a workbook to its results."""

import csv
from contextlib import closing
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.blank_books import blank
from tests.jobs.books import GOOD, PLOT, Rows, run
from tests.jobs.deciding import decide, rows_of
from tests.live.formula_books import stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import check
from xlhelpers.reading.survey import read_survey
from xlhelpers.template.keyed_rows import key_rows

FIRST = 6
RADII = {"radius_north": 4, "radius_east": 3, "radius_south": 2, "radius_west": 5}
NO_WIDTHS = {"width_widest": None, "width_across": None}


def book_of(path: Path, lines: Rows, rules: dict[str, Any] | None = None, **plot: object) -> Path:
    package = Package.from_bytes(blank(plots=2, lines=30))
    key_rows(package, RULES, [rules or {}])
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.6}])
    key_rows(
        package, INSTRUMENTS, [{"instrument": "C1", "kind": "clinometer, percent and degrees"}]
    )
    key_rows(package, PLOTS, [PLOT | plot])
    key_rows(package, FIELD_SHEET, [GOOD | line for line in lines])
    path.write_bytes(package.to_bytes())
    return path


def headings_of(path: Path, tab: str) -> list[str]:
    with closing(openpyxl.load_workbook(path, read_only=True)) as book:
        cells = book[tab].iter_rows(values_only=True)
        rows = ([str(c) for c in row if c is not None] for row in cells)
        return next(row for row in rows if "Plot" in row and "Tree" in row)


@pytest.mark.slow
def test_four_radii_go_from_the_field_sheet_to_the_tab_and_the_export(tmp_path: Path) -> None:
    rules = {"crown_widths": "four radii"}
    book = book_of(tmp_path / "town.xlsx", [{"tree": "1", **NO_WIDTHS, **RADII}], rules)
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    headings = headings_of(book, "Trees")
    assert "Crown width, north-south (m)" in headings
    assert "Centre of the crown from the stem (m)" in headings
    assert run("export", book, "--out", tmp_path / "data") in (0, 1)
    with (tmp_path / "data" / "trees.csv").open(encoding="utf-8-sig", newline="") as file:
        row = next(csv.DictReader(file))
    offset = next(value for name, value in row.items() if name.startswith("crown_offset"))
    assert float(offset) == pytest.approx((1.0 + 1.0) ** 0.5)


def test_the_first_warning_understands_four_radii(tmp_path: Path) -> None:
    """A crown that reaches 13 m one way is 25 m wide, and 12 m of distance are under it."""
    near = {"distance": 12, "tip_reading": 40, "foot_reading": -13, "base_reading": 20}
    wide = RADII | {"radius_north": 12, "radius_south": 13}
    lines = [
        {"tree": "1", **NO_WIDTHS, **RADII, **near},
        {"tree": "2", **NO_WIDTHS, **wide, **near},
        {"tree": "3", **NO_WIDTHS, **RADII, "radius_east": 60},
        {"tree": "4", **NO_WIDTHS, **RADII, "radius_west": "wide"},
        {"tree": "5", **NO_WIDTHS, **RADII, "radius_west": "NOT SEEN"},
        {"tree": "6", **NO_WIDTHS, **wide, **near, "radius_east": None},
        {"tree": "7", **wide, **near},
    ]
    book = book_of(tmp_path / "town.xlsx", lines, {"crown_widths": "four radii"})
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    shown = stored(book, ("live_warning",), FIRST, 7)["live_warning"].tolist()
    close = "too close or too steep"
    assert shown == ["", close, "value not possible", "text, not a number", "", "", close]
    assert "under-crown" in {f.check for f in filled.outcome.findings if 1 in f.lines}
    usual = book_of(tmp_path / "usual.xlsx", [{"tree": "1", **wide, **near}])
    fill(usual)
    assert stored(usual, ("live_warning",), FIRST, 1)["live_warning"].tolist() == [""]


def test_heights_alone_leave_crowns_blank_on_the_field_sheet(tmp_path: Path) -> None:
    rules = {"crown_widths": "not measured", "crown_depth": "not measured"}
    line = {"tree": "1", **NO_WIDTHS, "base_reading": None}
    book = book_of(tmp_path / "town.xlsx", [line], rules)
    assert not [f for f in check(book).findings if f.severity != "note"]
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    found = stored(book, ("live_warning", "live_base", "live_total"), FIRST, 1)
    assert found["live_warning"].tolist() == [""]
    assert found["live_base"].tolist() == [""]
    assert found["live_total"].tolist() == pytest.approx([19.0])


@pytest.mark.slow
def test_the_tape_end_of_plots_is_in_the_live_columns(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", [{"tree": "1"}], distance_to="bark")
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    found = stored(book, ("live_distance",), FIRST, 1)["live_distance"].tolist()
    assert found == pytest.approx([25.2])


def test_the_eye_height_of_plots_is_in_the_live_columns(tmp_path: Path) -> None:
    lines = [{"tree": "1", "foot_reading": None}, {"tree": "2"}]
    book = book_of(tmp_path / "town.xlsx", lines, foot_by="eye height", slope=4)
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    found = stored(book, ("live_total", "live_warning"), FIRST, 2)
    assert found["live_total"].tolist() == pytest.approx([25 * 0.7 + 1.6, 25 * 0.76])
    assert found["live_warning"].tolist()[0] == ""
    assert "foot-by-eye" in [f.check for f in check(book).findings]


@pytest.mark.slow
def test_a_mark_of_0_is_no_mark(tmp_path: Path) -> None:
    lines = [{"tree": "1", "mark_above_foot": 0}, {"tree": "2", "mark_above_foot": 0.5}]
    book = book_of(tmp_path / "town.xlsx", lines)
    outcome = check(book)
    assert "value-impossible" not in [f.check for f in outcome.findings]
    assert outcome.survey.lines["mark_above_foot"].isna().tolist() == [True, False]
    assert [u.kind for u in outcome.survey.understood if "mark" in u.kind] == ["0 for no mark"]
    fill(book)
    found = stored(book, ("live_total", "live_warning"), FIRST, 2)
    assert found["live_total"].tolist() == pytest.approx([19.0, 19.5])
    assert "not possible" not in str(found["live_warning"].tolist()[0])


@pytest.mark.parametrize(
    ("first", "second"),
    [("N-S", "E-W"), ("Crown width, north-south (m)", "Crown width, east-west (m)"),
     ("Along street", "Across street"), ("Width along the street", "Width across the street")],
)  # fmt: skip
def test_headings_of_fixed_directions_are_read(tmp_path: Path, first: str, second: str) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Sheet1"
    sheet.append(["Plot", "Tree", "Species", "DBH", first, second, "Distance", "Foot reading",
                  "Crown base reading", "Tip reading"])  # fmt: skip
    sheet.append(["1", "1", "Quercus robur", 40, 7, 8.5, 25, -6, 10, 70])
    path = tmp_path / "plain.xlsx"
    book.save(path)
    lines = read_survey(Package.open(path)).lines
    assert (lines["width_widest"].iloc[0], lines["width_across"].iloc[0]) == (7.0, 8.5)


@pytest.mark.slow
def test_decisions_on_trees_come_back_when_the_question_is_gone(tmp_path: Path) -> None:
    lines = [
        {
            "tree": str(n),
            "width_widest": 8,
            "width_across": 9,
            "diameter": 30 + n,
            "distance": 24 + n,
        }
        for n in range(1, 10)
    ]
    book = book_of(tmp_path / "town.xlsx", lines)
    fill(book)
    decide(book, "3", {"Decision": "accepted", "Initials": "AB"})
    fill(book)
    package = Package.open(book)
    more = [line | {"tree": str(n), "diameter": 50 + n} for n, line in enumerate(lines * 2, 11)]
    key_rows(package, FIELD_SHEET, [GOOD | line for line in more])
    book.write_bytes(package.to_bytes())
    fill(book)
    shown = rows_of(book)
    assert not [row for row in shown if "is larger than the widest" in str(row["What was found"])]
    assert [row for row in shown if "Crown widths are" in str(row["What was found"])]
    assert [row for row in rows_of(book, "Log") if row["Tree"] in (3, "3")]
    # with fewer such trees each has its finding again, and the decision is back
    package = Package.open(book)
    few = [line | {"width_widest": 10} for line in more]
    whole = [GOOD | line for line in [*lines, *few]]
    key_rows(package, FIELD_SHEET, whole, after_existing=False)
    book.write_bytes(package.to_bytes())
    fill(book)
    (row,) = [
        row for row in rows_of(book)
        if row["Tree"] in (3, "3") and "is larger than the widest" in str(row["What was found"])
    ]  # fmt: skip
    assert row["Decision"] == "accepted"


WORDS_ABOVE = {
    "widest and across": ("always", "always", "when needed"),
    "two fixed directions": ("always", "always", "when needed"),
    "four radii": ("leave blank", "leave blank", "always"),
    "not measured": ("leave blank", "leave blank", "when needed"),
}


HEADINGS = {"two fixed directions": ("north-south", "east-west")}


OTHERS = [widths for widths in WORDS_ABOVE if widths not in HEADINGS]


@pytest.mark.parametrize(
    "widths", [*HEADINGS, *(pytest.param(name, marks=pytest.mark.slow) for name in OTHERS)]
)
def test_the_words_above_the_headings_follow_the_rule(tmp_path: Path, widths: str) -> None:
    """Formulas, so that they follow at once; a fill works them out as LibreOffice does."""
    line = {"tree": "1", **(NO_WIDTHS | RADII if widths == "four radii" else {})}
    book = book_of(tmp_path / "town.xlsx", [line], {"crown_widths": widths})
    fill(book)
    assert not fill(book).wrote
    sheet = openpyxl.load_workbook(book, data_only=True)[FIELD_SHEET.tab]
    columns = {name: at for at, name in enumerate((f.name for f in FIELD_SHEET.fields), 1)}
    found = [sheet.cell(4, columns[name]).value for name in
             ("width_widest", "width_across", "radius_west")]  # fmt: skip
    assert tuple(found) == WORDS_ABOVE[widths]
    first, second = HEADINGS.get(widths, ("widest", "across"))
    assert sheet.cell(5, columns["width_widest"]).value == f"Crown width, {first} (m)"
    assert sheet.cell(5, columns["width_across"]).value == f"Crown width, {second} (m)"


@pytest.mark.slow
@pytest.mark.libreoffice
def test_libreoffice_gives_the_same_words(tmp_path: Path, soffice: Any) -> None:
    rules = {
        "crown_widths": "two fixed directions", "crown_depth": "not measured",
        "width_directions": "along and across the street",
    }  # fmt: skip
    book = book_of(tmp_path / "town.xlsx", [{"tree": "1", "base_reading": None}], rules)
    fill(book)
    words, recalculated = (
        [[cell.value for cell in row] for row in sheet.iter_rows(min_row=4, max_row=5)]
        for path in (book, soffice(book, recalculate=True))
        for sheet in [openpyxl.load_workbook(path, data_only=True)[FIELD_SHEET.tab]]
    )
    assert words == recalculated
    assert words[0][10:12] == ["leave blank", "leave blank"]
    assert words[1][6] == "Crown width, along the street (m)"
    assert words[1][7] == "Crown width, across the street (m)"


def test_headings_without_results_still_find_their_columns(tmp_path: Path) -> None:
    """openpyxl writes formulas without their results."""
    rules = {"crown_widths": "two fixed directions"}
    book = book_of(tmp_path / "town.xlsx", [{"tree": "1"}], rules)
    fill(book)
    opened = openpyxl.load_workbook(book)
    assert str(opened[FIELD_SHEET.tab]["G5"].value).startswith("=")
    opened.save(book)
    lines = read_survey(Package.open(book)).lines
    assert (lines["width_widest"].iloc[0], lines["width_across"].iloc[0]) == (9.0, 8.0)
    filled = fill(book)
    assert not [note for note in filled.notes if "Crown width" in note]
    sheet = openpyxl.load_workbook(book, data_only=True)[FIELD_SHEET.tab]
    assert sheet["G5"].value == "Crown width, north-south (m)"
