"""The one window: the workbook and where its work stands, the jobs, a form, and what was done."""

import contextlib
import queue
import tkinter as tk
from collections.abc import Sequence
from pathlib import Path
from tkinter import filedialog, ttk
from typing import Any

from xlhelpers.doors.window.form import Form, FormError
from xlhelpers.doors.window.job_list import JobList
from xlhelpers.doors.window.looks import (
    CONTROL,
    GAP,
    WIDE_GAP,
    add_access_key,
    follow_scaling,
    letters_wide,
    set_looks,
)
from xlhelpers.doors.window.opening import open_at_name, open_with_system
from xlhelpers.doors.window.result_view import ResultView
from xlhelpers.doors.window.settings import last_folder, remember_folder
from xlhelpers.doors.window.steps import Entry, list_entries
from xlhelpers.doors.window.worker import Worker
from xlhelpers.fields.workbook import RESULT_TABS, tab_name
from xlhelpers.jobs.option_names import name_by_labels

TITLE = "Tree survey"
NO_BOOK = "No workbook chosen"
CHOOSE_ONE = "Choose a workbook, or make a new one."
LOOKING = "Looking at the workbook …"
WORKING = "working"
STOPPED = "Stopped. No workbook is half written: each is as it was, or complete."
NOTHING_CHOSEN = "Choose a workbook first, with the button at the top."
CHOOSE_TAB = f"Choose the tab {RESULT_TABS['to_check']} there. A fill makes it."
_EVERY = 60  # milliseconds between two looks at what the other process says
_BOOKS = [("Workbooks", "*.xlsx *.xlsm"), ("All files", "*")]
# letters, share of the screen, and room for what is said
_WIDE, _HIGH, _TALLER = 118, 0.86, 1.3


def open_window(books: Sequence[Path]) -> None:
    """Open the window and return when it is closed."""
    follow_scaling()
    root = tk.Tk(className=TITLE)
    MainWindow(root, books)
    root.mainloop()


