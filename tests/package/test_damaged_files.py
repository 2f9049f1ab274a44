"""Damaged workbooks give a clear refusal or a sound result, never another exception."""

from __future__ import annotations

import random
import re
import time

import pytest

from tests.package.books import parts_of, result_tabs, user_book, zipped
from xlhelpers.errors import WorkbookError
from xlhelpers.package.cell_edit import CellWrite, edit_cells
from xlhelpers.package.container import Package
from xlhelpers.package.graft import graft_sheets
from xlhelpers.package.grid import read_grid
from xlhelpers.package.parts import defined_names, sheets
from xlhelpers.package.stale_results import refresh_on_open

BOOK, TABS = user_book(), result_tabs()
ODD_VALUES = (
    b"",
    b"-1",
    b"x",
    b"99999999999",
    b"rId99",
    b"A1:ZZZ9",
    b"../../x",
    b"SUM(A1:",
    b"&#x1;",
)
KINDS = ("bytes", "cut", "attribute", "text", "element", "part")


def damaged(kind: str, chance: random.Random) -> bytes:
    """A copy of a workbook with one kind of damage at a place of chance."""
    if kind == "cut":
        return BOOK[: chance.randrange(len(BOOK))]
    if kind == "bytes":
        content = bytearray(BOOK)
        for _ in range(chance.randrange(1, 20)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        return bytes(content)
    parts = parts_of(BOOK)
    name = chance.choice([item for item in parts if item.endswith((".xml", ".rels"))])
    if kind == "part":
        del parts[name]
        return zipped(parts)
    pattern = {
        "attribute": rb'(?<==")[^"]*(?=")',
        "text": rb"(?<=>)[^<]+(?=<)",
        "element": rb"<[^>]*>",
    }
    places = [found.span() for found in re.finditer(pattern[kind], parts[name])]
    if places:
        start, end = chance.choice(places)
        new = b"" if kind == "element" else chance.choice(ODD_VALUES)
        parts[name] = parts[name][:start] + new + parts[name][end:]
    return zipped(parts)


def use(data: bytes) -> bytes:
    """Everything that is done with a workbook."""
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


@pytest.mark.parametrize("kind", KINDS)
def test_damage_of_each_kind(kind: str) -> None:
    refused = 0
    for seed in range(40):
        start = time.monotonic()
        try:
            result = use(damaged(kind, random.Random(f"{kind} {seed}")))
        except WorkbookError:
            refused += 1
        else:
            assert sheets(Package.from_bytes(result))
        assert time.monotonic() - start < 10
    assert refused > 0
