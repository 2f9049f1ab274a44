"""Write the workbook of the invented town Vellimoor, and the list of mistakes planted in it.

Usage, with the project installed: python demo_workbooks/make_town.py [--out FOLDER]

Writes `town.xlsx`, keyed as a clerk would key it, `town_filled.xlsx`, the same after a fill, and
`planted_mistakes.csv`. Everything follows from one seed, so two runs give the same bytes. The
town, its people and its trees are invented; only the names of the species are real. The crews of
the town keep the usual cautions: one person watches the traffic, nobody steps back while aiming,
no pole near wires, nobody under a dead, split or hung top; where there is no safe place they
write NOT SAFE.
"""

import argparse
import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path
from unittest.mock import patch

from town_mistakes import Planted, plant
from town_places import PEOPLE, RULES, STRATA, instruments
from town_planted import MISTAKES
from town_survey import Town, grow_town, instrument_checks

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENT_CHECKS, INSTRUMENTS
from xlhelpers.fields.places import PEOPLE as PEOPLE_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.places import STRATA as STRATA_SHEET
from xlhelpers.fields.rules import RULES as RULES_SHEET
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

DAY = "1751356800"
"""The moment that stands in the files, 1 July 2025 at 8:00 UTC: without it no two runs agree."""

COLUMNS = (
    "number",
    "kind",
    "check",
    "sheet",
    "plot",
    "tree",
    "set-up",
    "field",
    "right",
    "keyed",
    "in plain words",
)


def town_workbook(town: Town) -> bytes:
    """Return the workbook of a town: the blank template with every sheet keyed."""
    package = Package.from_bytes(
        make_template("metric", "a4", len(town.plots), len(town.lines) + 40)
    )
    for sheet, rows in (
        (RULES_SHEET, [RULES]),
        (STRATA_SHEET, STRATA),
        (PEOPLE_SHEET, PEOPLE),
        (INSTRUMENTS, instruments()),
        (INSTRUMENT_CHECKS, instrument_checks()),
        (PLOTS, town.plots),
        (FIELD_SHEET, town.lines),
    ):
        key_rows(package, sheet, [_filled(row) for row in rows])
    return package.to_bytes()


def _filled(row: dict) -> dict:
    return {name: value for name, value in row.items() if value is not None}


def list_of_mistakes(planted: Sequence[Planted]) -> str:
    """Return the planted mistakes as the text of a CSV file."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in planted:
        change, mistake = one.change, one.mistake
        setup = change.setup if one.key[1] else ""
        sheet = PLOTS if change.sheet == PLOTS.tab else FIELD_SHEET
        label = sheet[change.field].label
        told = [label, _plain(change.right), _plain(change.keyed), mistake.words]
        writer.writerow(
            [one.number, mistake.kind, mistake.check, change.sheet, *one.key, setup, *told]
        )
    return text.getvalue()


def _plain(value: object) -> str:
    return "(blank)" if value is None else str(value)


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the files into a folder, this one unless stated; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument(
        "--out", type=Path, default=Path(__file__).parent, help="folder to write into"
    )
    folder = parser.parse_args(arguments).out
    town, planted = plant(grow_town(), MISTAKES)
    folder.mkdir(parents=True, exist_ok=True)
    book, filled = folder / "town.xlsx", folder / "town_filled.xlsx"
    with patch.dict(os.environ, {"SOURCE_DATE_EPOCH": DAY}):
        book.write_bytes(town_workbook(town))
        # a fill into a file that is there would keep a backup of it
        filled.unlink(missing_ok=True)
        fill(book, filled)
    (folder / "planted_mistakes.csv").write_text(list_of_mistakes(planted), encoding="utf-8")
    print(f"{book}: {len(town.lines)} lines, {len(planted)} mistakes planted")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
