"""Keyed names of species against the species sheet: botanical name, common name or own code.

A name that is not on the sheet is never replaced: it keeps its own row and is counted, and the
nearest names of the sheet can be proposed for it.
"""

import difflib
import re
from collections.abc import Iterable
from functools import cache, lru_cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.species import other_names
from xlhelpers.survey.typed.folding import Positions, fold, fold_column

UNKNOWN = -1
# Below this likeness (0 to 1, the ratio of matching letters) a proposal only distracts.
LEAST_LIKENESS = 0.6
_CULTIVAR = re.compile(r"\s*(?:'[^']*'|\"[^\"]*\"|\bcv\.?\s.*)\s*$")
_QUOTES = str.maketrans({"‘": "'", "’": "'", "`": "'", "´": "'", "“": '"', "”": '"', "-": " "})
_RANK = {"spp.": "sp", "spp": "sp", "sp.": "sp", "subsp.": "subsp", "ssp.": "subsp", "var.": "var"}


@lru_cache(maxsize=65536)
def fold_species(name: str) -> str:
    """Return a species name in the form in which names are compared.

    As `fold`; besides, quotation marks are alike, a hyphen is a space, the hybrid sign (×, or the
    letter x standing alone) is left out, sp., spp., subsp., ssp. and var. lose their stop, and a
    botanical synonym becomes the name that the project's list uses.
    """
    folded = _fold_spelling(name)
    species = without_cultivar(folded)
    accepted = _botanical_synonyms().get(species)
    return folded if accepted is None else accepted + folded[len(species) :]


@lru_cache(maxsize=65536)
def _fold_spelling(name: str) -> str:
    text = fold(name.translate(_QUOTES)).translate(_QUOTES).replace("×", " ")
    return " ".join(_RANK.get(word, word) for word in text.split() if word != "x")


@cache
def _botanical_synonyms() -> dict[str, str]:
    named = (each for each in other_names() if each.kind_of_name == "botanical")
    return {_fold_spelling(each.other_name): _fold_spelling(each.botanical) for each in named}


def without_cultivar(folded: str) -> str:
    """Return a folded species name without the cultivar at its end ('...' or cv. ...)."""
    return _CULTIVAR.sub("", folded).strip()


def match_species(keyed: Iterable[str], species: pd.DataFrame) -> Positions:
    """Return the row of the species sheet that each keyed name means.

    A botanical name goes before an own code, a code before a common name of the sheet, and that
    before another common name that the project knows. A synonym means the row of its species. A
    common name or code that two rows share means neither. A cultivar that has no row of its own
    belongs to the row of its species; a common name may be turned round ("Maple, Norway").

    Parameters
    ----------
    keyed : column of texts
        Names as typed.
    species : DataFrame
        The species sheet.

    Returns
    -------
    ndarray of int
        Positions in `species`; -1 where the name is blank or not on the sheet.
    """
    index = _index(species)
    codes, names = pd.factorize(np.asarray(keyed, dtype=object))
    if len(codes) == 0:
        return np.empty(0, dtype=np.int64)
    return np.array([_look_up(str(name), index) for name in names], dtype=np.int64)[codes]


def species_codes(keyed: Iterable[str], species: pd.DataFrame) -> Positions:
    """Number the different species of a column from 0; -1 for a blank.

    Two names are one species if they mean the same row of the species sheet or, when neither is
    on it, if they are the same folded name.
    """
    folded = fold_column(keyed, fold_species)
    rows = match_species(keyed, species)
    own = pd.factorize(folded)[0].astype(np.int64)
    codes = np.where(rows >= 0, rows, len(species) + own)
    return np.where(folded == "", UNKNOWN, pd.factorize(codes)[0]).astype(np.int64)


def genus_of(keyed: Iterable[str], species: pd.DataFrame) -> NDArray[np.object_]:
    """Return the genus of each keyed name.

    From the botanical name of its row; for a name that is not on the sheet, its first word if
    that is a genus of the sheet, otherwise "".
    """
    genera = np.array([_genus(name) for name in species["botanical"]], dtype=object)
    known = {fold(genus): genus for genus in genera if genus}
    first_words = fold_column(keyed, lambda name: (fold_species(name).split() or [""])[0])
    guessed = np.array([known.get(word, "") for word in first_words], dtype=object)
    rows = match_species(keyed, species)
    if len(genera) == 0:
        return guessed
    return np.asarray(np.where(rows >= 0, genera[np.maximum(rows, 0)], guessed), dtype=object)


