"""Rows that are written straight into the parts are the same as those that XlsxWriter writes."""

from typing import Any

import pytest

from tests.jobs.tabs.make_outcome import FACTS, finding, lines_of_town, make_outcome
from tests.jobs.tabs.reading import open_book
from xlhelpers.jobs.fill.tabs.result_tabs import render_tabs
from xlhelpers.pages import tables


def _shown(value: object) -> str:
    """Return a value as text: XlsxWriter keeps one digit less of a number."""
    if isinstance(value, float):
        return repr(float(f"{value:.16G}"))
    # openpyxl leaves the escaped underscore of an inline string as it stands in the file
    return str(value).replace("_x005F_", "_")


def _cells(data: bytes) -> dict[tuple[str, str], tuple[Any, ...]]:
    return {
        (sheet.title, cell.coordinate): (
            _shown(cell.value),
            cell.data_type,
            cell.number_format,
            cell.font.bold,
            cell.font.italic,
            cell.fill.fgColor.rgb,
            cell.alignment.horizontal,
            cell.border.left.style,
        )
        for sheet in open_book(data, values=False)
        for row in sheet.iter_rows()
        for cell in row
    }


def test_long_blocks_read_the_same_whoever_writes_them(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = lines_of_town(60, 5)
    lines[3]["species"] = " =1+1 & <b> _x0041_ "
    findings = [
        finding(at, lines[at]["plot"], lines[at]["tree"], severity, block)
        for at in range(60)
        for severity, block in (("error", "paper"), ("warning", "again"), ("note", "crew"))
    ]
    outcome = make_outcome(lines, findings)
    plain = render_tabs(outcome, FACTS)
    monkeypatch.setattr(tables, "BULK_FROM", 10)
    quick = render_tabs(outcome, FACTS)
    assert plain != quick
    assert _cells(quick) == _cells(plain)
    for sheet in open_book(plain):
        other = open_book(quick)[sheet.title]
        heights = {row: d.height for row, d in sheet.row_dimensions.items() if d.height}
        assert heights == {row: d.height for row, d in other.row_dimensions.items() if d.height}
        assert other.dimensions == sheet.dimensions
