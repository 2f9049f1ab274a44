"""The quick reader of sheets and the careful one give the same survey, whatever is in the cells."""

import io
from functools import partial
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading import survey as reader
from xlhelpers.survey.model import Survey
from xlhelpers.template.make import make_template

TOWN = Path(__file__).parents[2] / "demo_workbooks" / "town.xlsx"


def survey_of(data: bytes, monkeypatch: pytest.MonkeyPatch, *, careful: bool) -> Survey:
    monkeypatch.setattr(reader, "read_grid", partial(read_grid, careful=careful))
    return reader.read_survey(Package.from_bytes(data))


def heading(sheet: Worksheet, label: str) -> tuple[int, int]:
    return next(
        (int(cell.row), int(cell.column))
        for row in sheet.iter_rows(max_row=12)
        for cell in row
        if str(cell.value).startswith(label)
    )


def messy_book() -> bytes:
    """A template with error cells, percent formats, formulas without results and hidden rows."""
    book = openpyxl.load_workbook(io.BytesIO(make_template("metric", "a4", plots=2, lines=12)))
    sheet = book[FIELD_SHEET.tab]
    top = heading(sheet, FIELD_SHEET["plot"].label)[0]
    columns = {
        name: heading(sheet, FIELD_SHEET[name].label)[1]
        for name in ("plot", "tree", "diameter", "distance", "foot_reading", "tip_reading")
    }
    odd: list[tuple[object, str]] = [
        ("#N/A", "General"), (0.85, "0%"), ("=10+5", "General"), ("12,5", "@"),
        (46115, "yyyy-mm-dd"),
        ("?", "General"), (" 85 ft ", "General"), (True, "General"), ("", "General"),
    ]  # fmt: skip
    for at, (value, number_format) in enumerate(odd, 1):
        row = top + at
        sheet.cell(row, columns["plot"], 1)
        sheet.cell(row, columns["tree"], at)
        for name in ("diameter", "distance", "foot_reading", "tip_reading"):
            cell = sheet.cell(row, columns[name], value)
            cell.number_format = number_format
    sheet.row_dimensions[top + 2].hidden = True
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


@pytest.mark.parametrize("which", ["town", "messy"])
def test_both_ways_give_one_survey(which: str, monkeypatch: pytest.MonkeyPatch) -> None:
    data = TOWN.read_bytes() if which == "town" else messy_book()
    quick = survey_of(data, monkeypatch, careful=False)
    careful = survey_of(data, monkeypatch, careful=True)
    assert len(quick.lines) > 8
    for name in ("lines", "plots", "instruments", "people", "strata", "species"):
        pd.testing.assert_frame_equal(getattr(quick, name), getattr(careful, name))
    assert quick.rules == careful.rules
    assert quick.findings == careful.findings


def test_what_a_quick_reader_may_hide_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    survey = survey_of(messy_book(), monkeypatch, careful=False)
    assert len(survey.lines) == 9
    said = " ".join(finding.message for finding in survey.findings)
    for word in ("#N/A", "%", "hidden", "without a result"):
        assert word in said, said
