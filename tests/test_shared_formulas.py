"""The quick way of spelling out shared formulas against openpyxl's own."""

import io

import openpyxl
import pytest
from openpyxl.formula.translate import Translator
from openpyxl.worksheet import _reader

from tests.blank_books import blank
from tests.shared_formulas import QuickTranslator

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
    quick, plain = QuickTranslator(formula, "B2"), Translator(formula, "B2")
    for cell in ("B2", "B3", "B900", "D9", "C2"):
        assert quick.translate_formula(cell) == plain.translate_formula(cell)


def test_our_workbooks_are_read_as_openpyxl_reads_them(monkeypatch: pytest.MonkeyPatch) -> None:
    assert _reader.Translator is QuickTranslator
    quick = _texts(blank())
    monkeypatch.setattr(_reader, "Translator", Translator)
    assert _texts(blank()) == quick
    assert sum(isinstance(text, str) and text.startswith("=") for text in quick) > 500


def _texts(data: bytes) -> list[object]:
    book = openpyxl.load_workbook(io.BytesIO(data))
    cells = [cell.value for sheet in book.worksheets for row in sheet.iter_rows() for cell in row]
    return [getattr(value, "text", value) for value in cells]
