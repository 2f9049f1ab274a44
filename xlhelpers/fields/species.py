"""The species sheet, and the species that a new workbook offers.

The names are botany. The outline, the solid that is nearest to the usual crown of the species in
the open, is this project's own choice and only a default: each survey may change it on its own
species sheet. Palms have none, because no crown volume is computed for them.
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from xlhelpers.fields.record import Field, Sheet

SPECIES = Sheet(
    "species", "Species", "Species",
    "Names to choose from. Add your own at the end; your town may use its own codes.",
    (
        Field("botanical", "Botanical name", "text", "Genus and species.", required="always",
              filled_by="office", width=32, synonyms=("scientific name",)),
        Field("common", "Common name", "text", "As the crews say it.",
              filled_by="office", width=28),
        Field("code", "Own code", "identifier", "Your town's own code, if it has any.",
              filled_by="office", width=10),
        Field("kind", "Kind", "choice", "broadleaf, conifer or palm.", choices="species kind",
              required="always", filled_by="office", width=11),
        Field("outline", "Crown outline", "choice", "The solid most like its crown.",
              choices="outline", filled_by="office", width=15),
    ),
    row_word="species", prepared_rows=60,
)  # fmt: skip


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