class MainWindow:
    """Everything in the window. At most one job runs at a time."""

    def __init__(self, root: tk.Tk, books: Sequence[Path]) -> None:
        """Draw the window and name the first workbook on top."""
        self.root = root
        self.books: tuple[Path, ...] = ()
        self.folder = last_folder()
        self.job: Worker | None = None
        self._looking: Worker | None = None
        self._read_at: float | None = None
        self._entry: Entry | None = None
        self._forms: dict[str, Form] = {}
        self._made: list[Path] = []
        root.title(TITLE)
        set_looks(root)
        self.entries = list_entries()
        self._draw()
        self._bind_keys()
        self.choose_books(books)
        self.list.choose(self.entries[0].key if not books else self._first_for_a_book())
        self.list.focus_set()
        self._next = root.after(_EVERY, self._poll)

    # ------------------------------------------------------------------ what is where

    def _draw(self) -> None:
        whole = ttk.Frame(self.root, padding=WIDE_GAP)
        whole.pack(fill="both", expand=True)
        whole.columnconfigure(1, weight=1)
        whole.rowconfigure(2, weight=1)
        self._draw_top(whole)
        ttk.Separator(whole).grid(row=1, column=0, columnspan=2, sticky="ew", pady=WIDE_GAP)
        self.list = JobList(whole, self.entries, self._show_entry, self._go_to_form)
        self.list.grid(row=2, column=0, sticky="ns", padx=(0, WIDE_GAP))
        right = ttk.Frame(whole)
        right.grid(row=2, column=1, sticky="nsew")
        right.columnconfigure(0, weight=1)
        right.rowconfigure(5, weight=1)
        self.title = ttk.Label(right, style="Title.TLabel")
        self.title.grid(row=0, column=0, sticky="w")
        self.about = self._wrapping_label(right)
        self.about.grid(row=1, column=0, sticky="ew", pady=(GAP, WIDE_GAP))
        self.place = ttk.Frame(right)
        self.place.columnconfigure(0, weight=1)
        self.place.grid(row=2, column=0, sticky="ew")
        self.help = self._wrapping_label(right)
        self.help.grid(row=3, column=0, sticky="ew", pady=GAP)
        self.result = ResultView(right, self._draw_buttons(right))
        self.result.grid(row=5, column=0, sticky="nsew", pady=(GAP, 0))
        wide = min(letters_wide(self.root, _WIDE), self.root.winfo_screenwidth())
        self.root.update_idletasks()
        most = round(self.root.winfo_screenheight() * _HIGH)
        self.root.geometry(f"{wide}x{min(round(whole.winfo_reqheight() * _TALLER), most)}")

    def _draw_top(self, whole: ttk.Frame) -> None:
        top = ttk.Frame(whole)
        top.grid(row=0, column=0, columnspan=2, sticky="ew")
        top.columnconfigure(0, weight=1)
        self.name = ttk.Label(top, text=NO_BOOK, style="Title.TLabel")
        self.name.grid(row=0, column=0, sticky="w")
        self.state = self._wrapping_label(top, "TLabel")
        self.state.configure(text=CHOOSE_ONE)
        self.state.grid(row=1, column=0, sticky="ew", pady=(GAP, 0))
        self.choose = ttk.Button(top, text="Choose workbook …", command=self.ask_for_book)
        self.choose.grid(row=0, column=1, rowspan=2, sticky="e")
        add_access_key(self.choose, "c")

    def _draw_buttons(self, right: ttk.Frame) -> ttk.Frame:
        row = ttk.Frame(right)
        row.grid(row=4, column=0, sticky="ew", pady=GAP)
        self.go = ttk.Button(row, text="Run", command=self.run, default="active")
        self.stop_button = ttk.Button(row, text="Stop", command=self.stop)
        self.go.pack(side="left")
        add_access_key(self.go, "r")
        add_access_key(self.stop_button, "s")
        return row

    def _wrapping_label(self, parent: ttk.Frame, style: str = "Quiet.TLabel") -> ttk.Label:
        label, slack = ttk.Label(parent, style=style), letters_wide(self.root, 1)
        label.bind("<Configure>", lambda event: label.configure(wraplength=event.width - slack))
        return label

    def _bind_keys(self) -> None:
        self.root.bind(f"<{CONTROL}-o>", lambda _: self.ask_for_book())
        self.root.bind("<Escape>", lambda _: self._step_back())
        self.root.bind("<FocusIn>", self._look_again)
        self.root.protocol("WM_DELETE_WINDOW", self.close)

    # ------------------------------------------------------------------ the workbook on top

    def ask_for_book(self) -> None:
        """Let somebody choose the workbook to work on."""
        if self.job is not None:
            return
        chosen = filedialog.askopenfilename(
            parent=self.root, initialdir=str(self.folder), filetypes=_BOOKS
        )
        if chosen:
            self.choose_books([Path(chosen)])

    def choose_books(self, books: Sequence[Path]) -> None:
        """Name a workbook on top, and have the other process look where its work stands."""
        self.books = tuple(books)
        if books:
            self.folder = books[0].parent
            remember_folder(self.folder)
            more = f" and {len(books) - 1} more" if len(books) > 1 else ""
            self.name.configure(text=f"{books[0].name}{more}")
            self.root.title(f"{books[0].name}{more} – {TITLE}")
            self.look()
        self._suggest()

    def look(self) -> None:
        """Have the other process say where the work on the workbook stands."""
        if not self.books:
            return
        if self._looking is not None:
            self._looking.stop()
        self._read_at = _changed_at(self.books[0])
        self.state.configure(text=LOOKING)
        self._looking = Worker({"ask": "look", "book": self.books[0]})

    def _look_again(self, event: "tk.Event[tk.Misc]") -> None:
        """Look again when somebody comes back from the spreadsheet program."""
        if event.widget is not self.root or not self.books or self.job is not None:
            return
        if _changed_at(self.books[0]) != self._read_at:
            self.look()
            self._suggest()

    # ------------------------------------------------------------------ the form

    def _first_for_a_book(self) -> str:
        return next(
            e.key for e in self.entries if any(o.kind == "workbooks" for o in e.form_options)
        )

    def _show_entry(self, entry: Entry) -> None:
        if entry == self._entry:
            return
        if self.job is not None and self._entry is not None:
            self.list.choose(self._entry.key)
            return
        self._entry = entry
        self.title.configure(text=entry.label)
        self.about.configure(text=self._about(entry))
        for form in self._forms.values():
            form.grid_remove()
        if entry.job is not None and entry.key not in self._forms:
            self._forms[entry.key] = Form(self.place, entry, self._explain)
            for field in self._forms[entry.key].fields:
                field.keys_go_to.bind("<Return>", lambda _: self.run())
        if entry.key in self._forms:
            self._forms[entry.key].grid(row=0, column=0, sticky="ew")
        else:
            self.place.configure(height=1)
        self._explain("")
        self._suggest()
        self.result.clear()
        self.go.configure(text="Run" if entry.job else "Open")

    def _about(self, entry: Entry) -> str:
        about = entry.job.about if entry.job and not entry.step.fixed else ""
        options = entry.job.options if entry.job else ()
        return name_by_labels(" ".join(filter(None, (f"{entry.help}.", about))), options)

    def _explain(self, text: str) -> None:
        self.help.configure(text=text)

    def _suggest(self) -> None:
        form = self._forms.get(self._entry.key) if self._entry else None
        if form is not None:
            form.suggest(self.books, self.folder)

    def _go_to_form(self) -> None:
        form = self._forms.get(self._entry.key) if self._entry else None
        (form.fields[0].keys_go_to if form is not None and form.fields else self.go).focus_set()

    def _step_back(self) -> None:
        """Stop the job that runs, or go back to the list."""
        if self.job is not None:
            self.stop()
        else:
            self.list.focus_set()

    # ------------------------------------------------------------------ running a job

    def run(self) -> None:
        """Run the job of the form, or say what is missing in it."""
        if self.job is not None or self._entry is None:
            return
        self.result.clear()
        if self._entry.job is None:
            self._open_book()
            return
        try:
            options = self._forms[self._entry.key].read()
        except FormError as error:
            self._say((), (str(error),))
            self._forms[self._entry.key].go_to(error.field)
            return
        self._made = []
        self._options = options
        self.job = Worker({"ask": "run", "path": self._entry.path, "options": options})
        self.result.begin(WORKING)
        self.go.pack_forget()
        self.stop_button.pack(side="left")
        self.stop_button.focus_set()

    def _open_book(self) -> None:
        """Open the workbook at To check where that can be asked for; elsewhere say so."""
        if not self.books:
            self._say((), (NOTHING_CHOSEN,))
        elif not open_at_name(self.books[0], tab_name("to_check")):
            problem = open_with_system(self.books[0])
            self._say((), (problem,)) if problem else self._say((CHOOSE_TAB,))

    def stop(self) -> None:
        """End the job that runs; the other process replaces files whole or not at all."""
        if self.job is None:
            return
        self.job.stop()
        self.job = None
        paths = [v for value in self._options.values() for v in _paths(value)]
        Worker({"ask": "tidy", "books": paths})
        self._say((), (STOPPED,))
        self._end_of_job()

    def _end_of_job(self) -> None:
        self.result.end()
        self.result.offer(self._made)
        self.stop_button.pack_forget()
        self.go.pack(side="left")
        self.go.focus_set()
        self._take_up_new_book()
        self.look()

    def _take_up_new_book(self) -> None:
        """Work on the workbook that was just made, if the job makes those of a survey."""
        entry = self._entry
        option = next((o for o in entry.form_options if o.name == "book"), None) if entry else None
        if option is not None and option.kind == "new workbook" and self._made:
            self.choose_books(self._made[:1])

    def _say(self, sentences: Sequence[str], problems: Sequence[str] = ()) -> None:
        options = self._entry.job.options if self._entry and self._entry.job else ()
        self.result.say(
            [name_by_labels(text, options) for text in sentences],
            [name_by_labels(text, options) for text in problems],
        )

    def _poll(self) -> None:
        """Show what the other process has said since the last look."""
        if self._looking is not None:
            for answer in _waiting(self._looking):
                if answer is None:
                    self._looking = None
                    break
                self.state.configure(text=answer.get("state") or answer.get("broken", ""))
        if self.job is not None:
            self.result.show_step()
            for answer in _waiting(self.job):
                if answer is None:
                    self.job = None
                    self._end_of_job()
                    break
                self._take(answer)
        self._next = self.root.after(_EVERY, self._poll)

    def _take(self, answer: dict[str, Any]) -> None:
        if "step" in answer:
            self.result.show_step(answer["step"])
        elif "broken" in answer:
            self._say((), (f"The program stopped without a result. {answer['broken']}",))
        else:
            self._say(answer["sentences"], answer["problems"])
            self._made += [Path(file) for file in answer["files"]]

    def close(self) -> None:
        """End what runs and close the window."""
        if self._looking is not None:
            self._looking.stop()
        self.stop()
        self.root.after_cancel(self._next)
        self.root.destroy()


def _waiting(worker: Worker) -> list[dict[str, Any] | None]:
    answers = []
    with contextlib.suppress(queue.Empty):
        while True:
            answers.append(worker.answers.get_nowait())
    return answers


def _changed_at(path: Path) -> float | None:
    try:
        return path.stat().st_mtime
    except OSError:
        return None


def _paths(value: Any) -> list[Path]:
    values = value if isinstance(value, list) else [value]
    return [path for path in values if isinstance(path, Path)]
