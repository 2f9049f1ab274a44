"""What the quick way finds in a workbook against openpyxl's own way."""

import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.formula.translate import Translator
from openpyxl.worksheet import _reader
from openpyxl.worksheet.merge import MergedCellRange

from tests import quick_openpyxl
from tests.blank_books import blank
from tests.jobs.books import varied, write_filled

FORMULAS = [
    "=A2+$A2*A$2/$A$2",
    "=SUM(B2:B10,C$3:C3,$D$1:D2)",
    "=IF('Field sheet'!C7=\"A2\",xlh_name,LOG10(other!B$3)+2:3)",
    '=SUM(A:B)&"row 2"&TRUE+1.5E3',
    "=xlh_rows:C2",
    "plain text",
    "=",
]


@pytest.mark.parametrize("formula", FORMULAS)
def test_each_formula_is_what_openpyxl_makes_of_it(formula: str) -> None:
    quick, plain = quick_openpyxl.QuickTranslator(formula, "B2"), Translator(formula, "B2")
    for cell in ("B2", "B3", "B900", "D9", "C2"):
        assert quick.translate_formula(cell) == plain.translate_formula(cell)


@pytest.mark.parametrize("kind", ["blank", pytest.param("filled", marks=pytest.mark.slow)])
def test_our_workbooks_are_read_as_openpyxl_reads_them(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = blank() if kind == "blank" else write_filled(tmp_path / "a.xlsx", varied(3)).read_bytes()
    assert _reader.Translator is quick_openpyxl.QuickTranslator
    quick = _cells(data)
    monkeypatch.setattr(_reader, "Translator", Translator)
    monkeypatch.setattr(MergedCellRange, "_get_borders", quick_openpyxl.PLAIN_CORNER)
    monkeypatch.setattr(MergedCellRange, "format", quick_openpyxl.PLAIN_FORMAT)
    assert _cells(data) == quick
    assert sum(str(cell[0]).startswith("=") for cell in quick.values()) > 500


def _cells(data: bytes) -> dict[tuple[str, tuple[int, int]], tuple[Any, ...]]:
    """Return the content and the looks of each cell."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {
        (sheet.title, place): (getattr(cell.value, "text", cell.value), type(cell), *cell._style)
        for sheet in book.worksheets
        for place, cell in sheet._cells.items()
    }