def nearest_names(keyed: str, species: pd.DataFrame, count: int = 3) -> tuple[str, ...]:
    """Propose names of the species sheet for one that is not on it.

    Parameters
    ----------
    keyed : str
        The name as typed.
    species : DataFrame
        The species sheet.
    count : int
        Most proposals wanted where no name holds the typed words.

    Returns
    -------
    tuple of str
        Every name that holds all the typed words ("ash" gives the ashes); the botanical name
        where two species share the common one. Without such names, those with nearly the same
        letters, the nearest first; empty where nothing is near.
    """
    wanted = without_cultivar(fold_species(keyed))
    listed = _listed_names(species)
    holding = _names_holding(wanted, listed, species)
    if holding:
        return holding
    by_name = {folded: (row, name) for folded, row, name in reversed(listed)}
    nearest: dict[int, str] = {}
    for folded in difflib.get_close_matches(wanted, list(by_name), 2 * count, LEAST_LIKENESS):
        nearest.setdefault(*by_name[folded])
    return tuple(nearest.values())[:count]


def _listed_names(species: pd.DataFrame) -> list[tuple[str, int, str]]:
    """Return each name of the sheet and each other common name: folded, its row, as proposed."""
    listed = [
        (fold_species(name), row, name)
        for column in ("botanical", "common")
        for row, name in enumerate(species[column])
        if name
    ]
    rows = {folded: row for folded, row, _ in reversed(listed)}
    for folded, botanical in _other_common_names():
        if botanical in rows:
            listed.append((folded, rows[botanical], species["botanical"].iloc[rows[botanical]]))
    return listed


def _names_holding(
    wanted: str, listed: list[tuple[str, int, str]], species: pd.DataFrame
) -> tuple[str, ...]:
    words = set(wanted.split()) - {"sp", "tree", "trees"}
    if not words:
        return ()
    by_row: dict[int, str] = {}
    for folded, row, name in listed:
        if words <= set(folded.split()):
            same_name = folded == wanted
            by_row.setdefault(row, species["botanical"].iloc[row] if same_name else name)
    return tuple(by_row.values())


@cache
def _other_common_names() -> tuple[tuple[str, str], ...]:
    named = (each for each in other_names() if each.kind_of_name == "common")
    return tuple((fold_species(each.other_name), fold_species(each.botanical)) for each in named)


def _index(species: pd.DataFrame) -> dict[str, int]:
    """Return which row each folded name of the sheet means, UNKNOWN where two rows claim it."""
    index: dict[str, int] = {}
    # the same botanical name on two rows is one species: the first row speaks for it
    for position, name in enumerate(species["botanical"]):
        index.setdefault(fold_species(name), position)
    botanical = dict(index)
    sheet_rows = [botanical[fold_species(name)] for name in species["botanical"]]
    others = [(name, botanical[of]) for name, of in _other_common_names() if of in botanical]
    for names in (
        zip(map(fold_species, species["code"]), sheet_rows, strict=True),
        zip(map(fold_species, species["common"]), sheet_rows, strict=True),
        others,
    ):
        claimed: dict[str, int] = {}
        for folded, row in names:
            claimed[folded] = row if claimed.get(folded, row) == row else UNKNOWN
        for folded, row in claimed.items():
            index.setdefault(folded, row)
    index.pop("", None)
    return index


def _look_up(name: str, index: dict[str, int]) -> int:
    folded = fold_species(name)
    tries = [folded, without_cultivar(folded)]
    if folded.count(",") == 1:
        last, first = folded.split(",")
        tries.append(f"{first.strip()} {last.strip()}")
    return next((index[text] for text in tries if text in index), UNKNOWN)


def _genus(botanical: str) -> str:
    words = [word.strip("×") for word in botanical.split() if word not in ("×", "x", "X")]
    return words[0].capitalize() if words else ""
