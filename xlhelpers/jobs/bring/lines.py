"""The rows of foreign tables made into lines of the field sheet, one a set-up, and their plots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.bring.columns import READINGS, Column, of_role
from xlhelpers.jobs.bring.foreign import is_blank, text_of
from xlhelpers.jobs.bring.headings import fold_text
from xlhelpers.jobs.bring.ledger import Ledger
from xlhelpers.jobs.bring.plots import PlotNames
from xlhelpers.jobs.bring.questions import Kind
from xlhelpers.jobs.bring.row_kinds import kind_of_row
from xlhelpers.jobs.bring.row_reader import FACTS, HEIGHTS, Fact, RowDraft, RowReader
from xlhelpers.jobs.bring.tables import Table
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.survey.typed.dates import understand_date
from xlhelpers.survey.typed.words import identifier_key, number_as_text

RECORDED_HEIGHT_FIELD = "recorded_height"
"""The field for a total height that the sheet already has."""
RECORDED_HEIGHTS = "Recorded heights"
"""The instrument of heights whose instrument nobody names."""
NOT_NAMED, UNNAMED_CREW = "Not named", "Crew"
_SHOWS_HEIGHTS = (
    "laser",
    "sonic",
    "ultra",
    "hypso",
    "pole",
    "rod",
    "vara",
    "perche",
    "latte",
    "estimate",
    "ocular",
    "schätz",
    "geschätzt",
    "estim",
)
_NO_TREES = ("no trees", "sin arboles", "aucun arbre", "pas d arbre", "keine baume", "no tree")
_LEFT_BECAUSE = {
    "total": "it is a row of totals",
    "heading": "the headings are repeated",
    "numbers": "the line has numbers of plot and tree, and nothing else",
}
_IN_NOTE_ONLY = ("year", "plot_part")
NOT_ASKED = "NOT ASKED"
_WIDTHS = ("width_widest", "width_across", "width", "radius")
# columns that ask for what the field sheet always needs
_ASKED_BY = {
    "diameter": ("diameter", "girth", "stem"),
    "width_widest": _WIDTHS,
    "width_across": _WIDTHS,
    "base_reading": ("base_reading", "base_height"),
}
_READING_FIELDS = (*READINGS, "distance", "slope_reading", "mark_above_foot")
_BESIDE_READINGS = ("foot_reading", "slope_reading", "mark_above_foot")


@dataclass
class PlotDraft:
    """One plot of the new workbook: its name, what its lines say of it, its notes."""

    name: float | str
    facts: dict[str, Counter[Any]] = field(default_factory=dict)
    ways: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    headings: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    trees: int = 0
    status: str = "measured"

    def fact(self, name: str) -> Any:
        """Return what most of its lines say, None where none says anything."""
        counts = self.facts.get(name)
        return counts.most_common(1)[0][0] if counts else None

    @property
    def way(self) -> tuple[str, str, str]:
        """Return instrument, scale and kind of distance of most of its lines."""
        return self.ways.most_common(1)[0][0] if self.ways else ("", "", "")


@dataclass
class Brought:
    """What becomes a workbook: lines, plots, what became of each cell, and counts of rows."""

    units: Units
    lines: list[dict[str, Any]] = field(default_factory=list)
    plots: dict[str, PlotDraft] = field(default_factory=dict)
    ledger: Ledger = field(default_factory=Ledger)
    rows: Counter[str] = field(default_factory=Counter)

    @property
    def lines_in(self) -> int:
        """Return how many rows have a tree."""
        return self.rows.get("tree", 0)

    @property
    def other_rows(self) -> int:
        """Return how many rows have something else: totals, texts, bands, repeated headings."""
        return self.rows.total() - self.lines_in - self.rows.get("blank", 0)


def bring_lines(kinds: Sequence[Kind], names: PlotNames, units: Units) -> Brought:
    """Make lines and plots of all tables.

    Parameters
    ----------
    kinds : sequence of Kind
        The tables by their headings; units of columns are filled in.
    names : PlotNames
        The plot of each row.
    units : {"metric", "us"}
        Units of the new workbook.
    """
    brought = Brought(units)
    for kind in kinds:
        for table in kind.tables:
            _bring_table(brought, kind, table, names)
    _settle_plots(brought, tuple(r for r in _IN_NOTE_ONLY if r not in names.parts_in_names))
    return brought


def _bring_table(brought: Brought, kind: Kind, table: Table, names: PlotNames) -> None:
    scale = kind.knowledge.scale.word if kind.knowledge.scale else ""
    reader = RowReader(table, kind.columns, brought.units, scale, brought.ledger)
    writer = _Writer(brought, kind, table, reader, names)
    for row in table.rows():
        row_kind = kind_of_row(table, kind.columns, row)
        brought.rows[row_kind] += 1
        if row_kind == "tree":
            writer.write_tree(row)
        elif row_kind == "plot":
            writer.write_plot(row)
        elif row_kind == "text":
            writer.write_text(row, "it is a text below the table")
        elif row_kind == "band":
            for column in _filled_columns(table, row):
                brought.ledger.put(table, row, column, "understood")
        elif row_kind != "blank":
            for column in _filled_columns(table, row):
                brought.ledger.put(table, row, column, "left", _LEFT_BECAUSE[row_kind])
    writer.take_facts_above()
    for row in range(table.heading_rows.start):
        if names.above(table, row):
            for column in _filled_columns(table, row):
                brought.ledger.put(table, row, column, "understood")
        else:
            writer.write_text(row, "it is above the table")
    for row in table.heading_rows:
        for column in _filled_columns(table, row):
            brought.ledger.put(table, row, column, "heading")


def _filled_columns(table: Table, row: int) -> Iterator[int]:
    return (at for at, cell in enumerate(table.sheet.rows[row]) if not is_blank(cell))


class _Writer:
    """Writes the lines of one table."""

    def __init__(
        self, brought: Brought, kind: Kind, table: Table, reader: RowReader, names: PlotNames
    ) -> None:
        self.brought, self.kind, self.table = brought, kind, table
        self.reader, self.names = reader, names
        self.numbers_trees = not of_role(kind.columns, "tree")
        self.not_asked = fields_not_asked(kind)
        self.said_above = {fact.role: fact for fact in names.facts_above(table)}

    def _plot(self, row: int) -> PlotDraft:
        name = self.names.name(self.table, row)
        return self.brought.plots.setdefault(identifier_key(text_of(name)), PlotDraft(name))

    def write_tree(self, row: int) -> None:
        """Write the lines of one row."""
        draft = self.reader.read(row)
        plot = self._plot(row)
        plot.trees += 1
        if self.numbers_trees:
            draft.main["tree"] = float(plot.trees)
        for role, fact in draft.facts.items():
            if role != "instrument":
                plot.facts.setdefault(role, Counter())[fact.value] += 1
                plot.headings[role] = fact.column.heading.text
        lines = self._lines(draft)
        self._close_what_nobody_asked(lines)
        for line in lines:
            way = (line.get("instrument", ""), line.get("scale", ""), line["distance_kind"])
            plot.ways[way] += 1
        start = len(self.brought.lines)
        head = {"plot": plot.name, "_draft": draft, "_reader": self.reader, "_plot": plot}
        for number, line in enumerate(lines):
            shared = draft.main if number == 0 else _tree_and_species(draft.main)
            full = {**shared, **line, "plot": plot.name}
            if number:
                full["setup"] = float(number + 1)
            self.brought.lines.append(full)
        self.brought.lines[start] |= head

    def _close_what_nobody_asked(self, lines: list[dict[str, Any]]) -> None:
        """Say NOT ASKED where the sheet has no column at all for something."""
        for name in self.not_asked:
            if name != "base_reading":
                lines[0].setdefault(name, NOT_ASKED)
        asked = len(of_role(self.kind.columns, *_ASKED_BY["base_reading"]))
        for line in lines[asked:]:
            if "tip_reading" in line:
                line.setdefault("base_reading", NOT_ASKED)

    def _lines(self, draft: RowDraft) -> list[dict[str, Any]]:
        """Return what each set-up of a row has; at least one."""
        sighted = {n for n, s in draft.setups.items() if _has_reading(s)}
        lines = []
        if sighted:
            for number in sorted(sighted):
                lines.append(self._setup_with_readings(draft, number))
        for number in sorted(draft.setups):
            beside = bool(sighted)
            if any(role in draft.setups[number] for role in HEIGHTS):
                lines += self._heights(draft, number, lines, beside)
        if not lines:
            lines = [self._take(draft, 1, _READING_FIELDS) | self._way(draft)]
        for place, column in draft.sources.items():
            if place not in draft.used:
                self.reader.put_into_note(draft, column, "no set-up takes it")
        return lines

    def _take(self, draft: RowDraft, number: int, roles: Sequence[str]) -> dict[str, Any]:
        """Return what a set-up has of some roles."""
        values = draft.setups.get(number, {})
        draft.used |= {(number, role) for role in roles if role in values}
        return {role: values[role] for role in roles if role in values}

    def _setup_with_readings(self, draft: RowDraft, number: int) -> dict[str, Any]:
        """Return a set-up with readings; what has one column serves all set-ups of the row."""
        line = self._take(draft, number, _READING_FIELDS)
        single = [
            role
            for role in ("distance", *_BESIDE_READINGS)
            if role not in line and len(of_role(self.kind.columns, role)) == 1
        ]
        line |= self._take(draft, 1, single)
        needs_eye = self.kind.knowledge.eye_height is not None or "eye_height" in draft.facts
        if needs_eye and "foot_reading" not in line and "missing_because" not in draft.main:
            line["missing_because"] = EYE_HEIGHT_WORDS
        return line | self._way(draft)

    def take_facts_above(self) -> None:
        """Give the plots of the table what is said above it, where no column says it."""
        plots = {identifier_key(text_of(name)) for name in self.names.plots_of(self.table)}
        for role, fact in self.said_above.items():
            value: Any = text_of(fact.value)
            if role == "date":
                value = fact.value if isinstance(fact.value, date) else understand_date(value)[0]
            if value is None or of_role(self.kind.columns, role):
                continue
            for plot in plots:
                if role != "instrument" and plot in self.brought.plots:
                    self.brought.plots[plot].facts[role] = Counter({value: 1})
            for column in fact.columns:
                self.brought.ledger.put(self.table, fact.row, column, "understood")

    def _way(self, draft: RowDraft) -> dict[str, Any]:
        known = self.kind.knowledge
        fact = draft.facts.get("instrument")
        above = self.said_above.get("instrument")
        return {
            "instrument": fact.value if fact else text_of(above.value) if above else NOT_NAMED,
            "scale": draft.main.get("scale") or (known.scale.word if known.scale else ""),
            "distance_kind": draft.main.get("distance_kind")
            or (known.distance_kind.word if known.distance_kind else ""),
        }

    def _heights(
        self, draft: RowDraft, number: int, lines: list[dict[str, Any]], beside: bool
    ) -> list[dict[str, Any]]:
        """Return a set-up of heights; beside readings they are recorded values of their line."""
        values = draft.setups[number]
        column = draft.sources.get((number, "height"))
        words = column.instrument if column else ""
        own = _shows_heights(words)
        if beside and not own:
            self._record(draft, number, lines[0])
            return []
        line: dict[str, Any] = {}
        for role, name in zip(HEIGHTS, ("tip_reading", "base_reading", "top_reading"), strict=True):
            if role in values and not (beside and role != "height"):
                line[name] = values[role]
                draft.used.add((number, role))
        if beside:
            self._record(draft, number, lines[0], skip="height")
        else:
            line |= self._take(draft, number, ("distance",))
        line["instrument"] = self._instrument_of_heights(draft, words)
        line |= {"scale": HEIGHT_SCALE, "distance_kind": "none"}
        return [line]

    def _instrument_of_heights(self, draft: RowDraft, words: str) -> str:
        several = len(of_role(self.kind.columns, "height")) > 1
        if _shows_heights(words) or (several and sum(c.isalpha() for c in words) > 3):
            return words
        fact = draft.facts.get("instrument")
        if fact is None:
            return RECORDED_HEIGHTS
        readings = of_role(self.kind.columns, "tip_reading")
        if readings and not _shows_heights(str(fact.value)):
            why = "the line has a height, but no readings"
            self.reader.put_into_note(draft, fact.column, why)
            return RECORDED_HEIGHTS
        return str(fact.value)

    def _record(self, draft: RowDraft, number: int, line: dict[str, Any], skip: str = "") -> None:
        """Put heights that the sheet worked out beside the readings of their tree."""
        values = draft.setups[number]
        for role in HEIGHTS:
            if role not in values or role == skip:
                continue
            column = draft.sources[number, role]
            draft.used.add((number, role))
            if role == "height":
                put_recorded_height(self.reader, draft, column, values[role], line)
            elif role == "base_height" and not line.keys() & {"base_reading", "base_by_pole"}:
                line["base_by_pole"] = values[role]
            else:
                self.reader.put_into_note(draft, column, "there are readings for it")

    def write_plot(self, row: int) -> None:
        """Enter a row that names a plot, but no tree."""
        plot = self._plot(row)
        for at in _filled_columns(self.table, row):
            if plot.name == "":
                why = "the row has neither a plot nor a tree"
                self.brought.ledger.put(self.table, row, at, "left", why)
                continue
            column = self.kind.columns[at]
            text = text_of(self.table.sheet.rows[row][at])
            if column.role in ("plot", "street"):
                self.brought.ledger.put(self.table, row, at, "understood")
                continue
            if any(words in fold_text(text) for words in _NO_TREES):
                plot.status = "no trees" if not plot.trees else plot.status
            plot.notes.append(f"{column.heading.text}: {text}".removeprefix(": "))
            self.brought.ledger.put(self.table, row, at, "note", "the row has no tree")

    def write_text(self, row: int, why: str) -> None:
        """Put a text above or below the table into the note of its plot, if it has just one."""
        only = self.names.only_plot(self.table)
        for at in _filled_columns(self.table, row):
            if (self.table.sheet.name, row, at) in self.brought.ledger.entries:
                continue  # it was understood
            text = text_of(self.table.sheet.rows[row][at])
            if only is None or only == "":
                self.brought.ledger.put(self.table, row, at, "left", why)
                continue
            key = identifier_key(text_of(only))
            plot = self.brought.plots.setdefault(key, PlotDraft(only))
            plot.notes.append(text)
            self.brought.ledger.put(self.table, row, at, "note", f"{why}; see the plot's note")


def fields_not_asked(kind: Kind) -> tuple[str, ...]:
    """Return the fields of the field sheet that no column of a table is about."""
    return tuple(
        field
        for field, roles in _ASKED_BY.items()
        if not any(column.plain_role in roles for column in kind.columns)
    )


def put_recorded_height(
    reader: RowReader, draft: RowDraft, column: Column, value: Any, line: dict[str, Any]
) -> None:
    """Keep a total height that the sheet has worked out: in its field, or else in the note."""
    if RECORDED_HEIGHT_FIELD in FIELD_SHEET.index and RECORDED_HEIGHT_FIELD not in line:
        line[RECORDED_HEIGHT_FIELD] = value
        return
    reader.put_into_note(draft, column, "it is a recorded total height beside readings")


def _has_reading(setup: dict[str, Any]) -> bool:
    return any(role in setup for role in ("tip_reading", "base_reading", "top_reading"))


def _shows_heights(words: str) -> bool:
    return any(part in words.casefold() for part in _SHOWS_HEIGHTS)


def _tree_and_species(main: dict[str, Any]) -> dict[str, Any]:
    """Return what a further set-up repeats of its tree."""
    return {name: main[name] for name in ("tree", "species") if name in main}


def _settle_plots(brought: Brought, in_note: tuple[str, ...]) -> None:
    """Leave on the lines what their plot does not say; what differs from the plot is quoted."""
    for line in brought.lines:
        draft, reader = line.pop("_draft", None), line.pop("_reader", None)
        plot = line.pop("_plot", None)
        if draft is not None:
            for role in FACTS:
                if role in draft.facts:
                    fact = draft.facts[role]
                    if role != "instrument" and plot.name == "":
                        reader.put_into_note(draft, fact.column, "the line has no plot")
                    elif role != "instrument" and role not in _IN_NOTE_ONLY:
                        _compare_fact(draft, reader, fact, plot.fact(role))
                    elif role in in_note:
                        _note_fact(draft, reader, fact, plot.fact(role))
            note = "; ".join(draft.notes)
            if note:
                line["note"] = note
    _shorten_ways(brought)
    for plot in brought.plots.values():
        for role in in_note:
            value = plot.fact(role)
            if value is not None:
                plot.notes.append(f"{plot.headings[role]}: {_as_text(value)}")


def _compare_fact(draft: RowDraft, reader: RowReader, fact: Fact, of_plot: Any) -> None:
    if fact.value != of_plot:
        reader.put_into_note(draft, fact.column, "the plot says something else")


def _note_fact(draft: RowDraft, reader: RowReader, fact: Fact, of_plot: Any) -> None:
    _compare_fact(draft, reader, fact, of_plot)
    reader.count_as_note(draft, fact.column, "it is in the plot's note")


def _shorten_ways(brought: Brought) -> None:
    """Blank instrument, scale and kind of distance of a line where they are its plot's."""
    for line in brought.lines:
        plot = brought.plots[identifier_key(text_of(line["plot"]))]
        if plot.name == "":
            continue
        for name, usual in zip(("instrument", "scale", "distance_kind"), plot.way, strict=True):
            if line.get(name) == usual:
                line.pop(name, None)
            elif name == "distance_kind" and line.get("scale") == HEIGHT_SCALE:
                line.pop(name, None)  # a display needs none


def _as_text(value: Any) -> str:
    if isinstance(value, date):
        return value.isoformat()
    return number_as_text(value) if isinstance(value, float) else str(value)
