"""The tabs of the loop: To check with decisions, Measure again, Log."""

import io
from dataclasses import replace
from datetime import datetime

import openpyxl
import pytest

from tests.jobs.tabs.make_outcome import FACTS, finding, lines_of_town, make_outcome
from tests.jobs.tabs.reading import cell_under, column_of, heading_row, open_book, values_under
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.tabs.result_tabs import render_tabs
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.columns import BULK_FROM
from xlhelpers.pages.decision_columns import LABELS, find_columns
from xlhelpers.pages.plan import FillFacts
from xlhelpers.survey.decisions.decisions import (
    WORDS,
    Decision,
    FindingTexts,
    Ledger,
    LogEntry,
    standing,
)
from xlhelpers.survey.decisions.identity import finding_ids, fingerprint
from xlhelpers.survey.outcome import Outcome

TYPED = {"initials": "CD", "date": "2026-05-04", "note": "low fork"}


def decided(outcome: Outcome, words: dict[int, str], **more: object) -> Outcome:
    """Return the outcome with these words decided about these findings."""
    stands = []
    every = zip(finding_ids(outcome.findings), outcome.findings, strict=True)
    for place, (identity, found) in enumerate(every):
        typed = {"word": words[place], **TYPED, **more} if place in words else {}
        decision = Decision(identity, fingerprint(found), **typed)  # type: ignore[arg-type]
        stands.append(standing(found, decision))
    return replace(outcome, ledger=Ledger(tuple(stands)))


def town(findings: int, words: dict[int, str], **more: object) -> Outcome:
    lines = lines_of_town(max(findings, 12), 2)
    found = [
        finding(at, lines[at]["plot"], lines[at]["tree"], "warning", "again")
        for at in range(findings)
    ]
    return decided(make_outcome(lines, found), words, **more)


@pytest.mark.parametrize("count", [3, pytest.param(BULK_FROM + 5, marks=pytest.mark.slow)])
def test_what_the_office_typed_stands_in_cells_for_typing(count: int) -> None:
    sheet = open_book(render_tabs(town(count, {0: "measure again"}), FACTS))["To check"]
    first = 3  # three bands, and the one with findings is the third
    place = next(
        i for i in range(count + 3) if cell_under(sheet, "Decision", i).value == "measure again"
    )
    assert place >= first
    assert cell_under(sheet, "Initials", place).value == "CD"
    assert cell_under(sheet, "Date", place).value == datetime(2026, 5, 4)
    assert cell_under(sheet, "Date", place).number_format == "yyyy-mm-dd"
    assert cell_under(sheet, "Note", place).value == "low fork"
    for heading in ("Decision", "Initials", "Date", "Note"):
        for number in (first, count + 2):
            cell = cell_under(sheet, heading, number)
            assert cell.border.left.style == "dashed"
            assert cell.fill.fgColor.rgb != cell_under(sheet, "Status", number).fill.fgColor.rgb


def test_a_list_is_offered_and_other_words_are_let_through() -> None:
    sheet = open_book(render_tabs(town(3, {}), FACTS))["To check"]
    (rule,) = [rule for rule in sheet.data_validations.dataValidation if rule.type == "list"]
    assert rule.formula1 == f'"{",".join(WORDS)}"'
    assert rule.errorStyle == "warning"
    column = cell_under(sheet, "Decision").column_letter
    assert str(rule.sqref).startswith(f"{column}{heading_row(sheet, 'Finding') + 1}:")


@pytest.mark.parametrize("tab", ["To check", "Log", "Measure again"])
def test_the_key_of_a_row_is_hidden_and_headings_carry_names(tab: str) -> None:
    book = open_book(render_tabs(town(3, {}), FACTS))
    sheet = book[tab]
    heading = sheet.cell(
        heading_row(sheet, "Finding"), column_of(sheet, "Program code (do not edit)")
    )
    assert sheet.column_dimensions[heading.column_letter].hidden
    targets = [name.attr_text for name in book.defined_names.values()]
    assert f"'{tab}'!${heading.column_letter}${heading.row}" in targets


def test_settled_findings_stand_last_in_a_section_of_their_own() -> None:
    sheet = open_book(render_tabs(town(3, {0: "accepted", 1: "NOT SAFE"}), FACTS))["To check"]
    assert values_under(sheet, "Who can resolve it", 7)[3:] == [
        "measure again",
        "4  Accepted or NOT SAFE: 2 findings",
        "resolved",
        "resolved",
    ]
    said = [cell.value for row in sheet.iter_rows(max_row=8) for cell in row if cell.value]
    assert any("1 accepted, 1 NOT SAFE" in text and "1 warning" in text for text in said)


def test_a_date_that_is_none_stays_a_text_and_1904_is_minded() -> None:
    sheet = open_book(render_tabs(town(1, {0: "ask crew"}, date="May?"), FACTS))["To check"]
    assert "May?" in values_under(sheet, "Date", 4)
    facts = FillFacts("1", 1, "2026-05-04 10:00", "town.xlsx", from_1904=True)
    sheet = open_book(render_tabs(town(1, {0: "ask crew"}, date="1904-01-03"), facts))["To check"]
    # openpyxl counts from 1900: day 2
    assert datetime(1900, 1, 2) in [
        v if isinstance(v, datetime) else None for v in values_under(sheet, "Date", 4)
    ]


def test_trees_show_what_was_accepted_without_calling_it_open() -> None:
    outcome = town(2, {0: "accepted"})
    sheet = open_book(render_tabs(outcome, FACTS))["Trees"]
    count = len(outcome.trees)
    settled = [text for text in values_under(sheet, "Accepted or closed", count) if text]
    assert len(settled) == 1
    assert settled[0].startswith("accepted, CD, 2026-05-04: low fork — warning ")
    assert values_under(sheet, "Open finding", count).count("warning") == 1


