"""Deciding a finding about a whole plot settles the findings that stand under it."""

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.blank_books import blank
from tests.jobs.books import PLOT
from tests.jobs.deciding import decide, rekey, rows_of
from tests.survey.doubt.test_explain import lines
from tests.survey.doubt.test_patterns import in_degrees
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.survey.decisions.identity import finding_id
from xlhelpers.template.keyed_rows import key_rows

WHOLE = "lines-on-other-scale"


def plot_row(plot: str, scale: str) -> dict[str, Any]:
    return PLOT | {"plot": plot, "scale": scale, "trees_counted": 12}


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Three plots, the last read in percent where the plot says degrees."""
    path = tmp_path / "town.xlsx"
    package = Package.from_bytes(blank(plots=4, lines=40))
    more = [row | {"plot": "3"} for row in lines()[:12]]
    trees = in_degrees(in_degrees([*lines(), *more], "1"), "2")
    # numbers of trees of their own, so that a tree is found by its number
    trees = [row | {"tree": str(i + 1)} for i, row in enumerate(trees)]
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.6}])
    kind = "clinometer, percent and degrees"
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": kind}])
    key_rows(package, PLOTS, [plot_row(p, "degrees") for p in "123"])
    key_rows(package, FIELD_SHEET, trees)
    path.write_bytes(package.to_bytes())
    return path


def parent_and_folded(path: Path) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return the row of the whole plot and the rows that point to it."""
    rows = rows_of(path)
    (whole,) = [row for row in rows if "were probably read" in row["What was found"]]
    under = [row for row in rows if f"see {whole['Finding']} first" in str(row["Item"])]
    return whole, under


def decide_whole(path: Path, word: str) -> None:
    """Decide the row of the whole plot, which names no tree."""
    decide(path, "None", {"Decision": word, "Initials": "CD"})


def test_accepting_the_whole_settles_what_is_folded_under_it(book: Path) -> None:
    before = fill(book).outcome
    whole, under = parent_and_folded(book)
    assert len(under) >= 2
    assert {row["Status"] for row in (whole, *under)} == {"open"}
    decide_whole(book, "accepted")
    after = fill(book).outcome
    whole, under = parent_and_folded(book)
    assert whole["Status"] == "accepted"
    assert {row["Status"] for row in under} == {f"accepted with {whole['Finding']}"}
    # nothing was typed into their own rows, and nothing is
    assert {row["Decision"] for row in under} == {None}
    assert len(before.open_findings) - len(after.open_findings) == 1 + len(under)


@pytest.mark.slow
def test_a_changed_reading_opens_the_whole_and_what_is_folded_again(book: Path) -> None:
    fill(book)
    decide_whole(book, "accepted")
    fill(book)
    assert not fill(book).wrote
    rekey(book, "30", {"foot_reading": -8})
    outcome = fill(book).outcome
    whole, under = parent_and_folded(book)
    assert whole["Status"] == "reopened: its readings have changed"
    assert {row["Status"] for row in under} == {"open"}
    assert {f.check for f in outcome.open_findings} >= {WHOLE}


@pytest.mark.slow
def test_a_decision_of_its_own_stays_with_a_folded_finding(book: Path) -> None:
    outcome = fill(book).outcome
    _, under = parent_and_folded(book)
    tree = next(str(row["Tree"]) for row in under if row["Tree"])
    decide(book, tree, {"Decision": "ask crew", "Initials": "CD"})
    decide_whole(book, "NOT SAFE")
    outcome = fill(book).outcome
    whole, under = parent_and_folded(book)
    states = {row["Status"] for row in under if str(row["Tree"]) == tree}
    assert states == {"open: ask the crew"}
    others = {row["Status"] for row in under if str(row["Tree"]) != tree}
    still = "NOT SAFE: not measured again, still doubtful"
    assert others == {f"{still} with {whole['Finding']}"}
    (parent,) = [f for f in outcome.findings if f.check == WHOLE]
    assert {f.under for f in outcome.findings} == {"", finding_id(parent)}


@pytest.mark.slow
def test_mending_the_plot_takes_all_of_them_to_the_log(book: Path) -> None:
    fill(book)
    whole, under = parent_and_folded(book)
    edited = openpyxl.load_workbook(book)
    (heading,) = edited.defined_names[PLOTS.defined_name("scale")].destinations
    sheet, cell = edited[heading[0]], heading[1].replace("$", "")
    sheet.cell(sheet[cell].row + 3, sheet[cell].column).value = "percent"
    edited.save(book)
    fill(book)
    left = {row["Finding"] for row in rows_of(book, "Log")}
    assert left >= {row["Finding"] for row in (whole, *under)}
