"""How a value or a column becomes an array of numbers, and how a result goes back.

A spreadsheet hands over numbers, blanks, texts and errors alike. Here everything that is not a
number becomes NaN, so that the formulas need no case of their own for it.
"""

from collections.abc import Collection
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from xlhelpers.errors import ReadingError

__all__ = [
    "Array",
    "Numbers",
    "arrays",
    "fit_together",
    "name_column",
    "result",
]
Array: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = float | Array


def arrays(*values: ArrayLike) -> list[Array]:
    """Turn numbers, columns and blanks into arrays of floats that fit together.

    Parameters
    ----------
    *values : array_like
        Numbers or columns [any unit]. Texts, dates, truth values, blanks and infinite numbers
        become NaN.

    Returns
    -------
    list of ndarray
        One array for each value, with its own shape.

    Raises
    ------
    ReadingError
        If the shapes cannot be broadcast against each other.
    """
    given = [_finite(_number_array(value)) for value in values]
    fit_together(*given)
    return given


def fit_together(*given: NDArray[Any]) -> None:
    """Make sure that arrays can be broadcast against each other.

    Parameters
    ----------
    *given : ndarray
        Arrays of numbers or names [any unit].

    Returns
    -------
    None
        Nothing, if they fit.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.
    """
    try:
        np.broadcast_shapes(*(array.shape for array in given))
    except ValueError as error:
        shapes = ", ".join(str(array.shape) for array in given)
        raise ReadingError(
            f"columns of different lengths were given together (shapes {shapes}); "
            "give columns of one length, or single numbers"
        ) from error


def name_column(value: Any, allowed: Collection[str], what: str) -> NDArray[np.str_]:
    """Turn a name or a column of names into an array, "" where it is blank.

    Parameters
    ----------
    value : str or array_like of str
        Names [text]; None, NaN and "" are blank.
    allowed : collection of str
        The names [text] that exist.
    what : str
        What is named [text], for the message.

    Returns
    -------
    ndarray of str
        The names, with the shape of ``value``.

    Raises
    ------
    ReadingError
        If a name is not one of those allowed.
    """
    given = np.asarray(value, dtype=object)
    texts = [_name(item) for item in given.ravel().tolist()]
    unknown = sorted(set(texts) - set(allowed) - {""})
    if unknown:
        raise ReadingError(
            f"unknown {what} {', '.join(map(repr, unknown))}; known are {', '.join(allowed)}"
        )
    return np.array(texts, dtype=np.str_).reshape(given.shape)


def result(values: ArrayLike, possible: ArrayLike = True) -> Numbers:
    """Give a result back: NaN where it is not possible, a float if a number was asked for.

    Parameters
    ----------
    values : array_like
        What the formula gave [any unit].
    possible : array_like of bool
        Where the inputs lie inside the range of the formula [yes or no].

    Returns
    -------
    float or ndarray
        The values, NaN where they are not finite or not possible.
    """
    out = np.where(np.isfinite(values) & possible, values, np.nan)
    return float(out) if out.ndim == 0 else out


def _finite(given: Array) -> Array:
    return np.where(np.isfinite(given), given, np.nan)


def _number_array(value: Any) -> Array:
    if isinstance(value, np.ma.MaskedArray):
        value = np.ma.filled(value.astype(object), None)
    try:
        given = np.asarray(value)
        if given.dtype.kind in "US":
            # a list of numbers and texts arrives here as texts; look at each as it was given
            given = np.asarray(value, dtype=object)
    except ValueError as error:
        raise ReadingError("rows of different lengths were given as one table") from error
    if given.dtype.kind in "fiu":
        return given.astype(np.float64)
    if given.dtype.kind == "O":
        return np.asarray(np.frompyfunc(_number, 1, 1)(given), dtype=np.float64)
    return np.full(given.shape, np.nan)


def _number(item: Any) -> float:
    if isinstance(item, (str, bytes, bool, np.bool_)):
        return np.nan
    try:
        return float(item)
    except (TypeError, ValueError, OverflowError):
        return np.nan


def _name(item: Any) -> str:
    if isinstance(item, str):
        return item.strip()
    return "" if np.isnan(_number(item)) else str(item)
