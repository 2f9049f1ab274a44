"""Tables that are handed in for a plan: strata with a stated variation, and lists of places."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.jobs.plan.allocation import StrataFigures
from xlhelpers.reading.list_table import ListTable
from xlhelpers.survey.typed.folding import fold
from xlhelpers.survey.typed.numbers import understand
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import list_words

STRATA_COLUMNS = {
    "stratum": ("stratum", "strata", "part"),
    "area": ("area", "size"),
    "variation": ("variation", "cv", "coefficient of variation"),
    "possible": ("plots possible", "possible"),
    "cost": ("cost", "cost of a plot"),
    "mean": ("mean",),
}
PLACE_COLUMNS = {
    "plot": ("plot", "plot no.", "plot number", "number", "no.", "no", "name", "id", "point"),
    "stratum": ("stratum", "strata", "part"),
}
_MOST_NAMED = 6


@dataclass(frozen=True)
class Places:
    """Places to choose from: their names, their strata, and the table that lists them."""

    table: ListTable
    names: list[str]
    strata: list[str]


def strata_from(table: ListTable) -> StrataFigures:
    """Return the strata of a table with a stated variation.

    Parameters
    ----------
    table
        Columns stratum, area and variation (per cent); where known plots possible, cost, mean.
        Without means all strata are taken to have the same.

    Raises
    ------
    WorkbookError
        With every cell that does not fit.
    """
    columns = table.find(STRATA_COLUMNS)
    lacking = [key for key in ("stratum", "area", "variation") if key not in columns]
    if lacking:
        raise WorkbookError(
            f"{table.name} needs columns with the headings stratum, area and variation. Missing: "
            f"{list_words(lacking)}. It has: {', '.join(filter(None, table.headings))}."
        )
    names = table.column(columns["stratum"])
    problems = _name_problems(table, names, "stratum")
    numbers = {
        key: _numbers(table, columns, key, problems)
        for key in ("area", "variation", "possible", "cost", "mean")
    }
    if problems:
        raise WorkbookError(_problem_sentence(table, problems))
    possible, cost, mean = (numbers[key] for key in ("possible", "cost", "mean"))
    means = np.where(np.isnan(mean), 1.0, mean)
    return StrataFigures(
        tuple(names),
        numbers["area"],
        means,
        numbers["variation"] * means,
        np.where(np.isnan(possible), np.inf, possible),
        np.where(np.isnan(cost), 1.0, cost),
    )


_LOWEST = {"area": 0.0, "variation": -1e-12, "possible": 0.99, "cost": 0.0, "mean": 0.0}
_MUST = ("area", "variation")


def _numbers(
    table: ListTable, columns: dict[str, int], key: str, problems: list[str]
) -> np.ndarray:
    if key not in columns:
        return np.full(len(table.rows), math.nan)
    quantity = QUANTITIES["percent" if key == "variation" else "number"]
    texts = table.column(columns[key])
    # means of some strata only would mislead
    wanted = key in _MUST or (key == "mean" and any(texts))
    values = []
    for line, text in zip(table.lines, texts, strict=True):
        value = understand(text, quantity, "metric").value if text else math.nan
        bad = not value > _LOWEST[key]
        if bad and (text or wanted):
            typed = f"“{text}”" if text else "blank"
            least = "of 0 or more" if key == "variation" else "above 0"
            problems.append(f"line {line}: {key} is {typed}, but must be a number {least}")
        values.append(value)
    return np.array(values, dtype=float)


def places_from(table: ListTable, strata: Sequence[str]) -> Places:
    """Return the places of a list; without a column of names a place is named by its whole row.

    Parameters
    ----------
    table
        One row a place.
    strata
        The strata of the plan; with one of them the list needs no column of strata.

    Raises
    ------
    WorkbookError
        With every row that has no name, shares one, or names no stratum of the plan.
    """
    columns = table.find(PLACE_COLUMNS)
    if "plot" in columns:
        names = table.column(columns["plot"])
    else:
        names = [" | ".join(row) for row in table.rows]
    problems = _name_problems(table, names, "place")
    of = [strata[0]] * len(names)
    if len(strata) > 1 and "stratum" not in columns:
        problems.append("it needs a column stratum, because the plan has strata")
    elif len(strata) > 1:
        of = table.column(columns["stratum"])
        known = {fold(name) for name in strata}
        problems += [
            f"line {line}: “{name}” is not a stratum of the plan ({', '.join(strata)})"
            for line, name in zip(table.lines, of, strict=True)
            if fold(name) not in known
        ]
    if problems:
        raise WorkbookError(_problem_sentence(table, problems))
    return Places(table, names, of)


def _name_problems(table: ListTable, names: Sequence[str], word: str) -> list[str]:
    """Return the names that are missing and those that are listed twice."""
    first: dict[str, int] = {}
    blank, twice = [], []
    for line, name in zip(table.lines, names, strict=True):
        key = identifier_key(name)
        if not name:
            blank.append(f"line {line}: the {word} has no name")
        elif key in first:
            twice.append(f"line {line}: {word} “{name}” is already on line {first[key]}")
        first.setdefault(key, line)
    return blank + twice


def _problem_sentence(table: ListTable, problems: Sequence[str]) -> str:
    more = f"; and {len(problems) - _MOST_NAMED} more" if len(problems) > _MOST_NAMED else ""
    return f"{table.name}: {'; '.join(problems[:_MOST_NAMED])}{more}."
