"""Text to number: what is understood, how it is said, and what is refused."""

import math
import time
from datetime import date

import numpy as np
import pytest

from xlhelpers.errors import ReadingError
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, VALUE
from xlhelpers.survey.typed import dates, numbers, words
from xlhelpers.survey.typed.stem_lists import SEVERAL_STEMS, understand_stems

FOOT, INCH = 0.3048, 0.0254

# quantity, units, text, value in the inner unit, kinds
UNDERSTOOD = [
    ("length", "metric", "12.5", 12.5, {numbers.TEXT_NUMBER}),
    ("length", "metric", " 12.5 ", 12.5, {numbers.TEXT_NUMBER}),
    ("length", "metric", "+ 3", 3.0, {numbers.TEXT_NUMBER}),
    ("length", "metric", ".5", 0.5, {numbers.TEXT_NUMBER}),
    ("length", "metric", "12.", 12.0, {numbers.TEXT_NUMBER}),
    ("length", "metric", "1.250", 1.25, {numbers.TEXT_NUMBER}),
    ("length", "metric", "12,5", 12.5, {numbers.DECIMAL_COMMA}),
    ("length", "metric", ",5", 0.5, {numbers.DECIMAL_COMMA}),
    ("length", "metric", "0,250", 0.25, {numbers.DECIMAL_COMMA}),
    ("length", "metric", "12,25", 12.25, {numbers.DECIMAL_COMMA}),
    ("length", "metric", "1.250,5", 1250.5, {numbers.THOUSANDS, numbers.DECIMAL_COMMA}),
    ("length", "metric", "1,250.5", 1250.5, {numbers.THOUSANDS}),
    ("length", "metric", "1,250,000", 1250000, {numbers.THOUSANDS}),
    ("length", "metric", "1\u202f250", 1250, {numbers.NO_BREAK_SPACE, numbers.THOUSANDS}),
    ("length", "metric", "12.5\u00a0", 12.5, {numbers.NO_BREAK_SPACE}),
    ("length", "metric", "12\u2009m", 12, {numbers.THIN_SPACE, "unit typed into the cell (m)"}),
    ("length", "metric", "１２．５", 12.5, {numbers.OTHER_DIGITS}),
    ("length", "metric", "१२", 12, {numbers.OTHER_DIGITS}),
    ("length", "metric", "\u22123", -3, {numbers.PRINTED_MINUS}),
    ("length", "metric", "\u20133", -3, {numbers.PRINTED_MINUS}),
    ("length", "metric", "12\u200b", 12, {numbers.TEXT_NUMBER}),
    ("length", "metric", "12 m", 12, {"unit typed into the cell (m)"}),
    ("length", "metric", "12m.", 12, {"unit typed into the cell (m)"}),
    ("length", "metric", "12 cm", 0.12, {"unit typed into the cell (cm, converted to m)"}),
    ("length", "metric", "30'", 30 * FOOT, {"unit typed into the cell (ft, converted to m)"}),
    ("length", "metric", "35 ft", 35 * FOOT, {"unit typed into the cell (ft, converted to m)"}),
    ("length", "us", "35 FT", 35 * FOOT, {"unit typed into the cell (ft)"}),
    ("length", "us", "35", 35 * FOOT, {numbers.TEXT_NUMBER}),
    ("length", "us", "12 m", 12, {"unit typed into the cell (m, converted to ft)"}),
    ("length", "us", '6"', 6 * INCH, {"unit typed into the cell (in, converted to ft)"}),
    ("length", "us", "12'6\"", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "metric", "12'6\"", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12' 6\"", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12'-6\"", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12'6", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12'6''", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12’6”", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12′6″", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12 ft 6 in", 12.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12' 6 1/2\"", 150.5 * INCH, {numbers.FEET_AND_INCHES}),
    ("length", "us", "12' 6½\"", 150.5 * INCH, {numbers.FEET_AND_INCHES}),
    ("length", "us", "-2'6\"", -2.5 * FOOT, {numbers.FEET_AND_INCHES}),
    ("diameter", "metric", "30", 30, {numbers.TEXT_NUMBER}),
    ("diameter", "metric", "300 mm", 30, {"unit typed into the cell (mm, converted to cm)"}),
    ("diameter", "metric", "0.3 m", 30, {"unit typed into the cell (m, converted to cm)"}),
    ("diameter", "us", "12", 30.48, {numbers.TEXT_NUMBER}),
    ("diameter", "us", '12"', 30.48, {"unit typed into the cell (in)"}),
    ("diameter", "us", "1'6\"", 45.72, {numbers.FEET_AND_INCHES}),
    ("diameter", "us", "14 1/2", 14.5 * 2.54, {numbers.FRACTION_OF_INCH}),
    ("diameter", "us", "14½", 14.5 * 2.54, {numbers.FRACTION_OF_INCH}),
    ("diameter", "us", '14-3/8"', 14.375 * 2.54, {numbers.FRACTION_OF_INCH}),
    ("percent", "metric", "12", 0.12, {numbers.TEXT_NUMBER}),
    ("percent", "metric", "12 %", 0.12, {"unit typed into the cell (%)"}),
    ("land area", "metric", "400 m²", 400, {"unit typed into the cell (m²)"}),
    ("land area", "metric", "0.04 ha", 400, {"unit typed into the cell (ha, converted to m²)"}),
    ("stratum area", "us", "2 acres", 8093.7128448, {"unit typed into the cell (acres)"}),
    ("angle", "metric", "1.5°", 1.5, {"unit typed into the cell (°)"}),
    ("reading", "metric", "85%", 85, {"unit typed into the cell (%)"}),
    ("reading", "metric", "-12 deg", -12, {"unit typed into the cell (°)"}),
    ("reading", "us", "35 ft", 35, {"unit typed into the cell (ft)"}),
    ("reading", "us", "10 m", 10 / FOOT, {"unit typed into the cell (m, converted to ft)"}),
]


@pytest.mark.parametrize(("quantity", "units", "text", "value", "kinds"), UNDERSTOOD)
def test_understood_without_loss(quantity, units, text, value, kinds):
    found = numbers.understand(text, QUANTITIES[quantity], units)
    assert found.refused == ""
    assert found.value == pytest.approx(value, rel=1e-12)
    assert set(found.kinds) == kinds


# quantity, text, kind of refusal, reason
REFUSED_TEXTS = [
    ("length", "1,250", numbers.AMBIGUOUS, "it may be 1.25 or 1250"),
    ("length", "12,250 m", numbers.AMBIGUOUS, "it may be 12.25 or 12250"),
    ("length", "12½", numbers.NOT_A_NUMBER, "it is a fraction. You probably meant 12.5"),
    ("length", "12 1/2", numbers.NOT_A_NUMBER, "it is a fraction. You probably meant 12.5"),
    ("length", "½", numbers.NOT_A_NUMBER, "it is a fraction. You probably meant 0.5"),
    ("length", "1/0", numbers.NOT_A_NUMBER, "it is a fraction"),
    ("diameter", "14 1/2", numbers.NOT_A_NUMBER, "it is a fraction. You probably meant 14.5"),
    ("length", "7O", numbers.NOT_A_NUMBER,
     "it has the letter O among its digits. You probably meant 70"),
    ("length", "-1o.5", numbers.NOT_A_NUMBER,
     "it has the letter o among its digits. You probably meant -10.5"),
    ("length", "l2", numbers.NOT_A_NUMBER,
     "it has the letter l among its digits. You probably meant 12"),
    ("length", "IO5", numbers.NOT_A_NUMBER,
     "it has the letters O and I among its digits. You probably meant 105"),
    ("length", "OO", numbers.NOT_A_NUMBER, "it is not a number"),
    ("length", "12²", numbers.NOT_A_NUMBER, "it has raised or circled digits"),
    ("length", "3-4", numbers.AMBIGUOUS, "it is a range, a date or two numbers"),
    ("length", "1 250", numbers.AMBIGUOUS, "it has two numbers, 1 and 250"),
    ("length", "12'14\"", numbers.AMBIGUOUS, "a foot has only 12 inches"),
    ("length", "1,2,3", numbers.AMBIGUOUS, "its points or commas do not make one number"),
    ("length", "3.4.2026", numbers.AMBIGUOUS, "its points or commas do not make one number"),
    ("length", "12,3.4", numbers.AMBIGUOUS, "its points and commas do not make one number"),
    ("length", "12,", numbers.NOT_A_NUMBER, "no digit follows its comma"),
    ("length", "12?", numbers.NOT_A_NUMBER, "“?” is not a known unit"),
    ("length", "12 kg", numbers.NOT_A_NUMBER, "“kg” is not a known unit"),
    ("length", "85%", numbers.NOT_A_NUMBER, "% is not a unit of this column"),
    ("length", "12 m²", numbers.NOT_A_NUMBER, "m² is not a unit of this column"),
    ("count", "3 m", numbers.NOT_A_NUMBER, "m is not a unit of this column"),
    ("length", "~12", numbers.NOT_A_NUMBER, "it is not a number"),
    ("length", ">50", numbers.NOT_A_NUMBER, "it is not a number"),
    ("length", "-", numbers.NOT_A_NUMBER, "it is not a number"),
    ("length", "tall", numbers.NOT_A_NUMBER, "it is not a number"),
    ("length", "nan", numbers.NOT_A_NUMBER, "it is not a number"),
    ("length", "inf", numbers.NOT_A_NUMBER, "it is not a number"),
    ("length", "1e3", numbers.NOT_A_NUMBER, "“e3” is not a known unit"),
    ("length", "1_000", numbers.NOT_A_NUMBER, "“_000” is not a known unit"),
]  # fmt: skip


@pytest.mark.parametrize(("quantity", "text", "refused", "because"), REFUSED_TEXTS)
def test_refused_with_the_reason(quantity, text, refused, because):
    found = numbers.understand(text, QUANTITIES[quantity], "metric")
    assert (found.refused, found.because) == (refused, because)
    assert math.isnan(found.value)


class _ErrorValue:
    """Stands for the error value of a cell, of which this room knows nothing."""


# value, percent format, date format, quantity -> value, state, kinds or part of the reason
CELLS = [
    (None, False, False, "length", math.nan, BLANK, ""),
    ("", False, False, "length", math.nan, BLANK, ""),
    (" \u00a0", False, False, "length", math.nan, BLANK, ""),
    (0.0, False, False, "reading", 0.0, VALUE, ""),
    (12, False, False, "length", 12.0, VALUE, ""),
    (np.float64(12), False, False, "length", 12.0, VALUE, ""),
    (0.85, True, False, "reading", 85.0, VALUE, numbers.PERCENT_FORMAT),
    (-0.07, True, False, "reading", -7.0, VALUE, numbers.PERCENT_FORMAT),
    (0.12, True, False, "percent", 0.12, VALUE, numbers.PERCENT_FORMAT),
    (0.12, True, False, "length", math.nan, REFUSED, "the cell shows it as 12 %"),
    (46115.0, False, True, "length", math.nan, REFUSED, "You probably typed 3-4 or 4-3"),
    (0.5, False, True, "length", math.nan, REFUSED, "a date or a time of day"),
    (True, False, False, "length", math.nan, REFUSED, "TRUE and FALSE are not numbers"),
    (_ErrorValue(), False, False, "length", math.nan, REFUSED, "formula error"),
    ("not safe", False, False, "length", math.nan, CLOSED, "NOT SAFE"),
    ("?", False, False, "length", math.nan, CLOSED, "UNREADABLE"),
]


@pytest.mark.parametrize(("cell", "percent", "date_", "quantity", "value", "state", "said"), CELLS)
def test_cell_of_each_kind(cell, percent, date_, quantity, value, state, said):
    values = np.array([7.0, cell, None], dtype=object)
    found = numbers.column(
        values,
        QUANTITIES[quantity],
        "metric",
        percent=np.array([False, percent, False]),
        date=np.array([False, date_, False]),
    )
    assert found.values[1] == pytest.approx(value, nan_ok=True)
    assert found.states.tolist() == [VALUE, state, BLANK]
    odd = found.odd.get(1, numbers.Understanding())
    assert said in (*odd.kinds, odd.closed) or (said and said in odd.because)


def test_the_date_that_a_number_became_is_shown():
    because = numbers.refuse_date(46115.0).because
    assert because == (
        "the spreadsheet turned it into a date (3 April 2026). You probably typed 3-4 or 4-3"
    )
    assert "4 April 2030" in numbers.refuse_date(46115.0, from_1904=True).because


def test_us_column_of_plain_numbers_is_converted_at_once():
    found = numbers.column(np.array([10.0, None, 3], dtype=object), QUANTITIES["length"], "us")
    assert found.values == pytest.approx([3.048, math.nan, 0.9144], nan_ok=True)
    assert found.odd == {}


def test_clean_column_is_fast_and_an_odd_cell_costs_little():
    clean = np.array((np.arange(200_000) / 7).tolist(), dtype=object)
    start = time.perf_counter()
    numbers.column(clean, QUANTITIES["length"], "metric")
    assert time.perf_counter() - start < 0.5
    clean[5] = "12,5"
    found = numbers.column(clean, QUANTITIES["length"], "metric")
    assert list(found.odd) == [5]
    assert found.values[5] == 12.5
    assert found.values[7] == 1.0


def test_impossible_values_and_blanks():
    values = np.array([0.4999999999999, 0.4, 300.0, 301.0, math.nan])
    assert numbers.impossible(values, 0.5, 300.0).tolist() == [False, True, False, True, False]
    assert not numbers.impossible(values, None, None).any()


def test_unknown_quantity_is_a_misuse():
    with pytest.raises(ReadingError, match="no quantity is called colour"):
        numbers.quantity_named("colour")


STEMS = [
    ("24 18 9", "metric", (24, 18, 9), set()),
    ("24", "metric", (24,), set()),
    ("24, 18, 9", "metric", (24, 18, 9), {SEVERAL_STEMS}),
    ("24,18,9", "metric", (24, 18, 9), {SEVERAL_STEMS}),
    ("24+18", "metric", (24, 18), {SEVERAL_STEMS}),
    ("24; 18", "metric", (24, 18), {SEVERAL_STEMS}),
    ("24 and 18", "metric", (24, 18), {SEVERAL_STEMS}),
    ("24.5 18", "metric", (24.5, 18), set()),
    ("24,5 18", "metric", (24.5, 18), {numbers.DECIMAL_COMMA}),
    ("24,5; 18,2", "metric", (24.5, 18.2), {numbers.DECIMAL_COMMA, SEVERAL_STEMS}),
    ("24 cm 18 cm", "metric", (24, 18), {"unit typed into the cell (cm)"}),
    ("10 5", "us", (25.4, 12.7), set()),
]


@pytest.mark.parametrize(("text", "units", "stems", "kinds"), STEMS)
def test_stems_understood(text, units, stems, kinds):
    found, how = understand_stems(text, units)
    assert found == pytest.approx(stems)
    assert set(how.kinds) == kinds


@pytest.mark.parametrize("text", ["24,5", "24,18", "24,18 9", "24/18", "12 1/2", "24 x", "many"])
def test_stems_refused(text):
    stems, how = understand_stems(text, "metric")
    assert stems == ()
    assert how.refused
    assert how.because


DATES = [
    ("2026-04-03", date(2026, 4, 3)),
    ("2026/4/3", date(2026, 4, 3)),
    ("2026-04-03T00:00:00", date(2026, 4, 3)),
    ("3 April 2026", date(2026, 4, 3)),
    ("3-Apr-2026", date(2026, 4, 3)),
    ("April 3, 2026", date(2026, 4, 3)),
    ("13.4.2026", date(2026, 4, 13)),
    ("4/13/2026", date(2026, 4, 13)),
    ("4/4/2026", date(2026, 4, 4)),
]


@pytest.mark.parametrize(("text", "day"), DATES)
def test_date_texts_with_one_meaning(text, day):
    assert dates.understand_date(text) == (day, "")


@pytest.mark.parametrize(
    ("text", "because"),
    [
        ("3/4/2026", "it may be 3 April 2026 or 4 March 2026"),
        ("3/4/26", "not a date"),
        ("2026-02-30", "not a calendar day"),
        ("1.1.1890", "not a year from 1950 to 2100"),
        ("spring", "not a date"),
    ],
)
def test_date_texts_refused(text, because):
    assert dates.understand_date(text) == (None, because)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("NOT SAFE", "NOT SAFE"),
        ("not  safe", "NOT SAFE"),
        ("Not-Safe", "NOT SAFE"),
        ("not_safe", "NOT SAFE"),
        ("NOT SAFE: wasps", "NOT SAFE"),
        ("no\u00a0access", "NO ACCESS"),
        ("not seen", "NOT SEEN"),
        ("Not asked", "NOT ASKED"),
        ("unreadable", "UNREADABLE"),
        ("?", "UNREADABLE"),
        ("? ?", "UNREADABLE"),
        ("？", "UNREADABLE"),
        ("not seen it", ""),
        ("", ""),
        ("safe", ""),
    ],
)
def test_closing_words(text, word):
    assert words.closing_word(text) == word


