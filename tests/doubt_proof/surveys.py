"""The real trees of the proof, and keyed sheets with mistakes as surveys in memory."""

from pathlib import Path

import numpy as np
import pandas as pd

from tests.doubt_proof.generator import CRAFTS, Keyed
from tests.real.make_reference import kind_of
from tests.real_trees import real_trees
from tests.survey.make_survey import make_survey
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.species_names import fold_species, without_cultivar

KNOWN_MISTAKES = Path(__file__).parent / "known_mistakes.csv"
# whole cities that neither the reference of the proof nor the limits have seen
UNSEEN = ("Indianapolis, IN", "Claremont, CA", "Boise, ID")


def sound_trees(city: str) -> pd.DataFrame:
    """Return the trees of a city that are not on the list of known mistakes."""
    table = real_trees()
    listed = pd.read_csv(KNOWN_MISTAKES)["row"]
    table = table[(table["city"] == city) & ~table.index.isin(listed)]
    return pd.DataFrame(
        {
            "species": table["scientific_name"],
            "dbh": table["dbh_cm"],
            "height": table["height_m"],
            "base": table["crown_base_m"],
            "along": table["crown_width_along_m"].fillna(table["crown_width_mean_m"]),
            "across": table["crown_width_across_m"].fillna(table["crown_width_mean_m"]),
        }
    ).reset_index(drop=True)


def tagged(keyed: Keyed) -> pd.DataFrame:
    """Return the lines with what an injection has to know of their instruments."""
    lines, plots = keyed.lines.copy(), keyed.plots.set_index("plot")
    scale = plots["scale"].reindex(lines["plot"]).to_numpy()
    kind = plots["instrument"].reindex(lines["plot"]).str[1:].to_numpy()
    pairs = {(c[0], c[1]): i for i, c in enumerate(CRAFTS)}
    craft = [pairs[k, s] for k, s in zip(kind, scale, strict=True)]
    return lines.assign(_craft_scale=scale, _kind=kind, _craft=craft)


def as_survey(keyed: Keyed, lines: pd.DataFrame) -> Survey:
    """Return sheets as a survey; `lines` may be those with mistakes."""
    own = lines[[name for name in lines.columns if not name.startswith("_")]]
    names = own["species"][own["species"] != ""].unique()
    species = [
        {"botanical": n, "common": "", "code": "", "kind": kind_of(n.split()[0]), "outline": ""}
        for n in {without_cultivar(fold_species(n)): n for n in names}.values()
    ]
    return make_survey(
        _rows(own), _rows(keyed.plots), _rows(keyed.instruments), species,
        people=_rows(keyed.people),
    )  # fmt: skip


def _rows(frame: pd.DataFrame) -> list[dict]:
    records = frame.astype(object).where(frame.notna(), None).to_dict("records")
    return [{str(name): value for name, value in record.items()} for record in records]


def reference_without(cities: tuple[str, ...]) -> pd.DataFrame:
    """Return the reference made without some cities."""
    from tests.real.make_reference import make_reference

    table = real_trees()
    return make_reference(table[~table["city"].isin(cities)].reset_index(drop=True))


def seeds_of(city: str, setting: str) -> np.random.SeedSequence:
    """Return a start of random numbers of its own for each city and set."""
    return np.random.SeedSequence([sum(map(ord, city)), sum(map(ord, setting))])
