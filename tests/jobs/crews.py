"""What the tests of the crews' commands share: the demo town, and copies of it."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.zip.container import Package


def changed(source: Path, target: Path, cells: Mapping[tuple[str, int, int], Any]) -> Path:
    """Write a copy of a workbook with other values in some cells (sheet, row, column)."""
    package = Package.open(source)
    for tab in {sheet for sheet, _, _ in cells}:
        part = parts.sheet_named(package, tab)
        assert part is not None
        writes = [CellWrite(row, column, value) for (sheet, row, column), value in cells.items()
                  if sheet == tab]  # fmt: skip
        _, refusals = write_cells(package, part, writes)
        assert not refusals
    target.write_bytes(package.to_bytes())
    return target
