"""What a form has filled in: the workbook on top, and a free name in its folder for the result."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from xlhelpers.doors.window.steps import Entry
from xlhelpers.jobs.job import Option

Raw = str | bool | tuple[str, ...]


def chosen_option(entry: Entry) -> Option | None:
    """Return the option that gets the workbook named on top, None where the job reads none."""
    reading = [
        o for o in entry.form_options if o.kind in ("workbook", "workbooks") and o.positional
    ]
    named = [option for option in reading if option.name == entry.step.chosen]
    return next(iter((*named, *reading)), None)


def suggest(entry: Entry, option: Option, books: Sequence[Path], folder: Path) -> Raw:
    """Return what a field begins with.

    Parameters
    ----------
    entry : Entry
        The form.
    option : Option
        The field.
    books : sequence of Path
        The workbooks named on top; the first is the one that is worked on.
    folder : Path
        The folder that was used last, for what has no workbook.
    """
    preset: Any = entry.step.preset.get(option.name, option.default)
    if option.kind == "flag":
        return bool(preset)
    if option.kind == "workbooks":
        return tuple(map(str, books)) if option == chosen_option(entry) else ()
    if option == chosen_option(entry):
        return str(books[0]) if books else ""
    if option.kind in ("new workbook", "new folder"):
        return str(free_name(_new_name(entry, option, books, folder)))
    if option.kind == "folder":
        return str(folder)
    if isinstance(preset, float | int):
        return f"{preset:g}"
    return "" if preset is None else str(preset)


def _new_name(entry: Entry, option: Option, books: Sequence[Path], folder: Path) -> Path:
    word = next(iter(entry.step.fixed), "") or Path(option.metavar).stem.lower()
    ending = next(iter(option.endings), "")
    if option.kind == "new folder":
        word = entry.path[0]
    if books and chosen_option(entry) is not None:
        return books[0].with_name(f"{books[0].stem}_{word}{ending}")
    return folder / f"{word}{ending}"


def free_name(path: Path) -> Path:
    """Return the path, with a number behind its name where it, or a PDF of it, is there already."""
    number, free = 2, path
    while free.exists() or free.with_suffix(".pdf").exists():
        free = path.with_stem(f"{path.stem}_{number}")
        number += 1
    return free
