"""Runs a job on the workbook on the screen: save, close, run, open again at the same place.

A job that only reads runs while the workbook stays open. Whatever happens, the workbook is on the
screen again at the end.
"""

from __future__ import annotations

import contextlib
import os
import re
import subprocess
import tempfile
import time
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import uno
from com.sun.star.awt import WindowDescriptor
from com.sun.star.beans import PropertyValue
from com.sun.star.uno import Exception as OfficeError

from xlhelpers.doors.libreoffice.inside import child, messages
from xlhelpers.doors.libreoffice.inside.document_state import file_name, refusal

LIMIT = 900.0
"""Seconds that a job may take."""
WINDOW_LIMIT = 2.0
"""Seconds in which the window of the program says that it cannot be opened."""
_NAME = "xlhelpers: "
_OPTION = re.compile(r"(?<![\w/\\.-])--[a-z][a-z-]*[a-z]")
_NEW_NAME = "trees.xlsx"
_SAVE_WITH_ENDING = 10  # FILESAVE_AUTOEXTENSION of com.sun.star.ui.dialogs.TemplateDescription
_running: list[str] = []


class View(NamedTuple):
    """The place in a workbook: sheet, ranges of selected cells, and the first cell of each pane."""

    url: str
    sheet: str
    ranges: Sequence[tuple[int, int, int, int]]
    panes: Sequence[tuple[int, int]]


def run_entry(
    context: Any,
    frame: Any,
    entry: Mapping[str, Any],
    settings: Mapping[str, Any],
    new_url: str = "",
) -> None:
    """Run an entry of the menu on the workbook of a window, and show what came of it.

    Parameters
    ----------
    context : component context
        That of the office.
    frame : frame
        The window of the workbook.
    entry : mapping
        The entry as made from the record of the job; see ``menu``.
    settings : mapping
        Those of the extension.
    new_url : str
        Address of the new workbook for an entry that makes one; somebody is asked if it is "".
    """
    title = entry["label"].rstrip(" …")
    problem = child.missing_python(settings)
    if problem:
        messages.show(context, frame, title, problem, wrong=True)
    elif entry["opens_window"]:
        _open_window(context, frame, settings, title)
    elif _running:
        messages.show(context, frame, title, f"“{_running[0]}” is still running. Wait for its end.")
    else:
        _running.append(title)
        try:
            if entry["asks_for_name"]:
                _make(context, frame, entry, settings, new_url or _ask_for_name(context, title))
            else:
                _run(context, frame, entry, settings, title)
        finally:
            _running.clear()


def _open_window(context: Any, frame: Any, settings: Mapping[str, Any], title: str) -> None:
    """Open the window of the program on the workbook as it was last saved."""
    document = frame.getController().getModel()
    url = document.URL if document.hasLocation() else ""
    books = [uno.fileUrlToSystemPath(url)] if url.startswith("file:") else []
    with tempfile.TemporaryFile() as errors:
        process = child.start(
            settings,
            "xlhelpers",
            ["window", *books],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=errors,
        )
        # a window that cannot be opened says so at once
        with contextlib.suppress(subprocess.TimeoutExpired):
            if process.wait(WINDOW_LIMIT):
                errors.seek(0)
                text = errors.read().decode("utf-8", "replace").strip()
                problem = text.splitlines()[-1] if text else "The window could not be opened."
                messages.show(context, frame, title, _without_name(problem), wrong=True)


def _ask_for_name(context: Any, title: str) -> str:
    """Return the address that somebody chooses for a new workbook, "" if nobody does."""
    picker = context.ServiceManager.createInstanceWithArgumentsAndContext(
        "com.sun.star.ui.dialogs.FilePicker", (_SAVE_WITH_ENDING,), context
    )
    picker.setTitle(title)
    picker.appendFilter("Excel 2007–365 (.xlsx)", "*.xlsx")
    picker.setDefaultName(_NEW_NAME)
    chosen: Sequence[str] = picker.getSelectedFiles() if picker.execute() else ()
    return chosen[0] if chosen else ""


def _make(
    context: Any, frame: Any, entry: Mapping[str, Any], settings: Mapping[str, Any], url: str
) -> None:
    """Make a new workbook at an address and show it; nothing is done without an address."""
    title = entry["label"].rstrip(" …")
    if not url:
        return
    if not url.startswith("file:"):
        problem = f"{url} is not a folder on this computer. Choose one, and try again there."
        messages.show(context, frame, title, problem, wrong=True)
        return
    path = uno.fileUrlToSystemPath(url)
    path += "" if path.lower().endswith(".xlsx") else ".xlsx"
    arguments = fill_in(entry["arguments"], path, "")
    ended = _wait(context, frame, title, arguments, os.path.dirname(path), settings)
    wrong = ended.code not in (0, 1)
    messages.show(
        context, _living(frame), title, "\n".join(describe(ended, title, entry["labels"])), wrong
    )
    if not wrong:
        _load(context, None, uno.systemPathToFileUrl(path))


