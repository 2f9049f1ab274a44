"""Turn the cells given to a function into numbers or names, and its result back into cells.

A cell can be a number, a text, TRUE or FALSE, an error or blank. A blank gives a blank. A number
outside its limits, or anything that is not a number, gives a short message with the argument's
name. Nothing here raises, because a cell has no room for a traceback.
"""

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from xlhelpers.doors.excel.arguments import ARGUMENTS
from xlhelpers.measure.arrays import Numbers

__all__ = [
    "Argument",
    "Cells",
    "answer",
    "blank_as_zero",
    "by_name",
    "names",
    "numbers",
    "only_where",
]
Cells: TypeAlias = Any
"""One cell, or a range as a list of rows."""
LARGEST = 1e15
"""Far above any quantity of a tree; its cube is still a number."""
LONGEST_QUOTE = 24
NOT_A_NUMBER = " is not a number"
# The codes under which Windows hands over error cells; some are newer than xlwings' own list.
ERROR_CODES = range(-2146826300, -2146826199)
_ERROR_TEXT = re.compile(r"#[A-Z][A-Z_/0]*[!?]?")
_NUMBER_TEXT = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)", re.ASCII)
_COMMA_TEXT = re.compile(r"([+-]?[0-9]*),([0-9]+)", re.ASCII)


@dataclass(frozen=True)
class Argument:
    """One argument of a function; every array has the shape of its range.

    `values` are numbers (NaN if missing) or names ("" if missing). `wrong` is the message for each
    cell that was not understood, "" for the others, or None if all were understood.
    """

    name: str
    values: NDArray[Any]
    blank: NDArray[np.bool_]
    wrong: NDArray[np.object_] | None
    single: bool


def numbers(
    name: str,
    given: Cells,
    *,
    above: float | None = None,
    at_least: float | None = None,
    below: float | None = None,
) -> Argument:
    """Read an argument of numbers.

    Parameters
    ----------
    name : str
        Name of the argument, for the messages.
    given : cell or range
        What the spreadsheet gave.
    above, at_least, below : float, optional
        Limits of every number [unit of the argument].

    Returns
    -------
    Argument
        The numbers, and a message for each cell that is not a number within the limits.
    """
    rows, single, ragged = _rows(given)
    if ragged:
        return _only_message(name, f"{name}: the rows have different lengths", single)
    cells = list(chain.from_iterable(rows))
    values, odd = _number_cells(cells)
    wrong = {position: f"{name}: {because}" for position, because in odd.items()}
    limits = (
        (above, values <= (above or 0.0), "must be above"),
        (at_least, values < (at_least or 0.0), "must be at least"),
        (below, values >= (below or 0.0), "must be below"),
        (LARGEST, np.abs(values) > LARGEST, "must be at most"),
    )
    for limit, outside, words in limits:
        if limit is not None:
            for position in np.flatnonzero(outside).tolist():
                text = f"{name}: {values[position]:.12g} {words} {limit:g}"
                wrong.setdefault(position, text)
    values[list(wrong)] = np.nan
    return _argument(
        name, values, np.isnan(values), wrong, (len(rows), len(rows[0])), single=single
    )


def names(name: str, given: Cells, allowed: Collection[str]) -> Argument:
    """Read an argument of names, in small or capital letters.

    Parameters
    ----------
    name : str
        Name of the argument, for the messages.
    given : cell or range
        What the spreadsheet gave.
    allowed : collection of str
        The names that exist, in small letters.

    Returns
    -------
    Argument
        The names, and a message for each cell that is not one of them.
    """
    rows, single, ragged = _rows(given)
    if ragged:
        return _only_message(name, f"{name}: the rows have different lengths", single)
    cells = list(chain.from_iterable(rows))
    written = [cell if type(cell) is str else _text_of(cell) for cell in cells]
    meant = {text: _name(text) for text in set(written)}
    unknown = {text for text, understood in meant.items() if understood not in {"", *allowed}}
    meant |= dict.fromkeys(unknown, "")
    wrong = {}
    for position in [at for at, text in enumerate(written) if text in unknown] if unknown else []:
        cell = _not_a_number(cells[position]).removesuffix(NOT_A_NUMBER)
        wrong[position] = f"{name}: {cell} is not one of {', '.join(allowed)}"
    values = np.array([meant[text] for text in written], dtype=np.str_)
    return _argument(name, values, values == "", wrong, (len(rows), len(rows[0])), single=single)


