"""The cities of the second set, split in two, and their keyed sheets as surveys in memory.

No report and no limit of this folder had seen Honolulu and Charlotte when the second set was made.
The other seven had been seen: limits were set on four of them and figures published of three.
A survey is always weighed by a reference that does not hold its own city, nor a held-out one.
"""

from functools import cache

import numpy as np
import pandas as pd

from tests.doubt_proof.habits import FOOT, INCH, Keyed
from tests.doubt_proof.list_mistakes import reasons
from tests.doubt_proof.surveys import reference_without
from tests.real.make_reference import kind_of
from tests.real_trees import real_trees
from tests.survey.make_survey import make_survey
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.species_names import fold_species, without_cultivar

TUNING_CITIES = (
    "Sacramento, CA", "Modesto, CA", "Fort Collins, CO", "Glendale, AZ",
    "Indianapolis, IN", "Claremont, CA", "Boise, ID",
)  # fmt: skip
HELD_OUT_CITIES = ("Honolulu, HI", "Charlotte, NC")
_LENGTHS = ("distance", "width_widest", "width_across")


@cache
def _sound_rows() -> pd.Series:
    """Which trees of the open data add up, whatever is recorded of their single stems."""
    table = real_trees()
    stems = [name for name in table.columns if name.startswith("stem")]
    return reasons(table.assign(**dict.fromkeys(stems, np.nan))) == ""


@cache
def trees_of(city: str) -> pd.DataFrame:
    """Return the trees of a city whose measurements add up.

    The rules are those of `list_mistakes.py` without the one about single stems, which Charlotte
    recorded in another way and which the surveys do not use.
    """
    table = real_trees()
    table = table[(table["city"] == city) & _sound_rows()]
    mean = table["crown_width_mean_m"]
    return pd.DataFrame(
        {
            "species": table["scientific_name"],
            "dbh": table["dbh_cm"],
            "height": table["height_m"],
            "base": table["crown_base_m"],
            "along": table["crown_width_along_m"].fillna(mean),
            "across": table["crown_width_across_m"].fillna(mean),
        }
    ).reset_index(drop=True)


@cache
def reference_for(city: str) -> pd.DataFrame:
    """Return the reference made without the held-out cities and without this one."""
    return reference_without((*HELD_OUT_CITIES, city))


def convert_lines(lines: pd.DataFrame, units: str) -> pd.DataFrame:
    """Return typed lines in metres and centimetres."""
    lines = lines.copy()
    if units == "us":
        lines["diameter"] *= INCH
        for name in _LENGTHS:
            lines[name] *= FOOT
    return lines


def as_survey(keyed: Keyed, lines: pd.DataFrame) -> Survey:
    """Return sheets as a survey; `lines` may be those with mistakes."""
    names = lines["species"][lines["species"] != ""].unique()
    species = [
        {"botanical": n, "common": "", "code": "", "kind": kind_of(n.split()[0]), "outline": ""}
        for n in {without_cultivar(fold_species(n)): n for n in names}.values()
    ]
    return make_survey(
        _rows(convert_lines(lines, keyed.units)), _rows(keyed.plots), _rows(keyed.instruments),
        species, people=_rows(keyed.people), rules={"units": keyed.units},
    )  # fmt: skip


def _rows(frame: pd.DataFrame) -> list[dict]:
    records = frame.astype(object).where(frame.notna(), None).to_dict("records")
    return [{str(name): value for name, value in record.items()} for record in records]