def test_summaries_show_the_mean_without_trees_that_rest_on_open_findings() -> None:
    lines = lines_of_town(12, 1)
    about_height = finding(0, "1", lines[0]["tree"], fields=("tip_reading", "distance"))
    outcome = make_outcome(lines, [about_height])
    sheet = open_book(render_tabs(outcome, FACTS))["By plot"]
    living = outcome.trees[outcome.trees["condition"] != "D"]
    heights = living["total_height"].drop(0, errors="ignore").dropna()
    mean = cell_under(sheet, "Mean height without open findings (m)")
    assert mean.value == pytest.approx(heights.mean())
    assert mean.offset(0, 1).value == len(heights)
    accepted = decided(outcome, {0: "accepted"})
    sheet = open_book(render_tabs(accepted, FACTS))["By plot"]
    assert cell_under(sheet, "Trees with open findings").value == 0
    mean = cell_under(sheet, "Mean height without open findings (m)")
    assert mean.value == pytest.approx(living["total_height"].mean())


def test_the_list_for_the_truck() -> None:
    sheet = open_book(render_tabs(town(3, {0: "NOT SAFE"}), FACTS))["Measure again"]
    assert values_under(sheet, "Answer, or NOT SAFE", 2) == [None, None]
    assert cell_under(sheet, "Finding", 2).value is None
    assert cell_under(sheet, "Stand away, at least (m)").value > 0
    said = [cell.value for row in sheet.iter_rows(max_row=12) for cell in row if cell.value]
    for caution in ("Traffic", "Wires", "NOT SAFE", "laser"):
        assert any(caution in str(text) for text in said)


def test_the_log_shows_what_left() -> None:
    told = FindingTexts("error", "2", "10", "1", "", "The crown base lies above the top.")
    left = Decision("ACDEFGHJ", "X" * 16, "mended", "CD", "2026-05-04", "swapped", "", told)
    outcome = make_outcome(lines_of_town(6, 1))
    outcome = replace(outcome, ledger=Ledger((), (LogEntry(left, "mended", "2026-05-05"),)))
    sheet = open_book(render_tabs(outcome, FACTS))["Log"]
    for heading, value in {
        "Finding": "ACDEFGHJ",
        "Plot": 2,
        "Tree": 10,
        "What was found": told.message,
        "How it was resolved": "mended",
        "Resolved on": "2026-05-05",
        "Decision": "mended",
        "Date": datetime(2026, 5, 4),
        "Note": "swapped",
    }.items():
        assert cell_under(sheet, heading).value == value


@pytest.mark.parametrize("tab", ["to_check", "log"])
def test_columns_are_found_by_the_headings_of_earlier_versions(tab: str) -> None:
    book = openpyxl.load_workbook(io.BytesIO(render_tabs(town(3, {}), FACTS)))
    sheet = book[RESULT_TABS[tab]]
    at = {c.value: c for c in sheet[heading_row(sheet, "Finding")]}
    earlier = {"Item": "About", "Program code (do not edit)": "Rests on"}
    earlier |= {"How it was resolved": "What became of it", "Resolved on": "Left the list"}
    for today, before in earlier.items():
        if today in at:
            at[today].value = before
    for name in list(book.defined_names):
        del book.defined_names[name]
    saved = io.BytesIO()
    book.save(saved)
    package = Package.from_bytes(saved.getvalue(), "tabs.xlsx")
    part = next(part for part in sheets(package) if part.name == RESULT_TABS[tab])
    found = find_columns(package, part, read_grid(package, part), tab)
    assert found is not None
    assert set(found.at) == set(LABELS[tab])


def test_what_cannot_be_right_is_left_out_of_the_summaries_and_counted() -> None:
    """A negative height and a diameter with its point in the wrong place, each with a finding."""
    lines = [line for line in lines_of_town(12, 1) if not line["condition"]]
    lines[0]["tip_reading"] = -90.0
    lines[1]["diameter"] = 900.0
    found = [
        finding(0, "1", lines[0]["tree"], fields=("tip_reading",)),
        finding(1, "1", lines[1]["tree"], fields=("diameter",)),
    ]
    outcome = make_outcome(lines, found)
    assert outcome.trees["total_height"].min() < 0
    sound = outcome.trees["total_height"].iloc[1:]
    stems = outcome.trees["basal_area"].drop(1)
    for tab in ("By plot", "By species"):
        sheet = open_book(render_tabs(outcome, FACTS))[tab]
        row = heading_row(sheet, "All plots" if tab == "By plot" else "All species")
        heading = heading_row(sheet, "Left out of means and sums")
        total = {c.value: sheet.cell(row, c.column).value for c in sheet[heading]}
        column = next(c.column for c in sheet[heading - 1] if c.value == "Total height")
        assert sheet.cell(row, column).value == pytest.approx(sound.mean())
        assert total["Basal area, living trees (m²)"] == pytest.approx(stems.sum())
        assert total["Left out of means and sums"] == "1 height, 1 diameter"
    sheet = open_book(render_tabs(outcome, FACTS))["Trees"]
    left_out = values_under(sheet, "Left out of means and sums", len(outcome.trees))
    assert [text for text in left_out if text] == ["height", "diameter"]
    waiting = decided(outcome, {0: "NOT SAFE", 1: "accepted"}, initials="")
    sheet = open_book(render_tabs(waiting, FACTS))["By plot"]
    assert cell_under(sheet, "Left out of means and sums").value == "1 height, 1 diameter"
    accepted = decided(outcome, {0: "accepted", 1: "accepted"})
    sheet = open_book(render_tabs(accepted, FACTS))["By plot"]
    assert cell_under(sheet, "Left out of means and sums").value in (None, "")