def blank_as_zero(argument: Argument) -> Argument:
    """Take the blank cells of an argument as 0.

    Parameters
    ----------
    argument : Argument
        An argument of numbers that may be left out.

    Returns
    -------
    Argument
        The same without blanks; what was not understood stays so.
    """
    values = np.where(argument.blank, 0.0, argument.values)
    return replace(argument, values=values, blank=np.zeros_like(argument.blank))


def only_where(argument: Argument, needed: Argument, name: str) -> Argument:
    """Use an argument only where another one has a certain name, such as one scale.

    Parameters
    ----------
    argument : Argument
        The argument that is not always needed.
    needed : Argument
        The argument that decides it.
    name : str
        The name for which it is needed.

    Returns
    -------
    Argument
        The argument, neither blank nor wrong where it is not needed.
    """
    if 1 not in (argument.values.size, needed.values.size) and _shape(argument) != _shape(needed):
        return argument
    counts = needed.values == name
    wrong = None if argument.wrong is None else np.where(counts, argument.wrong, "")
    values = np.broadcast_to(argument.values, np.broadcast_shapes(_shape(argument), counts.shape))
    return replace(argument, values=values, blank=counts & argument.blank, wrong=wrong)


def answer(
    arguments: tuple[Argument, ...], compute: Callable[..., Numbers], impossible: str
) -> Cells:
    """Compute, with blanks and messages where there is no number.

    Parameters
    ----------
    arguments : tuple of Argument
        The arguments; each one cell or a range of the same shape.
    compute : callable
        Gets the values of the arguments and returns numbers of their shape.
    impossible : str
        The message if the numbers do not match.

    Returns
    -------
    number, text or list of rows
        One answer for single cells, else rows of the shape of the ranges: a number, "" where an
        argument is blank, or a message.
    """
    single = all(argument.single for argument in arguments)
    ranges = [argument for argument in arguments if argument.values.size != 1]
    for other in ranges[1:]:
        if _shape(other) != _shape(ranges[0]):
            (rows, columns), (first_rows, first_columns) = _shape(other), _shape(ranges[0])
            text = (
                f"{other.name}: {rows} × {columns} cells, "
                f"but {ranges[0].name} has {first_rows} × {first_columns}"
            )
            return [[text]]
    shape = np.broadcast_shapes(*(_shape(argument) for argument in arguments))
    values = np.asarray(compute(*(argument.values for argument in arguments)), dtype=np.float64)
    plain = all(argument.wrong is None and not argument.blank.any() for argument in arguments)
    if plain and not single and values.shape == shape and np.isfinite(values).all():
        rows_of_numbers: list[list[Any]] = values.tolist()
        return rows_of_numbers
    out = np.broadcast_to(values, shape).astype(object)
    out[np.broadcast_to(~np.isfinite(values), shape)] = impossible
    for argument in arguments:
        out[np.broadcast_to(argument.blank, shape)] = ""
    for argument in reversed(arguments):
        if argument.wrong is not None:
            wrong = np.broadcast_to(argument.wrong, shape)
            out = np.where(wrong != "", wrong, out)
    answers: list[list[Any]] = out.tolist()
    return answers[0][0] if single else answers


def by_name(chosen: NDArray[np.str_], compute: Callable[[str], Numbers]) -> NDArray[np.float64]:
    """Compute once for each name and take each cell from the answer for its name.

    Parameters
    ----------
    chosen : ndarray of str
        Names, "" where there is none.
    compute : callable
        Returns the numbers for one name.

    Returns
    -------
    ndarray
        Numbers; NaN where there is no name.
    """
    out = np.array(np.nan)
    for name in sorted(set(chosen.ravel().tolist()) - {""}):
        out = np.where(chosen == name, compute(name), out)
    return out


def _rows(given: Cells) -> tuple[Sequence[Sequence[Any]], bool, bool]:
    """Return the rows, if it was a single cell, and if the rows differ in length."""
    if isinstance(given, np.ndarray):
        given = given.tolist()
    if not isinstance(given, list | tuple):
        return [[given]], True, False
    if not given or (len(given) == 1 and isinstance(given[0], list | tuple) and not given[0]):
        return [[None]], False, False
    are_rows = {issubclass(kind, list | tuple) for kind in set(map(type, given))}
    if are_rows == {False}:
        return [given], False, False
    ragged = len(are_rows) != 1 or len(set(map(len, given))) != 1 or not given[0]
    return given, False, ragged


