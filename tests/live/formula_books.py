"""What the formulas of a workbook read and give: by Python from its cells, and as it is stored."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.jobs.books import GOOD, PLOT, Rows
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.live.formulas import FORMULAS
from xlhelpers.package.parts.parts import defined_names, sheet_named, sheets
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows

_RESULT = re.compile(rb"(<f[^<>]*(?:/>|>[^<]*</f>))<v>[^<]*</v>")


def without_results(path: Path) -> int:
    """Delete the stored result of every formula of a workbook; return how many there were."""
    package, count = Package.open(path), 0
    for part in sheets(package):
        content, found = _RESULT.subn(rb"\1", package.read(part.part))
        package.replace(part.part, content)
        count += found
    path.write_bytes(package.to_bytes())
    return count


def stored(path: Path, names: tuple[str, ...], first: int, count: int) -> dict[str, NDArray]:
    """The values in some columns of the field sheet, from the first row of data on."""
    package = Package.open(path)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    grid = read_grid(package, part)
    columns = {}
    for name in defined_names(package):
        target = parse_target(name.text)
        if target is not None:
            columns[name.name.casefold()] = target[2]
    return {
        name: _column(grid, columns[FIELD_SHEET.defined_name(name).casefold()], first, count)
        for name in names
    }


def _column(grid: Grid, column: int, first: int, count: int) -> NDArray:
    found = np.full(count, None, dtype=object)
    there = grid.values[first - 1 : first - 1 + count, column - 1]
    found[: len(there)] = there
    for at, value in enumerate(found):
        if isinstance(value, CellError):
            found[at] = value.code
    return found


ALL = tuple(FORMULAS)
FORMER = Path(__file__).parent.parent / "former_workbooks" / "blank_1_1.xlsx"


def keyed_before(path: Path, lines: Rows, plots: Rows | None = None) -> Path:
    """Write a workbook of the version before with these lines; blanks are as in `GOOD`."""
    package = Package.open(FORMER)
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    kind = "clinometer, percent and degrees"
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": kind}])
    key_rows(package, PLOTS, plots or [PLOT])
    key_rows(package, FIELD_SHEET, [GOOD | line for line in lines])
    path.write_bytes(package.to_bytes())
    return path
