"""Builds a keyed workbook from a table of trees whose heights are already in metres.

    python demo_workbooks/from_table.py TREES.csv TOWN.xlsx

Each row becomes one line of the field sheet, read with a height display: the heights stand in the
reading columns as they are, and nothing has to be converted. `COLUMNS` says which column of the
table goes where; change it for a table of your own. Crown depths and mean widths that the table
carries go to the recorded columns, where they are compared and never used.
"""

import argparse
from pathlib import Path

import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.rules import RULES
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

# column of the field sheet -> column of the table
COLUMNS = {
    "plot": "city",
    "tree": "tree_id",
    "species": "scientific_name",
    "diameter": "dbh_cm",
    "base_reading": "crown_base_m",
    "tip_reading": "height_m",
    "recorded_depth": "crown_depth_m",
    "recorded_width": "crown_width_mean_m",
}
WIDTHS = ("crown_width_along_m", "crown_width_across_m")
STEMS = tuple(f"stem{number}_cm" for number in range(1, 9))
INSTRUMENT = {"instrument": "heights as recorded", "kind": "pole or tape"}
AGREED = {"smallest_diameter": 0.0, "heights_on": "some trees", "limit_steps": 1000}


def to_lines(table: pd.DataFrame) -> pd.DataFrame:
    """Return the lines of the field sheet for a table of trees.

    Parameters
    ----------
    table : DataFrame
        One row a tree; heights and widths in metres, diameters in centimetres.
    """
    lines = pd.DataFrame({name: table[column] for name, column in COLUMNS.items()})
    lines["tree"] = lines["tree"].astype(str)
    lines["species"] = lines["species"].str.strip()
    lines["width_widest"] = table[list(WIDTHS)].max(axis=1)
    lines["width_across"] = table[list(WIDTHS)].min(axis=1)
    stems = table[list(STEMS)].to_numpy(float)
    several = (~pd.isna(stems)).sum(axis=1) > 1
    for position in several.nonzero()[0]:
        largest_first = sorted((s for s in stems[position] if s > 0), reverse=True)
        lines.loc[lines.index[position], "diameter"] = largest_first[0]
        lines.loc[lines.index[position], "other_stems"] = " ".join(map(str, largest_first[1:]))
    return lines


def build(table: pd.DataFrame, out: Path) -> Path:
    """Write the workbook and return its path."""
    lines = to_lines(table)
    places = list(dict.fromkeys(lines["plot"]))
    out.write_bytes(make_template("metric", "a4", plots=len(places), lines=len(lines)))
    package = Package.open(out)
    key_rows(package, RULES, [AGREED])
    key_rows(package, INSTRUMENTS, [INSTRUMENT])
    key_rows(package, PLOTS, [_plot(place) for place in places])
    key_rows(package, FIELD_SHEET, _records(lines))
    out.write_bytes(package.to_bytes())
    return out


def _plot(place: str) -> dict[str, object]:
    return {
        "plot": place,
        "status": "measured",
        "instrument": INSTRUMENT["instrument"],
        "scale": "height",
        "distance_kind": "none",
    }


def _records(lines: pd.DataFrame) -> list[dict[str, object]]:
    records = lines.astype(object).where(lines.notna(), None).to_dict("records")
    return [{str(name): value for name, value in record.items()} for record in records]


def main() -> None:
    """Read the two names from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("table", type=Path, help="a CSV file with one tree a row")
    parser.add_argument("out", type=Path, help="the workbook to write")
    options = parser.parse_args()
    print(f"Wrote {build(pd.read_csv(options.table), options.out)}")


if __name__ == "__main__":
    main()
