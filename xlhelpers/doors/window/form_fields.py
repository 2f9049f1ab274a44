"""One field of a form for each option of a job, by the kind of the option."""

import tkinter as tk
from collections.abc import Callable
from pathlib import Path
from tkinter import filedialog, ttk

from xlhelpers.doors.typed_values import is_path
from xlhelpers.doors.window.looks import GAP, letters_wide
from xlhelpers.doors.window.suggestions import Raw
from xlhelpers.jobs.job import Option

NO_CHOICE = "(default)"
_ROWS = 3
_WIDE = 46


class Field:
    """A field: its label, its widgets, and what is typed or chosen in it.

    A suggestion is put in as long as nobody changed the one before.
    """

    def __init__(self, parent: ttk.Frame, row: int, option: Option) -> None:
        """Make the widgets in one row of a grid."""
        self.option = option
        self.folder = Path()  # where a dialog begins
        self._suggested: Raw | None = None
        self.label = ttk.Label(parent, text=option.label)
        self.label.grid(row=row, column=0, sticky="nw", pady=GAP, padx=(0, GAP))
        self.parts: list[tk.Widget] = [self.label]
        self.build(parent, row)

    def build(self, parent: ttk.Frame, row: int) -> None:
        """Make the widgets beside the label; the first one takes the keys."""
        raise NotImplementedError

    def read(self) -> Raw:
        """Return what is typed or chosen."""
        raise NotImplementedError

    def put(self, raw: Raw) -> None:
        """Show a value."""
        raise NotImplementedError

    @property
    def keys_go_to(self) -> tk.Widget:
        """Return the widget that takes the keys."""
        return self.parts[1]

    def suggest(self, raw: Raw) -> None:
        """Show a suggestion, unless somebody typed something else."""
        if self._suggested is None or self.read() == self._suggested:
            self.put(raw)
            self._suggested = self.read()

    def show(self, visible: bool) -> None:
        """Show or hide the whole row."""
        for part in self.parts:
            part.grid() if visible else part.grid_remove()


