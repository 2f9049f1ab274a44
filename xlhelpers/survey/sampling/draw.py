"""Plots drawn from a list of places, so that anyone can draw them again from the seed.

Each place gets a number from the seed and its own name alone; in each stratum the smallest are
drawn. The order of rows, other places and the program's version have no part in it, and a larger
sample of the same seed holds the smaller one.
"""

import hashlib
from collections.abc import Mapping, Sequence

import pandas as pd

from xlhelpers.survey.folding import fold
from xlhelpers.survey.words import identifier_key


def draw_places(
    names: Sequence[str], strata: Sequence[str], counts: Mapping[str, int], seed: int
) -> pd.DataFrame:
    """Draw places at random, without putting back.

    Parameters
    ----------
    names : sequence of str
        What names each place; no two alike.
    strata : sequence of str
        The stratum of each place.
    counts : mapping
        Plots to draw of each stratum; a stratum that is not named gets none.
    seed : int
        The same seed draws the same places.

    Returns
    -------
    DataFrame
        `place` (position in `names`), `stratum` and `drawn` (1, 2, 3 ... in the order drawn in
        its stratum), in that order; fewer than asked for where a stratum has no more.
    """
    wanted = {fold(name): (name, count) for name, count in counts.items()}
    listed: dict[str, list[tuple[bytes, int]]] = {key: [] for key in wanted}
    for at, (name, stratum) in enumerate(zip(names, strata, strict=True)):
        key = fold(stratum)
        if key in listed:
            text = f"{seed}\0{identifier_key(name)}"
            listed[key].append((hashlib.sha256(text.encode()).digest(), at))
    rows = [
        (at, wanted[key][0], number)
        for key, ranked in listed.items()
        for number, (_, at) in enumerate(sorted(ranked)[: wanted[key][1]], 1)
    ]
    return pd.DataFrame(rows, columns=["place", "stratum", "drawn"])
