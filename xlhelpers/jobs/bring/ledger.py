"""What became of each filled cell of a foreign workbook: read, put into a note, or left."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from xlhelpers.jobs.bring.foreign import text_of
from xlhelpers.jobs.bring.tables import Table

Fate = Literal["understood", "note", "left", "heading"]
Place = tuple[str, int, int]


class Entry(NamedTuple):
    """One cell: what became of it, its heading and text, and why."""

    fate: Fate
    heading: str
    text: str
    why: str


@dataclass
class Ledger:
    """Every filled cell once, by sheet, row and column (from 0)."""

    entries: dict[Place, Entry] = field(default_factory=dict)

    def put(self, table: Table, row: int, column: int, fate: Fate, why: str = "") -> None:
        """Enter a cell; a cell that was entered before keeps the lesser fate of the two."""
        place = (table.sheet.name, row, column)
        known = self.entries.get(place)
        if known is not None and known.fate != "understood":
            return
        heading = table.headings[column].text if row >= table.first else ""
        text = text_of(table.sheet.rows[row][column])
        self.entries[place] = Entry(fate, heading, text, why)

    def count(self, fate: Fate) -> int:
        """Return how many cells have this fate."""
        return sum(entry.fate == fate for entry in self.entries.values())

    def by_column(self, sheets: set[str], column: int) -> Counter[Fate]:
        """Return how many cells of a column have each fate, headings left out."""
        return Counter(
            entry.fate
            for (sheet, _, at), entry in self.entries.items()
            if sheet in sheets and at == column and entry.fate != "heading"
        )
