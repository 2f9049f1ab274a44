"""Write to the open workbook through xlwings: cells by ranges, tabs as sheets.

It never saves. Each text gets an apostrophe in front, which the spreadsheet program removes. So a
text stays a text, even if it looks like a formula, a date or a number.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from xlhelpers.doors.excel.book_copy import SheetValues, values_package
from xlhelpers.doors.excel.live_plan import Change, LivePlan, LiveTab, plain
from xlhelpers.package.formulas.formula_text import rename
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.references import parse_target, quote_sheet
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.pages.banner import NO_CHANGE, STATE_NAME

VALUES_ONLY = "values only"
"""Stored instead of the fingerprint if tabs have values only, so that the next fill renews them."""
UNWATCHED = "Values only. This tab does not show if an entry has changed since this fill."
"""Replaces the formula that watches for changes on a tab with values only."""


@dataclass(frozen=True)
class Rectangle:
    """Cells side by side: the first one (from 1), and their values or formulas row by row."""

    row: int
    column: int
    rows: tuple[tuple[Any, ...], ...]
    formulas: bool = False


def protect_text(value: Any) -> Any:
    """Return a value for the spreadsheet program: a text with an apostrophe in front."""
    value = plain(value)
    if isinstance(value, str):
        return f"'{value}" if value else None
    return value


def rectangles(changes: Iterable[Change]) -> list[Rectangle]:
    """Gather the changes of one sheet into ranges without other cells."""
    columns: dict[tuple[int, bool], dict[int, Any]] = {}
    for change in changes:
        is_formula = change.formula is not None
        value = f"={change.formula}" if is_formula else protect_text(change.after)
        columns.setdefault((change.column, is_formula), {})[change.row] = value
    runs: dict[tuple[int, int, bool], dict[int, list[Any]]] = {}
    for (column, is_formula), values in columns.items():
        for first, run in _runs(values):
            runs.setdefault((first, len(run), is_formula), {})[column] = run
    return [
        Rectangle(first, start, tuple(zip(*run, strict=True)), is_formula)
        for (first, _, is_formula), by_column in sorted(runs.items())
        for start, run in _runs(by_column)
    ]


def _runs(by_number: Mapping[int, Any]) -> list[tuple[int, list[Any]]]:
    """Group numbered things into runs of consecutive numbers."""
    runs: list[tuple[int, list[Any]]] = []
    for number in sorted(by_number):
        if runs and runs[-1][0] + len(runs[-1][1]) == number:
            runs[-1][1].append(by_number[number])
        else:
            runs.append((number, [by_number[number]]))
    return runs


def write_cells(book: Any, changes: Sequence[Change]) -> None:
    """Write the changed cells of the survey sheets."""
    for name in dict.fromkeys(change.sheet for change in changes):
        sheet = book.sheets[name]
        for part in rectangles(change for change in changes if change.sheet == name):
            target = _range(sheet, part)
            if part.formulas:
                target.formula = [list(row) for row in part.rows]
            else:
                target.value = [list(row) for row in part.rows]


def _range(sheet: Any, part: Rectangle) -> Any:
    last = (part.row + len(part.rows) - 1, part.column + len(part.rows[0]) - 1)
    return sheet.range((part.row, part.column), last)


def write_tabs(book: Any, plan: LivePlan, rendered: Package, *, whole: bool) -> None:
    """Renew the result tabs.

    Parameters
    ----------
    book : xlwings.Book
        The open workbook.
    plan : LivePlan
        What was rehearsed on its copy.
    rendered : Package
        The result tabs as a workbook of their own.
    whole : bool
        True if sheets can be copied in with formats, links and charts; if not, only values.
    """
    if not plan.tabs:
        return
    for old, new in plan.renamed.items():
        book.sheets[old].name = new
    copies = [tab for tab in plan.tabs if whole and not tab.in_place]
    if copies:
        _copy_in(book, copies, plan.tabs, rendered)
    for tab in plan.tabs:
        if tab not in copies:
            _write_values(book, tab)
    names = _names(plan.tabs, rendered)
    digests = {tab.key: tab.digest for tab in copies}
    digests |= _digests([tab for tab in plan.tabs if tab not in copies], names)
    whole_tabs = len(copies) == len(plan.tabs)
    texts = {our_tabs.FINGERPRINT_NAME: plan.fingerprint if whole_tabs else VALUES_ONLY}
    texts |= {our_tabs.seal_name(key): digest for key, digest in digests.items()}
    for name, text in (names | {key: f'="{text}"' for key, text in texts.items()}).items():
        set_name(book, name, text)


def _copy_in(
    book: Any, tabs: Sequence[LiveTab], every: Sequence[LiveTab], rendered: Package
) -> None:
    """Copy tabs from the workbook of result tabs, which is opened for that and closed again."""
    app = book.app
    before, app.display_alerts = app.display_alerts, False
    active = book.sheets.active.name
    with TemporaryDirectory(prefix="xlhelpers_", ignore_cleanup_errors=True) as folder:
        place = Path(folder) / "result tabs.xlsx"
        place.write_bytes(rendered.to_bytes())
        source = app.books.open(str(place))
        called = {tab.source.casefold(): tab.name for tab in every if tab.source != tab.name}
        try:
            for tab in tabs:
                _copy_one(book, source, tab, called)
        finally:
            source.close()
            app.display_alerts = before
    book.activate()
    if active in [sheet.name for sheet in book.sheets]:
        book.sheets[active].activate()


def _copy_one(book: Any, source: Any, tab: LiveTab, called: Mapping[str, str]) -> None:
    old = None if tab.replaces is None else book.sheets[tab.replaces]
    after = book.sheets[-1] if old is None else old
    new = source.sheets[tab.source].copy(after=after)
    for name in list(new.names):
        name.delete()  # copies of our names; write_tabs sets those of the workbook
    if old is not None:
        old.delete()
    new.name = tab.name
    for (row, column), text in tab.grid.formulas.items():
        # a plain copy would point back at the workbook it came from
        new.range((row, column)).formula = f"={rename(text, called, {})}"


def _write_values(book: Any, tab: LiveTab) -> None:
    if tab.replaces is None:
        sheet = book.sheets.add(tab.name, after=book.sheets[-1])
    else:
        sheet = book.sheets[tab.replaces]
        sheet.clear_contents()
    rows = [[protect_text(value) for value in row] for row in _values(tab)]
    if rows and rows[0]:
        sheet.range((1, 1), (len(rows), len(rows[0]))).value = rows


def _values(tab: LiveTab) -> list[list[Any]]:
    """Return the cells of a tab with values only, which cannot watch for changes."""
    values = tab.grid.values.copy()
    for (row, column), text in tab.grid.formulas.items():
        if STATE_NAME in text or NO_CHANGE in text:
            values[row - 1, column - 1] = UNWATCHED
    rows: list[list[Any]] = values.tolist()
    return rows


def _names(tabs: Sequence[LiveTab], rendered: Package) -> dict[str, str]:
    """Return our names in the tabs, with what they refer to in the open workbook."""
    called = {tab.source: tab.name for tab in tabs}
    names = {}
    for name, text in our_tabs.names_of(rendered).items():
        target = parse_target(text)
        if target is not None and target[0] in called:
            cells = text.rpartition("!")[2]
            names[name] = f"={quote_sheet(called[target[0]])}!{cells}"
    return names


def _digests(tabs: Sequence[LiveTab], names: Mapping[str, str]) -> dict[str, str]:
    """Return the digests of tabs with values only."""
    if not tabs:
        return {}
    values = [SheetValues(tab.name, _plain_values(tab)) for tab in tabs]
    called = {tab.name for tab in tabs}
    ours = [item for item in names.items() if (parse_target(item[1][1:]) or ("",))[0] in called]
    package = values_package("result tabs.xlsx", values, ours)
    parts = {sheet.name: sheet for sheet in sheets(package)}
    return {tab.key: our_tabs.digest_tab(package, parts[tab.name], tab.key).digest for tab in tabs}


def _plain_values(tab: LiveTab) -> list[list[Any]]:
    return [[plain(value) for value in row] for row in _values(tab)]


def set_name(book: Any, name: str, refers_to: str) -> None:
    """Give a name of the workbook a new meaning, or add it."""
    for known in book.names:
        if known.name == name:
            known.refers_to = refers_to
            return
    book.names.add(name, refers_to)
