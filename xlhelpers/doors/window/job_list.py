"""The list of the jobs at the left: the order of the work, then what is needed now and then."""

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import ttk

from xlhelpers.doors.window.looks import letters_wide
from xlhelpers.doors.window.steps import Entry

_GAP = "gap"
# a blank that is as wide as a digit
_NO_NUMBER = "\u2007"


class JobList(ttk.Treeview):
    """The entries, one a row; the arrow keys and a click choose one, Enter goes to its form."""

    def __init__(
        self,
        parent: tk.Misc,
        entries: Sequence[Entry],
        choose: Callable[[Entry], None],
        enter: Callable[[], None],
    ) -> None:
        """Fill the list; `choose` is given the chosen entry, `enter` is called by Enter."""
        super().__init__(parent, show="tree", selectmode="browse", height=len(entries) + 1)
        self._entries = {entry.key: entry for entry in entries}
        self._choose = choose
        for entry in entries:
            if not entry.number and not self.exists(_GAP):
                self.insert("", "end", _GAP)
            number = str(entry.number or _NO_NUMBER)
            self.insert("", "end", entry.key, text=f"{number}  {entry.label}")
        longest = max(len(entry.label) for entry in entries)
        self.column("#0", width=letters_wide(self, longest + 5))
        self.bind("<<TreeviewSelect>>", lambda _: self._choose_entry())
        self.bind("<Return>", lambda _: enter())
        self.bind("<Down>", lambda _: self._move(self.next))
        self.bind("<Up>", lambda _: self._move(self.prev))

    def choose(self, key: str) -> None:
        """Choose an entry by its key."""
        self.selection_set(key)
        self.focus(key)
        self.see(key)

    def _choose_entry(self) -> None:
        entry = self._entries.get(next(iter(self.selection()), ""))
        if entry is not None:
            self._choose(entry)

    def _move(self, step: Callable[[str], str]) -> str:
        """Go on by one row, past the gap."""
        key = step(next(iter(self.selection()), ""))
        key = step(key) if key == _GAP else key
        if key:
            self.choose(key)
        return "break"