class TextField(Field):
    """A text, a number or a path; paths can be chosen in a dialog."""

    def build(self, parent: ttk.Frame, row: int) -> None:
        """Make the entry, and the button for a path."""
        is_wide = is_path(self.option) or self.option.kind == "texts"
        entry = self.entry = ttk.Entry(parent, width=_WIDE if is_wide else _WIDE // 3)
        entry.grid(row=row, column=1, sticky="ew" if is_wide else "w", pady=GAP)
        self.parts.append(entry)
        if is_path(self.option):
            button = ttk.Button(parent, text="Browse …", command=self.browse)
            button.grid(row=row, column=2, sticky="ew", padx=(GAP, 0))
            self.parts.append(button)

    def read(self) -> Raw:
        """Return what is typed."""
        return self.entry.get().strip()

    def put(self, raw: Raw) -> None:
        """Show a text; of a long path its end."""
        self.entry.delete(0, "end")
        self.entry.insert(0, str(raw))
        self.entry.xview_moveto(1)

    def browse(self) -> None:
        """Ask for a file or folder."""
        chosen = ask_for_path(self.entry, self.option, str(self.read()), self.folder)
        if chosen:
            self.put(str(Path(chosen)))
        self.entry.focus_set()


class BooksField(Field):
    """Several files, one a line."""

    def build(self, parent: ttk.Frame, row: int) -> None:
        """Make the list and its two buttons."""
        self.list = tk.Listbox(parent, height=_ROWS, selectmode="extended", background="white")
        self.list.configure(highlightthickness=1, relief="flat", activestyle="none")
        self.list.grid(row=row, column=1, sticky="ew", pady=GAP)
        buttons = ttk.Frame(parent)
        buttons.grid(row=row, column=2, sticky="nwe", padx=(GAP, 0), pady=GAP)
        ttk.Button(buttons, text="Add …", command=self.add).pack(fill="x")
        ttk.Button(buttons, text="Remove", command=self.remove).pack(fill="x", pady=(GAP, 0))
        self.list.bind("<Delete>", lambda _: self.remove())
        self.parts += [self.list, buttons]

    def read(self) -> Raw:
        """Return the files."""
        return tuple(self.list.get(0, "end"))

    def put(self, raw: Raw) -> None:
        """Show files."""
        self.list.delete(0, "end")
        self.list.insert("end", *(raw if isinstance(raw, tuple) else ()))
        self.list.xview_moveto(1)

    def add(self) -> None:
        """Ask for more files."""
        chosen = filedialog.askopenfilenames(
            parent=self.list, initialdir=str(self.folder), filetypes=_file_types(self.option)
        )
        have = self.read()
        new = [str(Path(path)) for path in chosen or ()]
        assert isinstance(have, tuple)
        self.put((*have, *(path for path in new if path not in have)))

    def remove(self) -> None:
        """Take the marked files off the list, or the last one."""
        rows = range(self.list.size())
        marked = [row for row in rows if self.list.selection_includes(row)] or list(rows[-1:])
        for row in reversed(marked):
            self.list.delete(row)


class ChoiceField(Field):
    """One of a few words; a choice without a default may stay as it is."""

    def build(self, parent: ttk.Frame, row: int) -> None:
        """Make the list to choose from."""
        option = self.option
        words = option.choices if option.default else (NO_CHOICE, *option.choices)
        self.box = ttk.Combobox(parent, values=words, state="readonly", width=_WIDE // 3)
        self.box.grid(row=row, column=1, sticky="w", pady=GAP)
        self.parts.append(self.box)

    def read(self) -> Raw:
        """Return the word; "" for the default."""
        word = self.box.get()
        return "" if word == NO_CHOICE else word

    def put(self, raw: Raw) -> None:
        """Show a word."""
        self.box.set(str(raw) or NO_CHOICE)


class FlagField(Field):
    """Something to mark or not; its label is part of the box."""

    def build(self, parent: ttk.Frame, row: int) -> None:
        """Make the box."""
        self.label.configure(text="")
        self.mark = tk.BooleanVar(parent)
        box = ttk.Checkbutton(parent, text=self.option.label, variable=self.mark)
        box.grid(row=row, column=1, columnspan=2, sticky="w", pady=GAP)
        self.parts.append(box)

    def read(self) -> Raw:
        """Return whether it is marked."""
        return self.mark.get()

    def put(self, raw: Raw) -> None:
        """Mark it or not."""
        self.mark.set(bool(raw))


_KINDS: dict[str, type[Field]] = {
    "workbooks": BooksField,
    "choice": ChoiceField,
    "flag": FlagField,
}


def make_field(parent: ttk.Frame, row: int, option: Option) -> Field:
    """Return the field of an option."""
    return _KINDS.get(option.kind, TextField)(parent, row, option)


def ask_for_path(parent: tk.Misc, option: Option, typed: str, folder: Path) -> str:
    """Ask for the path of an option in a dialog; "" if nothing was chosen.

    It begins at what is typed, or else in `folder`.
    """
    now = Path(typed) if typed else None
    begin = str(now.parent if now is not None else folder)
    if option.kind == "folder":
        return filedialog.askdirectory(parent=parent, initialdir=typed or begin)
    if option.kind in ("workbook", "file"):
        types = _file_types(option)
        return filedialog.askopenfilename(parent=parent, initialdir=begin, filetypes=types)
    ending = next(iter(option.endings), "")
    # the job itself refuses to replace what must stay, or keeps a backup of it
    ask: Callable[..., str] = filedialog.asksaveasfilename
    return ask(
        parent=parent,
        initialdir=begin,
        initialfile=now.name if now is not None else "",
        defaultextension=ending,
        confirmoverwrite=False,
        filetypes=_file_types(option),
    )


def _file_types(option: Option) -> list[tuple[str, str]]:
    everything = ("All files", "*")
    if not option.endings:
        return [everything]
    return [
        (
            "Workbooks" if ".xlsx" in option.endings else "Files",
            " ".join(f"*{ending}" for ending in option.endings),
        ),
        everything,
    ]


def width_of_labels(root: tk.Misc) -> int:
    """Return how wide the column of labels is, the same in every form."""
    return letters_wide(root, 20)
