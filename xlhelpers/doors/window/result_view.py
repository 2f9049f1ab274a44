"""What a job says: its steps while it runs, its sentences, and buttons that open what it made."""

import time
import tkinter as tk
from collections.abc import Callable, Sequence
from pathlib import Path
from tkinter import ttk

from xlhelpers.doors.window.looks import GAP, PROBLEM, add_access_key
from xlhelpers.doors.window.opening import open_with_system

_MOST_BUTTONS = 2
_ROWS = 7
_OPEN, _FOLDER = "Open {name}", "Open the folder"


class ResultView(ttk.Frame):
    """The lower part of the window."""

    def __init__(self, parent: tk.Misc, line: ttk.Frame) -> None:
        """Make the sentences, the row of buttons, and in `line` the place of the steps."""
        super().__init__(parent)
        self.columnconfigure(0, weight=1)
        self.rowconfigure(1, weight=1)
        self._started = 0.0
        self._step = ""
        self.bar = ttk.Progressbar(line, mode="indeterminate")
        self.step = ttk.Label(line)
        self.step.pack(side="right", padx=GAP)
        self.text = tk.Text(self, height=_ROWS, width=1, wrap="word", relief="flat", takefocus=True)
        self.text.configure(font="TkDefaultFont", background="white", padx="6p", pady=GAP)
        self.text.configure(spacing3="2p", highlightthickness=1, highlightbackground="#c8ccc8")
        self.text.tag_configure("problem", foreground=PROBLEM)
        self.text.configure(state="disabled")
        self.scroll = ttk.Scrollbar(self, command=self.text.yview)
        self.text.configure(yscrollcommand=self._set_scroll)
        self.text.grid(row=1, column=0, sticky="nsew")
        self.buttons = ttk.Frame(self)
        self.buttons.grid(row=2, column=0, columnspan=2, sticky="ew", pady=(GAP, 0))
        # so that what is marked can be copied with the keys
        self.text.bind("<Button-1>", lambda _: self.text.focus_set())
        for key in ("Tab", "Shift-Tab"):  # a text would keep them
            self.text.bind(f"<{key}>", self._leave)

    def _set_scroll(self, first: float, last: float) -> None:
        """Show the scroll bar only where there is more than fits."""
        self.scroll.set(first, last)
        if float(first) <= 0 and float(last) >= 1:
            self.scroll.grid_remove()
        else:
            self.scroll.grid(row=1, column=1, sticky="ns")

    def _leave(self, event: "tk.Event[tk.Text]") -> str:
        back = bool(int(event.state) & 1)
        target = event.widget.tk_focusPrev() if back else event.widget.tk_focusNext()
        if target is not None:
            target.focus_set()
        return "break"

    @property
    def sentences(self) -> str:
        """Return all that is written here."""
        return self.text.get("1.0", "end").strip()

    def clear(self) -> None:
        """Take away what was said before."""
        self._write_all("")
        self.step.configure(text="")
        for button in self.buttons.winfo_children():
            button.destroy()

    def begin(self, step: str) -> None:
        """Show that a job runs."""
        self.clear()
        self._started = time.monotonic()
        self.bar.pack(side="right", padx=GAP)
        self.bar.start(20)
        self.show_step(step)

    def show_step(self, step: str = "") -> None:
        """Show a step, or how long the last one takes already."""
        self._step = step or self._step
        seconds = time.monotonic() - self._started
        taken = f"  {seconds:.0f} s" if seconds >= 1 else ""
        self.step.configure(text=f"{self._step[:1].upper()}{self._step[1:]} …{taken}")

    def end(self) -> None:
        """Show that nothing runs any more."""
        self.bar.stop()
        self.bar.pack_forget()
        self.step.configure(text="")

    def say(self, sentences: Sequence[str], problems: Sequence[str] = ()) -> None:
        """Add sentences, problems first."""
        self.text.configure(state="normal")
        for texts, tag in ((problems, "problem"), (sentences, "")):
            for text in texts:
                self.text.insert("end", f"{text}\n", tag)
        self.text.configure(state="disabled")

    def _write_all(self, text: str) -> None:
        self.text.configure(state="normal")
        self.text.delete("1.0", "end")
        self.text.insert("end", text)
        self.text.configure(state="disabled")

    def offer(self, files: Sequence[Path]) -> None:
        """Add buttons that open what was made, and the folder that it is in."""
        if not files:
            return
        for number, file in enumerate(files[:_MOST_BUTTONS]):
            button = self._add_button(_OPEN.format(name=file.name), file)
            if number == 0:
                add_access_key(button, "o")
        add_access_key(self._add_button(_FOLDER, files[0].parent), "f")

    def _add_button(self, text: str, path: Path) -> ttk.Button:
        button = ttk.Button(self.buttons, text=text, command=self._opener(path))
        button.pack(side="left", padx=(0, GAP))
        return button

    def _opener(self, path: Path) -> Callable[[], None]:
        def open_it() -> None:
            if problem := open_with_system(path):
                self.say((), (problem,))

        return open_it
