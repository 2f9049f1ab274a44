"""One row of a foreign table: its cells read by the roles of their columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.bring.columns import INCHES, READINGS, Column
from xlhelpers.jobs.bring.foreign import Value, is_blank, text_of
from xlhelpers.jobs.bring.ledger import Ledger
from xlhelpers.jobs.bring.odd_cells import (
    CellRead,
    NumberKind,
    condition_in,
    read_condition,
    read_number_cell,
    read_stem_cell,
)
from xlhelpers.jobs.bring.tables import Table
from xlhelpers.jobs.bring.vocabulary import BY_NAME, KEEP
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.sheet.references import column_letters
from xlhelpers.survey.typed.dates import understand_date
from xlhelpers.survey.typed.words import choose, number_as_text

FACTS = ("date", "crew", "stratum", "instrument", "year", "plot_part", "eye_height")
"""What is said once for a plot; a line that differs says it itself."""
HEIGHTS = ("height", "base_height", "top_height")
_DIRECTIONS = ("n", "e", "s", "w")
Setup = dict[str, Any]


@dataclass
class Fact:
    """What a cell says of its plot."""

    value: Any
    column: Column


@dataclass
class RowDraft:
    """What one row says: of its tree, of each set-up by number, of its plot, and its notes.

    `sources` are the columns that a value of a set-up came from, by number and role; `used` those
    that are on a line.
    """

    row: int
    main: dict[str, Any] = field(default_factory=dict)
    setups: dict[int, Setup] = field(default_factory=dict)
    sources: dict[tuple[int, str], Column] = field(default_factory=dict)
    used: set[tuple[int, str]] = field(default_factory=set)
    facts: dict[str, Fact] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    stems: list[float] = field(default_factory=list)
    widths: list[tuple[float, Column]] = field(default_factory=list)
    radii: dict[str, tuple[float, Column]] = field(default_factory=dict)


class RowReader:
    """Reads the rows of one table; what becomes of each cell is entered in the ledger."""

    def __init__(
        self, table: Table, columns: Sequence[Column], units: Units, scale: str, ledger: Ledger
    ) -> None:
        """Use the columns as decided, their units filled in."""
        self.table, self.units = table, units
        # a common name is needed only where the species is blank
        self.columns = sorted(columns, key=lambda column: column.role != "species")
        self.scale, self.ledger = scale, ledger
        conditions = [c for c in columns if c.role == "condition"]
        texts = {text_of(cell).casefold() for c in conditions for cell in c.cells}
        self.letters = frozenset(text for text in texts if len(text) == 1)
        self.has_species = any(c.role == "species" for c in columns)
        self.has_plot = any(c.role == "plot" for c in columns)

    def read(self, row: int) -> RowDraft:
        """Read every filled cell of a row; no set-ups are made yet."""
        draft = RowDraft(row)
        for column in self.columns:
            value = self.table.value(row, column.at)
            if is_blank(value):
                continue
            if isinstance(value, CellError):
                self._enter(draft, column, "left", f"it shows {value.code}")
                continue
            self._read_cell(draft, column, value)
        self._finish_widths(draft)
        self._finish_stems(draft)
        return draft

    def quote(self, draft: RowDraft, column: Column, why: str) -> None:
        """Put a cell into the note with its heading, unless it is quoted there already."""
        text = text_of(self.table.value(draft.row, column.at))
        name = " ".join(column.heading.text.split()) or f"Column {column_letters(column.at + 1)}"
        line = text if column.role == "note" else f"{name}: {text}"
        if line not in draft.notes:
            draft.notes.append(line)
        self._enter(draft, column, "note", why)

    def _enter(self, draft: RowDraft, column: Column, fate: Any, why: str = "") -> None:
        if (draft.row, column.at) not in self.table.covered:
            self.ledger.put(self.table, draft.row, column.at, fate, why)

    def _read_cell(self, draft: RowDraft, column: Column, value: Value) -> None:
        role = column.plain_role
        if role in (KEEP, "note"):
            self.quote(draft, column, column.because)
        elif role == "eye_height" or BY_NAME[role].quantity:
            self._read_number(draft, column, value)
        elif role in FACTS:
            self._read_fact(draft, column, value)
        elif role == "street" and self.has_plot:
            self.quote(draft, column, "the plot has a column of its own")
        elif role in ("plot", "street"):
            self._enter(draft, column, "understood")
        elif role == "common" and self.has_species and "species" in draft.main:
            self.quote(draft, column, "the species has a column of its own")
        elif role in ("species", "common"):
            self._read_species(draft, column, text_of(value))
        elif role == "condition":
            self._read_condition(draft, column, text_of(value))
        elif role in ("scale", "distance_kind"):
            chosen = choose(text_of(value), role.replace("_", " "))
            self._take_word(draft, column, chosen.word if chosen else None)
        elif role == "setup":
            number = value if isinstance(value, float) else text_of(value)
            whole = str(number).removesuffix(".0")
            self._take_word(draft, column, float(whole) if whole.isdecimal() else None)
        else:
            draft.main[role] = identifier(value)
            self._enter(draft, column, "understood")

    def _take_word(self, draft: RowDraft, column: Column, word: Any) -> None:
        if word is None:
            self.quote(draft, column, "it is not on the list of this column")
        else:
            draft.main[column.role] = word
            self._enter(draft, column, "understood")

    def _read_species(self, draft: RowDraft, column: Column, text: str) -> None:
        condition = condition_in(text)
        if condition:
            draft.main.setdefault("condition", condition)
            self.quote(draft, column, "it is a condition, not a species")
            return
        draft.main["species"] = text
        self._enter(draft, column, "understood")

    def _read_condition(self, draft: RowDraft, column: Column, text: str) -> None:
        condition = read_condition(text, self.letters)
        if condition is None:
            self.quote(draft, column, "it is not one of the words for living and dead")
            return
        if condition:
            draft.main["condition"] = condition
        self._enter(draft, column, "understood")

    def _read_fact(self, draft: RowDraft, column: Column, value: Value) -> None:
        fact_value: Any = text_of(value)
        if column.role == "date":
            day = value if isinstance(value, date) else understand_date(text_of(value))[0]
            if day is None:
                self.quote(draft, column, "it is not a date with one meaning")
                return
            fact_value = day
        draft.facts[column.role] = Fact(fact_value, column)
        self._enter(draft, column, "understood")

    def _read_number(self, draft: RowDraft, column: Column, value: Value) -> None:
        role = column.plain_role
        kind = NumberKind(column.quantity, column.unit, self.units, self.table.sheet.comma)
        reads_stems = role in ("stem", "other_stems")
        read = (read_stem_cell if reads_stems else read_number_cell)(value, kind)
        if column.role == "note" or (read.more and not reads_stems and not _takes_two(role)):
            read = CellRead(why_not="it is two numbers")
        if read.why_not:
            self.quote(draft, column, read.why_not)
            return
        if read.condition:
            draft.main.setdefault("condition", read.condition)
        if read.remarkable:
            why = "it says that the tree is dead" if read.condition else "it is quoted there too"
            self.quote(draft, column, why)
            self._unquote_fate(draft, column)
        self._store(draft, column, read, text_of(value))
        self._enter(draft, column, "understood")

    def _unquote_fate(self, draft: RowDraft, column: Column) -> None:
        """A cell that was read counts as read, though the note quotes it."""
        place = (self.table.sheet.name, draft.row, column.at)
        self.ledger.entries.pop(place, None)

    def _store(self, draft: RowDraft, column: Column, read: CellRead, text: str) -> None:
        role, value = column.plain_role, read.value
        if role in ("stem", "other_stems"):
            draft.stems += read.more
            if isinstance(value, str):
                self.quote(draft, column, "it is the reason for a blank")
            return
        if value is None:
            return
        if role in READINGS and read.scale and read.scale != self.scale:
            value = text  # the unit of the cell says how it was read
        if role == "width" and isinstance(value, float):
            draft.widths += [(number, column) for number in (value, *read.more)]
            return
        if role == "radius" and isinstance(value, float):
            draft.radii[column.heading.direction or "n"] = (value, column)
            return
        if role == "eye_height":
            draft.facts[role] = Fact(value, column)
            return
        if role == "mark_above_foot" and value == 0:
            return  # no mark was needed
        if role in ("diameter", "girth"):
            draft.stems += read.more
            role = "diameter"
        target = draft.main
        if BY_NAME[column.plain_role].repeats:
            target = draft.setups.setdefault(column.number, {})
            draft.sources[column.number, role] = column
        elif role in ("width", "radius"):
            role = "width_widest"
        before = target.get(role) if column.role.endswith(INCHES) else None
        if isinstance(before, float) and isinstance(value, float):
            value += before
        target[role] = value
        if role in ("width_widest", "width_across") and read.more:
            target.setdefault("width_across", read.more[0])

    def _finish_widths(self, draft: RowDraft) -> None:
        """Make widest and across of widths that do not say which they are."""
        radii = draft.radii
        if all(direction in radii for direction in _DIRECTIONS):
            for one, other in (("n", "s"), ("e", "w")):
                draft.widths.append((radii[one][0] + radii[other][0], radii[one][1]))
        elif len(radii) == 1 and not next(iter(radii.values()))[1].heading.direction:
            radius, column = next(iter(radii.values()))
            draft.widths.append((2 * radius, column))
        else:
            for _, column in radii.values():
                self._requote(draft, column, "not all four sides of the crown were measured")
        free = [name for name in ("width_widest", "width_across") if name not in draft.main]
        ordered = sorted(draft.widths, key=lambda item: -item[0])
        for name, (width, _) in zip(free, ordered, strict=False):
            draft.main[name] = width
        for _, column in ordered[len(free) :]:
            self._requote(draft, column, "both widths are known")

    def _requote(self, draft: RowDraft, column: Column, why: str) -> None:
        self._unquote_fate(draft, column)
        self.quote(draft, column, why)

    def count_as_note(self, draft: RowDraft, column: Column, why: str) -> None:
        """Count a cell as one in a note, where the note of its plot has it."""
        self._unquote_fate(draft, column)
        self._enter(draft, column, "note", why)

    def put_into_note(self, draft: RowDraft, column: Column, why: str) -> None:
        """Put a cell that was read into the note after all."""
        self._requote(draft, column, why)

    def _finish_stems(self, draft: RowDraft) -> None:
        """Make the thickest stem the diameter and list the others."""
        stems = list(draft.stems)
        if isinstance(draft.main.get("diameter"), float):
            stems.append(draft.main["diameter"])
        if not draft.stems:
            return
        stems.sort(reverse=True)
        if not isinstance(draft.main.get("diameter"), str):
            draft.main["diameter"] = stems.pop(0)
        if stems:
            draft.main["other_stems"] = " ".join(map(number_as_text, stems))


def _takes_two(role: str) -> bool:
    return role in ("diameter", "girth", "width", "width_widest", "width_across")


def identifier(value: Value) -> float | str:
    """Return a name as it is entered: a plain whole number as a number, "01" as it stands."""
    text = text_of(value)
    plain = text.isdecimal() and (text == "0" or not text.startswith("0")) and len(text) < 12
    return float(text) if plain else text
