"""Tables keep their order, charts show the rows that have a bar, and cells do not run together."""

from pathlib import Path

import openpyxl
import pytest

from tests.jobs.report.ten_surveys import TEN
from tests.jobs.reports import cells, charted, reported


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return reported(TEN["three strata"](tmp_path_factory.mktemp("figures") / "town.xlsx"))[1]


def test_a_class_without_a_margin_keeps_its_place_and_the_chart_names_it(report: Path) -> None:
    rows = cells(report)["Height and crowns"]
    start = next(at for at, row in enumerate(rows) if row[0] == "Stem diameter")
    listed = [row[:3] for row in rows[start + 1 : start + 6]]
    assert [row[0] for row in listed] == [
        "under 15 cm", "15 to under 30 cm", "30 to under 45 cm", "60 to under 75 cm",
        "75 cm and more",
    ]  # fmt: skip
    assert listed[1][2] == listed[4][2] == "not known"
    shown = [row for row in listed if row[2] != "not known"]
    names = [row[0] for row in shown]
    chart = next(behind for behind in charted(report) if names in behind)
    assert [row[1] for row in shown] in chart
    assert [row[2] for row in shown] in chart
    note = "Not in the chart, because the margin is too wide or not known: 15 to under 30 cm; 75 cm"
    assert any(str(row[0]).startswith(note) for row in rows)


def test_a_text_behind_a_number_does_not_touch_it(report: Path) -> None:
    indents = {
        cell.alignment.indent
        for sheet in openpyxl.load_workbook(report)
        for row in sheet.iter_rows(min_col=2)
        for cell in row
        if cell.value in ("to budget on", "fair idea", "order of magnitude")
    }
    assert indents == {1}


def test_shares_are_written_the_same_way_in_numbers_and_in_texts(report: Path) -> None:
    book = openpyxl.load_workbook(report)
    formats = {cell.number_format for sheet in book for row in sheet.iter_rows() for cell in row
               if "%" in cell.number_format}  # fmt: skip
    assert formats == {"#,##0 %", "0 %"}
