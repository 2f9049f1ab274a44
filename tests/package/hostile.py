"""Damaged workbooks of chance, and fills killed at random moments; each trial says how it ended."""

from __future__ import annotations

import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.package.books import parts_of, result_tabs, zipped
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.workbook import KEYED_SHEETS, RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.formulas.stale_results import refresh_on_open
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts.parts import defined_names, sheets
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.book_files import TEMPORARY_PREFIX
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import clear_leftovers

LONGEST = 10
# times as long by the clock on the wall
LONGEST_WAIT = 30
TABS = result_tabs()
ODD_VALUES = (
    b"", b"-1", b"0", b"x", b"1.5", b"1E400", b"NaN", b"2147483648", b"99999999999", b"1048577",
    b"rId99", b"A1:ZZZ9", b"A0", b"XFE1", b"../../x", b"/x", b"SUM(A1:", b"&#x1;", b"&lt;", b"&x;",
    b"A1" * 5000, b"\xff", b"true",
)  # fmt: skip
PATTERNS = {
    "attribute": rb'(?<==")[^"]*(?=")',
    "text": rb"(?<=>)[^<]+(?=<)",
    "element": rb"<[^>]*>",
    "number": rb"\d+",
    "name": rb"(?<=[</])\w+",
}
KINDS = ("bytes", "cut", "part", "twice", "swap", "deep", "entity", *PATTERNS)

Trial = tuple[str, str]


