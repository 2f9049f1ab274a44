"""Write two small workbooks whose surveys take crown widths in other ways than the town does.

Usage, with the project installed: python demo_workbooks/make_crown_rules.py [--out FOLDER]

`four_radii.xlsx` is a street in feet with four radii from each stem; one radius of its last tree
was not entered. `fixed_directions.xlsx` is a street in metres with widths along and across it, the
second often the larger one, and girths. Both are filled. Streets, people and trees are invented;
only the names of the species are real.
"""

import argparse
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from make_town import DAY

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import Paper, make_template

INSTRUMENT = {"instrument": "Clino 1", "kind": "clinometer, percent and degrees"}
COLUMNS = (
    "tree", "species", "diameter", "distance", "foot_reading", "base_reading", "tip_reading",
)  # fmt: skip


@dataclass(frozen=True)
class Street:
    """One small survey: its file, units, rules, the plot's row, the crown columns, its trees."""

    file: str
    units: Units
    paper: Paper
    rules: dict[str, object]
    plot: dict[str, object]
    eye_height: float
    crown: tuple[str, ...]
    trees: tuple[tuple[object, ...], ...]

    def lines(self) -> list[dict[str, object]]:
        """Return the lines of the field sheet."""
        names = (*COLUMNS, *self.crown)
        rows = (dict(zip(names, tree, strict=False)) for tree in self.trees)
        return [
            {"plot": self.plot["plot"], **{n: v for n, v in row.items() if v is not None}}
            for row in rows
        ]


def _plot(name: str, trees: int) -> dict[str, object]:
    return {
        "plot": name,
        "status": "measured",
        "crew": "AM BT",
        "instrument": INSTRUMENT["instrument"],
        "scale": "percent",
        "distance_kind": "level",
        "distance_to": "centre",
        "leaf_state": "in leaf",
        "slope": 1,
        "trees_counted": trees,
        "paper_sheets": 1,
        "keyed_by": "AM",
    }


FOUR_RADII = Street(
    "four_radii.xlsx",
    "us",
    "letter",
    {
        "survey_name": "Millrace Row (an invented street)",
        "units": "us",
        "survey_kind": "every tree",
        "crown_widths": "four radii",
    },
    _plot("Row", 10),
    5.2,
    ("radius_north", "radius_east", "radius_south", "radius_west"),
    (
        ("1", "Tilia cordata", 14.2, 60, -9, 12, 70, 13.5, 11, 12.5, 10),
        ("2", "Tilia cordata", 12.6, 55, -10, 10, 68, 12, 10.5, 11, 9.5),
        ("3", "Acer platanoides", 16.1, 60, -9, 9, 66, 17, 15.5, 16, 14),
        ("4", "Quercus robur", 22.4, 70, -7, 11, 71, 24, 21, 23, 18.5),
        ("5", "Betula pendula", 9.8, 50, -11, 16, 72, 9, 8.5, 8, 7.5),
        ("6", "Platanus occidentalis", 25.6, 75, -7, 14, 84, 27, 22, 25.5, 20),
        ("7", "Prunus cerasifera", 7.1, 30, -18, 6, 58, 9.5, 9, 8.5, 8),
        ("8", "Fraxinus excelsior", 15.7, 60, -9, 15, 78, 15, 13.5, 14, 12.5),
        ("9", "Acer saccharinum", 18.9, 65, -8, 10, 76, 24, 12, 14, 22),
        ("10", "Acer platanoides", 13.4, 55, -10, 9, 65, 14, 13, 12.5, None),
    ),
)  # fmt: skip
FIXED_DIRECTIONS = Street(
    "fixed_directions.xlsx",
    "metric",
    "a4",
    {
        "survey_name": "Cooper Lane (an invented street)",
        "units": "metric",
        "survey_kind": "every tree",
        "crown_widths": "two fixed directions",
        "width_directions": "along and across the street",
        "diameter_typed_as": "girth",
    },
    _plot("Lane", 10),
    1.58,
    ("width_widest", "width_across", "condition"),
    (
        ("1", "Tilia cordata", 114, 18, -9, 12, 70, 7.1, 6.4),
        ("2", "Tilia cordata", 102, 17, -9, 10, 68, 6.2, 7.0),
        ("3", "Acer platanoides", 129, 18, -9, 9, 66, 8.8, 9.6),
        ("4", "Quercus robur", 180, 21, -8, 11, 71, 12.4, 11.1),
        ("5", "Betula pendula", 79, 15, -11, 16, 72, 4.6, 5.2),
        ("6", "Platanus occidentalis", 206, 23, -7, 14, 84, 13.0, 14.2),
        ("7", "Prunus cerasifera", 57, 9, -18, 6, 58, 4.8, 5.5),
        ("8", "Fraxinus excelsior", 126, 18, -9, 15, 78, 8.1, 7.7),
        ("9", "Tilia cordata", 133, 12, -13, 14, 55, 4.0, 4.4, "C"),
        ("10", "Acer platanoides", 107, 17, -9, 9, 65, 7.3, 8.0),
    ),
)  # fmt: skip
STREETS = (FOUR_RADII, FIXED_DIRECTIONS)


def write_street(street: Street, folder: Path) -> Path:
    """Write the filled workbook of one street and return its path."""
    package = Package.from_bytes(make_template(street.units, street.paper, 1, 20))
    for sheet, rows in (
        (RULES, [street.rules]),
        (PEOPLE, [{"initials": "AM", "eye_height": street.eye_height}, {"initials": "BT"}]),
        (INSTRUMENTS, [INSTRUMENT]),
        (PLOTS, [street.plot]),
        (FIELD_SHEET, street.lines()),
    ):
        key_rows(package, sheet, rows)
    book = folder / street.file
    # a fill into a file that is there would keep a backup of it
    book.unlink(missing_ok=True)
    with patch.dict(os.environ, {"SOURCE_DATE_EPOCH": DAY}), TemporaryDirectory() as place:
        keyed = Path(place) / street.file
        keyed.write_bytes(package.to_bytes())
        fill(keyed, book)
    return book


def main(arguments: Sequence[str] | None = None) -> int:
    """Write both workbooks into a folder, this one unless stated; returns the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="folder")
    folder = parser.parse_args(arguments).out
    folder.mkdir(parents=True, exist_ok=True)
    for street in STREETS:
        print(f"{write_street(street, folder)}: {len(street.trees)} trees")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
