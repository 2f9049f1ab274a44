"""What the paper says, typed into To check: which cells are meant, and the value for each.

An entry is read as its cell would read it. A number is written as a number, a choice as the word of
its list, and any other text as typed.
"""

import re
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from xlhelpers.fields.record import Field
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.cell_writes import Written
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.reading.cell_findings import refusal_message
from xlhelpers.reading.cells import FEET_TAPE, Cells, ColumnRead, Settings, read_column
from xlhelpers.reading.finding_cells import FindingCell, FindingCells
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED
from xlhelpers.wording import list_words

_NAMED = re.compile(r"\s*([^:=]+?)\s*[:=]\s*(.+?)\s*", re.DOTALL)
_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_PARTED = re.compile(r"[;\n]")
_SAME = 1e-9


class RefusedEntry(Exception):
    """An entry that is not written; its text is the sentence for the row."""


@dataclass(frozen=True)
class CellEntry:
    """One value for one cell: as typed, and as it is written."""

    cell: FindingCell
    typed: str
    value: Written


def parts_of(text: str, cells: FindingCells, row_text: str = "") -> list[tuple[FindingCell, str]]:
    """Return the cells that an entry names, each with its value as typed.

    Parameters
    ----------
    text : str
        Such as "70", or with the names of cells "tip: 70; crown base: 12".
    cells : FindingCells
        The cells of the finding.
    row_text : str
        What the row showed under Cells, "" unknown.

    Raises
    ------
    RefusedEntry
        It cannot be told which cell is meant.
    """
    if not cells.cells:
        raise RefusedEntry(
            "Not entered: this finding is not about one cell. Correct the sheet itself."
        )
    pieces = [piece for piece in _PARTED.split(text) if piece.strip()]
    named = [_NAMED.fullmatch(piece) for piece in pieces]
    targets = [cells.find(match[1]) if match else None for match in named]
    if pieces and all(targets):
        return [
            (cell, match[2]) for cell, match in zip(targets, named, strict=True) if cell and match
        ]
    own = cells.own_as_shown(row_text)
    if own is not None and not any(targets):
        return [(own, text)]
    names = [cell.name for cell in cells.cells]
    raise RefusedEntry(
        f"Not entered: type the name of the cell before the value, for example "
        f"“{names[0]}: 12”. The cells are {list_words(names)}."
    )


def understand(cell: FindingCell, typed: str, grid: Grid, settings: Settings) -> CellEntry:
    """Return an entry with the value that goes into its cell.

    Parameters
    ----------
    cell : FindingCell
        Where it goes.
    typed : str
        The value as typed; a day in ISO form.
    grid : Grid
        The cells of the sheet; the format of the cell counts.
    settings : Settings
        Units and rules of the survey.

    Raises
    ------
    RefusedEntry
        The cell could not be read with it, for the same reasons as a cell that is typed into.
    """
    if typed.startswith("="):
        raise RefusedEntry("Not entered: this is a formula. Type the value.")
    read = _read(cell.field, _as_cell(typed, settings), settings)
    if read.refusals:
        refusal = read.refusals[0]
        raise RefusedEntry(f"Not entered. {refusal_message(cell.field, refusal, settings, typed)}")
    if read.states[0] == BLANK:
        raise RefusedEntry("Not entered: there is no value in it.")
    value = _value_to_write(cell.field, read, typed, settings)
    place = (cell.row, cell.column)
    if cell.field.kind == "date" and grid.is_date(*place):
        value = _day_number(str(value), settings.from_1904) or value
    cells = Cells(
        np.array([value], dtype=object),
        np.array([grid.is_percent(*place)]),
        np.array([grid.is_date(*place)]),
    )
    if not _is_same(_read(cell.field, cells, settings), read):
        raise RefusedEntry(
            f"Not entered: the format of {cell.address} would change the value. Format that cell "
            "as a number or a text, then fill again."
        )
    return CellEntry(cell, typed, value)


def is_there(entry: CellEntry, grid: Grid, settings: Settings) -> bool:
    """Return whether the cell of an entry has its value already."""
    value = grid.value(entry.cell.row, entry.cell.column)
    if not is_filled(np.array([value], dtype=object))[0]:
        return False
    place = (entry.cell.row, entry.cell.column)
    cells = Cells(
        np.array([value], dtype=object),
        np.array([grid.is_percent(*place)]),
        np.array([grid.is_date(*place)]),
    )
    now = _read(entry.cell.field, cells, settings)
    new = _read(entry.cell.field, _as_cell(entry.typed, settings), settings)
    return bool(now.states[0] != REFUSED) and _is_same(now, new)


def _read(field: Field, cells: Cells, settings: Settings) -> ColumnRead:
    return read_column(field, cells, settings)


def _as_cell(typed: str, settings: Settings) -> Cells:
    """Return an entry as the cell it would be: a day as a number that is shown as a date."""
    day = _day_number(typed, settings.from_1904)
    if day is None:
        return Cells(np.array([typed], dtype=object))
    return Cells(np.array([day], dtype=object), None, np.array([True]))


def _day_number(typed: str, from_1904: bool) -> float | None:
    if not _ISO_DAY.fullmatch(typed):
        return None
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        return None
    return float((day - (date(1904, 1, 1) if from_1904 else date(1899, 12, 30))).days)


def _value_to_write(field: Field, read: ColumnRead, typed: str, settings: Settings) -> Written:
    """Return what is written: formulas read numbers, so a number is written as one."""
    value = read.values[0]
    if read.states[0] == CLOSED:
        return typed
    if field.kind == "choice":
        return str(value)
    if field.kind == "date":
        return str(pd.Timestamp(value).date())
    in_feet = field.quantity == "length" and settings.tape == FEET_TAPE
    if field.kind != "number" or read.scales or in_feet:
        # a unit behind a reading, and feet with inches, say more than the number
        return _plain_number(typed) if field.kind in ("number", "identifier") else typed
    quantity = field.measured_in
    number = float(value) / (1.0 if quantity is None else quantity.factor(settings.units))
    if field.name == "diameter" and settings.girth:
        number *= np.pi
    return float(f"{number:.12g}")


def _plain_number(typed: str) -> Written:
    """Return a number that is typed as its cell would show it, such as 12; else the text."""
    return float(typed) if re.fullmatch(r"-?(?:0|[1-9]\d{0,14})(?:\.\d*[1-9])?", typed) else typed


def _is_same(one: ColumnRead, other: ColumnRead) -> bool:
    if one.states[0] != other.states[0]:
        return False
    first, second = one.values[0], other.values[0]
    if isinstance(first, float):
        both_none = bool(np.isnan(first) and np.isnan(second))
        return both_none or bool(abs(first - second) <= _SAME * max(1.0, abs(second)))
    return bool(first == second) or bool(pd.isna(first) and pd.isna(second))
