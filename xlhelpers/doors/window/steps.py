"""The order of the jobs in the window, and what a form has filled in. The only list of jobs here.

A job that is not in the table follows at the end; it needs no line.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.catalog import NAMES, load_job
from xlhelpers.jobs.job import Job, Option

_NOTHING: Mapping[str, Any] = {}


class Step(NamedTuple):
    """One line of the table.

    `fixed` are options that the form does not show, for a job that does several things; the first
    of them gives the name. `preset` are options that begin with another value. `chosen` is the
    option that gets the workbook named on top, where that is not the first.
    """

    job: str
    fixed: Mapping[str, Any] = _NOTHING
    preset: Mapping[str, Any] = _NOTHING
    chosen: str = ""


# opens the workbook in the spreadsheet program
LOOK = Step("")
IN_ORDER = (
    Step("new"),
    Step("paper"),
    Step("fill"),
    LOOK,
    Step("paper", fixed={"measure_again": True, "cards": False, "plots": None, "code": None}),
    Step("report", preset={"pdf": True}),
)
AS_NEEDED = (
    Step("bring"),
    Step("compare"),
    Step("merge"),
    Step("recheck"),
    Step("instruments"),
    Step("change", chosen="new"),
    Step("plan"),
    Step("export"),
    Step("restore"),
)


class Entry(NamedTuple):
    """One entry of the list: a job or a part of one (None: look at the workbook), and its step."""

    key: str
    label: str
    help: str
    number: int
    job: Job | None
    path: tuple[str, ...]
    step: Step

    @property
    def form_options(self) -> tuple[Option, ...]:
        """Return the options that its form shows."""
        options = self.job.options if self.job else ()
        return tuple(option for option in options if option.name not in self.step.fixed)


def list_entries() -> list[Entry]:
    """Return every entry: first the jobs in the order of the work, numbered, then the others."""
    listed = {step.job for step in (*IN_ORDER, *AS_NEEDED)}
    others = tuple(Step(name) for name in NAMES if name not in listed)
    entries: list[Entry] = []
    for number, step in enumerate(IN_ORDER, 1):
        entries += _entries(step, number)
    for step in (*AS_NEEDED, *others):
        if not step.job or step.job in NAMES:
            entries += _entries(step, 0)
    return entries


def _entries(step: Step, number: int) -> Iterator[Entry]:
    if step == LOOK:
        tab = RESULT_TABS["to_check"]
        help = f"Open the workbook in your spreadsheet program and work through the tab {tab}"
        yield Entry("look", f"Open {tab}", help, number, None, (), step)
        return
    job = load_job(step.job)
    for part in job.actions or (job,):
        path = (job.name, part.name) if job.actions else (job.name,)
        label, help = part.label, part.help
        for option in part.options:
            if option.name == next(iter(step.fixed), None):
                label, help = option.label, f"Make {option.help}"
        key = " ".join((*path, *list(step.fixed)[:1]))
        yield Entry(key, label, help, number, part, path, step)
