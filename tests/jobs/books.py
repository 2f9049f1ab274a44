"""A small workbook with entered lines for the tests of the commands, filled or not.

What is asked for again is not made again: most tests start from one of a few workbooks.
"""

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tests.blank_books import blank
from xlhelpers.doors.command_line.main import main
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows

# A tree of 20 m sighted at 100 ft or 30 m: readings in percent, nothing wrong
GOOD = {
    "plot": "1",
    "species": "Quercus robur",
    "diameter": 40,
    "width_widest": 9,
    "width_across": 8,
    "distance": 25,
    "foot_reading": -6,
    "base_reading": 10,
    "tip_reading": 70,
}
PLOT = {
    "plot": "1",
    "status": "measured",
    "crew": "AB",
    "instrument": "C1",
    "scale": "percent",
    "distance_kind": "level",
}


def run(*arguments: object) -> int:
    """Run one command as the command line does, and return its exit code."""
    return main([str(argument) for argument in arguments])


Rows = list[dict[str, Any]]

_MADE: dict[str, bytes] = {}


def keyed(path: Path, lines: Rows, plots: Rows | None = None) -> Path:
    """Write a template with these lines keyed into it; what a line leaves out is as in GOOD."""
    path.write_bytes(make_once(f"keyed {lines} {plots}", lambda: _keyed(lines, plots)))
    return path


def write_filled(path: Path, lines: Rows, plots: Rows | None = None) -> Path:
    """Write what `keyed` writes after a fill, without the backup."""

    def fill_it() -> bytes:
        with TemporaryDirectory() as folder:
            book = keyed(Path(folder) / path.name, lines, plots)
            fill(book)
            return book.read_bytes()

    # the name of the workbook is on one of the tabs
    path.write_bytes(make_once(f"filled {path.name} {lines} {plots}", fill_it))
    return path


def make_once(asked: str, make: Callable[[], bytes]) -> bytes:
    """Return the workbook that is asked for; it is made when it is asked for the first time."""
    if asked not in _MADE:
        _MADE[asked] = make()
    return _MADE[asked]


def _keyed(lines: Rows, plots: Rows | None) -> bytes:
    package = Package.from_bytes(blank())
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    kind = "clinometer, percent and degrees"
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": kind}])
    key_rows(package, PLOTS, plots or [PLOT | {"trees_counted": len({x["tree"] for x in lines})}])
    key_rows(package, FIELD_SHEET, [GOOD | line for line in lines])
    return package.to_bytes()


def varied(count: int) -> list[dict[str, Any]]:
    """Return lines of different trees, so that none looks copied or dragged."""
    tips = (70, 62, 75, 58, 66, 81, 55, 73)
    bases = (10, 14, 7, 12, 17, 9, 6, 15)
    return [
        {
            "tree": str(i + 1),
            "diameter": 30 + 3.7 * ((i * 5) % 8),
            "tip_reading": tips[i % 8] + i // 8,
            "base_reading": bases[i % 8],
            "distance": 22.5 + 1.3 * ((i * 3) % 7),
            "foot_reading": -round(150 / (22.5 + 1.3 * ((i * 3) % 7))),  # eye at 1.5 m
        }
        for i in range(count)
    ]
