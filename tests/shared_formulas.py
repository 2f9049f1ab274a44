"""openpyxl spells out shared formulas cell by cell; here with the same texts, many times faster.

Most of the time that openpyxl takes to open a filled workbook goes into this.
"""

from functools import cached_property, lru_cache

from openpyxl.formula.tokenizer import Token
from openpyxl.formula.translate import Translator
from openpyxl.utils import coordinate_to_tuple
from openpyxl.worksheet import _reader


class QuickTranslator(Translator):
    """A formula that is taken apart once, not again for each cell of its column."""

    @cached_property
    def _parts(self) -> tuple[list[str], list[str]]:
        """The texts between references that follow the row, and the references themselves."""
        texts, references = ["="], []
        for token in self.get_tokens():
            is_reference = token.type == Token.OPERAND and token.subtype == Token.RANGE
            if is_reference and self.translate_range(token.value, 1, 0) != token.value:
                references.append(token.value)
                texts.append("")
            else:
                texts[-1] += token.value
        return texts, references

    def translate_formula(
        self, dest: str | None = None, row_delta: int = 0, col_delta: int = 0
    ) -> str:
        if dest:
            row, column = coordinate_to_tuple(dest)
            row_delta, col_delta = row - self.row, column - self.col
        tokens = self.get_tokens()
        if col_delta or not tokens or tokens[0].type == Token.LITERAL:
            return str(super().translate_formula(None, row_delta, col_delta))
        texts, references = self._parts
        moved = {text: _move_down(text, row_delta) for text in set(references)}
        return texts[0] + "".join(
            moved[reference] + text for reference, text in zip(references, texts[1:], strict=True)
        )


@lru_cache(maxsize=100_000)
def _move_down(reference: str, rows: int) -> str:
    return str(Translator.translate_range(reference, rows, 0))


def read_shared_formulas_quickly() -> None:
    """Switch it on for every workbook that openpyxl opens from now on."""
    _reader.Translator = QuickTranslator
