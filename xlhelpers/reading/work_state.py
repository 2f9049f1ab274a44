"""Where the work on a workbook stands: when it was filled, what is open, what is not entered."""

from datetime import date
from pathlib import Path

import numpy as np

from xlhelpers.package.parts.parts import defined_names, sheet_named
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.book_files import marker_beside
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.banner import NO_CHANGE, STATE_NAME
from xlhelpers.pages.our_tabs import find_tabs
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.checks.counts import UNMEASURED
from xlhelpers.survey.outcome import Outcome
from xlhelpers.wording import plural

# the row of the tab About this fill that has the date
FILLED_ON = "Filled"


def say_state(book: Path) -> str:
    """Return in a few short sentences where the work on a workbook stands.

    Raises
    ------
    WorkbookError
        The file is not a workbook of a survey, with what to do.
    """
    refuse_unreadable(book)
    package = Package.open(book)
    outcome = compute(package)
    sentences = [_say_filled(package)]
    if len(outcome.survey.lines):
        sentences.append(f"{plural(len(outcome.open_findings), 'finding')} open.")
    else:
        sentences.append("No tree is entered yet.")
    if waiting := count_waiting_plots(outcome):
        sentences.append(f"{plural(waiting, 'plot')} not entered.")
    if marker_beside(book) is not None:
        sentences.append("It is open in another program.")
    return " ".join(sentences)


def _say_filled(package: Package) -> str:
    filled = filled_on(package)
    if not filled:
        return "Not filled yet."
    changed = "" if _is_up_to_date(package) else " Something was entered since."
    return f"Filled {say_day(filled)}.{changed}"


def say_day(stamp: str) -> str:
    """Return "12 May 2025, 08:00" for "2025-05-12 08:00"; anything else as it is."""
    try:
        day = date.fromisoformat(stamp[:10])
    except ValueError:
        return stamp
    clock = f", {stamp[11:16]}" if len(stamp) > 10 else ""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}{clock}"


_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def filled_on(package: Package) -> str:
    """Return when a workbook was last filled, as its tab About this fill says; "" for never."""
    tab = find_tabs(package).get("about")
    if tab is None:
        return ""
    grid = read_grid(package, tab, keep=True)
    for row in range(1, grid.shape[0] + 1):
        if grid.value(row, 1) == FILLED_ON:
            return str(grid.value(row, 2) or "")
    return ""


def _is_up_to_date(package: Package) -> bool:
    """Return what the spreadsheet program last computed; it does so while people type."""
    for name in defined_names(package):
        target = parse_target(name.text) if name.name == STATE_NAME else None
        sheet = sheet_named(package, target[0]) if target is not None else None
        if target is not None and sheet is not None:
            value = read_grid(package, sheet, keep=True).value(target[1], target[2])
            return value in (None, NO_CHANGE)
    return True


def count_waiting_plots(outcome: Outcome) -> int:
    """Return how many plots have no line, and no status that says why."""
    plots = outcome.survey.plots
    is_entered = np.isin(np.arange(len(plots)), outcome.setups["plot_position"].to_numpy())
    is_explained = np.isin(plots["status"].astype(str), UNMEASURED)
    return int((~is_entered & ~is_explained).sum())
