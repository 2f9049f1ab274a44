"""The species sheet, the species that a new workbook offers, and other names that they go by.

The lists were put together by this project from common street and park trees of both hemispheres.
The names are botany, from memory; no register of names stands behind them. The outline, the solid
that is nearest to the usual crown of the species in the open, is this project's own choice and
only a default: each survey may change it on its own species sheet. Palms have none, because no
crown volume is computed for them.
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from xlhelpers.fields.record import Field, Sheet

SPECIES = Sheet(
    "species", "Species", "Species",
    "Names to choose from: common street and park trees, put together by this project from general "
    "botany, not from a register. Add your own at the end; your town may use its own codes.",
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


@dataclass(frozen=True)
class OtherName:
    """Another name of a listed species; kind_of_name is botanical (a synonym) or common."""

    kind_of_name: str
    other_name: str
    botanical: str


@cache
def species_list() -> tuple[ListedSpecies, ...]:
    """Return the species in the order of their botanical names."""
    return tuple(ListedSpecies(**row) for row in _read("species_list.csv"))


@cache
def other_names() -> tuple[OtherName, ...]:
    """Return the other names; a common name that several species share has a row for each."""
    return tuple(OtherName(**row) for row in _read("species_other_names.csv"))


def _read(name: str) -> list[dict[str, str]]:
    text = files("xlhelpers.fields").joinpath(name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
