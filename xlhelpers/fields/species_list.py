"""The species that the template offers: botanical and common name, kind and default outline.

The names are botany. The outline, the solid that is nearest to the usual crown of the species in
the open, is this project's own choice and only a default: each survey may change it on its own
species sheet. Palms have none, because no crown volume is computed for them.
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files


@dataclass(frozen=True)
class ListedSpecies:
    """One species of the list; `outline` is "" for a palm."""

    botanical: str
    common: str
    kind: str
    outline: str


@cache
def species_list() -> tuple[ListedSpecies, ...]:
    """Return the species in the order of their botanical names."""
    text = files("xlhelpers.fields").joinpath("species_list.csv").read_text(encoding="utf-8")
    return tuple(ListedSpecies(**row) for row in csv.DictReader(text.splitlines()))
