"""What was keyed, in three numbers a column: the formulas, and the same numbers by numpy.

The numbers of a column are its filled cells, the sum of its numbers, and the sum over all cells of
number or letters times place. A cell that is typed, cleared or changed, and two cells that change
places, move at least one of them. Texts count by their first three letters, their middle one and
their last two, and by their length; signs outside `LETTERS` are not told from one another. A sign
that takes two places in Excel takes one in LibreOffice, where such a text shows as changed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.workbook import KEYED_SHEETS, TABLE_OF
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.references import MAX_ROW, column_letters, quote_sheet
from xlhelpers.package.zip.container import Package
from xlhelpers.survey.model import Survey

# rows watched below the last keyed one
SPARE_ROWS = 1000
# the weighted sum of a column that holds an error
ERROR = "error"
LETTERS = " 0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ.,-+?/"
_PLACES = {letter: place for place, letter in enumerate(LETTERS)}
_PAD = " " * 6
# the last letter that takes one place in Excel
_WIDEST = "\uffff"
# what the place of a letter counts; the length of a text counts `_OF_LENGTH`
_FIRST, _SECOND, _THIRD, _MIDDLE, _LAST_BUT_ONE, _LAST = 1, 73, 5329, 31, 809, 11
_OF_LENGTH = 7
# sums of whole numbers are exact; others may differ by the order of the sum
_SUMMED_BELOW = 9e307
_EXACT, _ROUNDING = 1e-6, 20 * float(np.finfo(float).eps)


@dataclass(frozen=True)
class KeyedColumn:
    """The watched cells of one keyed column, and its numbers at the time of a fill.

    Rows and columns count from 1. Later numbers that differ by no more than `total_within` and
    `weighted_within` are the same.
    """

    sheet: str
    label: str
    column: int
    first: int
    last: int
    cells: float
    total: float
    weighted: float | str
    total_within: float = _EXACT
    weighted_within: float = _EXACT

    @property
    def area(self) -> str:
        """Return the watched cells as a formula names them."""
        letters = column_letters(self.column)
        return f"{quote_sheet(self.sheet)}!${letters}${self.first}:${letters}${self.last}"


def count_formula(area: str) -> str:
    """Return the formula of how many cells are filled."""
    return f"COUNTA({area})"


def total_formula(area: str) -> str:
    """Return the formula of the sum of the numbers; texts and errors are passed over."""
    return f'SUMIF({area},"<9E+307")'


def weighted_formula(area: str) -> str:
    """Return the formula of the sum of all cells, each times its place in the column.

    No part of it needs to be entered as an array. With an error among the cells it gives `ERROR`.
    """
    first = area.partition(":")[0]
    text, length = f'{area}&"{_PAD}"', f"LEN({area})"
    letters = {
        f"MID({text},1,1)": _FIRST,
        f"MID({text},2,1)": _SECOND,
        f"MID({text},3,1)": _THIRD,
        f"MID({text},INT({length}/2)+1,1)": _MIDDLE,
        f'MID("{_PAD}"&{area},{length}+{len(_PAD) - 1},1)': _LAST_BUT_ONE,
        f'RIGHT("{_PAD}"&{area},1)': _LAST,
    }
    counted = "+".join(
        f'{weight}*FIND({letter},"{LETTERS}"&{letter})' for letter, weight in letters.items()
    )
    code = f"{counted}-{sum(letters.values())}+{_OF_LENGTH}*{length}"
    place = f"(ROW({area})-ROW({first})+1)"
    # letters are counted only where there are any, which takes the most time
    texts = f"IF(COUNTA({area})=COUNT({area}),0,SUMPRODUCT(ISTEXT({area})*({code})*{place}))"
    return f'IFERROR(SUMPRODUCT({area},{place})+{texts},"{ERROR}")'


def text_code(text: str) -> float:
    """Return what a text counts in the weighted sum; 0 for an empty one."""
    units: Sequence[str] = text
    if not text.isascii() and max(text) > _WIDEST:
        # counted as Excel does, in units of 16 bits
        raw = text.encode("utf-16-le", "surrogatepass")
        units = [raw[at : at + 2].decode("utf-16-le", "replace") for at in range(0, len(raw), 2)]
    length = len(units)
    after, before = [*units[:3], *_PAD], [*_PAD, *units[-2:]]
    middle = units[length // 2] if length else " "
    return float(
        _FIRST * _place(after[0])
        + _SECOND * _place(after[1])
        + _THIRD * _place(after[2])
        + _MIDDLE * _place(middle)
        + _LAST_BUT_ONE * _place(before[-2])
        + _LAST * _place(before[-1])
        + _OF_LENGTH * length
    )


def _place(letter: str) -> int:
    return _PLACES.get(letter, len(LETTERS))


def sums_of(cells: NDArray[np.object_]) -> tuple[float, float, float | str, float, float]:
    """Return filled cells, sum and weighted sum of a column, and how closely the sums are known.

    TRUE is a number in LibreOffice and none in Excel: it is left out, and the sums may differ by
    what it would add.

    Parameters
    ----------
    cells : ndarray of object, shape (n,)
        Cells as they are read: float, bool, str, None or an error.

    Returns
    -------
    tuple
        `cells`, `total`, `weighted`, `total_within` and `weighted_within` of a `KeyedColumn`.
    """
    values = cells.tolist()
    kinds = set(map(type, values))
    place = np.arange(1.0, len(values) + 1)
    if kinds <= {float, type(None)}:
        numbers = cells.astype(float)
        filled = ~np.isnan(numbers)
        numbers[~filled] = 0.0
        weighed = _weigh(numbers, place)
        return (
            *(float(filled.sum()), _total(numbers), _or_error(weighed)),
            *(_within(numbers), _within(weighed)),
        )
    is_number = np.array([type(value) is float for value in values], dtype=bool)
    is_text = np.array([type(value) is str for value in values], dtype=bool)
    numbers, codes = np.zeros(len(values)), np.zeros(len(values))
    numbers[is_number] = cells[is_number].astype(float)
    codes[is_number] = numbers[is_number]
    where, texts = pd.factorize(cells[is_text])
    if len(texts):
        codes[is_text] = np.array([text_code(text) for text in texts])[where]
    weighed = _weigh(codes, place)
    true = np.array([value is True for value in values], dtype=bool) if bool in kinds else None
    more = (0.0, 0.0) if true is None else (float(true.sum()), float(place[true].sum()))
    has_error = not kinds <= {float, bool, str, type(None)}
    return (
        *(float(len(values) - values.count(None)), _total(numbers)),
        ERROR if has_error else _or_error(weighed),
        *(_within(numbers) + more[0], _within(weighed) + more[1]),
    )


def _total(numbers: NDArray[np.float64]) -> float:
    """Return the sum without what the formula leaves out; 0 where it is beyond any number."""
    total = numbers[numbers < _SUMMED_BELOW].sum()
    return float(total) if np.isfinite(total) else 0.0


def _weigh(numbers: NDArray[np.float64], place: NDArray[np.float64]) -> NDArray[np.float64]:
    with np.errstate(over="ignore"):
        return numbers * place


def _or_error(weighed: NDArray[np.float64]) -> float | str:
    """Return the sum, or what the formula gives where it is beyond any number."""
    total = weighed.sum()
    return float(total) if np.isfinite(total) else ERROR


def _within(terms: NDArray[np.float64]) -> float:
    terms = terms[np.isfinite(terms)]
    if np.array_equal(terms, np.round(terms)):
        return _EXACT
    count = int(np.count_nonzero(terms))
    within = float(_ROUNDING * np.sqrt(count) * np.abs(terms).sum())
    return max(1e-9, within) if np.isfinite(within) else _SUMMED_BELOW


def keyed_columns(package: Package, survey: Survey) -> tuple[KeyedColumn, ...]:
    """Return every column that people key, with its numbers as the workbook holds them now.

    Parameters
    ----------
    package : Package
        The opened workbook, before anything is written.
    survey : Survey
        What was read from it: all field sheets and the other keyed sheets.
    """
    fields: dict[str, dict[str, int]] = {}
    for (sheet, name), column in survey.columns.items():
        fields.setdefault(sheet, {})[name] = column
    rows = _first_rows(survey)
    return tuple(
        column
        for part in sheets(package)
        if part.name in fields
        for column in _of_sheet(
            part.name, read_grid(package, part, keep=True), fields[part.name], rows.get(part.name)
        )
    )


def _first_rows(survey: Survey) -> dict[str, int]:
    first_rows: dict[str, int] = {}
    for name in TABLE_OF.values():
        table = getattr(survey, name)
        for sheet, row in table.groupby("_sheet", sort=False)["_row"].min().items():
            first_rows[str(sheet)] = min(int(row), first_rows.get(str(sheet), int(row)))
    return first_rows


def _record(fields: Mapping[str, int]) -> Sheet | None:
    fitting = (record for record in KEYED_SHEETS if set(fields) <= set(record.index))
    return next(fitting, None)


def _labels(record: Sheet, fields: Mapping[str, int]) -> dict[int, str]:
    """Return the watched columns with their labels; survey rules run down one column."""
    if record is RULES:
        return dict.fromkeys(sorted(set(fields.values())), "values")
    keyed = {name: at for name, at in fields.items() if record[name].kind != "computed"}
    return {at: record[name].label for name, at in keyed.items()}


def _of_sheet(
    sheet: str, grid: Grid, fields: Mapping[str, int], first_row: int | None
) -> Iterator[KeyedColumn]:
    record = _record(fields)
    labels = {} if record is None else _labels(record, fields)
    used = _used_rows(grid, [at for at in labels if at <= grid.shape[1]])
    if first_row is None:
        first_row = 1 if record is RULES else max(used, default=0) + 1
    first = max((row for row in used if row < first_row), default=0) + 1
    last = min(max(used, default=first) + SPARE_ROWS, MAX_ROW)
    for at, label in labels.items():
        # a column beyond the last cell in use is blank, and watched like any other
        cells = grid.values[first - 1 :, at - 1 : at]
        numbers = sums_of(cells[:, 0] if cells.size else np.empty(0, dtype=object))
        yield KeyedColumn(sheet, label, at, first, last, *numbers)


def _used_rows(grid: Grid, columns: list[int]) -> list[int]:
    if not columns:
        return []
    cells = grid.values[:, np.array(columns) - 1]
    filled = is_filled(cells)
    return [int(row) for row in np.flatnonzero(filled.any(axis=1)) + 1]