def _run(
    context: Any, frame: Any, entry: Mapping[str, Any], settings: Mapping[str, Any], title: str
) -> None:
    controller = frame.getController()
    document = controller.getModel()
    problem = refusal(document, entry["changes_book"])
    view = remember_view(controller)
    changed = False
    if not problem:
        end_typing(controller, view)
        changed = document.isModified()
        problem = _save(document)
    if not problem and entry["changes_book"]:
        problem = _close(context, frame, document, title)
    if problem:
        messages.show(context, frame, title, problem, wrong=True)
        return
    url = view.url
    path = uno.fileUrlToSystemPath(url)
    printed = ".pdf" if "--pdf" in entry["arguments"] else ""
    out = free_place(path, entry["out"], printed) if entry["out"] else ""
    arguments = fill_in(entry["arguments"], path, out)
    ended: child.Ended | None = None
    try:
        ended = _wait(context, frame, title, arguments, os.path.dirname(path), settings)
    except Exception as error:  # whatever happens, the workbook has to be opened again
        problem = f"The job did not end as it should ({error})."
    if entry["changes_book"]:
        frame, not_opened = _open_again(context, frame, view)
        problem = " ".join(filter(None, (problem, not_opened)))
    lines = [problem, *(describe(ended, title, entry["labels"]) if ended is not None else ())]
    wrong = bool(problem) or ended is None or ended.code not in (0, 1)
    if changed:
        lines.append("Your last changes were saved first.")
    if entry["changes_book"] and not wrong:
        lines.append("Undo does not go back beyond this point.")
    messages.show(context, _living(frame), title, "\n".join(filter(None, lines)), wrong)
    if out.endswith(".xlsx") and os.path.isfile(out):
        _load(context, None, uno.systemPathToFileUrl(out))


def fill_in(arguments: Sequence[str], path: str, out: str) -> list[str]:
    """Return the arguments of the command with the names of the workbook and of the new file.

    The command runs in their folder, so that its sentences are short.
    """
    names = {}
    for word, place in (("{book}", path), ("{out}", out)):
        name = os.path.basename(place)
        names[word] = place if name.startswith("-") else name
    return [names.get(word, word) for word in arguments]


def free_place(path: str, ending: str, printed: str = "") -> str:
    """Return a place in the folder of the workbook where nothing is yet, such as TOWN_report.xlsx.

    Parameters
    ----------
    path : str
        The workbook.
    ending : str
        What follows the name of the workbook, such as "_report.xlsx"; a folder has no dot in it.
    printed : str
        Ending of a further file of the same name that the job writes, "" if it writes none.
    """
    stem = os.path.splitext(path)[0]
    words, dot, kind = ending.partition(".")
    place, number = f"{stem}{ending}", 2
    while _is_taken(place, printed):
        place, number = f"{stem}{words} {number}{dot}{kind}", number + 1
    return place


def _is_taken(place: str, printed: str) -> bool:
    if printed and os.path.lexists(os.path.splitext(place)[0] + printed):
        return True
    return os.path.lexists(place)


def describe(ended: child.Ended, title: str, labels: Mapping[str, str]) -> list[str]:
    """Return the sentences of a job that ended: its problems, then what it did.

    They name options as `labels` says, not as the command line does.
    """
    problems = [_without_name(line) for line in ended.errors.splitlines()]
    if ended.code is None:
        problems.append(
            f"“{title}” was stopped after {LIMIT / 60:g} minutes. The workbook is unchanged."
        )
    elif ended.code not in (0, 1) and not problems:
        problems.append(f"“{title}” ended with the code {ended.code}. The workbook is unchanged.")
    lines = problems + ended.output.splitlines()
    return [_OPTION.sub(lambda one: labels.get(one[0], one[0]), line) for line in lines]


def _without_name(line: str) -> str:
    """Return a sentence about a problem without the name of the program before it."""
    return line[len(_NAME) :] if line.startswith(_NAME) else line


def end_typing(controller: Any, view: View) -> None:
    """Take over what is being typed into a cell; only selecting another cell does that."""
    if not view.ranges:
        return
    column = 1 if view.ranges[0][:2] == (0, 0) else 0
    controller.select(controller.getActiveSheet().getCellByPosition(column, 0))
    restore_view(controller, view)


def _save(document: Any) -> str:
    """Save a workbook if it was changed; return what went wrong, "" if nothing did."""
    if not document.isModified():
        return ""
    try:
        document.store()
    except OfficeError as error:
        return (
            f"{file_name(document.URL)} could not be saved ({error.Message or 'no reason given'}), "
            "so the job did not run. Save it with File – Save As, then try again."
        )
    return ""


def remember_view(controller: Any) -> View:
    """Return the place that a window shows."""
    selection = controller.getModel().getCurrentSelection()
    addresses: Sequence[Any] = ()  # something else than cells may be selected
    if hasattr(selection, "getRangeAddresses"):
        addresses = selection.getRangeAddresses()
    elif hasattr(selection, "getRangeAddress"):
        addresses = (selection.getRangeAddress(),)
    ranges = [(one.StartColumn, one.StartRow, one.EndColumn, one.EndRow) for one in addresses]
    panes = [
        (pane.FirstVisibleColumn, pane.FirstVisibleRow)
        for pane in (controller.getByIndex(at) for at in range(controller.getCount()))
    ]
    return View(controller.getModel().URL, controller.getActiveSheet().Name, ranges, panes)


