"""The tab To check: blocks, order, ids, and links that lead to the cell."""

import re

import pytest
from openpyxl.utils import column_index_from_string, get_column_letter

from tests.jobs.tabs.make_outcome import FACTS, finding, lines_of_town, make_outcome
from tests.jobs.tabs.reading import cell_under, heading_row, open_book, values_under
from xlhelpers.jobs.fill.tabs.result_tabs import render_tabs
from xlhelpers.jobs.fill.tabs.to_check import plan_to_check
from xlhelpers.pages.plan import Link
from xlhelpers.survey.decisions.identity import finding_id

FOUND = (
    finding(4, "10", "2", "warning", "again"),
    finding(3, "2", "10", "error", "paper"),
    finding(2, "2", "9", "warning", "paper"),
    finding(1, "1", "1", "note", "paper", message="One width only."),
    finding(None, subject=(("crew", "AB"), ("instrument", "C1")), severity="warning", block="crew"),
)


def _tab(values: bool = True):  # type: ignore[no-untyped-def]
    data = render_tabs(make_outcome(lines_of_town(12, 2), FOUND), FACTS)
    return open_book(data, values)["To check"]


def test_three_blocks_each_in_plot_and_tree_order() -> None:
    assert values_under(_tab(), "Who can resolve it", 7) == [
        "1  Check the paper: 2 findings",
        "paper",
        "paper",
        "2  Ask the crew: 1 finding",
        "crew",
        "3  Measure again: 1 finding",
        "measure again",
    ]
    assert values_under(_tab(), "Plot", 7) == [None, 2, 2, None, None, None, 10]
    assert values_under(_tab(), "Tree", 7) == [None, 9, 10, None, None, None, 2]
    assert values_under(_tab(), "Severity", 7) == [
        *(None, "warning", "error"),
        *(None, "warning"),
        *(None, "warning"),
    ]
    assert cell_under(_tab(), "Item", 4).value == "crew AB, instrument C1"


def test_block_without_findings_is_named_too() -> None:
    data = render_tabs(make_outcome(lines_of_town(6, 1), FOUND[:1]), FACTS)
    assert values_under(open_book(data)["To check"], "Who can resolve it", 4) == [
        "1  Check the paper: none",
        "2  Ask the crew: none",
        "3  Measure again: 1 finding",
        "measure again",
    ]


def test_the_name_of_a_block_without_findings_takes_no_page_of_its_own() -> None:
    many = [finding(at % 5, str(at), "1", "warning", "paper") for at in range(30)]
    found = (*many, finding(4, "10", "2", "warning", "again"))
    sheet = open_book(render_tabs(make_outcome(lines_of_town(12, 2), found), FACTS))["To check"]
    named = [cell.row for cell in sheet["A"] if str(cell.value).startswith(("2  Ask", "3  Mea"))]
    assert named == [named[0], named[0] + 1]
    breaks = {mark.id for mark in sheet.row_breaks.brk}
    assert named[0] - 1 in breaks
    assert named[0] not in breaks


def test_notes_are_counted_here_and_listed_in_about() -> None:
    data = render_tabs(make_outcome(lines_of_town(12, 2), FOUND), FACTS)
    book = open_book(data)
    assert "1 note on About" in book["To check"]["A3"].value
    said = [c.value for row in book["To check"].iter_rows() for c in row]
    assert "One width only." not in said
    assert cell_under(book["About this fill"], "What is stated").value == "One width only."


def test_id_is_the_lasting_one() -> None:
    assert values_under(_tab(), "Finding", 3)[1:] == [finding_id(FOUND[2]), finding_id(FOUND[1])]


def test_link_is_a_formula_with_its_text_stored() -> None:
    formula = cell_under(_tab(values=False), "Where", 1).value
    assert formula == '=HYPERLINK("#\'Field sheet\'!K8","Field sheet K8")'
    assert cell_under(_tab(), "Where", 1).value == "Field sheet K8"
    assert cell_under(_tab(), "Where", 4).value == "Field sheet"  # no one cell, no link


@pytest.mark.parametrize(
    ("sheet", "target"),
    [
        ("Field sheet", "#'Field sheet'!AB70000"),
        ("O'Brien", "#'O''Brien'!AB70000"),
        ('"North" (2)', "#'\"North\" (2)'!AB70000"),
        ("DROP(1)", "#'DROP(1)'!AB70000"),
        ('x",A1)&("', "#'x\",A1)&(\"'!AB70000"),
    ],
)
def test_links_are_quoted_safely(sheet: str, target: str) -> None:
    link = Link(sheet, 70_000, 28)
    first, second = _arguments(link.formula)
    assert first == target
    assert second == f"{sheet} AB70000" == link.text


def test_every_link_of_a_long_list_is_written_as_a_formula() -> None:
    lines = lines_of_town(250, 10)
    found = [finding(at, lines[at]["plot"], lines[at]["tree"]) for at in range(250)]
    sheet = open_book(render_tabs(make_outcome(lines, found), FACTS), values=False)["To check"]
    links = [cell_under(sheet, "Where", 1 + i) for i in range(250)]
    assert all(cell.data_type == "f" for cell in links)
    assert not sheet._hyperlinks
    assert heading_row(sheet, "Where") + 250 + 3 == sheet.max_row  # three bands


def test_plan_counts_every_open_finding_once() -> None:
    plan = plan_to_check(make_outcome(lines_of_town(12, 2), FOUND), FACTS)
    assert len(plan.parts[0].rows) == 4  # type: ignore[union-attr]


def _arguments(formula: str) -> tuple[str, ...]:
    """Return the texts of a call with two texts, read as a spreadsheet reads them."""
    inside = re.fullmatch(r"=HYPERLINK\((.*)\)", formula)
    assert inside is not None
    piece = r'"(?:[^"]|"")*"'
    match = re.fullmatch(rf"({piece}(?:&{piece})*),({piece}(?:&{piece})*)", inside[1])
    assert match is not None, formula
    return tuple(
        "".join(p[1:-1].replace('""', '"') for p in re.findall(piece, argument))
        for argument in match.groups()
    )


def test_the_printed_list_has_room_to_write_by_hand() -> None:
    """A hand needs some 15 mm for a value; the sheet is fitted to the width of A4 lying down."""
    sheet = _tab()
    (printed,) = sheet.print_area.split(",")
    first, last = printed.rpartition("!")[2].replace("$", "").split(":")
    last_column = column_index_from_string(re.sub(r"\d", "", last))
    assert first == "A1"
    widths = [_millimetres(sheet, at) for at in range(1, last_column + 1)]
    scale = min(1.0, (297 - 2 * 12.7) / sum(widths))
    for heading, least in (("Paper says", 18), ("Decision", 15), ("Initials", 10)):
        cell = cell_under(sheet, heading, 1)
        assert cell.column <= last_column
        assert widths[cell.column - 1] * scale >= least
    assert scale > 0.65  # type of 11 points stays above 7


def _millimetres(sheet, at: int) -> float:  # type: ignore[no-untyped-def]
    dimension = sheet.column_dimensions[get_column_letter(at)]
    return float(dimension.width * 7 / 96 * 25.4)


def test_paper_says_keeps_what_is_typed_and_has_help() -> None:
    sheet = _tab()
    cell = cell_under(sheet, "Paper says", 1)
    assert cell.number_format == "@"
    (rule,) = [rule for rule in sheet.data_validations.dataValidation if rule.promptTitle]
    assert rule.promptTitle == "Paper says"
    assert len(rule.prompt) <= 255
    assert str(rule.sqref).startswith(cell.column_letter)
