"""What the tests of the crews' commands share: the demo town, copies of it, and a way to run."""

import argparse
import importlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from xlhelpers import cli_crews
from xlhelpers.package import parts
from xlhelpers.package.cell_edit import CellWrite, write_cells
from xlhelpers.package.container import Package


def parse(*arguments: object) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="xlhelpers")
    cli_crews.add(parser.add_subparsers(dest="command", required=True))
    return parser.parse_args([str(argument) for argument in arguments])


def run(*arguments: object) -> int:
    options = parse(*arguments)
    module = importlib.import_module(f"xlhelpers.commands.{options.command}")
    code = module.run(options)
    assert isinstance(code, int)
    return code


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
