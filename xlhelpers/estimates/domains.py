"""Which trees are told apart: by species, by diameter class, by group."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.survey.typed.folding import Positions, codes_of, fold_column
from xlhelpers.survey.typed.species_names import fold_species

SPECIES, DIAMETER_CLASS, GROUP = "species", "diameter class", "group"
NOT_STATED = "not stated"
NO_DIAMETER = "no diameter"
# Lower bounds of the diameter classes in the unit of the survey; common practice, no source
CLASS_BOUNDS: dict[Units, tuple[float, ...]] = {
    "metric": (15.0, 30.0, 45.0, 60.0, 75.0),
    "us": (6.0, 12.0, 18.0, 24.0, 30.0),
}


@dataclass(frozen=True)
class Domains:
    """Trees told apart: `names` in order, and for each tree the position of its name."""

    kind: str
    names: tuple[str, ...]
    code: Positions


def all_domains(trees: pd.DataFrame, units: Units) -> list[Domains]:
    """Return the domains of every kind that the survey has; groups only where any is written."""
    domains = [by_species(trees), by_diameter_class(trees, units)]
    if (trees["group"] != "").any():
        domains.append(_by_text(GROUP, trees["group"].astype(str)))
    return domains


def by_species(trees: pd.DataFrame) -> Domains:
    """Tell trees apart by species as kept: the botanical name, or as typed where it is unknown."""
    known = trees["known_species"].to_numpy(dtype=bool)
    typed = trees["species"].to_numpy(dtype=object)
    names = np.where(known, trees["botanical"].to_numpy(dtype=object), typed)
    return _by_text(SPECIES, pd.Series(names, dtype=object))


def by_diameter_class(trees: pd.DataFrame, units: Units) -> Domains:
    """Tell trees apart by diameter, lower bounds included; those without one come last."""
    bounds = CLASS_BOUNDS[units]
    record = QUANTITIES["diameter"]
    diameter = trees["diameter"].to_numpy(dtype=float) / record.factor(units)
    # a diameter typed as 6 in must not fall below it by conversion
    code = np.searchsorted(bounds, np.round(diameter, 9), side="right").astype(np.int64)
    code[np.isnan(diameter)] = len(bounds) + 1
    unit = record.unit(units)
    names = [
        f"under {bounds[0]:g} {unit}",
        *(f"{low:g} to under {high:g} {unit}" for low, high in pairwise(bounds)),
        f"{bounds[-1]:g} {unit} and more",
    ]
    if np.isnan(diameter).any():
        names.append(NO_DIAMETER)
    return Domains(DIAMETER_CLASS, tuple(names), code)


def by_labels(kind: str, labels: pd.Series) -> Domains:
    """Tell trees apart by a label of each; "" is called not stated, the most counted come first."""
    return _by_text(kind, labels)


def _by_text(kind: str, texts: pd.Series) -> Domains:
    """Tell trees apart by a text, however it is spelled; the most counted first."""
    code = codes_of(fold_column(texts, fold_species))
    counts = np.bincount(code) if len(code) else np.empty(0, dtype=np.int64)
    first = np.unique(code, return_index=True)[1]
    names = texts.to_numpy(dtype=object)[first]
    order = np.lexsort((fold_column(names).astype(str), -counts))
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    labels = tuple(str(names[at]).strip() or NOT_STATED for at in order.tolist())
    return Domains(kind, labels, place[code])
