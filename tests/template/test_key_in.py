"""Values are keyed as a clerk would key them: on the next free row, as typed, nothing else."""

from datetime import date, datetime

import numpy as np
import pytest

from tests.blank_books import blank
from tests.reading.make_grids import LINE, PLOT_ROW
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.workbook import FIELD_SHEET, PLOTS, RULES
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey
from xlhelpers.template.keyed_rows import key_rows


@pytest.fixture
def book():
    return Package.from_bytes(blank(), "Town.xlsx")


def grid_of(book, tab):
    return read_grid(book, sheet_named(book, tab))


def test_rows_go_on_below_the_last_keyed_one(book):
    key_rows(book, FIELD_SHEET, [LINE, {**LINE, "tree": 2}])
    key_rows(book, FIELD_SHEET, [{**LINE, "tree": "3a"}])
    survey = read_survey(book)
    assert survey.lines["_row"].tolist() == [6, 7, 8]
    assert survey.lines["tree"].tolist() == ["1", "2", "3a"]


def test_rows_from_the_top(book):
    key_rows(book, FIELD_SHEET, [LINE])
    key_rows(book, FIELD_SHEET, [{"tree": 9}], after_existing=False)
    survey = read_survey(book)
    assert survey.lines[["_row", "tree", "plot"]].iloc[0].tolist() == [6, "9", "1"]


def test_rows_below_the_prepared_ones(book):
    key_rows(book, FIELD_SHEET, [{**LINE, "tree": n} for n in range(1, 61)])
    assert len(read_survey(book).lines) == 60


@pytest.mark.parametrize(
    ("value", "stored"),
    [
        (12, 12.0),
        (12.5, 12.5),
        (np.float64(12.5), 12.5),
        ("12,5", "12,5"),
        ("NOT SAFE", "NOT SAFE"),
        (True, True),
        (None, None),
        (float("nan"), None),
        ("", None),
    ],
)
def test_values_are_stored_as_typed(book, value, stored):
    key_rows(book, FIELD_SHEET, [{"plot": 1, "tree": 1, "distance": value}])
    found = grid_of(book, "Field sheet").value(6, 9)
    assert found == stored
    assert type(found) is type(stored)


@pytest.mark.parametrize("day", [date(2026, 4, 3), datetime(2026, 4, 3, 12, 30)])
def test_days_are_stored_as_day_numbers_in_a_date_cell(book, day):
    key_rows(book, PLOTS, [{**PLOT_ROW, "date": day}])
    grid = grid_of(book, "Plots")
    assert grid.value(6, 4) == 46115.0
    assert grid.is_date(6, 4)


def test_rules_are_keyed_beside_their_labels(book):
    key_rows(book, RULES, [{"survey_name": "Alder Town"}, {"breast_height": 1.4}])
    rules = read_survey(book).rules
    assert (rules["survey_name"], rules["breast_height"]) == ("Alder Town", 1.4)


def test_only_the_keyed_sheet_changes(book):
    part = sheet_named(book, "Field sheet").part
    key_rows(book, FIELD_SHEET, [LINE])
    # and the workbook asks to be calculated, because the formulas have the results of blank lines
    assert set(book.changed()) == {part, "xl/workbook.xml"}
    assert b'fullCalcOnLoad="1"' in book.read("xl/workbook.xml")


def test_no_rows_change_nothing(book):
    key_rows(book, FIELD_SHEET, [])
    assert book.changed() == ()


def test_a_column_that_is_not_there_is_refused(book):
    with pytest.raises(WorkbookError, match="has no column for colour"):
        key_rows(book, FIELD_SHEET, [{"plot": 1, "colour": "red"}])
    with pytest.raises(WorkbookError, match="has no rule colour"):
        key_rows(book, RULES, [{"colour": "red"}])
