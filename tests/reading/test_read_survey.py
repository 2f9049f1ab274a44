"""What people really type into a keyed sheet: understood and said, or refused with a finding."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from tests.reading.make_grids import (
    ISO_DATE,
    LINE,
    MAIN,
    PERCENT,
    PLOT_ROW,
    SHORT_DATE,
    checks_of,
    column_of,
    kinds_of,
    make_grid,
    read_grids,
    read_lines,
    rules_grid,
    sheet_rows,
)
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES
from xlhelpers.fields.workbook import KEYED_SHEETS
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.zip.container import Package
from xlhelpers.reading import cells as read_cells
from xlhelpers.reading.findings import READING_CHECKS
from xlhelpers.reading.survey import read_survey
from xlhelpers.reading.table import FORMULA_RESULT
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, VALUE
from xlhelpers.survey.typed import numbers
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template


def finding(survey, check):
    """The one finding of a check."""
    found = [f for f in survey.findings if f.check == check]
    assert len(found) == 1, checks_of(survey)
    return found[0]


def test_a_clean_line_brings_nothing_to_say():
    survey = read_lines(LINE)
    line = survey.lines.iloc[0]
    assert checks_of(survey) == []
    assert survey.understood == ()
    assert (line["plot"], line["tree"], line["species"]) == ("1", "1", "Acer platanoides")
    assert (line["diameter"], line["distance"], line["tip_reading"]) == (30.0, 20.0, 60.0)
    assert np.isnan(line["setup"])
    assert line["condition"] == ""
    assert not line["foot_above_eye"]
    states = survey.states["lines"].iloc[0]
    assert (states["plot"], states["setup"], states["diameter"]) == (VALUE, BLANK, VALUE)


# rules, field, what is in the cell, mark on the cell, value read, kind said
UNDERSTOOD = [
    ({}, "distance", "12,5", {}, 12.5, numbers.DECIMAL_COMMA),
    ({}, "distance", "12 m", {}, 12.0, "unit typed into the cell (m)"),
    ({}, "distance", "1200 cm", {}, 12.0, "unit typed into the cell (cm, converted to m)"),
    ({}, "distance", "30'", {}, 9.144, "unit typed into the cell (ft, converted to m)"),
    ({}, "distance", "35 ft", {}, 10.668, "unit typed into the cell (ft, converted to m)"),
    ({}, "distance", "12'6\"", {}, 3.81, numbers.FEET_AND_INCHES),
    ({}, "distance", "12.5", {}, 12.5, numbers.TEXT_NUMBER),
    ({}, "distance", "12.5\u00a0", {}, 12.5, numbers.NO_BREAK_SPACE),
    ({}, "distance", "12\u2009m", {}, 12.0, numbers.THIN_SPACE),
    ({}, "distance", "１２", {}, 12.0, numbers.OTHER_DIGITS),
    ({}, "foot_reading", "\u22128", {}, -8.0, numbers.PRINTED_MINUS),
    ({}, "tip_reading", 0.85, {"styles": PERCENT}, 85.0, numbers.PERCENT_FORMAT),
    ({}, "tip_reading", "85%", {}, 85.0, "unit typed into the cell (%)"),
    ({}, "distance", 12.5, {"formulas": "5+7.5"}, 12.5, FORMULA_RESULT),
    ({}, "condition", "dead top", {}, "T", "“dead top” for T"),
    ({}, "condition", "living", {}, "", "“living” for blank"),
    ({}, "scale", "pct", {}, "percent", "“pct” for percent"),
    ({}, "foot_above_eye", "✓", {}, True, "“✓” for marked"),
    ({}, "foot_above_eye", "yes", {}, True, "“yes” for marked"),
    ({}, "foot_above_eye", 1.0, {}, True, "“1” for marked"),
    ({}, "foot_above_eye", True, {}, True, "“TRUE” for marked"),
    ({}, "foot_above_eye", "no", {}, False, "“no” for not marked"),
    ({}, "other_stems", "24, 18", {}, "24 18", "stems separated by a sign other than a space"),
    ({}, "other_stems", "24,5 18", {}, "24.5 18", numbers.DECIMAL_COMMA),
    ({"diameter_typed_as": "girth"}, "diameter", 100 * np.pi, {}, 100.0, read_cells.GIRTH),
    ({"diameter_typed_as": "girth"}, "diameter", 3000.0, {}, 3000 / np.pi, read_cells.GIRTH),
    ({"units": "us", "tape_reads_in": "feet and inches"}, "distance", 12.6, {}, 12.6 * 0.3048,
     read_cells.DECIMAL_FEET),
    ({"units": "us", "tape_reads_in": "tenths of feet"}, "distance", "12'6\"", {}, 3.81,
     numbers.FEET_AND_INCHES),
    ({"units": "us", "tape_reads_in": "tenths of feet"}, "distance", "12 m", {}, 12.0,
     "unit typed into the cell (m, converted to ft)"),
    ({"units": "us", "tape_reads_in": "tenths of feet"}, "diameter", "12 in", {}, 30.48,
     "unit typed into the cell (in)"),
]  # fmt: skip


@pytest.mark.parametrize(("rules", "name", "cell", "mark", "value", "kind"), UNDERSTOOD)
def test_understood_and_said_once(rules, name, cell, mark, value, kind):
    marks = {what: {(2, column_of(name)): how} for what, how in mark.items()}
    survey = read_lines({**LINE, name: cell}, rules=rules, **marks)
    assert checks_of(survey) == []
    read = survey.lines[name].iat[0]
    assert read == (value if isinstance(value, str | bool) else pytest.approx(value, rel=1e-12))
    assert survey.states["lines"][name].iat[0] == VALUE
    said = kinds_of(survey, FIELD_SHEET[name].label)
    place = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[column_of(name) - 1] + "2"
    assert said[kind] == (1, (place,))


def test_a_kind_is_said_once_a_column_with_its_first_three_cells():
    lines = [{**LINE, "tree": float(n), "distance": "12,5"} for n in range(1, 6)]
    survey = read_lines(*lines, {**LINE, "tree": 9.0})
    assert kinds_of(survey, "Distance") == {numbers.DECIMAL_COMMA: (5, ("I2", "I3", "I4"))}


def test_whole_feet_need_no_word_where_the_tape_reads_in_feet_and_inches():
    rules = {"units": "us", "tape_reads_in": "feet and inches"}
    survey = read_lines({**LINE, "distance": 66.0}, rules=rules)
    assert kinds_of(survey, "Distance") == {}


# field, what is in the cell, mark on the cell, check, part of the message
REFUSED_CELLS = [
    ("base_reading", "1,250", {}, "number-ambiguous", "is “1,250”. It may be 1.25 or 1250."),
    ("distance", "12½", {}, "number-unread", "is “12½”. It is a fraction"),
    ("distance", "about 12", {}, "number-unread", "“about 12”. It is not a number."),
    ("distance", "1 250", {}, "number-ambiguous", "It has two numbers, 1 and 250."),
    ("distance", "3-4", {}, "number-ambiguous", "It is a range, a date or two numbers."),
    ("distance", "12'14\"", {}, "number-ambiguous", "A foot has only 12 inches."),
    ("distance", "85%", {}, "number-unread", "% is not a unit of this column"),
    (
        "distance",
        46115.0,
        {"styles": SHORT_DATE},
        "number-is-date",
        "You probably typed 3-4 or 4-3.",
    ),
    (
        "distance",
        46115.0,
        {},
        "value-impossible",
        "3 April 2026: possibly you typed 3-4 or 4-3.",
    ),
    ("tree", 46115.0, {"styles": SHORT_DATE}, "number-is-date", "into a date (3 April 2026)"),
    ("distance", 0.12, {"styles": PERCENT}, "number-ambiguous", "he cell shows it as 12 %"),
    (
        "distance",
        "12 cm",
        {},
        "value-impossible",
        "“12 cm” (= 0.12 m). It must be from 0.5 to 300 m.",
    ),
    ("distance", 301.0, {}, "value-impossible", "“301”. It must be from 0.5 to 300 m."),
    ("tip_reading", 601.0, {}, "value-impossible", "It must be from −600 to 600."),
    ("width_widest", -1.0, {}, "value-impossible", "is “-1”. It must be from 0 to 80 m."),
    ("setup", 1.5, {}, "number-not-whole", "It must be a whole number."),
    ("setup", 0.0, {}, "value-impossible", "It must be from 1 to 20."),
    ("distance", True, {}, "number-unread", "TRUE and FALSE are not numbers"),
    ("distance", CellError("#N/A"), {}, "cell-error", "Distance shows a formula error (#N/A)."),
    ("species", CellError("#VALUE!"), {}, "cell-error", "a formula error (#VALUE!)"),
    ("condition", CellError("#REF!"), {}, "cell-error", "a formula error (#REF!)"),
    ("foot_above_eye", CellError("#N/A"), {}, "cell-error", "a formula error (#N/A)"),
    ("condition", "dying", {}, "word-unknown", "is “dying”, which is not on the list."),
    ("scale", "metres", {}, "word-unknown", "is “metres”, which is not on the list."),
    ("condition", 3.0, {}, "word-unknown", "is “3”, which is not on the list."),
    ("foot_above_eye", "perhaps", {}, "word-unknown", "It should be x, or blank."),
    ("other_stems", "24,5", {}, "number-ambiguous", "one stem with a decimal comma or two stems"),
    ("other_stems", "24 many", {}, "number-unread", "such as 24 18 9"),
    ("other_stems", "24 2000", {}, "value-impossible", "Each stem must be from 0.1 to 1000 cm."),
    # 46115 days after 30 December 1899 it is 3 April 2026, by the calendar
    ("other_stems", 46115, {}, "value-impossible", "possibly you typed 3-4 or 4-3."),
]


@pytest.mark.parametrize(("name", "cell", "mark", "check", "part"), REFUSED_CELLS)
def test_refused_with_a_finding_and_the_rest_of_the_line_still_counts(
    name, cell, mark, check, part
):
    marks = {what: {(2, column_of(name)): how} for what, how in mark.items()}
    survey = read_lines({**LINE, name: cell}, **marks)
    assert checks_of(survey) == [check]
    found = finding(survey, check)
    assert (found.sheet, found.row, found.column) == ("Field sheet", 2, column_of(name))
    assert (found.lines, found.fields, found.block) == ((0,), (name,), "paper")
    assert found.severity == "error"
    assert part in found.message
    # the place stands beside the message in every list
    assert not found.message.startswith("Field sheet")
    assert found.evidence
    assert found.action
    assert survey.states["lines"][name].iat[0] == REFUSED
    value = survey.lines[name].iat[0]
    assert value in ("", False) or np.isnan(value)
    others = [other for other in ("diameter", "tip_reading") if other != name]
    assert not survey.lines[others].isna().any(axis=None)


def test_the_whole_message_of_a_refused_cell():
    survey = read_lines({**LINE, "base_reading": "1,250"})
    found = finding(survey, "number-ambiguous")
    assert found.subject == (("plot", "1"), ("tree", "1"), ("set-up", "1"))
    assert found.evidence == ("1,250",)
    assert found.message == ("Crown base reading is “1,250”. It may be 1.25 or 1250.")
    assert found.action == (
        "Check the paper sheet and type the number with a decimal point and no unit."
    )


def test_the_text_of_a_formula_is_read_like_any_text():
    place = (2, column_of("distance"))
    survey = read_lines({**LINE, "distance": "12,5"}, formulas={place: 'TEXT(12.5,"0,0")'})
    assert survey.lines["distance"].tolist() == [12.5]
    assert set(kinds_of(survey, "Distance")) == {numbers.DECIMAL_COMMA, FORMULA_RESULT}


def test_all_that_is_wrong_is_said_at_once():
    survey = read_lines(
        {**LINE, "distance": "far", "base_reading": "1,250", "condition": "dying"},
        {**LINE, "tree": 2.0, "tip_reading": CellError("#N/A")},
    )
    assert sorted(checks_of(survey)) == [
        "cell-error", "number-ambiguous", "number-unread", "word-unknown",
    ]  # fmt: skip


def test_formulas_never_calculated_are_said_once_a_column():
    lines = [{**LINE, "tree": float(n), "distance": None} for n in (1, 2)]
    places = [(row, column_of("distance")) for row in (2, 3)]
    survey = read_lines(*lines, formulas=dict.fromkeys(places, "A1*2"), uncalculated=places)
    found = finding(survey, "formula-uncalculated")
    assert found.lines == (0, 1)
    assert found.message == ("2 cells in “Distance” have a formula without a result (I2, I3).")
    assert survey.states["lines"]["distance"].tolist() == [REFUSED, REFUSED]


@pytest.mark.parametrize("word", ["NOT SAFE", "not safe", "No access", "NOT SEEN", "?"])
def test_a_word_closes_its_own_cell(word):
    survey = read_lines({**LINE, "tip_reading": word})
    assert checks_of(survey) == []
    assert survey.states["lines"]["tip_reading"].iat[0] == CLOSED
    assert np.isnan(survey.lines["tip_reading"].iat[0])
    expected = "UNREADABLE" if word == "?" else word.upper()
    assert survey.closed_words == {expected: 1}


@pytest.mark.parametrize("name", ["species", "condition", "other_stems", "foot_above_eye"])
def test_a_word_closes_a_cell_of_any_kind(name):
    survey = read_lines({**LINE, name: "?"})
    assert checks_of(survey) == []
    assert survey.states["lines"][name].iat[0] == CLOSED


def test_a_reason_closes_every_blank_of_its_line():
    survey = read_lines(
        {**LINE, "tip_reading": None, "distance": None, "missing_because": "not safe: wires"},
        {**LINE, "tree": 2.0, "tip_reading": None},
    )
    states = survey.states["lines"]
    assert states["tip_reading"].tolist() == [CLOSED, BLANK]
    assert states["distance"].tolist() == [CLOSED, VALUE]
    assert states["setup"].tolist() == [BLANK, BLANK]
    assert states["condition"].tolist() == [BLANK, BLANK]
    assert survey.closed_words == {"NOT SAFE": 1}
    assert survey.lines["missing_because"].iat[0] == "not safe: wires"


def test_a_reason_in_other_words_closes_nothing():
    survey = read_lines({**LINE, "tip_reading": None, "missing_because": "rain"})
    found = finding(survey, "reason-unknown")
    assert found.severity == "warning"
    assert found.message == "“rain” is not a listed reason, so the blank still counts as missing."
    assert found.action.startswith("Type the nearest reason: NOT SAFE, NO ACCESS")
    assert survey.states["lines"]["tip_reading"].iat[0] == BLANK


def test_a_status_of_a_plot_is_not_taken_for_a_closing_word():
    survey = read_lines(LINE, plots=[{**PLOT_ROW, "status": "NOT SAFE"}])
    assert survey.plots["status"].tolist() == ["not safe"]
    assert survey.closed_words == {}


def test_identifiers_agree_over_all_sheets_and_are_shown_as_first_keyed():
    survey = read_lines(
        {**LINE, "plot": 1.0, "instrument": "c–1"},
        {**LINE, "plot": "1", "tree": "01"},
        {**LINE, "plot": " １ ", "tree": "a7"},
        {**LINE, "plot": 2.0, "tree": "A7"},
        plots=[{**PLOT_ROW, "plot": "1", "instrument": "C-1"}, {**PLOT_ROW, "plot": 2.0}],
        instruments=[{"instrument": "C-1", "kind": "clinometer"}],
    )
    assert survey.plots["plot"].tolist() == ["1", "2"]
    assert survey.lines["plot"].tolist() == ["1", "1", "1", "2"]
    assert survey.lines["tree"].tolist() == ["1", "01", "a7", "a7"]
    assert survey.lines["instrument"].tolist()[0] == "C-1"
    assert kinds_of(survey, "Tree") == {read_cells.OTHER_SPELLING: (1, ("B5",))}


def test_an_unknown_species_is_kept_as_typed():
    survey = read_lines({**LINE, "species": "  Acer  platanoïdes\u00a0'Xyz' "})
    assert survey.lines["species"].iat[0] == "Acer platanoïdes 'Xyz'"
    assert checks_of(survey) == []


def test_duplicates_are_kept_as_two_lines():
    survey = read_lines(LINE, {**LINE, "species": "Tilia cordata"})
    assert survey.lines["tree"].tolist() == ["1", "1"]


@pytest.mark.parametrize(("name", "check"), [("plot", "plot-missing"), ("tree", "tree-missing")])
def test_a_line_without_plot_or_tree_is_kept_with_an_error(name, check):
    survey = read_lines(LINE, {**LINE, "tree": 2.0, name: None})
    found = finding(survey, check)
    assert (found.severity, found.lines, found.row) == ("error", (1,), 3)
    assert "A blank does not mean “same as above”." in found.message
    assert survey.lines[name].tolist() == ["1", ""]


def test_a_line_without_both_has_two_errors_and_keeps_its_values():
    survey = read_lines({**LINE, "plot": None, "tree": None})
    assert checks_of(survey) == ["plot-missing", "tree-missing"]
    assert survey.lines["tip_reading"].tolist() == [60.0]


def blanks(count):
    return [{}] * count


def test_blank_rows_are_skipped_and_rows_far_below_count():
    survey = read_lines(*blanks(2), LINE, *blanks(50), {**LINE, "tree": 2.0}, *blanks(3))
    assert survey.lines["_row"].tolist() == [4, 55]
    assert checks_of(survey) == []


def test_results_and_spaces_alone_are_no_line():
    survey = read_lines(LINE, {"live_total": 12.0, "tree_findings": "x"}, {"note": " \u00a0"})
    assert survey.lines["_row"].tolist() == [2]


def test_hidden_and_filtered_rows_are_read_and_said():
    survey = read_lines(LINE, {**LINE, "tree": 2.0}, hidden=[3, 9], filtered=True)
    assert len(survey.lines) == 2
    found = finding(survey, "rows-hidden")
    assert found.severity == "note"
    assert found.message == (
        "1 of 2 rows of “Field sheet” is hidden by a filter or by hand (row 3). It was read too."
    )


TOTALS = [
    ({"plot": "Total", "diameter": 30.0}, {}),
    ({"plot": "Grand total:", "diameter": 30.0}, {}),
    ({"species": "Mean of all", "diameter": 30.0}, {}),
    ({"note": "sum", "diameter": 30.0}, {}),
    ({"diameter": 30.0, "distance": 20.0}, {"diameter": "SUM(F2:F2)", "distance": "SUM(I2:I2)"}),
    ({"plot": "Total", "tree": 39.0}, {"tree": "COUNT(B2:B2)"}),
    ({"plot": "Total", "tree": 27.0}, {}),
    ({"plot": "Total", "tree": 27.0, "diameter": 31.2}, {}),
    ({"plot": "Count"}, {}),
    ({"plot": "Trees keyed", "tree": 27.0}, {"tree": "COUNT(B2:B2)"}),
]


@pytest.mark.parametrize(("row", "formulas"), TOTALS)
def test_a_total_row_is_left_out_and_said(row, formulas):
    survey = read_lines(LINE, row, formulas={(3, column_of(k)): v for k, v in formulas.items()})
    assert survey.lines["_row"].tolist() == [2]
    found = finding(survey, "total-row")
    assert (found.severity, found.row) == ("note", 3)
    assert "Row 3 of “Field sheet” looks like a total row, so it was skipped." in found.message


@pytest.mark.parametrize(
    "row",
    [
        {**LINE, "plot": "Total"},
        {**LINE, "plot": "Mean Street"},
        {**LINE, "plot": None, "tree": None, "species": "Summer lime"},
    ],
)
def test_a_line_of_data_is_no_total(row):
    survey = read_lines(LINE, row)
    assert len(survey.lines) == 2


def test_a_total_whose_formula_was_never_calculated_is_left_out():
    place = (3, column_of("tree"))
    survey = read_lines(
        LINE, {"plot": "Total"}, formulas={place: "COUNT(B2:B2)"}, uncalculated=[place]
    )
    assert checks_of(survey) == ["total-row"]


@pytest.mark.parametrize(
    ("plots", "row"),
    [
        ([PLOT_ROW, {**PLOT_ROW, "plot": "North"}], {"plot": "North", "tree": 2.0}),
        ([{**PLOT_ROW, "plot": "Mean"}], {"plot": "Mean", "tree": 2.0, "note": "seen"}),
        ([PLOT_ROW], {"plot": "North", "tree": 2.0, "note": "unknown plot, no formula"}),
    ],
)
def test_a_line_of_a_known_plot_or_without_formulas_is_no_total(plots, row):
    formulas = {(3, column_of("tree")): "B2+1"} if row["plot"] == "North" and len(plots) > 1 else {}
    survey = read_lines(LINE, row, plots=plots, formulas=formulas)
    assert len(survey.lines) == 2


def test_rows_with_nothing_but_their_plot_cell_are_no_lines():
    survey = read_lines(
        LINE, {"plot": "Checked by KL"}, {"plot": 27.0}, {"plot": "see note on sheet 3"}
    )
    assert survey.lines["_row"].tolist() == [2]
    assert checks_of(survey) == ["row-only-plot"]
    found = finding(survey, "row-only-plot")
    assert (found.severity, found.row, found.column, found.lines) == ("warning", 3, 1, ())
    assert found.message == (
        "3 rows have an entry only under Plot (“Checked by KL”, “27”, “see note on sheet 3” in "
        "rows 3, 4, 5), so they were skipped."
    )
    found = finding(read_lines(LINE, {"plot": "Checked by KL"}), "row-only-plot")
    assert found.message == (
        "Row 3 has an entry only under Plot (“Checked by KL”), so it was skipped."
    )
    assert found.action == "Clear it, or enter the tree."


FEET = {"units": "us", "tape_reads_in": "feet and inches"}
ADVICE = [
    (FEET, "width_widest", "40 6", "type it again. If it is 40 ft 6 in, type 40'6\" (or 40.5)."),
    (FEET, "width_widest", "21-6", "type it again. If it is 21 ft 6 in, type 21'6\" (or 21.5)."),
    (FEET, "width_widest", "40 16", "type it with its signs, for example 40'6\" (or 40.5)."),
    ({"units": "us"}, "width_widest", "40 6", "type the number with a decimal point and no unit."),
    ({}, "tip_reading", "7O", "type the number."),
    ({}, "tip_reading", "hidden", "type the number. If it was not measured, type the reason: NOT"),
    ({}, "diameter", "thick", "type the number."),
]  # fmt: skip


@pytest.mark.parametrize(("rules", "name", "cell", "advice"), ADVICE)
def test_what_to_do_with_a_refused_number(rules, name, cell, advice):
    survey = read_lines({**LINE, name: cell}, rules=rules)
    found = next(f for f in survey.findings if f.fields == (name,))
    assert found.action.startswith(f"Check the paper sheet and {advice}")
    # only a text without a digit, where a reading belongs, may be a reason
    assert ("If it was not measured" in found.action) == (cell == "hidden")


def test_units_in_a_message_are_words_where_the_sign_is_one():
    survey = read_lines({**LINE, "diameter": "thick"}, rules={"units": "us"})
    assert "a number from 0.04 to 393.7 inches." in finding(survey, "number-unread").message
    survey = read_lines({**LINE, "distance": "far"}, rules={"units": "us"})
    assert "a number from 1.64 to 984.25 feet." in finding(survey, "number-unread").message


def test_a_letter_among_the_digits_is_named():
    survey = read_lines({**LINE, "tip_reading": "7O"})
    assert finding(survey, "number-unread").message.startswith(
        "Tip reading is “7O”. It has the letter O"
    )


def test_the_office_sheets_have_no_paper_behind_them():
    grids = {
        "People": make_grid(sheet_rows(PEOPLE, [{"initials": "AB", "eye_height": "1.6 or so"}])),
        "Field sheet": make_grid(sheet_rows(FIELD_SHEET, [LINE])),
    }
    found = next(f for f in read_grids(grids).findings if f.check == "number-unread")
    assert found.action == "Type the number."


def test_repeated_headings_are_left_out_and_said():
    heading = dict(zip((f.name for f in FIELD_SHEET.fields), sheet_rows(FIELD_SHEET, [])[0],
                       strict=True))  # fmt: skip
    survey = read_lines(LINE, heading, {**LINE, "tree": 2.0})
    assert survey.lines["tree"].tolist() == ["1", "2"]
    assert checks_of(survey) == ["heading-repeated"]


def test_merged_cells_among_the_data_are_refused_with_their_place():
    lines = [LINE, {**LINE, "plot": None, "tree": 2.0}, {**LINE, "tree": 3.0}]
    survey = read_lines(*lines, merges=[(2, 1, 3, 1), (1, 1, 1, 4), (90, 1, 99, 1)])
    found = finding(survey, "cell-merged")
    assert (found.severity, found.sheet, found.row, found.column) == ("error", "Field sheet", 3, 1)
    assert (found.lines, found.evidence) == ((1,), ("A2:A3",))
    assert "Some data cells are merged (A2:A3)." in found.message
    assert survey.lines["plot"].tolist() == ["1", "", "1"]
    assert survey.states["lines"]["plot"].tolist() == [VALUE, REFUSED, VALUE]
    assert "plot-missing" not in checks_of(survey)


def test_a_merge_over_several_columns_leaves_no_value():
    at = column_of("width_widest")
    survey = read_lines({**LINE, "width_across": None}, merges=[(2, at, 2, at + 1)])
    assert finding(survey, "cell-merged").fields == ("width_widest", "width_across")
    assert np.isnan(survey.lines["width_widest"].iat[0])
    assert survey.states["lines"][["width_widest", "width_across"]].iloc[0].tolist() == [3, 3]


SCALES = [
    ({"scale": "degrees"}, {}, "85%", True),
    ({}, {"scale": "degrees"}, "85%", True),
    ({}, {"scale": "percent"}, "40°", True),
    ({}, {"scale": "percent"}, "12 m", True),
    ({}, {"scale": "height"}, "12 m", False),
    ({}, {"scale": "percent"}, "85%", False),
    ({"scale": "percent"}, {"scale": "degrees"}, "85%", False),
    ({}, {"scale": None}, "85%", False),
]


@pytest.mark.parametrize(("line", "plot", "cell", "found"), SCALES)
def test_a_unit_against_the_scale_that_was_read(line, plot, cell, found):
    survey = read_lines({**LINE, **line, "tip_reading": cell}, plots=[{**PLOT_ROW, **plot}])
    assert ("reading-unit" in checks_of(survey)) == found


def test_a_percent_format_on_a_plot_read_in_degrees_is_an_error():
    survey = read_lines(
        {**LINE, "tip_reading": 0.4},
        plots=[{**PLOT_ROW, "scale": "degrees"}],
        styles={(2, column_of("tip_reading")): PERCENT},
    )
    found = finding(survey, "reading-unit")
    assert (
        "Tip reading is marked as percent, but the scale for this line is degrees." in found.message
    )


@pytest.mark.parametrize(
    ("readings", "scale", "found"),
    [
        ((-0.08, 0.15, 0.6), "percent", True),
        ((-0.08, None, 0.6), "percent", True),
        ((-0.08, 0.15, 60.0), "percent", False),
        ((-1.0, 0.0, 1.0), "percent", False),
        ((-0.08, 0.15, 0.6), "degrees", False),
        ((None, None, 0.6), "percent", False),
    ],
)
def test_readings_a_hundred_times_too_small(readings, scale, found):
    names = ("foot_reading", "base_reading", "tip_reading")
    line = {**LINE, **dict(zip(names, readings, strict=True))}
    survey = read_lines(line, plots=[{**PLOT_ROW, "scale": scale}])
    assert ("reading-hundredth" in checks_of(survey)) == found
    if found:
        told = finding(survey, "reading-hundredth")
        assert told.severity == "error"
        assert told.lines == (0,)
        assert "0.6 should be 60" in told.message
        assert "60 for 0.6" in told.action
        assert survey.lines["tip_reading"].iat[0] == 0.6


DATES = [
    (46115.0, SHORT_DATE, date(2026, 4, 3), ""),
    (46115.0, 0, date(2026, 4, 3), read_cells.DAY_NUMBER),
    ("2026-04-03", 0, date(2026, 4, 3), read_cells.DATE_AS_TEXT),
    ("3 April 2026", 0, date(2026, 4, 3), read_cells.DATE_AS_TEXT),
    ("4/13/2026", 0, date(2026, 4, 13), read_cells.DATE_AS_TEXT),
]


@pytest.mark.parametrize(("cell", "style", "day", "kind"), DATES)
def test_dates_understood(cell, style, day, kind):
    at = column_of("date", PLOTS)
    grid = make_grid(sheet_rows(PLOTS, [{**PLOT_ROW, "date": cell}]), styles={(2, at): style})
    survey = read_grids({"Plots": grid, "Field sheet": make_grid(sheet_rows(FIELD_SHEET, [LINE]))})
    assert survey.plots["date"].iat[0] == pd.Timestamp(day)
    assert [u.kind for u in survey.understood] == ([kind] if kind else [])


def test_day_numbers_from_1904():
    at = column_of("date", PLOTS)
    rows = sheet_rows(PLOTS, [{**PLOT_ROW, "date": 44653.0}])
    grids = {"Plots": make_grid(rows, styles={(2, at): ISO_DATE})}
    survey = read_grids(grids, from_1904=True)
    assert survey.plots["date"].iat[0] == pd.Timestamp(2026, 4, 3)


@pytest.mark.parametrize(
    ("cell", "part"),
    [
        ("3/4/2026", "It may be 3 April 2026 or 4 March 2026."),
        ("May", "not a date"),
        (12.0, "It is not a day from 1950 to 2100."),
        (CellError("#N/A"), "Date shows a formula error (#N/A)."),
    ],
)
def test_dates_refused(cell, part):
    survey = read_lines(LINE, plots=[{**PLOT_ROW, "date": cell}])
    found = next(f for f in survey.findings if f.check in ("date-unread", "cell-error"))
    assert (found.severity, found.plots, found.lines) == ("warning", (0,), ())
    assert found.subject == (("plot", "1"),)
    assert part in found.message
    if found.check == "date-unread":
        assert found.action == (
            "Check the paper sheet and type the date as year-month-day, for example 2026-05-04."
        )
    assert pd.isna(survey.plots["date"].iat[0])


def test_rules_are_read_in_the_unit_of_the_survey():
    rules = {
        "units": "feet", "breast_height": 4.5, "smallest_diameter": 2.0, "repeats_wanted": 10.0,
        "tape_reads_in": "tenths of feet", "limit_height": "150 ft", "shading": "0,8",
    }  # fmt: skip
    survey = read_lines({**LINE, "distance": 66.0}, rules={**rules, "units": "us"})
    assert survey.units == "us"
    assert survey.rules["breast_height"] == pytest.approx(1.3716)
    assert survey.rules["smallest_diameter"] == pytest.approx(5.08)
    assert survey.rules["repeats_wanted"] == pytest.approx(0.1)
    assert survey.rules["limit_height"] == pytest.approx(45.72)
    assert survey.rules["shading"] == 0.8
    assert survey.rules["limit_width"] == pytest.approx(130 * 0.3048)
    assert survey.lines["distance"].iat[0] == pytest.approx(66 * 0.3048)
    assert {u.column_label for u in survey.understood} == {
        "Tallest tree without a finding",
        "Light held back by a crown in leaf",
    }


def test_a_rule_that_cannot_be_read_takes_the_usual_value_and_says_so():
    survey = read_lines(LINE, rules={"breast_height": 13.0, "heights_on": "big ones"})
    assert survey.rules["breast_height"] == 1.3
    assert survey.rules["heights_on"] == "every tree"
    found = finding(survey, "value-impossible")
    assert found.message == (
        "“Breast height” is “13”. It must be from 1 to 1.6 m. The default 1.3 m was used."
    )
    assert finding(survey, "word-unknown").action == "Type every tree or some trees."


@pytest.mark.parametrize(("units", "tape"), [("us", "metres"), ("metric", "feet and inches")])
def test_a_tape_in_the_other_system_is_asked_about(units, tape):
    survey = read_lines(LINE, rules={"units": units, "tape_reads_in": tape})
    assert finding(survey, "rule-tape").severity == "warning"


def test_one_wrong_rule_is_one_finding():
    grids = {
        "Field sheet": make_grid(sheet_rows(FIELD_SHEET, [LINE, {**LINE, "tree": 2.0}])),
        "Plots": make_grid(sheet_rows(PLOTS, [PLOT_ROW])),
        "Survey rules": rules_grid(units="feet", tape_reads_in="metres"),
    }
    survey = read_grids(grids)
    assert checks_of(survey) == ["units-against-headings"]
    found = finding(survey, "units-against-headings")
    assert (found.severity, found.sheet, found.lines) == ("error", "Survey rules", (0, 1))
    assert found.subject == (("rule", "Units"),)
    count = int(found.message.split()[0])
    assert count > 5
    assert found.message == (
        f"{count} headings say m², cm and m; the rule “Units” says us (“feet”). Everything was "
        "read as us."
    )
    assert "change the rule to metric" in found.action


def test_one_wrong_heading_stays_a_finding_of_its_own():
    rows = sheet_rows(FIELD_SHEET, [LINE])
    rows[0][column_of("distance") - 1] = "Distance (ft)"
    grids = {"Field sheet": make_grid(rows), "Survey rules": rules_grid(units="metric")}
    survey = read_grids(grids)
    found = finding(survey, "heading-unit")
    assert found.message == (
        "“Distance” is headed “Distance (ft)”, but the survey uses metric. The numbers were read "
        "in m."
    )


@pytest.mark.parametrize(("units", "distance"), [("metric", 20.0), ("us", 20 * 0.3048)])
def test_without_rules_the_headings_tell_the_units_and_the_usual_rules_hold(units, distance):
    grid = make_grid(sheet_rows(FIELD_SHEET, [LINE], units=units, names=MAIN))
    survey = read_grids({"Field sheet": grid})
    assert survey.units == units
    assert survey.lines["distance"].iat[0] == pytest.approx(distance)
    assert checks_of(survey) == ["units-from-headings", "rules-missing"]
    assert all(f.severity == "note" for f in survey.findings)
    assert set(survey.rules) == {field.name for field in RULES.fields}


def test_missing_sheets_give_empty_tables_with_the_right_columns():
    survey = read_grids({"Field sheet": make_grid(sheet_rows(FIELD_SHEET, [LINE]))})
    whole = read_lines(LINE)
    for key in ("strata", "people", "instrument_checks", "plots", "species"):
        table = getattr(survey, key)
        assert len(table) == 0
        assert list(table.columns) == list(getattr(whole, key).columns)
    assert survey.plots["date"].dtype.kind == "M"
    assert survey.plots["slope"].dtype == np.float64
    assert survey.lines["foot_above_eye"].dtype == bool


def test_an_empty_field_sheet_is_an_empty_table():
    survey = read_lines()
    assert len(survey.lines) == 0
    assert list(survey.lines.columns) == list(read_lines(LINE).lines.columns)
    assert {name: dtype.kind for name, dtype in survey.lines.dtypes.items()} == {
        name: dtype.kind for name, dtype in read_lines(LINE).lines.dtypes.items()
    }


def test_tables_states_and_columns_have_one_shape():
    survey = read_lines(LINE, {**LINE, "tree": 2.0})
    assert all(hasattr(survey, table) for table in survey.states)
    assert len(survey.states) == len(KEYED_SHEETS) - 1  # all but the rules
    states = survey.states["lines"]
    assert list(states.columns) == list(survey.lines.columns)
    assert states.shape == survey.lines.shape
    assert survey.columns["Field sheet", "diameter"] == column_of("diameter")
    assert survey.columns["Field sheet", "live_total"] == column_of("live_total")


def test_rows_of_the_other_sheets_need_their_name():
    survey = read_lines(LINE, plots=[PLOT_ROW, {**PLOT_ROW, "plot": None}])
    found = finding(survey, "name-missing")
    assert found.message.startswith("This row has entries but no plot.")
    assert found.plots == (1,)


def test_checks_of_the_reading_are_well_formed():
    for key, check in READING_CHECKS.items():
        assert key == check.id
        assert check.says


@pytest.fixture(scope="module", params=["metric", pytest.param("us", marks=pytest.mark.slow)])
def template(request):
    return request.param, make_template(request.param, "a4", plots=3)


def reopened(package: Package) -> Package:
    return Package.from_bytes(package.to_bytes())


def test_a_blank_template_reads_without_a_word(template):
    units, data = template
    survey = read_survey(Package.from_bytes(data))
    assert survey.findings == ()
    assert survey.understood == ()
    assert survey.units == units
    assert len(survey.lines) == 0
    assert len(survey.species) >= 150
    sheets = {sheet for sheet, _ in survey.columns}
    assert sheets == {sheet.tab for sheet in KEYED_SHEETS}


def keyed(data: bytes, *rows: tuple[Sheet, dict]) -> Package:
    package = Package.from_bytes(data)
    for sheet, row in rows:
        key_rows(package, sheet, [row])
    return reopened(package)


def test_a_keyed_template_is_read_in_the_inner_unit(template):
    units, data = template
    package = keyed(
        data,
        (STRATA, {"stratum": "North", "area": 2.0}),
        (PEOPLE, {"initials": "AB", "eye_height": 1.6 if units == "metric" else 5.25}),
        (INSTRUMENTS, {"instrument": "C1", "kind": "clinometer", "u_distance_share": 1.0}),
        (PLOTS, {**PLOT_ROW, "stratum": "north", "date": date(2026, 4, 3), "slope": 12}),
        (SPECIES, {"botanical": "Acer inventum", "kind": "broadleaf"}),
        (FIELD_SHEET, {**LINE, "note": "=SUM(A1:A9)", "foot_above_eye": "x"}),
    )
    survey = read_survey(package)
    length, diameter = (1.0, 1.0) if units == "metric" else (0.3048, 2.54)
    assert checks_of(survey) == []
    assert survey.lines["distance"].tolist() == pytest.approx([20 * length])
    assert survey.lines["diameter"].tolist() == pytest.approx([30 * diameter])
    assert survey.lines["tip_reading"].tolist() == [60.0]
    assert survey.lines["note"].tolist() == ["=SUM(A1:A9)"]
    assert survey.plots["slope"].tolist() == [0.12]
    assert survey.plots["stratum"].tolist() == ["North"]
    assert survey.plots["date"].tolist() == [pd.Timestamp(2026, 4, 3)]
    assert survey.instruments["u_distance_share"].tolist() == [0.01]
    assert survey.people["eye_height"].iat[0] == pytest.approx(1.6, abs=0.01)
    assert survey.strata["area"].iat[0] == pytest.approx(20_000 if units == "metric" else 8093.71,
                                                          abs=0.01)  # fmt: skip
    assert survey.species["botanical"].iat[-1] == "Acer inventum"


def test_changed_headings_do_not_matter_where_the_names_hold(template):
    package = keyed(template[1], (FIELD_SHEET, LINE))
    part = sheet_named(package, "Field sheet")
    writes = [CellWrite(5, 6, "Stem"), CellWrite(5, 9, "Tape"), CellWrite(5, 1, "Street")]
    write_cells(package, part, writes)
    survey = read_survey(reopened(package))
    assert checks_of(survey) == []
    assert not np.isnan(survey.lines["distance"].iat[0])


def test_a_renamed_sheet_is_found_by_its_names(template):
    package = keyed(template[1], (FIELD_SHEET, LINE))
    workbook = package.read(package.workbook_part)
    package.replace(package.workbook_part, workbook.replace(b"Field sheet", b"Week 1"))
    survey = read_survey(reopened(package))
    assert survey.lines["_sheet"].tolist() == ["Week 1"]
    assert checks_of(survey) == []


def test_a_newer_template_is_refused(template):
    package = Package.from_bytes(template[1], "Town.xlsx")
    before = package.read(package.workbook_part)
    after = before.replace(b'"xlh_template_version">2<', b'"xlh_template_version">3<')
    assert after != before
    package.replace(package.workbook_part, after)
    with pytest.raises(WorkbookError) as caught:
        read_survey(package)
    assert str(caught.value) == (
        "Town.xlsx was made by a later version of this program (template version 3; this one knows "
        "up to 2). Update the program, then fill again."
    )


def test_a_workbook_without_our_sheets_is_refused(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "Costs"
    book.active.append(["Item", "Price"])
    book.save(tmp_path / "Costs.xlsx")
    with pytest.raises(WorkbookError) as caught:
        read_survey(Package.open(tmp_path / "Costs.xlsx"))
    assert str(caught.value) == (
        "Costs.xlsx has no field sheet (its sheets: “Costs”). A field sheet has the headings Plot, "
        "Tree and Tip reading. Make a blank workbook with xlhelpers new and enter the readings "
        "there."
    )
