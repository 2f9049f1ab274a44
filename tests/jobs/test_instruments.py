"""The history of the instruments from the command line."""

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.jobs.books import keyed, varied
from tests.town import TOWN
from xlhelpers.doors.command_line.main import main
from xlhelpers.fields.instruments import INSTRUMENT_CHECKS
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows

PLOT: dict[str, Any] = {
    "plot": "1",
    "status": "measured",
    "date": dt.date(2025, 5, 5),
    "crew": "AB",
    "instrument": "C1",
    "scale": "percent",
    "distance_kind": "level",
    "trees_counted": 3,
}


def call(*arguments: str | Path) -> int:
    return main(["instruments", *map(str, arguments)])


def with_checks(path: Path, *readings: tuple[dt.date, float, float]) -> Path:
    """A keyed workbook with level checks of its instrument, in percent."""
    book = keyed(path, varied(3), [PLOT])
    package = Package.open(book)
    rows = [
        {"instrument": "C1", "date": date, "scale": "percent", "level_there": a, "level_back": b}
        for date, a, b in readings
    ]
    key_rows(package, INSTRUMENT_CHECKS, rows)
    book.write_bytes(package.to_bytes())
    return book


def test_the_town_shows_both_cases_and_stays_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    """One clinometer was knocked in winter, and set right before the first plot."""
    before = TOWN.read_bytes()
    assert call(TOWN) == 1
    assert TOWN.read_bytes() == before
    said = capsys.readouterr().out
    for words in ("Clino 1", "Last found in order on 2025-05-12.", "Pole 1\n  No check"):
        assert words in said
    knocked = "OUT OF ORDER  Clino 2, found on 2025-03-13"
    assert knocked in said
    assert said.count("OUT OF ORDER") == 1
    assert "  No readings affected.\n" in said[said.index(knocked) :]
    by_height = [line for line in said.splitlines() if "known height" in line]
    assert sum("in order" in line for line in by_height) >= 4
    assert any("out of order" in line for line in by_height)


def test_an_instrument_that_is_out_is_said_with_its_trees(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = dt.date(2025, 5, 1), dt.date(2025, 5, 9)
    # 3.5 % there and back: 2.0 degrees too high, atan(0.035) = 2.005 (derived)
    book = with_checks(tmp_path / "book.xlsx", (good, 0, 0), (bad, 3.5, 3.5))
    out = tmp_path / "history.xlsx"
    assert call(book, "--out", out) == 1
    said = capsys.readouterr().out
    assert "OUT OF ORDER  C1, found on 2025-05-09 (last in order on 2025-05-01)" in said
    assert "Measured with it: 3 lines between the last good check and this one." in said
    assert "Subtract 2.0° (±" in said
    assert "Proposal (not applied)" in said
    history = openpyxl.load_workbook(out)
    assert history.sheetnames == ["Checks", "Errors by date", "Lines touched"]
    assert history["Checks"].cell(6, 6).value == pytest.approx(2.005, abs=0.001)
    assert len(history["Errors by date"]._charts) == 1
    lines = history["Lines touched"]
    assert [lines.cell(row, 6).value for row in (5, 6, 7)] == ["between"] * 3
    assert all(lines.cell(row, 8).value < lines.cell(row, 7).value for row in (5, 6, 7))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["{book}", "--out", "{book}"], "names the workbook itself"),
        (["{book}", "--out", "{dir}/a.csv"], "a name that ends in .xlsx"),
        (["{dir}/missing.xlsx"], "missing.xlsx"),
        (["{text}"], "text.xlsx"),
        (["{book}", "--out", "{dir}/no/where/a.xlsx"], "where"),
    ],
)
def test_bad_input_gets_one_clear_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    book = keyed(tmp_path / "book.xlsx", varied(1))
    text = tmp_path / "text.xlsx"
    text.write_text("plot,tree\n", encoding="utf-8")
    before = book.read_bytes()
    assert call(*(a.format(book=book, dir=tmp_path, text=text) for a in arguments)) == 2
    error = capsys.readouterr().err
    assert words in error
    assert len(error.strip().splitlines()) == 1
    assert book.read_bytes() == before


def test_the_chart_of_errors_stands_below_its_table(tmp_path: Path) -> None:
    out = tmp_path / "history.xlsx"
    call(TOWN, "--out", out)
    sheet = openpyxl.load_workbook(out)["Errors by date"]
    anchor = sheet._charts[0].anchor._from  # the reader has no public place of a chart
    last = max(cell.row for row in sheet.iter_rows() for cell in row if cell.value is not None)
    assert (anchor.col, anchor.row) == (0, last + 1)
    assert [mark.id for mark in sheet.row_breaks.brk] == [anchor.row]
