"""The entries of the menu, drawn from the records of the jobs.

An entry is a job that needs one workbook and nothing else that somebody must choose. A new file
gets a name made from that of the workbook; a workbook that a survey begins with gets the name that
somebody chooses. Jobs that need more are left to the window.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from xlhelpers.doors.command_line.main import COMMANDS
from xlhelpers.jobs.catalog import NAMES, load_job
from xlhelpers.jobs.job import Job, Option

MORE = (
    ("paper", "measure_again", ""),
    ("fill", "restore_formulas", ""),
    ("restore", "bring_back", "latest"),
    ("restore", "bring_back", "first"),
)
"""Options that make an entry of their own: job, option, and its value if it has one."""
ALWAYS = {"report": ("--pdf",)}
"""Options that an entry gives to its job: whoever has LibreOffice gets the PDF too."""
LABELS = {
    "new": "New workbook …",
    "fill": "Fill this workbook",
    "restore": "List backups",
    "restore-bring_back-latest": "Bring back the latest backup",
    "restore-bring_back-first": "Bring back the first backup",
}
"""Labels of entries that do less, or something else, than the job is called after."""
CHANGE_THE_BOOK = (
    "fill",
    "fill-restore_formulas",
    "restore-bring_back-latest",
    "restore-bring_back-first",
)
"""The entries that write into the workbook itself; it is closed while they run."""
WINDOW = "window"
TITLE = "Tree survey"


def entries() -> list[dict[str, Any]]:
    """Return the entries in the order of the work.

    Returns
    -------
    list of dict
        For each entry its `name`, `label`, `help`, the `arguments` of the command with "{book}" and
        "{out}" for the names of files, what follows the name of the workbook in that of the new
        file (`out`, "" for none), whether it `changes_book`, whether it `asks_for_name` of the
        workbook that it makes, whether it `opens_window`, and the `labels` that its sentences have
        in place of the names of options on the command line.
    """
    made = [entry for name in NAMES for entry in _of_job((load_job(name),))]
    if WINDOW in COMMANDS:
        made.append(
            _entry("window", "Other jobs …", "Open a window with all jobs", opens_window=True)
        )
    return made


def _of_job(path: tuple[Job, ...]) -> Iterator[dict[str, Any]]:
    job = path[-1]
    for action in job.actions:
        yield from _of_job((*path, action))
    if not job.run or not _needs_one_workbook(job):
        return
    words = [part.name for part in path]
    yield _job_entry(words, job, job.label, job.help)
    for name, option_name, value in MORE:
        for option in job.options:
            if (name, option_name) == (job.name, option.name):
                yield _job_entry(words, job, option.label, option.help, option, value)


def _needs_one_workbook(job: Job) -> bool:
    needed = [option for option in job.options if option.required and option.name != "out"]
    if len(needed) != 1:
        return False
    kinds = ("workbooks",) if job.one_by_one else ("workbook", "new workbook")
    return needed[0].kind in kinds and needed[0].positional


def _job_entry(
    words: Sequence[str],
    job: Job,
    label: str,
    help: str,
    chosen: Option | None = None,
    value: str = "",
) -> dict[str, Any]:
    out = next((_ending(job, one, chosen) for one in job.options if one.name == "out"), "")
    name = "-".join(filter(None, (*words, chosen and chosen.name, value)))
    arguments = [*words, "{book}", *filter(None, (chosen and chosen.on_command_line, value))]
    arguments += ALWAYS.get(name, ())
    return _entry(
        name,
        LABELS.get(name, label),
        help,
        arguments=[*arguments, *(["--out", "{out}"] if out else [])],
        out=out,
        changes_book=name in CHANGE_THE_BOOK,
        labels={one.on_command_line: f"“{one.label}”" for one in job.options if not one.positional},
        asks_for_name=any(one.positional and one.kind == "new workbook" for one in job.options),
    )


def _ending(job: Job, out: Option, chosen: Option | None) -> str:
    """Return what follows the name of the workbook: "_sheets.xlsx"; "_export" for a folder."""
    if out.kind == "new folder":
        return f"_{job.name}"
    if out.kind != "new workbook":
        return ""
    return f"_{chosen.name if chosen else out.metavar.rpartition('.')[0].lower()}.xlsx"


def _entry(name: str, label: str, help: str, **more: Any) -> dict[str, Any]:
    usual = {"arguments": [], "out": "", "labels": {}}
    marks = {"changes_book": False, "asks_for_name": False, "opens_window": False}
    return {"name": name, "label": label, "help": help} | usual | marks | more