def _number_cells(cells: list[Any]) -> tuple[NDArray[np.float64], dict[int, str]]:
    """Return the numbers of the cells (NaN if there is none) and a message for each odd cell."""
    plain = _plain_numbers(cells)
    if plain is not None:
        return plain, {}
    values, odd = np.full(len(cells), np.nan), {}
    known: dict[str, float | str] = {}
    for position, cell in enumerate(cells):
        if type(cell) is float:
            values[position] = cell
        elif cell is not None:
            if isinstance(cell, str):
                if cell not in known:
                    known[cell] = _number_in_text(cell)
                number = known[cell]
            else:
                number = _number(cell)
            if isinstance(number, str):
                odd[position] = number
            else:
                values[position] = number
    return values, odd


def _plain_numbers(cells: list[Any]) -> NDArray[np.float64] | None:
    """Return all cells at once if they are only numbers and blanks, else None."""
    if not set(map(type, cells)) <= {float, int, type(None)}:
        return None
    try:
        values = np.array(cells, dtype=np.float64)
    except OverflowError:
        return None
    codes = (values >= ERROR_CODES.start) & (values < ERROR_CODES.stop)
    return None if codes.any() else values


def _number(cell: Any) -> float | str:
    """Return the number of a cell that is not a text, or why it is not a number."""
    if isinstance(cell, bool | np.bool_) or not isinstance(cell, int | float | np.number):
        return _not_a_number(cell)
    if isinstance(cell, int) and cell in ERROR_CODES:
        return "the cell has an error"
    try:
        return float(cell)
    except (OverflowError, TypeError):
        return _not_a_number(cell)


def _number_in_text(text: str) -> float | str:
    """Return the number if the text is nothing else, NaN for a blank, or why it is not a number."""
    plain = text.strip().replace("−", "-")
    if not plain:
        return np.nan
    if _NUMBER_TEXT.fullmatch(plain):
        return float(plain)
    comma = _COMMA_TEXT.fullmatch(plain)
    if comma is None:
        return _not_a_number(text)
    whole, rest = comma[1], comma[2]
    if len(rest) == 3 and whole.strip("+-0"):
        return f"{_quote(text)} could be {whole}.{rest} or {whole}{rest}"
    return float(f"{whole}.{rest}")


def _not_a_number(cell: Any) -> str:
    if isinstance(cell, str):
        if cell.partition(": ")[0] in ARGUMENTS:
            return "the cell has a message instead of a number"
        if _ERROR_TEXT.fullmatch(cell.strip()):
            return f"the cell has the error {cell.strip()}"
        return _quote(cell) + NOT_A_NUMBER
    if isinstance(cell, bool | np.bool_):
        return str(bool(cell)).upper() + NOT_A_NUMBER
    return _quote(str(cell)) + NOT_A_NUMBER


def _quote(text: str) -> str:
    line = " ".join(text.split())
    return f"'{line if len(line) <= LONGEST_QUOTE else line[: LONGEST_QUOTE - 1] + '…'}'"


def _text_of(cell: Any) -> str:
    if cell is None or (isinstance(cell, float) and np.isnan(cell)):
        return ""
    return str(cell)


def _name(text: str) -> str:
    return " ".join(text.split()).casefold().replace("²", "2").replace("³", "3")


def _argument(
    name: str,
    values: NDArray[Any],
    missing: NDArray[np.bool_],
    wrong: dict[int, str],
    shape: tuple[int, int],
    *,
    single: bool,
) -> Argument:
    blank = missing.copy()
    messages = None
    if wrong:
        positions = list(wrong)
        blank[positions] = False
        flat = np.full(len(values), "", dtype=object)
        flat[positions] = list(wrong.values())
        messages = flat.reshape(shape)
    return Argument(name, values.reshape(shape), blank.reshape(shape), messages, single)


def _only_message(name: str, message: str, single: bool) -> Argument:
    return _argument(
        name, np.array([np.nan]), np.array([False]), {0: message}, (1, 1), single=single
    )


def _shape(argument: Argument) -> tuple[int, int]:
    rows, columns = argument.values.shape
    return rows, columns
