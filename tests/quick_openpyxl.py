"""openpyxl opens our workbooks several times faster, and finds in them what it always finds.

Most of its time goes into two steps: spelling out shared formulas cell by cell, and giving the
cells of a merged range the borders of its first cell. `test_quick_openpyxl.py` compares.
"""

from collections.abc import Callable
from functools import cached_property, lru_cache
from typing import Any
from weakref import WeakKeyDictionary

from openpyxl.cell.cell import MergedCell
from openpyxl.formula.tokenizer import Token
from openpyxl.formula.translate import Translator
from openpyxl.styles import Border
from openpyxl.styles.cell_style import StyleArray
from openpyxl.utils import coordinate_to_tuple
from openpyxl.worksheet import _reader
from openpyxl.worksheet.merge import MergedCellRange


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


PLAIN_CORNER, PLAIN_FORMAT = MergedCellRange._get_borders, MergedCellRange.format
# for each workbook: number of a border or two of them -> number of what comes of it
_NUMBERS: WeakKeyDictionary[Any, dict[tuple[Any, ...], int]] = WeakKeyDictionary()


def _once(cell: Any, kind: str, key: tuple[Any, ...], work: Callable[[], None]) -> None:
    """Let openpyxl work out the number of a style once, then give the same number again."""
    numbers = _NUMBERS.setdefault(cell.parent.parent, {})
    if (kind, *key) in numbers:
        setattr(cell._style, kind, numbers[kind, *key])
    else:
        work()
        numbers[kind, *key] = getattr(cell._style, kind)


def _take_corner(merged: Any) -> None:
    """The first cell gets the lower and right border of the last, as `_get_borders` gives them."""
    first = merged.ws._cells.get((merged.min_row, merged.min_col))
    if first is None:
        first = merged.ws.cell(row=merged.min_row, column=merged.min_col)
    merged.start_cell = first
    last = merged.ws._cells.get((merged.max_row, merged.max_col))
    if last is None:
        return

    def add() -> None:
        first.border += Border(right=last.border.right, bottom=last.border.bottom)

    _once(first, "borderId", ("corner", first._style.borderId, last._style.borderId), add)


def _format(merged: Any) -> None:
    """The cells at the edge get the borders of the first, as `format` gives them."""
    first = merged.start_cell
    for name in ("top", "left", "right", "bottom"):
        side = getattr(first.border, name)
        if side and side.style is None:
            continue
        for place in getattr(merged, name):
            cell = _cell_at(merged, place)

            def add(cell: Any = cell, more: Border = Border(**{name: side})) -> None:  # noqa: B008
                cell.border += more

            _once(cell, "borderId", (name, first._style.borderId, cell._style.borderId), add)
    for place in merged.cells:
        cell = _cell_at(merged, place)
        cell._style.protectionId = first._style.protectionId


def _cell_at(merged: Any, place: tuple[int, int]) -> Any:
    if place not in merged.ws._cells:
        merged.ws._cells[place] = MergedCell(merged.ws, *place)
    cell = merged.ws._cells[place]
    cell._style = cell._style or StyleArray()
    return cell


def read_workbooks_quickly() -> None:
    """Switch it on for every workbook that openpyxl opens from now on."""
    _reader.Translator = QuickTranslator
    MergedCellRange._get_borders = _take_corner
    MergedCellRange.format = _format
