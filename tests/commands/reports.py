"""What the tests of the council's report share: surveys with something lacking, and its cells."""

import re
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.utils import range_boundaries

from tests.blank_books import blank
from tests.commands.estimates import Row, plot, run, survey, trees_of
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.rules import RULES
from xlhelpers.package.container import Package
from xlhelpers.workbook.key_in import key_rows

TWO = [{"stratum": "North", "area": 30, "plots_possible": 750},
       {"stratum": "South", "area": 10, "plots_possible": 250}]  # fmt: skip
NORTH, SOUTH = (8, 6, 7, 9, 5), (2, 4, 0, 3)
_REFERENCE = re.compile(r"<c:f>([^<]+)</c:f>")


def town(
    path: Path, counts: tuple[tuple[int, ...], tuple[int, ...]] = (NORTH, SOUTH), **more: Any
) -> Path:
    """Write a survey of two strata: `plots`, `tree` change cells, `strata` and `rules` sheets."""
    strata = more.get("strata", TWO)
    plots: list[Row] = []
    lines: list[Row] = []
    for stratum, numbers in zip(("North", "South"), counts, strict=True):
        for count in numbers:
            name = str(len(plots) + 1)
            own = more.get("plots", {}) | ({"stratum": stratum} if strata else {})
            plots.append(plot(name, count, **own))
            group = "city" if len(plots) % 2 else "owners"
            lines += trees_of(name, count, **({"group": group} | more.get("tree", {})))
    survey(path, plots, lines, strata)
    if "rules" in more:
        package = Package.open(path)
        key_rows(package, RULES, [more["rules"]])
        path.write_bytes(package.to_bytes())
    return path


def us_town(path: Path) -> Path:
    """Write a survey in feet, inches and acres."""
    plots: list[Row] = []
    lines: list[Row] = []
    for stratum, numbers in (("North", NORTH), ("South", SOUTH)):
        for count in numbers:
            name = str(len(plots) + 1)
            plots.append(plot(name, count, stratum=stratum, area_inside=1742.4,
                              area_reached=1742.4))  # fmt: skip
            for at, line in enumerate(trees_of(name, count, width_across=26)):
                width = {"width_widest": 30 + at + count}
                lines.append(line | width | {"distance": line["distance"] * 3, "diameter": 6 + at})
    package = Package.from_bytes(blank("us", "letter", plots=len(plots) + 2, lines=len(lines) + 10))
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 5}])
    kind = "clinometer, percent and degrees"
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": kind}])
    for sheet, rows in ((STRATA, TWO), (PLOTS, plots), (FIELD_SHEET, lines)):
        key_rows(package, sheet, rows)
    path.write_bytes(package.to_bytes())
    return path


def reported(book: Path, *arguments: object) -> tuple[int, Path]:
    """Run the command; return its exit code and the report."""
    out = book.with_name(f"{book.stem}_said.xlsx")
    return run("report", book, "--out", out, *arguments), out


def cells(report: Path) -> dict[str, list[list[Any]]]:
    book = openpyxl.load_workbook(report)
    return {sheet.title: [[_plain(cell) for cell in row]
                          for row in sheet.iter_rows(values_only=True)]
            for sheet in book.worksheets}  # fmt: skip


def _plain(cell: Any) -> Any:
    return cell.replace("\N{NO-BREAK SPACE}", " ") if isinstance(cell, str) else cell


def texts(report: Path) -> list[str]:
    return [str(cell) for rows in cells(report).values() for row in rows for cell in row
            if isinstance(cell, str)]  # fmt: skip


def row_of(rows: list[list[Any]], name: str, below: str = "") -> list[Any]:
    """Return the row that begins with a name, below a heading."""
    start = next(i for i, row in enumerate(rows) if row[0] == below) if below else 0
    return next(row for row in rows[start:] if row[0] == name)


def charted(report: Path) -> list[list[list[Any]]]:
    """Return for each chart the cells behind each of its references."""
    book = openpyxl.load_workbook(report)
    with zipfile.ZipFile(report) as archive:
        names = sorted(name for name in archive.namelist() if name.startswith("xl/charts/chart"))
        parts = [archive.read(name).decode() for name in names]
    found = []
    for part in parts:
        behind = []
        for reference in _REFERENCE.findall(part):
            sheet, _, place = reference.rpartition("!")
            left, top, right, bottom = range_boundaries(place.replace("$", ""))
            rows = book[sheet.strip("'")].iter_rows(top, bottom, left, right, values_only=True)
            behind.append([cell for row in rows for cell in row])
        found.append(behind)
    return found
