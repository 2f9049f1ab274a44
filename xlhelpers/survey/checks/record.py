"""The record of one check, and of what its predicate found."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.model import Block, Severity

Table = Literal["lines", "trees", "plots", "instruments", "survey"]
Subject = tuple[tuple[str, str], ...]
Positions = NDArray[np.int64]
DEFINITION = "definition"
COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Hits:
    """The rows of the check's table that fail, and what the message says of each.

    `values` are columns aligned to `rows`, for the blanks of the templates. What is None follows
    from the row: the lines that it touches, its subject, the fields to look at (the first of
    them is the cell), the evidence.
    """

    rows: Positions
    values: Mapping[str, Sequence[Any] | NDArray[Any]] = field(default_factory=dict)
    lines: Sequence[tuple[int, ...]] | None = None
    plots: Sequence[tuple[int, ...]] | None = None
    subjects: Sequence[Subject] | None = None
    fields: Sequence[tuple[str, ...]] | None = None
    evidence: Sequence[tuple[str, ...]] | None = None


@dataclass(frozen=True)
class Check:
    """One rule: what it compares, what it says, what it rests on, and a predicate.

    Parameters
    ----------
    id : str
        Stable, never used again for something else.
    severity : str
        "error": a number is wrong or missing; "warning": look at it; "note": a fact.
    block : str
        Where to look first: "paper", "crew" or "again".
    table : str
        The table that the predicate's rows are positions in.
    compares : tuple of str
        Field names; those of the plots sheet are written "plot.<name>", of the instruments sheet
        "instrument.<name>", all others are the field sheet's. The first is the cell to look at.
    message, action : str
        Templates. A blank is ``{name:kind}``: a value of the predicate, a survey rule, or a
        column of the table; the kind is one of ``wording.KINDS`` or left out for a text.
    basis : str
        Key of a source, "definition" or "common practice, no source".
    fails : callable
        The predicate. Blanks never fail a comparison.
    """

    id: str
    severity: Severity
    block: Block
    table: Table
    compares: tuple[str, ...]
    message: str
    action: str
    basis: str
    fails: Callable[[Facts], Hits]


def hits(mask: ArrayLike, **values: NDArray[Any]) -> Hits:
    """Return the rows where a mask is true, with the values of those rows only.

    Parameters
    ----------
    mask : array_like of bool
        One entry a row of the check's table.
    **values : ndarray
        Whole columns of that table, for the blanks of the templates.
    """
    rows = np.flatnonzero(np.asarray(mask))
    return Hits(rows, {name: column[rows] for name, column in values.items()} if len(rows) else {})


NOTHING = Hits(np.empty(0, dtype=np.int64))


def where(predicate: Callable[[Facts], NDArray[np.bool_]]) -> Callable[[Facts], Hits]:
    """Return the predicate of a check from a function that gives one yes or no a row."""
    return lambda facts: hits(predicate(facts))
