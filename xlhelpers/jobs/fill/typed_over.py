"""Results on the field sheet that somebody typed over since the last fill.

What the last fill wrote stands on the tab Trees as well, as long as its seal says that nobody
changed it. A value of a tree column that is to be replaced and stands nowhere in its column of
that tab did not come from the program. Readings changed, rows sorted, moved or numbered anew are
no such thing: their values are still on the tab.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.fill.field_writes import GREATEST_TEXT, TREE_SOURCES
from xlhelpers.jobs.fill.tabs.trees import BETWEEN, COLUMNS
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.cell_writes import ColumnWrites
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.pages.plan import Link, TypedOver
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import fold_column
from xlhelpers.survey.typed.words import identifier_key, number_as_text

Objects = NDArray[np.object_]
Flags = NDArray[np.bool_]
FINDINGS = "tree_findings"
# another program may store the last digits in another way
_ROUNDED = 1e-9
# a count is the same on many lines and says nothing of whose line it is
_TELLING = tuple(name for name in TREE_SOURCES if name != "tree_setups")
_TEXTS = ("open", "settled")
_LONG = re.compile("“([^”]{58})[^”]{2,}”")
_NAMED = 3


@dataclass(frozen=True)
class LastFill:
    """What the tab Trees says the last fill wrote: texts of each tree, values by field.

    `row_of` gives the place of each tree that the tab has once.
    """

    row_of: Mapping[str, int] = field(default_factory=dict)
    values: Mapping[str, NDArray[np.float64]] = field(default_factory=dict)
    findings: frozenset[str] = frozenset()


@dataclass(frozen=True)
class TypedResults:
    """What was typed over, and by sheet the number of cells that cannot be judged."""

    cells: tuple[TypedOver, ...] = ()
    unknown: Mapping[str, int] = field(default_factory=dict)

    @property
    def sentences(self) -> list[str]:
        """Return what the command says, without a stop."""
        return list(_sentences(self))


def find_typed_over(
    package: Package, outcome: Outcome, writes: Iterable[tuple[str, ColumnWrites]], today: str
) -> TypedResults:
    """Return the results that are to be replaced and do not come from the last fill.

    Parameters
    ----------
    package : Package
        The opened workbook, before anything is written.
    outcome : Outcome
        What was computed.
    writes : iterable
        By field sheet what is going to be written.
    today : str
        The day of this fill.
    """
    parts = {part.name: part for part in sheets(package)}
    last: LastFill | None = None
    read = False
    cells: list[TypedOver] = []
    unknown: dict[str, int] = {}
    for sheet, columns in writes:
        grid = read_grid(package, parts[sheet], keep=True)
        replaced = dict(_find_replacements(grid, outcome, sheet, columns))
        count = sum(int(flags.sum()) for *_, flags in replaced.values())
        if not count:
            continue
        if not read:
            last, read = _last_fill(package, outcome), True
        if last is None:
            unknown[sheet] = count
            continue
        cells += _find_typed(outcome, sheet, columns, replaced, last, today)
    return TypedResults(tuple(cells), unknown)


def _sentences(results: TypedResults) -> Iterator[str]:
    by_sheet: dict[str, list[TypedOver]] = {}
    for cell in results.cells:
        by_sheet.setdefault(cell.where.sheet, []).append(cell)
    for sheet, cells in by_sheet.items():
        named = "; ".join(f"{cell.where.cell} {_short(cell.what)}" for cell in cells[:_NAMED])
        more = f"; and {len(cells) - _NAMED:,} more" if len(cells) > _NAMED else ""
        yield (
            f"{sheet}: {_results(len(cells))} in shaded cells had been typed over: {named}{more}. "
            "About this fill lists them all. The previous version of the workbook still has what "
            "was typed"
        )
    for sheet, count in results.unknown.items():
        yield (
            f"{sheet}: {_results(count)} in shaded cells changed. It cannot be told if any had "
            "been typed over, because the tab Trees was changed after the last fill"
        )


def _results(count: int) -> str:
    return "1 result" if count == 1 else f"{count:,} results"


def _find_replacements(
    grid: Grid, outcome: Outcome, sheet: str, writes: ColumnWrites
) -> Iterator[tuple[str, tuple[int, Objects, Flags]]]:
    """Yield for each tree column its place, what its cells hold, and which of them change."""
    rows = np.asarray(writes.rows, dtype=np.int64)
    for name in (*TREE_SOURCES, FINDINGS):
        column = outcome.survey.columns.get((sheet, name))
        if column is None or column not in writes.columns or column > grid.shape[1]:
            continue
        values = grid.values[rows - 1, column - 1]
        new = np.asarray(writes.columns[column], dtype=object)
        flags = is_filled(values) & np.asarray(values != new, dtype=bool)
        flags &= np.asarray(values != "", dtype=bool)
        if column in grid.formulas.columns:
            flags &= ~np.isin(rows, grid.formulas.columns[column][0])  # is left, and said
        yield name, (column, values, flags)


def _last_fill(package: Package, outcome: Outcome) -> LastFill | None:
    """Return what the last fill wrote; None where the tab Trees no longer tells."""
    if not our_tabs.stored_text(package, our_tabs.FINGERPRINT_NAME):
        return LastFill()  # no fill yet: nothing in a result cell is the program's
    tab = our_tabs.find_tabs(package).get("trees")
    if tab is None:
        return None
    seen = our_tabs.digest_present_tab(package, tab, "trees")
    if seen.unmarked != our_tabs.stored_text(package, our_tabs.seal_name("trees")):
        return None
    units = outcome.survey.units
    return _from_tab(seen.values, units)


def _from_tab(cells: Objects, units: Units) -> LastFill | None:
    headings = {column.key: column.heading(units) for column in COLUMNS}
    wanted = {"plot", "tree", *TREE_SOURCES.values(), *_TEXTS}
    for row in range(min(len(cells), 60)):
        at = {text: column for column, text in enumerate(cells[row].tolist()) if text}
        if all(headings[key] in at for key in wanted):
            below = {key: cells[row + 1 :, at[headings[key]]] for key in wanted}
            return _gather(below)
    return None


def _gather(below: Mapping[str, Objects]) -> LastFill:
    keys = np.array(_keys(map(_text, below["plot"]), map(_text, below["tree"])), dtype=object)
    once = np.flatnonzero(~pd.Series(keys).duplicated(keep=False).to_numpy())
    texts = {text for key in _TEXTS for text in set(below[key].tolist()) if isinstance(text, str)}
    return LastFill(
        dict(zip(keys[once].tolist(), once.tolist(), strict=True)),
        {name: _numbers(below[source]) for name, source in TREE_SOURCES.items()},
        frozenset(_plain(piece) for text in texts for piece in text.split(BETWEEN)),
    )


def _find_typed(
    outcome: Outcome,
    sheet: str,
    writes: ColumnWrites,
    replaced: Mapping[str, tuple[int, Objects, Flags]],
    last: LastFill,
    today: str,
) -> Iterator[TypedOver]:
    lines = _lines(outcome, sheet, np.asarray(writes.rows, dtype=np.int64))
    keys = _keys(lines["plot"], lines["tree"])
    own = np.array([last.row_of.get(key, -1) for key in keys], dtype=np.int64)
    fits = {name: _fits(values, own, last, name) for name, (_, values, _) in replaced.items()}
    moved = ~_is_own(fits, {name: values for name, (_, values, _) in replaced.items()})
    for name, (column, values, flags) in replaced.items():
        typed = flags & ~fits[name]
        places = np.flatnonzero(typed)
        known = _anywhere(values[places], last, name)
        for place in places[~(known & moved[places])].tolist():
            new = writes.columns[column][place]
            yield TypedOver(
                Link(sheet, int(writes.rows[place]), column),
                str(lines["plot"].iloc[place]),
                str(lines["tree"].iloc[place]),
                FIELD_SHEET[name].label,
                today,
                f"held {_write_value(values[place])}, typed over; fill "
                + ("emptied it" if new in (None, "") else f"wrote {_write_value(new)}"),
            )


def _lines(outcome: Outcome, sheet: str, rows: NDArray[np.int64]) -> pd.DataFrame:
    lines = outcome.survey.lines
    here = lines.loc[lines["_sheet"] == sheet, ["plot", "tree", "_row"]]
    return here.drop_duplicates("_row").set_index("_row").loc[rows]


def _fits(values: Objects, own: NDArray[np.int64], last: LastFill, name: str) -> Flags:
    """Return which cells hold what the last fill gave the tree of their line."""
    if name == FINDINGS:
        return _anywhere(values, last, name)
    numbers, there = _numbers(values), own >= 0
    wrote = np.full(len(values), np.nan)
    if there.any():
        wrote[there] = last.values[name][own[there]]
    return np.asarray(np.abs(numbers - wrote) <= _ROUNDED * np.maximum(1.0, np.abs(numbers)))


def _is_own(fits: Mapping[str, Flags], values: Mapping[str, Objects]) -> Flags:
    """Return the lines that hold, but for what may be typed over, the results of their tree."""
    telling = [name for name in fits if name in _TELLING]
    if not telling:
        return np.zeros(0 if not fits else len(next(iter(fits.values()))), dtype=bool)
    fitting = sum(fits[name].astype(int) for name in telling)
    filled = sum(is_filled(values[name]).astype(int) for name in telling)
    return np.asarray((fitting > 0) & (2 * np.asarray(fitting) >= filled))


def _anywhere(values: Objects, last: LastFill, name: str) -> Flags:
    """Return which cells hold what the last fill wrote somewhere in their column."""
    if name == FINDINGS:
        return np.array([_from_findings(text, last) for text in values.tolist()], dtype=bool)
    known = np.sort(last.values.get(name, np.empty(0)))
    known = known[~np.isnan(known)]
    numbers = _numbers(values)
    if not len(known):
        return np.zeros(len(values), dtype=bool)
    at = np.searchsorted(known, numbers)
    near = np.minimum(
        np.abs(known[np.minimum(at, len(known) - 1)] - numbers),
        np.abs(known[np.maximum(at - 1, 0)] - numbers),
    )
    return np.asarray(near <= _ROUNDED * np.maximum(1.0, np.abs(numbers)))


def _from_findings(text: object, last: LastFill) -> bool:
    if not isinstance(text, str):
        return False
    pieces = text.split(BETWEEN)
    if len(text) >= GREATEST_TEXT and len(pieces) > 1:
        pieces = pieces[:-1]  # cut short
    return all(_plain(piece) in last.findings for piece in pieces)


def _plain(text: str) -> str:
    """Return the letters and figures: severities stand in capitals on one of the two sheets."""
    return "".join(sign for sign in text.casefold() if sign.isalnum())


def _numbers(cells: Objects) -> NDArray[np.float64]:
    return np.array([v if type(v) is float else np.nan for v in cells.tolist()], dtype=float)


def _keys(plots: Iterable[str], trees: Iterable[str]) -> list[str]:
    folded = (fold_column(list(column), identifier_key) for column in (plots, trees))
    return [f"{plot}\0{tree}" for plot, tree in zip(*folded, strict=True)]


def _text(value: object) -> str:
    if isinstance(value, float):
        return number_as_text(value)
    return "" if value is None else str(value)


def _short(what: str) -> str:
    """Return both values for a sentence, each long text cut; the list has them whole."""
    return _LONG.sub(lambda text: f"“{text[1]} …”", what)


def _write_value(value: object) -> str:
    """Return a value as it is told: numbers with at most four decimals."""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, float | int):
        return f"{value:.4f}".rstrip("0").rstrip(".")
    text = value.code if isinstance(value, CellError) else " ".join(str(value).split())
    return f"“{text}”"