def damaged(book: bytes, kind: str, chance: random.Random) -> bytes:
    """A copy of a workbook with one kind of damage at a place of chance."""
    if kind == "cut":
        return book[: chance.randrange(len(book))]
    if kind == "bytes":
        content = bytearray(book)
        for _ in range(chance.randrange(1, 20)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        return bytes(content)
    try:
        parts = parts_of(book)
    except Exception:
        return book[:-1]
    xml = [name for name in parts if name.endswith((".xml", ".rels", ".vml"))] or list(parts)
    name = chance.choice(xml)
    if kind == "part":
        del parts[name]
    elif kind in PATTERNS:
        for _ in range(chance.randrange(1, 4)):
            parts[name] = _mutated(parts[name], kind, chance)
    else:
        parts[name] = _SPOILERS[kind](parts, name, chance)
    return zipped(parts)


def _mutated(content: bytes, kind: str, chance: random.Random) -> bytes:
    start = chance.randrange(max(len(content), 1))
    found = re.compile(PATTERNS[kind]).search(content, start)
    if found is None:
        return content
    new = b"" if kind == "element" else chance.choice(ODD_VALUES)
    return content[: found.start()] + new + content[found.end() :]


def _twice(parts: dict[str, bytes], name: str, chance: random.Random) -> bytes:
    content = parts[name]
    elements = list(re.finditer(rb"<(\w+)[^<>]*(?:/>|>[^<>]*</\1>)", content))
    if not elements:
        return content
    found = chance.choice(elements)
    return content[: found.end()] + found[0] * chance.choice([1, 3, 1000]) + content[found.end() :]


def _swap(parts: dict[str, bytes], name: str, chance: random.Random) -> bytes:
    return parts[chance.choice(list(parts))]


def _deep(parts: dict[str, bytes], name: str, chance: random.Random) -> bytes:
    depth = chance.choice([300, 5000])
    place = parts[name].rfind(b"</")
    return parts[name][:place] + b"<a>" * depth + b"</a>" * depth + parts[name][place:]


def _entity(parts: dict[str, bytes], name: str, chance: random.Random) -> bytes:
    declared = b'<!DOCTYPE x [<!ENTITY a "' + b"a" * 1000 + b'"><!ENTITY b "&a;&a;">]>'
    content = parts[name]
    start = content.find(b"?>") + 2 if content.startswith(b"<?xml") else 0
    return content[:start] + declared + content[start:].replace(b"</", b"&b;</", 1)


_SPOILERS: dict[str, Callable[[dict[str, bytes], str, random.Random], bytes]] = {
    "twice": _twice, "swap": _swap, "deep": _deep, "entity": _entity,
}  # fmt: skip


@contextmanager
def in_time(seconds: int = LONGEST) -> Iterator[None]:
    """Raise TimeoutError where the block takes more seconds of the processor, or waits for long.

    The clock on the wall says little on a machine with other work to do; it ends only a block that
    waits and does nothing.
    """

    def stop(number: int, _: object) -> None:
        kind = "of the processor" if number == signal.SIGPROF else "waiting"
        raise TimeoutError(f"longer than {seconds} s {kind}")

    clocks = (
        (signal.SIGPROF, signal.ITIMER_PROF, seconds),
        (signal.SIGALRM, signal.ITIMER_REAL, seconds * LONGEST_WAIT),
    )
    old = {number: signal.signal(number, stop) for number, _, _ in clocks}
    for _, clock, limit in clocks:
        signal.setitimer(clock, limit)
    try:
        yield
    finally:
        for number, clock, _ in clocks:
            signal.setitimer(clock, 0)
            signal.signal(number, old[number])


def use(data: bytes) -> bytes:
    """Everything that is done to a workbook, whatever stands in it."""
    package = Package.from_bytes(data)
    defined_names(package)
    changed = {}
    for sheet in sheets(package):
        if sheet.kind == "worksheet" and sheet.part:
            read_grid(package, sheet)
            writes = [CellWrite(row, 3, row / 7) for row in range(1, 9)]
            changed[sheet.name] = edit_cells(package, sheet, writes).changed
    refresh_on_open(package, changed)
    names = graft_sheets(package, TABS, replacing={}, defined={})
    replacing = dict(zip(("Trees", "By plot"), names, strict=True))
    graft_sheets(package, TABS, replacing=replacing, defined={})
    return package.to_bytes()


def try_use(book: bytes, kind: str, seed: object) -> Trial:
    """Use a damaged workbook: refused, or done and sound; anything else raises."""
    data = damaged(book, kind, random.Random(f"{kind} {seed}"))
    with in_time():
        try:
            result = use(data)
        except WorkbookError as error:
            return "refused", clear(error)
        assert sheets(Package.from_bytes(result))
    return "done", ""


def try_fill(book: bytes, kind: str, seed: object, path: Path) -> Trial:
    """Fill a damaged workbook on the disk: refused and as it was, or filled and fillable again."""
    data = damaged(book, kind, random.Random(f"{kind} {seed}"))
    path.write_bytes(data)
    with in_time():
        try:
            fill(path)
        except WorkbookError as error:
            ended = "refused", clear(error)
        else:
            ended = "done", ""
    if ended[0] == "refused":
        assert path.read_bytes() == data
    else:
        assert keyed_texts(path.read_bytes()) == keyed_texts(data)
        again = fill(path)
        if again.wrote:
            # A formula among the readings that depends on our results has lost its own: it is read
            # without one until a spreadsheet program calculates it.
            assert "formula-uncalculated" in {finding.check for finding in again.outcome.findings}
            assert not fill(path).wrote
    return ended


def keyed_texts(data: bytes) -> dict[str, object]:
    """What people typed: texts of their sheets, and of the keyed columns of the field sheet."""
    package = Package.from_bytes(data)
    results = result_columns(package)
    found: dict[str, object] = {}
    for sheet in sheets(package):
        if sheet.kind != "worksheet" or not sheet.part or sheet.name in RESULT_TABS.values():
            continue
        try:
            grid = read_grid(package, sheet)
        except WorkbookError:
            found[sheet.name] = package.read(sheet.part)
            continue
        values = grid.values[:, :31]
        rows, columns = (values != None).nonzero()  # noqa: E711 (compared one by one)
        cells = zip((rows + 1).tolist(), (columns + 1).tolist(), values[rows, columns], strict=True)
        # Stored results of formulas may be dropped.
        found[sheet.name] = {
            (row, column): str(value)
            for row, column, value in cells
            if (row, column) not in grid.formulas and (sheet.name, column) not in results
        }
    return found


def result_columns(package: Package) -> set[tuple[str, int]]:
    """The columns that carry a name of a result, by sheet; the program writes there."""
    ours = {
        record.defined_name(field.name)
        for record in KEYED_SHEETS
        for field in record.fields
        if field.kind == "computed"
    }
    targets = (parse_target(name.text) for name in defined_names(package) if name.name in ours)
    return {(target[0], target[2]) for target in targets if target is not None}


def clear(error: WorkbookError) -> str:
    """The message; it must say something."""
    if len(str(error)) < 20:
        raise AssertionError(f"not a clear refusal: {error}")
    return str(error)


def try_kill(path: Path, complete: bytes, chance: random.Random, seconds: float) -> str:
    """Kill a fill at a moment of chance: the original or the complete result is there.

    Half of the moments lie in the whole run, half just after the first file was begun.
    """
    original = path.read_bytes()
    command = [sys.executable, "-m", "xlhelpers", "fill", str(path)]
    done = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    if chance.random() < 0.5:
        time.sleep(chance.uniform(0.1, seconds))
    else:
        end = time.monotonic() + 3 * seconds
        while time.monotonic() < end and done.poll() is None and not _begun(path):
            time.sleep(0.0005)
        time.sleep(chance.choice([0, chance.uniform(0, 0.02)]))
    done.kill()
    done.wait()
    now = path.read_bytes()
    assert now in (original, complete), "neither the original nor the complete result is there"
    assert Package.open(path)
    left = _begun(path)
    for backup in path.parent.glob("*.bak"):
        assert backup.read_bytes() == original
    said = clear_leftovers(path)
    assert (said is not None) == left
    assert not _begun(path)
    state = "complete" if now == complete else "original"
    return f"{state}, unfinished file left" if left else state


def _begun(path: Path) -> bool:
    return any(item.name.startswith(TEMPORARY_PREFIX) for item in path.parent.iterdir())
