"""Two entries of one survey compared, and the workbook in which their differences are blank."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Sheet
from xlhelpers.jobs.compare import words
from xlhelpers.jobs.compare.keyed_twice import (
    NAMES,
    NO_LINE,
    Pair,
    comparable,
    compared_cells,
    disagreements,
    line_on_page,
    pair_by_names,
    pair_lines,
)
from xlhelpers.package.formulas.stale_results import refresh_on_open
from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import CrewBook
from xlhelpers.survey.columns import SHEETS
from xlhelpers.survey.trees.widths import describe_widths, widths_differ
from xlhelpers.survey.typed.words import identifier_key

# rows that only the second entry has are put below those of the first on these sheets
_GROWING = {"lines": ("plot", "tree", "setup"), "plots": ("plot",)}


@dataclass(frozen=True)
class Compared:
    """Where two entries agree and where not.

    `open` has a row a differing cell: `table`, `tab`, `place` (line on the page), `plot`,
    `tree`, `setup`, `what`, `field`, `label`, `first`, `second` (as entered), `first_cell`,
    `second_cell`, `pair`. `cells` has for each table a frame of the compared cells, a row a pair.
    `pairs` are the pairs of each table. `widths` say how the two entries take crown widths where
    their rules differ.
    """

    open: pd.DataFrame
    cells: Mapping[str, pd.DataFrame]
    pairs: Mapping[str, tuple[Pair, ...]]
    widths: tuple[str, ...] = ()


_COLUMNS = (
    "table",
    "tab",
    "place",
    "plot",
    "tree",
    "setup",
    "what",
    "field",
    "label",
    "first",
    "second",
    "first_cell",
    "second_cell",
    "pair",
)
_COMPARED = ("lines", "plots", "instruments", "instrument_checks", "people", "strata", "species")


def compare_books(first: CrewBook, second: CrewBook) -> Compared:
    """Compare every sheet that people type in.

    Parameters
    ----------
    first, second
        Two entries of the same paper; the order of their lines does not matter.
    """
    rows: list[dict[str, Any]] = []
    cells: dict[str, pd.DataFrame] = {}
    pairs: dict[str, tuple[Pair, ...]] = {}
    for table in _COMPARED:
        sheet = SHEETS[table]
        texts = [
            comparable(
                sheet, getattr(one.survey, table), one.survey.states[table], one.typed[table]
            )
            for one in (first, second)
        ]
        if table == "lines":
            pairs[table] = pair_lines(texts[0], texts[1])
        else:
            pairs[table] = pair_by_names(texts[0], texts[1], NAMES[table])
        cells[table] = compared_cells(pairs[table], *texts)
        differing = disagreements(pairs[table], *texts)
        places = line_on_page(texts[0]) if table == "lines" else np.zeros(0)
        for at, name in zip(differing["pair"].tolist(), differing["field"].tolist(), strict=True):
            pair, place = pairs[table][at], np.nan
            if table == "lines" and pair.first != NO_LINE:
                place = float(places[pair.first])
            rows.append(_row((first, second), table, pair, name) | {"pair": at, "place": place})
    rules = [one.survey.rules for one in (first, second)]
    widths = tuple(map(describe_widths, rules)) if widths_differ(*rules) else ()
    return Compared(pd.DataFrame(rows, columns=list(_COLUMNS)), cells, pairs, widths)


def _row(books: tuple[CrewBook, CrewBook], table: str, pair: Pair, name: str) -> dict[str, Any]:
    sheet = SHEETS[table]
    other_units = books[0].survey.units != books[1].survey.units
    values, cells = [], []
    for book, line in zip(books, (pair.first, pair.second), strict=True):
        values.append(
            words.NO_ROW if line == NO_LINE else _cell_text(book, table, line, name, other_units)
        )
        cells.append("" if line == NO_LINE else _cell(book, table, line, name))
    source = books[0] if pair.first != NO_LINE else books[1]
    line = pair.first if pair.first != NO_LINE else pair.second
    keyed = getattr(source.survey, table).iloc[line]
    named = {key: _name(keyed.get(key, "")) for key in ("plot", "tree", "setup")}
    what = "" if table in _GROWING else ", ".join(_name(keyed[key]) for key in NAMES[table])
    return {
        "table": table,
        "tab": sheet.tab,
        **named,
        "what": what,
        "field": name,
        "label": sheet[name].label,
        "first": values[0],
        "second": values[1],
        "first_cell": cells[0],
        "second_cell": cells[1],
    }


def _name(value: Any) -> str:
    if isinstance(value, float):
        return "" if np.isnan(value) else f"{value:.15g}"
    return f"{value:%Y-%m-%d}" if isinstance(value, pd.Timestamp) else str(value)


def _cell_text(book: CrewBook, table: str, line: int, name: str, with_unit: bool) -> str:
    """Return a cell as it was entered."""
    value, cell = getattr(book.survey, table)[name].iloc[line], book.typed[table][name].iloc[line]
    if cell is None:
        return words.BLANK
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}"
    quantity = SHEETS[table][name].measured_in
    if isinstance(cell, float):
        unit = quantity.unit(book.survey.units) if quantity and with_unit else ""
        return f"{cell:.15g} {unit}".strip()
    return str(cell)


def _cell(book: CrewBook, table: str, line: int, name: str) -> str:
    row = getattr(book.survey, table).iloc[line]
    column = book.survey.columns.get((row["_sheet"], name))
    return "" if column is None else f"{row['_sheet']} {cell_name(int(row['_row']), column)}"


def merge_keyings(
    package: Package, books: tuple[CrewBook, CrewBook], compared: Compared
) -> list[tuple[str, int, int] | None]:
    """Make the first workbook the merged one: agreed cells stay, differing ones become blank.

    Lines and plots that only the second has are put below, with their names alone.

    Parameters
    ----------
    package
        The first workbook, opened; it is changed in memory.
    books
        Both entries.
    compared
        Their comparison.

    Returns
    -------
    list of (sheet, row, column) or None
        For each row of `compared.open` the blank cell to type in, None where there is none.
    """
    added = {table: _place_rows(package, books, compared, table) for table in _GROWING}
    targets: list[tuple[str, int, int] | None] = []
    writes: dict[str, list[CellWrite]] = {}
    cells = zip(*(compared.open[name].tolist() for name in ("table", "pair", "field")), strict=True)
    for table, at, name in cells:
        pair = compared.pairs[table][at]
        target = _target(books[0], table, pair, name, added)
        targets.append(target)
        names = _GROWING.get(table, NAMES.get(table, ()))
        keeps_name = name in names and NO_LINE in (pair.first, pair.second)
        if target is not None and pair.first != NO_LINE and not keeps_name:
            writes.setdefault(target[0], []).append(CellWrite(target[1], target[2], None))
    for tab, listed in writes.items():
        part = parts.sheet_named(package, tab)
        assert part is not None  # its cells were read
        write_cells(package, part, listed)
    touched = {tab: {(one.row, one.column) for one in listed} for tab, listed in writes.items()}
    for tab, row in (place for rows in added.values() for place in rows.values()):
        columns = (c for (sheet, _), c in books[0].survey.columns.items() if sheet == tab)
        touched.setdefault(tab, set()).update((row, column) for column in columns)
    refresh_on_open(package, touched)
    return targets


Added = Mapping[str, Mapping[int, tuple[str, int]]]


def _target(
    book: CrewBook, table: str, pair: Pair, name: str, added: Added
) -> tuple[str, int, int] | None:
    if pair.first != NO_LINE:
        row = getattr(book.survey, table).iloc[pair.first]
        place = (str(row["_sheet"]), int(row["_row"]))
    else:
        below = added.get(table, {}).get(pair.second)
        if below is None:
            return None
        place = below
    column = book.survey.columns.get((place[0], name))
    return None if column is None else (*place, column)


def _place_rows(
    package: Package, books: tuple[CrewBook, CrewBook], compared: Compared, table: str
) -> dict[int, tuple[str, int]]:
    """Write the names of the rows that only the second entry has below those of the first."""
    lacking = [pair.second for pair in compared.pairs[table] if pair.first == NO_LINE]
    rows = getattr(books[0].survey, table)
    sheet: Sheet = SHEETS[table]
    tab = str(rows["_sheet"].iloc[-1]) if len(rows) else sheet.tab
    part = parts.sheet_named(package, tab)
    if not lacking or part is None:
        return {}
    columns = books[0].survey.columns
    keyed = [c for (s, name), c in columns.items() if s == tab and sheet[name].kind != "computed"]
    grid = read_grid(package, part)
    last = int(rows["_row"][rows["_sheet"] == tab].max()) if len(rows) else 5
    placed, writes = {}, []
    for line in lacking:
        last += 1
        while any(grid.value(last, column) is not None for column in keyed):
            last += 1
        placed[line] = (tab, last)
        for name in _GROWING[table]:
            column = columns.get((tab, name))
            cell = books[1].typed[table][name].iloc[line]
            if column is not None and cell is not None:
                like = (int(rows["_row"].iloc[0]), column) if len(rows) else None
                writes.append(CellWrite(last, column, cell, like))
    write_cells(package, part, writes)
    return placed


def rates(
    compared: Compared, books: tuple[CrewBook, CrewBook]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return how often the entries differ: by field, and by the people who typed them.

    Returns
    -------
    tuple of DataFrame
        Columns `name`, `cells` (compared, filled in at least one entry) and `differ`; the first
        frame a row a field of the field sheet and of the plots and one for all, the second a row
        for each pair of people who entered the same plots.
    """
    both = [_paired_open(compared, table) for table in ("lines", "plots")]
    rows = []
    for table, differing in zip(("lines", "plots"), both, strict=True):
        for name in compared.cells[table].columns:
            count = int(compared.cells[table][name].sum())
            differ = int((differing["field"] == name).sum())
            if count:
                label = SHEETS[table][name].label
                rows.append(
                    (label if table == "lines" else f"{label} ({PLOTS.tab})", count, differ)
                )
    every = (
        words.ALL_FIELDS,
        sum(row[1] for row in rows),
        sum(row[2] for row in rows),
    )
    columns = ["name", "cells", "differ"]
    by_field = pd.DataFrame([every, *sorted(rows, key=lambda r: -r[2])], columns=columns)
    return by_field, _by_person(compared, books, both[0])[columns]


