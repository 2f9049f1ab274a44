"""What is kept while one sheet is edited: the cells that changed, and those that were refused."""

from __future__ import annotations

from collections import defaultdict

from xlhelpers.package.cell_set import CellSet
from xlhelpers.package.cell_text import shared_strings, text_of, unescape
from xlhelpers.package.cell_writes import Refusal, Stored
from xlhelpers.package.container import Package
from xlhelpers.package.untouchable import Untouchable
from xlhelpers.package.xml_text import Element

# half of the last of fifteen digits, and a little
ROUNDED = 6e-15


class EditState:
    """One sheet while it is edited; cells come by their rows, ascending."""

    def __init__(self, package: Package, rules: Untouchable) -> None:
        """Start without a change."""
        self.rows_of: defaultdict[int, list[int]] = defaultdict(list)
        self.refusals: list[Refusal] = []
        self.lost_formulas: set[tuple[int, int]] = set()
        self.open_ground = rules.open_ground
        self._package = package
        self._rules = rules
        self._strings: list[str] | None = None

    @property
    def changed(self) -> CellSet:
        """The cells that changed."""
        return CellSet(dict(self.rows_of))

    def shared(self, index: int) -> str | None:
        """A shared string; None where the list is shorter."""
        if self._strings is None:
            self._strings = shared_strings(self._package)
        return self._strings[index] if 0 <= index < len(self._strings) else None

    def allowed(self, row: int, column: int, *, has_formula: bool, has_picture: bool) -> bool:
        """Whether a cell may be written to; a refusal is noted."""
        reason = self._rules.reason(row, column, has_formula=has_formula, has_picture=has_picture)
        if reason is not None:
            self.refusals.append(Refusal(row, column, reason))
        return reason is None

    def note(self, row: int, column: int, *, had_formula: bool) -> None:
        """Note a cell that changed."""
        self.rows_of[column].append(row)
        if had_formula:
            self.lost_formulas.add((row, column))

    @staticmethod
    def same(old: object, new: Stored) -> bool:
        """Whether a cell holds the new value already; True and the number 1 are different.

        A number may have been rounded to fifteen digits, as some programs keep it.
        """
        if isinstance(old, float) and isinstance(new, float):
            return abs(old - new) <= ROUNDED * abs(new)
        return type(old) is type(new) and old == new


def stored_value(state: EditState, kind: str, text: str | None, inline: Element | None) -> object:
    """Value that a cell of some type holds now; the text itself where it makes no sense."""
    if kind == "inlineStr":
        return (text_of(inline) or None) if inline is not None else None
    if not text:
        return None
    try:
        if kind == "s":
            return state.shared(int(text)) or None
        if kind == "n":
            return float(text)
    except ValueError:
        return ("unreadable", text)
    if kind == "b":
        return text.strip() in ("1", "true")
    return unescape(text) if kind == "str" else (kind, text)
