"""Where the rows of each plot are found again: hidden numbers that the tab Plot at a glance reads.

The rows of a plot have numbers one after the other, kept in a hidden column of their tab; the tab
By plot keeps each plot's first number and how many there are. So the rows are found however their
tab is sorted, and wherever they stand.
"""

from collections.abc import Iterable

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.pages.plan import Column
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import codes_of, fold_column
from xlhelpers.survey.typed.words import identifier_key

Numbers = NDArray[np.float64]


def place_column(key: str, label: str) -> Column:
    """Return a hidden column of such numbers; its width takes next to nothing from the page."""
    return Column(key, label, quantity="count", width=0.5, hidden=True)


def places_by_plot(plots: Iterable[str]) -> Numbers:
    """Return the number of each row, from 1, so that the rows of a plot follow each other.

    Parameters
    ----------
    plots : iterable of str
        The plot of each row; spellings of one plot count as one.
    """
    code = _codes(plots)
    places = np.empty(len(code))
    places[np.argsort(code, kind="stable")] = np.arange(1.0, len(code) + 1)
    return places


def first_and_count(listed: Iterable[str], plots: Iterable[str]) -> tuple[Numbers, Numbers]:
    """Return for each plot the first number of its rows, 0 where it has none, and how many.

    Parameters
    ----------
    listed : iterable of str
        The plots asked for; where one stands twice, the first has the rows.
    plots : iterable of str
        The plot of each row.
    """
    listed, plots = list(listed), list(plots)
    places = places_by_plot(plots)
    code = _codes([*listed, *plots])
    asked, of_row = code[: len(listed)], code[len(listed) :]
    groups = int(code.max(initial=-1)) + 1
    count = np.bincount(of_row, minlength=groups).astype(float)
    first = np.full(groups, np.inf)
    np.minimum.at(first, of_row, places)
    again = pd.Series(asked).duplicated().to_numpy()
    counts = np.where(again, 0.0, count[asked])
    return np.where(counts > 0, first[asked], 0.0), counts


def _codes(plots: Iterable[str]) -> NDArray[np.int64]:
    """Return a number for each plot, in the order in which they come first."""
    return np.asarray(codes_of(fold_column(pd.Series(list(plots), dtype=object), identifier_key)))


def plots_of_findings(outcome: Outcome) -> list[str | None]:
    """Return for each finding its plot, if it is open and about a plot as a whole, else None."""
    plots: list[str | None] = []
    for finding, stands in zip(outcome.findings, outcome.standings, strict=True):
        subject = dict(finding.subject) if stands.is_open else {}
        whole = subject.get("plot", "") != "" and subject.get("tree", "") == ""
        plots.append(subject["plot"] if whole else None)
    return plots


def places_of_findings(outcome: Outcome) -> Numbers:
    """Return the number of each finding about a plot as a whole, NaN for any other."""
    plots = plots_of_findings(outcome)
    places = np.full(len(plots), np.nan)
    whole = np.array([plot is not None for plot in plots], dtype=bool)
    places[whole] = places_by_plot(plot for plot in plots if plot is not None)
    return places