def _paired_open(compared: Compared, table: str) -> pd.DataFrame:
    differing = compared.open[compared.open["table"] == table]
    pairs = compared.pairs[table]
    both = [NO_LINE not in (pairs[at].first, pairs[at].second) for at in differing["pair"]]
    return differing[np.array(both, dtype=bool)]


def _by_person(
    compared: Compared, books: Sequence[CrewBook], differing: pd.DataFrame
) -> pd.DataFrame:
    pairs = compared.pairs["lines"]
    people = [_people_by_plot(book) for book in books]
    names = []
    for pair in pairs:
        sides = [
            people[side].get(_plot(books[side], line), words.NOT_STATED)
            for side, line in enumerate((pair.first, pair.second))
        ]
        names.append(f"{sides[0]} and {sides[1]}")
    frame = pd.DataFrame(
        {
            "name": names,
            "cells": compared.cells["lines"].sum(axis=1).to_numpy(),
            "differ": np.bincount(differing["pair"].astype(int), minlength=len(pairs)),
        }
    )
    frame = frame[frame["cells"] > 0]
    return frame.groupby("name", as_index=False, sort=True).sum()


def _people_by_plot(book: CrewBook) -> dict[str, str]:
    plots = book.survey.plots
    return {
        identifier_key(plot): person or words.NOT_STATED
        for plot, person in zip(plots["plot"], plots["keyed_by"], strict=True)
    }


def _plot(book: CrewBook, line: int) -> str:
    return "" if line == NO_LINE else identifier_key(book.survey.lines["plot"].iloc[line])
