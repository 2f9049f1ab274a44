"""Values written into a workbook as a clerk would type them: on the next free row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

import numpy as np

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES, species_list
from xlhelpers.package.formulas.stale_results import ask_for_calculation
from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.package.zip.container import Package
from xlhelpers.reading import locate
from xlhelpers.reading import rules as read_rules
from xlhelpers.reading.locate import Place
from xlhelpers.reading.rows import find_rows
from xlhelpers.reading.survey import read_sheets
from xlhelpers.template.layout import FIRST_ROW


def key_rows(
    package: Package,
    sheet: Sheet,
    rows: Sequence[Mapping[str, Any]],
    *,
    after_existing: bool = True,
) -> None:
    """Key rows of values into the first sheet of a kind.

    Parameters
    ----------
    package
        The opened workbook; its sheet is changed in memory.
    sheet
        The kind of sheet. On the survey rules each mapping is a set of rules.
    rows
        One mapping a row: field name to value in the unit that is shown. A text is keyed as it
        stands; a date as a day; True and False as such; None and NaN leave the cell blank.
    after_existing
        Whether to go on below the last keyed row; otherwise from the first row of data.

    Raises
    ------
    WorkbookError
        The workbook has no such sheet or column, or a cell refuses to be written.
    """
    if not rows:
        return
    grids, claims = read_sheets(package)
    if sheet is RULES:
        tab, writes = _rule_writes(package, rows, grids, claims)
    else:
        place = _place_of(package, sheet, grids, claims)
        tab, writes = place.sheet, _row_writes(package, place, rows, after_existing)
    part = parts.sheet_named(package, tab)
    if part is None:
        raise WorkbookError(f"{package.path.name} has no sheet “{tab}”.")
    _, refusals = write_cells(package, part, writes)
    ask_for_calculation(package)  # the formulas have the results of blank lines
    if refusals:
        first = refusals[0]
        raise WorkbookError(
            f"{package.path.name}, {tab} {cell_name(first.row, first.column)} was not written: it "
            f"{first.reason}."
        )


Claimed = Mapping[str, Mapping[str, locate.Claims]]


def _place_of(package: Package, sheet: Sheet, grids: Mapping[str, Grid], claims: Claimed) -> Place:
    for tab, grid in grids.items():
        sheet_claims = claims.get(tab, {}).get(sheet.key)
        if sheet_claims:
            return locate.place_by_names(sheet, tab, grid, sheet_claims)
    for tab, grid in grids.items():
        place = locate.place_by_headings([sheet], tab, grid)
        if place is not None:
            return place
    raise WorkbookError(f"{package.path.name} has no sheet “{sheet.tab}” to type into.")


def _rule_writes(
    package: Package,
    rows: Sequence[Mapping[str, Any]],
    grids: Mapping[str, Grid],
    claims: Claimed,
) -> tuple[str, list[CellWrite]]:
    named = {tab: kinds[RULES.key] for tab, kinds in claims.items() if RULES.key in kinds}
    place = read_rules.locate_rules(grids, named, [tab for tab in grids if tab not in claims])
    if place is None:
        raise WorkbookError(f"{package.path.name} has no sheet “{RULES.tab}” to type into.")
    values = {name: value for row in rows for name, value in row.items()}
    missing = [name for name in values if name not in place.cells]
    if missing:
        raise WorkbookError(f"{package.path.name} has no rule {', '.join(missing)}.")
    is_1904 = parts.date1904(package)
    return place.sheet, [
        CellWrite(*place.cells[name], _cell_value(value, is_1904)) for name, value in values.items()
    ]


def _row_writes(
    package: Package, place: Place, rows: Sequence[Mapping[str, Any]], after_existing: bool
) -> list[CellWrite]:
    missing = sorted({name for row in rows for name in row if name not in place.columns})
    if missing:
        raise WorkbookError(
            f"{package.path.name}, sheet “{place.sheet}”, has no column for {', '.join(missing)}."
        )
    first = place.heading_row + 1
    existing = find_rows(place).rows
    start = int(existing.max()) + 1 if after_existing and len(existing) else first
    is_1904 = parts.date1904(package)
    writes = []
    for row, values in enumerate(rows, start):
        for name, value in values.items():
            stored = _cell_value(value, is_1904)
            if stored is not None:
                column = place.columns[name]
                writes.append(CellWrite(row, column, stored, (first, column)))
    return writes


def stored_cells(
    values: Iterable[Any], *, from_1904: bool = False
) -> np.ndarray[Any, np.dtype[np.object_]]:
    """Return values as cells store them: days as their number, blanks as None."""
    contents = [_cell_value(value, from_1904) for value in values]
    cells = np.empty(len(contents), dtype=object)
    cells[:] = contents
    return cells


def _cell_value(value: Any, from_1904: bool) -> float | str | bool | None:
    """Return a value as a cell stores it; days as their number, blanks as None."""
    if isinstance(value, datetime | date):
        day = value.date() if isinstance(value, datetime) else value
        start = date(1904, 1, 1) if from_1904 else date(1899, 12, 30)
        return float((day - start).days)
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or value == "" or (isinstance(value, float) and np.isnan(value)):
        return None
    if isinstance(value, bool | str):
        return value
    return float(value)


def clear_species(package: Package) -> None:
    """Take the names of the template out of its species sheet."""
    part = parts.sheet_named(package, SPECIES.tab)
    assert part is not None  # it is the template's
    first = FIRST_ROW + 1
    columns = range(1, len(SPECIES.fields) + 1)
    rows = range(first, first + len(species_list()))
    write_cells(package, part, [CellWrite(row, column, None) for row in rows for column in columns])
