"""When two texts are the same name: folded spelling, and columns turned into codes and positions.

Folding undoes what a keyboard or a copied cell adds without changing the meaning: the form of
characters (NFKC), capitals, no-break and doubled spaces.
"""

import unicodedata
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Positions = NDArray[np.int64]
Flags = NDArray[np.bool_]


def fold(text: str) -> str:
    """Return the text in the form in which names are compared.

    Parameters
    ----------
    text : str
        A name, an identifier or a word as it was typed.

    Returns
    -------
    str
        NFKC, without capitals, with single spaces and none at the ends.
    """
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def fold_column(
    column: Iterable[str], folding: Callable[[str], object] = fold
) -> NDArray[np.object_]:
    """Fold a column of texts; each different text is folded once."""
    codes, names = pd.factorize(np.asarray(column, dtype=object))
    if len(codes) == 0:
        return np.empty(0, dtype=object)
    return np.array([folding(str(name)) for name in names], dtype=object)[codes]


def codes_of(*columns: NDArray[Any]) -> Positions:
    """Number the different rows of one or more folded columns from 0, in order of appearance.

    Parameters
    ----------
    *columns : arrays of texts or whole numbers
        Columns of one length.

    Returns
    -------
    ndarray of int
        One number a row; equal rows have equal numbers.
    """
    codes = pd.factorize(np.asarray(columns[0]))[0].astype(np.int64)
    for column in columns[1:]:
        more, names = pd.factorize(np.asarray(column))
        codes = pd.factorize(codes * (len(names) + 1) + more)[0].astype(np.int64)
    return codes


def positions_in(
    wanted: Iterable[str], listed: Iterable[str], folding: Callable[[str], str] = fold
) -> Positions:
    """Return where each wanted name stands in a list.

    Parameters
    ----------
    wanted, listed : columns of texts
        Names as typed; of names that stand twice in the list the first is taken.
    folding : function
        The form in which two names are compared.

    Returns
    -------
    ndarray of int
        Positions in `listed`; -1 for a blank and for a name that is not there.
    """
    first: dict[str, int] = {}
    for position, name in enumerate(fold_column(listed, folding)):
        if name:
            first.setdefault(name, position)
    codes, names = pd.factorize(fold_column(wanted, folding))
    positions = np.array([first.get(name, -1) for name in names], dtype=np.int64)
    return positions[codes] if len(codes) else np.empty(0, dtype=np.int64)