def restore_view(controller: Any, view: View) -> None:
    """Show a place again, as far as its sheet is still there."""
    document = controller.getModel()
    sheets = document.getSheets()
    if not sheets.hasByName(view.sheet):
        return
    sheet = sheets.getByName(view.sheet)
    controller.setActiveSheet(sheet)
    parts = [sheet.getCellRangeByPosition(*corners) for corners in view.ranges]
    if len(parts) == 1:
        controller.select(parts[0])
    elif parts:
        ranges = document.createInstance("com.sun.star.sheet.SheetCellRanges")
        ranges.addRangeAddresses(tuple(part.getRangeAddress() for part in parts), False)
        controller.select(ranges)
    for at, (column, row) in enumerate(view.panes[: controller.getCount()]):
        pane = controller.getByIndex(at)
        pane.setFirstVisibleColumn(column)
        pane.setFirstVisibleRow(row)


def _close(context: Any, frame: Any, document: Any, title: str) -> str:
    """Close a workbook but not its window; return what went wrong, "" if nothing did."""
    url = document.URL
    refused = f"{file_name(url)} could not be closed, so the job did not run."
    controller = frame.getController()
    if not controller.suspend(True):
        return refused
    try:
        frame.setComponent(_waiting_page(context, frame, title), None)
        controller.dispose()
        document.close(True)
    except OfficeError as error:
        _load(context, frame, url)
        return f"{refused} {error.Message}"
    return ""


def _waiting_page(context: Any, frame: Any, title: str) -> Any:
    """Return what the window shows instead of the workbook; no progress is shown without it."""
    toolkit = context.ServiceManager.createInstanceWithContext("com.sun.star.awt.Toolkit", context)
    page = WindowDescriptor()
    page.Type = uno.Enum("com.sun.star.awt.WindowClass", "SIMPLE")
    page.WindowServiceName = "fixedtext"
    page.Parent = frame.getContainerWindow()
    page.ParentIndex = -1
    window = toolkit.createWindow(page)
    window.setText(f"\n    {title} …\n    The workbook is shown again afterwards.")
    window.setVisible(True)
    return window


def _open_again(context: Any, frame: Any, view: View) -> tuple[Any, str]:
    """Open a workbook again, at the same place; return its window and what went wrong."""
    opened = _load(context, _living(frame), view.url)
    if opened is None:
        path = uno.fileUrlToSystemPath(view.url)
        return None, f"The workbook could not be opened again. Choose File – Open: {path}"
    controller = opened.getCurrentController()
    restore_view(controller, view)
    return controller.getFrame(), ""


def _load(context: Any, frame: Any, url: str) -> Any:
    """Open a workbook as the user would, in a window of its own or in a given one.

    Returns None if that fails twice.
    """
    create = context.ServiceManager.createInstanceWithContext
    loader = frame if frame is not None else create("com.sun.star.frame.Desktop", context)
    handler = create("com.sun.star.task.InteractionHandler", context)
    how = (
        _property("InteractionHandler", handler),
        # macros as the settings of the office say
        _property("MacroExecutionMode", uno.Any("short", 3)),
    )
    for pause in (0.0, 1.0):
        time.sleep(pause)
        try:
            document = loader.loadComponentFromURL(
                url, "_default" if frame is None else "_self", 0, how
            )
        except OfficeError:
            continue
        if document is not None:
            return document
    return None


def _property(name: str, value: Any) -> PropertyValue:
    one = PropertyValue()
    one.Name, one.Value = name, value
    return one


def _living(frame: Any) -> Any:
    """Return a window if it is still there, None if the user closed it meanwhile."""
    try:
        return frame if frame is not None and frame.getContainerWindow() is not None else None
    except OfficeError:
        return None


def _wait(
    context: Any,
    frame: Any,
    title: str,
    arguments: Sequence[str],
    folder: str,
    settings: Mapping[str, Any],
) -> child.Ended:
    """Run the command, show that it is running, and keep the windows of the office alive."""
    toolkit = context.ServiceManager.createInstanceWithContext("com.sun.star.awt.Toolkit", context)
    window = frame.getContainerWindow()
    indicator = frame.createStatusIndicator()
    indicator.start(f"{title} …", 100)
    window.setEnable(False)

    def meanwhile(seconds: float) -> None:
        with contextlib.suppress(OfficeError):  # the window may be closed meanwhile
            indicator.setText(f"{title} … {seconds:.0f} s")
            indicator.setValue(int(100 * seconds / (seconds + 5)))
        toolkit.processEventsToIdle()

    try:
        return child.run(settings, arguments, folder, LIMIT, meanwhile)
    finally:
        with contextlib.suppress(OfficeError):
            window.setEnable(True)
            indicator.end()
