"""The form of one job, drawn from its record: a field for each option, and their values."""

import tkinter as tk
from collections.abc import Callable, Sequence
from pathlib import Path
from tkinter import ttk
from typing import Any

from xlhelpers.doors.typed_values import read_value
from xlhelpers.doors.window.form_fields import Field, make_field, width_of_labels
from xlhelpers.doors.window.looks import WIDE_GAP, add_access_key, underline
from xlhelpers.doors.window.steps import Entry
from xlhelpers.doors.window.suggestions import Raw, suggest
from xlhelpers.jobs.job import Option
from xlhelpers.jobs.option_names import name_by_labels

# more fields than this are on further pages
_ON_A_PAGE = 7
_TYPE_IT = "Type it, or choose it with Browse."
_HOW = {"workbooks": "Add a workbook.", "text": "Type it.", "texts": "Type it."}
_MORE, _BACK = "More options", "Back to the main options"


class FormError(Exception):
    """Something in a form is missing or wrong: the sentence, and the field."""

    def __init__(self, sentence: str, field: Field) -> None:
        """Keep the field, so that the cursor can go there."""
        super().__init__(sentence)
        self.field = field


class Form(ttk.Frame):
    """The form of one entry of the list, on as many pages as it takes."""

    def __init__(self, parent: tk.Misc, entry: Entry, explain: Callable[[str], None]) -> None:
        """Draw the form; `explain` is given the help of the field that has the keys."""
        super().__init__(parent)
        self.entry = entry
        self.columnconfigure(0, minsize=width_of_labels(self))
        self.columnconfigure(1, weight=1)
        options = by_use(entry.form_options)
        self.fields = [make_field(self, row, option) for row, option in enumerate(options)]
        for field in self.fields:
            self._explain_when_used(field, explain)
        self.more = ttk.Button(self, text=_MORE, command=self.switch_more)
        self.page = 0
        if len(self.fields) > _ON_A_PAGE:
            self.more.grid(row=len(options), column=1, sticky="w", pady=WIDE_GAP)
            add_access_key(self.more, "m")
        self._turn_to(0)

    def _explain_when_used(self, field: Field, explain: Callable[[str], None]) -> None:
        text = explain_option(field.option, self.entry)
        for part in field.parts:
            part.bind("<Enter>", lambda _: explain(text), add=True)
        # not for labels: the Tab key would stop at them
        field.keys_go_to.bind("<FocusIn>", lambda _: explain(text), add=True)

    def switch_more(self) -> None:
        """Turn to the next page, from the last one to the first."""
        self._turn_to((self.page + 1) % self._pages)

    @property
    def _pages(self) -> int:
        return -(-len(self.fields) // _ON_A_PAGE)

    def _turn_to(self, page: int) -> None:
        self.page = page
        self.more.configure(text=_BACK if 0 < page == self._pages - 1 else _MORE)
        underline(self.more, "m")
        for at, field in enumerate(self.fields):
            field.show(at // _ON_A_PAGE == page)

    def suggest(self, books: Sequence[Path], folder: Path) -> None:
        """Fill in what can be guessed, where nobody typed anything else."""
        for field in self.fields:
            field.folder = folder
            field.suggest(suggest(self.entry, field.option, books, folder))

    def go_to(self, field: Field) -> None:
        """Give the keys to a field, on whichever page it is."""
        self._turn_to(self.fields.index(field) // _ON_A_PAGE)
        field.keys_go_to.focus_set()

    def read(self) -> dict[str, Any]:
        """Return the value of every option of the job.

        Raises
        ------
        FormError
            Something is missing, or is not what the option takes.
        """
        values = {field.option.name: self._read(field) for field in self.fields}
        return values | dict(self.entry.step.fixed)

    def _read(self, field: Field) -> Any:
        option, raw = field.option, field.read()
        try:
            return to_value(option, raw)
        except ValueError as error:
            raise FormError(str(error), field) from error


def by_use(options: Sequence[Option]) -> list[Option]:
    """Return options in the order of a form: what it reads and writes comes first."""
    first = [o for o in options if o.required or o.positional or o.name == "out"]
    return first + [option for option in options if option not in first]


def explain_option(option: Option, entry: Entry) -> str:
    """Return the help of a field as a sentence."""
    text = name_by_labels(option.help, entry.job.options if entry.job else ())
    also = " Put a semicolon between several." if option.kind == "texts" else ""
    if text.startswith(option.label.lower()):
        return f"{text[0].upper()}{text[1:]}.{also}"
    return f"{option.label}: {text}.{also}"


def to_value(option: Option, raw: Raw) -> Any:
    """Return the value of an option from what is in its field.

    Raises
    ------
    ValueError
        With the sentence for the person: it is missing, or not what the option takes.
    """
    name = f"“{option.label}”"
    if isinstance(raw, bool):
        return raw
    texts = [text.strip() for text in (raw.split(";") if isinstance(raw, str) else raw)]
    texts = list(filter(None, texts)) if option.kind in ("texts", "workbooks") else [str(raw)]
    if option.required and not any(texts):
        raise ValueError(f"{name} is empty. {_HOW.get(option.kind, _TYPE_IT)}")
    if option.kind in ("texts", "workbooks"):
        return [read_value(option, text, name) for text in texts]
    if not texts[0]:
        default = option.default
        return read_value(option, default, name) if isinstance(default, str) else default
    return read_value(option, texts[0], name)
