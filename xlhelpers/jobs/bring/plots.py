"""Which plot each row belongs to: its column, merged cells, the street, the tab, or one for all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise
from typing import NamedTuple

from xlhelpers.jobs.bring.columns import Column, of_role
from xlhelpers.jobs.bring.foreign import Value, is_blank, text_of
from xlhelpers.jobs.bring.headings import read_heading, roles_of
from xlhelpers.jobs.bring.questions import Kind
from xlhelpers.jobs.bring.row_kinds import kind_of_row
from xlhelpers.jobs.bring.row_reader import identifier
from xlhelpers.jobs.bring.tables import Table, plot_above, plot_in_tab_name, plot_named
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import plural

_SAID_ABOVE = ("date", "crew", "instrument", "stratum")
_PARTS = ("stratum", "plot_part", "year")
_LONG_BETWEEN = 300  # days between two visits of a plot that are two surveys
# a number is written once for a block of lines where so many of its cells are blank
_BLOCK_BLANKS = 0.5
# plots that share a number with another one, so that the number does not name a plot
_SHARED = 0.1


class FactAbove(NamedTuple):
    """One thing said above a table: role, value, row, and the columns of label and value."""

    role: str
    value: Value
    row: int
    columns: tuple[int, int]


class PlotNames:
    """The plot of each row of every table."""

    def __init__(self, kinds: Sequence[Kind]) -> None:
        """Find the plots of all tables, and whether their numbers name one plot each."""
        self.remarks: list[str] = []
        self._names: dict[tuple[str, int], float | str] = {}
        self._above: dict[str, tuple[int, int]] = {}
        self.parts_in_names: set[str] = set()
        self._parts: dict[tuple[str, int], dict[str, str]] = {}
        alone = sum(len(kind.tables) for kind in kinds) == 1
        for kind in kinds:
            for table in kind.tables:
                self._read(table, kind.columns, alone)
        self._add_parts()

    def name(self, table: Table, row: int) -> float | str:
        """Return the plot of a row."""
        return self._names[table.sheet.name, row]

    def facts_above(self, table: Table) -> Iterator[FactAbove]:
        """Yield what is said above a table of its plots: date, crew, instrument, stratum."""
        for row in range(table.heading_rows.start):
            cells = [at for at, cell in enumerate(table.sheet.rows[row]) if not is_blank(cell)]
            taken = -1
            for label, at in pairwise(cells):
                roles = roles_of(read_heading(text_of(table.sheet.rows[row][label]).rstrip(" :")))
                role = next((role for role in _SAID_ABOVE if roles.get(role) == 1.0), "")
                if role and label != taken:
                    yield FactAbove(role, table.sheet.rows[row][at], row, (label, at))
                    taken = at

    def above(self, table: Table, row: int) -> bool:
        """Return whether a row above a table gives its plot, and nothing else."""
        place = self._above.get(table.sheet.name)
        filled = sum(not is_blank(cell) for cell in table.sheet.rows[row])
        return place is not None and place[0] == row and filled <= 2

    def plots_of(self, table: Table) -> list[float | str]:
        """Return the plots of a table, one for each of its lines."""
        return [name for (sheet, _), name in self._names.items() if sheet == table.sheet.name]

    def only_plot(self, table: Table) -> float | str | None:
        """Return the plot of a table that has just one, else None."""
        plots = {
            identifier_key(text_of(name)): name
            for (sheet, _), name in self._names.items()
            if sheet == table.sheet.name
        }
        return next(iter(plots.values())) if len(plots) == 1 else None

    def _read(self, table: Table, columns: Sequence[Column], alone: bool) -> None:
        plots = of_role(columns, "plot") or of_role(columns, "street")
        rows = [r for r in table.rows() if kind_of_row(table, columns, r) in ("tree", "plot")]
        if not plots:
            name = self._name_of_table(table, alone)
            for row in table.rows():
                kind = kind_of_row(table, columns, row)
                if kind == "band":
                    name = identifier(plot_named(self._only_text(table, row)))
                elif kind in ("tree", "plot"):
                    self._put(table, row, name, columns)
            return
        cells = [table.value(row, plots[0].at) for row in rows]
        trees = [
            cell
            for row, cell in zip(rows, cells, strict=True)
            if kind_of_row(table, columns, row) == "tree"
        ]
        blanks = sum(map(is_blank, trees))
        goes_on = bool(trees) and blanks >= _BLOCK_BLANKS * len(trees) and not is_blank(cells[0])
        if goes_on and blanks:
            self.remarks.append(
                f"“{plots[0].heading.text}” is blank on {plural(blanks, 'line')} of "
                f"“{table.sheet.name}”. Each blank counts as the plot above it."
            )
        before: float | str = ""
        for row, cell in zip(rows, cells, strict=True):
            if not is_blank(cell):
                before = identifier(cell)
            self._put(table, row, before if goes_on or not is_blank(cell) else "", columns)

    @staticmethod
    def _only_text(table: Table, row: int) -> str:
        return next(text_of(cell) for cell in table.sheet.rows[row] if not is_blank(cell))

    def _name_of_table(self, table: Table, alone: bool) -> float | str:
        above = plot_above(table)
        if above is not None:
            self._above[table.sheet.name] = above[1]
            return identifier(above[0])
        in_name = plot_in_tab_name(table.sheet.name)
        if in_name or not alone:
            return identifier(in_name or table.sheet.name)
        return 1.0

    def _put(self, table: Table, row: int, name: float | str, columns: Sequence[Column]) -> None:
        place = (table.sheet.name, row)
        self._names[place] = name
        parts = {}
        for role in _PARTS:
            part_columns = of_role(columns, role)
            value = table.value(row, part_columns[0].at) if part_columns else None
            parts[role] = "" if is_blank(value) else text_of(value)
        days = of_role(columns, "date")
        value = table.value(row, days[0].at) if days else None
        if not parts["year"] and isinstance(value, date):
            parts["_day"] = value.isoformat()
        self._parts[place] = parts

    def _add_parts(self) -> None:
        """Add stratum, kind or year to the names where one number is given to several plots."""
        self._add_years_of_days()
        for role in _PARTS:
            by_name: dict[str, set[str]] = defaultdict(set)
            for place, name in self._names.items():
                if self._parts[place].get(role):
                    by_name[identifier_key(text_of(name))].add(self._parts[place][role])
            shared = sum(len(values) > 1 for values in by_name.values())
            if not by_name or shared < max(1, _SHARED * len(by_name)):
                continue
            self.parts_in_names.add(role)
            for place, name in self._names.items():
                part = self._parts[place].get(role, "")
                words = [text_of(name), part] if role == "year" else [part, text_of(name)]
                if part and text_of(name):
                    self._names[place] = " ".join(words)
            label = {"stratum": "parts of the town", "year": "years"}.get(role, "kinds of plots")
            self.remarks.append(
                f"Plot numbers are used again in several {label}, so each plot's name has both."
            )

    def _add_years_of_days(self) -> None:
        spans: dict[str, list[date]] = defaultdict(list)
        for place, parts in self._parts.items():
            if "_day" in parts:
                key = identifier_key(text_of(self._names[place]))
                spans[key].append(date.fromisoformat(parts["_day"]))
        apart = [(max(days) - min(days)).days > _LONG_BETWEEN for days in spans.values()]
        if any(apart):
            for parts in self._parts.values():
                parts["year"] = parts["year"] or parts.get("_day", "")[:4]
