"""A workbook opened for work beside the main job: its survey, and its cells as they were typed.

Merging, comparing and exporting all need both: what a cell means, and what was typed where it
could not be read or where a word closes it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.workbook import GUIDE_TAB, KEYED_SHEETS, TABLE_OF
from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.zip.container import Package
from xlhelpers.reading import locate
from xlhelpers.reading.decisions import OfficeEntries, read_decisions
from xlhelpers.reading.locate import Place, heading_key
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.reading.survey import locate_sheets, read_sheets, read_survey
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.words import tidy


@dataclass(frozen=True)
class CrewBook:
    """One workbook as read.

    `typed` holds for each table of the survey a frame of the same rows: a column a field, each
    cell as it stands (float, text, bool, None; an error value as its code). `own` are columns of
    the field sheets that are the user's, under their headings. `left` names the tabs that hold
    something and belong neither to the survey nor to the program. `entries` is what the
    office decided.
    """

    path: Path
    survey: Survey
    typed: Mapping[str, pd.DataFrame]
    own: pd.DataFrame
    left: tuple[str, ...] = ()
    is_1904: bool = field(default=False)
    entries: OfficeEntries = field(default_factory=OfficeEntries)

    @property
    def name(self) -> str:
        """Return the name of the file."""
        return self.path.name


def open_crew_book(path: Path) -> CrewBook:
    """Read a workbook with its cells as typed; nothing is written.

    Parameters
    ----------
    path
        The workbook.

    Raises
    ------
    WorkbookError
        It cannot be read, holds no field sheet, or was made by a later version.
    """
    refuse_unreadable(path)
    package = Package.open(path)
    survey = read_survey(package)
    grids, places, left = _places(package)
    typed = {
        TABLE_OF[sheet.key]: _read_as_typed(
            sheet, getattr(survey, TABLE_OF[sheet.key]), places[sheet.key]
        )
        for sheet in KEYED_SHEETS
        if sheet.key in TABLE_OF
    }
    own = _own_columns(survey.lines, places[FIELD_SHEET.key])
    filled = tuple(tab for tab in left if _holds_something(grids[tab]))
    entries = read_decisions(package)
    return CrewBook(path, survey, typed, own, filled, parts.date1904(package), entries)


def _places(
    package: Package,
) -> tuple[dict[str, Grid], Mapping[str, tuple[Place, ...]], list[str]]:
    grids, claims = read_sheets(package, GUIDE_TAB, "Lists")
    located = locate_sheets(grids, claims)
    taken = {place.sheet for places in located.places.values() for place in places}
    if located.rules is not None:
        taken.add(located.rules.sheet)
    left = [tab for tab in grids if tab not in claims and tab not in taken]
    return grids, located.places, left


def _holds_something(grid: Grid) -> bool:
    return bool(is_filled(grid.values).any())


def _read_as_typed(sheet: Sheet, table: pd.DataFrame, places: tuple[Place, ...]) -> pd.DataFrame:
    fields = [item.name for item in sheet.fields if item.kind != "computed"]
    cells = {name: np.full(len(table), None, dtype=object) for name in fields}
    for place in places:
        here = np.flatnonzero((table["_sheet"] == place.sheet).to_numpy())
        rows = table["_row"].to_numpy()[here]
        for name in fields:
            column = place.columns.get(name)
            if column is not None and column <= place.grid.shape[1]:
                cells[name][here] = place.grid.values[rows - 1, column - 1]
    return pd.DataFrame(
        {name: _replace_errors(values) for name, values in cells.items()},
        index=table.index,
        columns=fields,
        dtype=object,
    )


def _replace_errors(values: np.ndarray) -> np.ndarray:
    for at in [i for i, value in enumerate(values) if isinstance(value, CellError)]:
        values[at] = values[at].code
    return values


def _own_columns(lines: pd.DataFrame, places: tuple[Place, ...]) -> pd.DataFrame:
    """Return the filled columns of the field sheets that carry a heading which is not ours."""
    labels = set(locate.known_headings(FIELD_SHEET)[0])
    own: dict[str, np.ndarray] = {}
    for place in places:
        here = np.flatnonzero((lines["_sheet"] == place.sheet).to_numpy())
        rows, ours = lines["_row"].to_numpy()[here], set(place.columns.values())
        for column in range(1, place.grid.shape[1] + 1):
            heading = place.grid.value(place.heading_row, column)
            values = place.grid.values[rows - 1, column - 1]
            is_own = column not in ours and heading_key(heading) not in labels
            if not is_own or not isinstance(heading, str) or not tidy(heading):
                continue
            if is_filled(values).any():
                cells = own.setdefault(tidy(heading), np.full(len(lines), None, dtype=object))
                cells[here] = values
    return pd.DataFrame(
        {name: _replace_errors(v) for name, v in own.items()}, index=lines.index, dtype=object
    )