def test_identifiers_are_compared_folded_but_leading_zeros_differ():
    same = ["1", "1.0", "１", " 1 "]
    assert {words.identifier_key(text) for text in same} == {"1"}
    assert words.identifier_key("01") != words.identifier_key("1")
    assert words.identifier_key("A–7") == words.identifier_key("a-7")
    assert words.identifier_key("1.10") != words.identifier_key("1.1")
    assert words.number_as_text(1.0) == "1"
    assert words.number_as_text(1.5) == "1.5"


@pytest.mark.parametrize(
    ("list_name", "text", "word"),
    [
        ("scale", "percent", "percent"),
        ("scale", "Percent", "percent"),
        ("scale", "%", "percent"),
        ("scale", "Deg", "degrees"),
        ("distance kind", "horizontal", "level"),
        ("distance kind", "along  slope", "along slope"),
        ("condition", "t", "T"),
        ("condition", "dead", "D"),
        ("condition", "alive", ""),
        ("outline", "half\u2013ellipsoid", "half-ellipsoid"),
    ],
)
def test_choices_and_their_spellings(list_name, text, word):
    chosen = words.choose(text, list_name)
    assert chosen is not None
    assert chosen.word == word


def test_choice_that_is_not_on_the_list():
    assert words.choose("dying", "condition") is None


@pytest.mark.parametrize(
    ("mark", "ticked"),
    [(True, True), (1.0, True), ("x", True), ("X", True), ("✓", True), ("yes", True), ("1", True),
     (False, False), (0.0, False), ("no", False), ("maybe", None), (7.0, None)],
)  # fmt: skip
def test_ticks(mark, ticked):
    assert words.tick(mark) is ticked


@pytest.mark.parametrize("text", ["1/2", "14 5/4", "14 1/3", "3 4/16 x"])
def test_other_fractions_of_an_inch_are_refused(text):
    assert numbers.understand(text, QUANTITIES["diameter"], "us").refused


@pytest.mark.parametrize(
    ("subject", "said"),
    [
        ((("plot", "7"), ("tree", "12")), "plot 7 tree 12"),
        ((("plot", ""), ("tree", "12"), ("set-up", "1")), "(no plot) tree 12 set-up 1"),
    ],
)
def test_a_subject_in_words(subject, said):
    assert words.subject_words(subject) == said
