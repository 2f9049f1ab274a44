"""The estimates of a survey: for the town and its strata, by species, diameter class and group.

The whole crown belongs to the plot on which its stem stands. Dead trees are counted and enter
nothing else but the basal area with dead trees. Domains share the plots of the town, so a species
that is absent from a plot counts there as zero.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.estimates.design import Estimated, ratio, share, total, total_from_known
from xlhelpers.estimates.domains import Domains, all_domains, by_labels
from xlhelpers.estimates.measuring import (
    Measuring,
    error_parts,
    errors_of_trees,
    gather_errors,
    no_parts,
)
from xlhelpers.estimates.quantities import (
    CROWN_COVER,
    CROWN_COVER_OVERLAP,
    ESTIMANDS,
    SHARE_DEAD,
    SHARE_OF_TREES,
    Estimand,
    cover_with_random_overlap,
    slope_of_cover,
)
from xlhelpers.estimates.rows import Figures, Rows, estimate_rows, stack_rows
from xlhelpers.estimates.scopes import TOWN, Scope, scopes
from xlhelpers.estimates.words import lonely_words, overall_words
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import plot_roles
from xlhelpers.survey.setups.instruments import Values
from xlhelpers.survey.strata import strata_used
from xlhelpers.survey.typed.folding import Flags, Positions


@dataclass(frozen=True)
class View:
    """The trees on the plots of a scope, and how they are told apart.

    `trees` are those of the scope alone, without the values that count nowhere; `plot` is each
    tree's plot in the design. `living` are flags of the same length, and so are `doubtful` (the
    value is in doubt) and `left_out` (it counts nowhere) for each column of the trees, "" for what
    a tree is and where.
    """

    scope: Scope
    trees: pd.DataFrame
    plot: Positions
    living: Flags
    doubtful: Mapping[str, Flags]
    left_out: Mapping[str, Flags]
    known: Measuring
    domains: Domains

    @property
    def width(self) -> int:
        """Return the number of domains."""
        return len(self.domains.names)

    @property
    def weight(self) -> Values:
        """Return for each tree what its plot's trees stand for."""
        return np.asarray(self.scope.design.weights[self.plot])

    def sums(self, values: Values) -> Values:
        """Add up tree values by plot and domain; zeros and NaN add nothing."""
        inside = np.isfinite(values) & (values != 0)
        place = self.plot[inside] * self.width + self.domains.code[inside]
        plots = len(self.scope.plots)
        flat = np.bincount(place, values[inside], minlength=plots * self.width)
        return flat.astype(float).reshape(plots, self.width)

    @property
    def trees_by_plot(self) -> Positions:
        """Return how many trees each plot has, of all domains."""
        return np.bincount(self.plot, minlength=len(self.scope.plots))

    def count_trees(self, which: Flags) -> Positions:
        """Count trees by domain."""
        return np.bincount(self.domains.code[which], minlength=self.width)

    def population(self, name: str) -> Flags:
        """Return which trees a population holds."""
        everything = np.ones(len(self.living), dtype=bool)
        return {"all": everything, "living": self.living, "dead": ~self.living}[name]

    def by(self, domains: Domains) -> "View":
        """Return the same trees told apart in another way."""
        return replace(self, domains=domains)


def views(outcome: Outcome, scopes: list[Scope]) -> list[View]:
    """Return each scope's trees, not told apart yet."""
    counted = outcome.counted
    trees = counted.trees
    columns = sorted({estimand.column for estimand in ESTIMANDS})
    doubtful = {column: counted.doubts_column(column) for column in columns}
    left_out = {column: counted.lacks_column(column) for column in columns}
    living = trees["condition"].to_numpy(dtype=object) != "D"
    known = gather_errors(outcome)
    scope_views = []
    for scope in scopes:
        # one place more for trees without a listed plot, whose position is -1
        place = np.full(len(outcome.survey.plots) + 1, -1, dtype=np.int64)
        place[scope.plots] = np.arange(len(scope.plots))
        plot = place[trees["plot_position"].to_numpy()]
        at = np.flatnonzero(plot >= 0)
        whole = Domains("", ("",), np.zeros(len(at), dtype=np.int64))
        scope_views.append(
            View(
                scope,
                trees.iloc[at].reset_index(drop=True),
                plot[at],
                living[at],
                {column: flags[at] for column, flags in doubtful.items()},
                {column: flags[at] for column, flags in left_out.items()},
                errors_of_trees(known, at, len(trees)),
                whole,
            )
        )
    return scope_views


CONFIDENCE = 0.95
NO_TREES = "There are no trees on the sampled plots."
ALL_DEAD = "All trees on the sampled plots are dead."


@dataclass(frozen=True)
class Estimates:
    """What the sample says of the town.

    `table` has the columns of `rows.ROWS`, in inner units. `plots` has one row a plot of the plots
    sheet and says what it was counted as, `strata` one row a stratum. `words` holds what must be
    said of the whole, in order; `lonely` are those of them about strata with one plot.
    """

    table: pd.DataFrame
    plots: pd.DataFrame
    strata: pd.DataFrame
    words: tuple[str, ...]
    confidence: float
    is_census: bool
    lonely: tuple[str, ...] = ()

    def select(
        self, quantity: str, kind: str, domain_kind: str = "", scope: str = ""
    ) -> pd.DataFrame:
        """Return the rows of one number: of the town unless a stratum is named, in their order."""
        table = self.table
        chosen = (table["quantity"] == quantity) & (table["kind"] == kind)
        chosen &= (table["domain_kind"] == domain_kind) & (table["scope"] == scope)
        return table[chosen].reset_index(drop=True)


def estimate(outcome: Outcome, confidence: float = CONFIDENCE) -> Estimates:
    """Estimate totals, values by area, means and shares from the plots of a survey.

    Parameters
    ----------
    outcome : Outcome
        The computed survey.
    confidence : float
        Of the intervals, above 0 and below 1.

    Returns
    -------
    Estimates
        Bad input gives words in place of numbers, never an exception.
    """
    survey = outcome.survey
    roles = plot_roles(survey, outcome.trees)
    strata = strata_used(survey, roles)
    all_scopes = scopes(roles, strata)
    tables: list[Rows] = []
    for view in views(outcome, all_scopes):
        told_apart = all_domains(view.trees, survey.units) if view.scope.kind == TOWN else []
        for each in (view, *(view.by(domains) for domains in told_apart)):
            tables += [estimate_rows(each.scope, one, confidence) for one in _figures(each)]
    words = overall_words(outcome, roles, strata, all_scopes[0], confidence)
    lonely = () if roles.is_census else tuple(lonely_words(strata, all_scopes[0]))
    return Estimates(
        stack_rows(tables), roles.table, strata.table, words, confidence, roles.is_census, lonely
    )


def estimate_shares(
    outcome: Outcome, labels: Mapping[str, Sequence[str]], confidence: float = CONFIDENCE
) -> pd.DataFrame:
    """Estimate the shares of the town's trees that labels tell apart.

    Parameters
    ----------
    outcome : Outcome
        The computed survey.
    labels : mapping of str to sequence of str
        For each kind of label one for each tree, in the order of `outcome.trees`.
    confidence : float
        Of the intervals, above 0 and below 1.

    Returns
    -------
    DataFrame
        Rows like those of `Estimates.table`, with the kind of label as `domain_kind`.
    """
    columns = {f"label {kind}": list(texts) for kind, texts in labels.items()}
    outcome = replace(outcome, trees=outcome.trees.assign(**columns))
    roles = plot_roles(outcome.survey, outcome.trees)
    town = scopes(roles, strata_used(outcome.survey, roles))[:1]
    view = views(outcome, town)[0]
    tables = []
    for kind in labels:
        told_apart = view.by(by_labels(kind, view.trees[f"label {kind}"]))
        tables.append(estimate_rows(town[0], _share(told_apart, SHARE_OF_TREES), confidence))
    return stack_rows(tables)


def _figures(view: View) -> Iterator[Figures]:
    for estimand in ESTIMANDS:
        if estimand.kind == "total":
            yield from _totals(view, estimand)
        else:
            yield _mean(view, estimand)
    yield _share(view, SHARE_DEAD)
    if view.domains.kind:
        yield _share(view, SHARE_OF_TREES)
    else:
        yield from _covers(view)


def _values(view: View, estimand: Estimand) -> tuple[Values, Flags, Flags]:
    """Return the trees' values, which trees have one, and which belong to the population."""
    population = view.population(estimand.population)
    if not estimand.column:
        return population.astype(float), population, population
    values = view.trees[estimand.column].to_numpy(dtype=float)
    has = population & np.isfinite(values)
    return np.where(has, values, 0.0), has, population


def _counts(view: View, has: Flags, population: Flags, column: str = "") -> dict[str, Any]:
    """Return the domains and the trees behind a quantity, as `Figures` takes them."""
    return {
        "domains": view.domains,
        "has": view.count_trees(has),
        "lacks": view.count_trees(population & ~has),
        "doubtful": view.count_trees(has & view.doubtful[column]),
        "left_out": view.count_trees(population & view.left_out[column]),
        "plots_with": (view.sums(has.astype(float)) > 0).sum(axis=0),
    }


def _totals(view: View, estimand: Estimand) -> Iterator[Figures]:
    values, has, population = _values(view, estimand)
    estimated, raised = _total(view, values, has, population)
    coefficient = np.where(has, view.weight * raised[view.domains.code], 0.0)
    scope = view.scope
    figures = Figures(
        estimand.name,
        "total",
        estimand.quantity,
        **_counts(view, has, population, estimand.column),
        lacking=estimand.lacking,
        nothing=_nothing(view, estimand),
        why_not=scope.no_value or scope.no_total,
        estimated=estimated,
        measured=error_parts(view.known, estimand.name, coefficient, view.domains.code, view.width),
    )
    yield figures
    factor = 1.0 / scope.land if scope.land > 0 else np.nan
    yield replace(
        figures,
        kind="per area",
        why_not=scope.no_value or scope.no_density,
        estimated=estimated.scale_by(factor),
        measured=figures.measured.scale_by(factor),
    )


def _total(view: View, values: Values, has: Flags, population: Flags) -> tuple[Estimated, Values]:
    """Return totals, and by how much the known trees are raised for those without a value."""
    design = view.scope.design
    y = view.sums(values)
    known, counted = view.sums(has.astype(float)), view.sums(population.astype(float))
    if np.array_equal(known, counted):
        return total(design, y, trees=view.trees_by_plot), np.ones(view.width)
    figures = total_from_known(design, y, known, counted, view.trees_by_plot)
    none = counted.sum(axis=0) == 0
    weight = design.weights[:, None]
    with np.errstate(all="ignore"):
        raised = (weight * counted).sum(axis=0) / (weight * known).sum(axis=0)
    value = np.where(none, 0.0, figures.value)
    error = np.where(none, 0.0, figures.standard_error)
    return Estimated(value, error, figures.freedom), raised


def _nothing(view: View, estimand: Estimand) -> str:
    """Return what is said where no tree has the value, "" where nought is the answer."""
    if not estimand.column:
        return "" if len(view.trees) or estimand.name == "trees" else NO_TREES
    if len(view.trees) == 0:
        return NO_TREES
    if not view.living.any():
        return ALL_DEAD
    return f"No living tree here has a {estimand.lacking}."


def _mean(view: View, estimand: Estimand) -> Figures:
    values, has, population = _values(view, estimand)
    design, code = view.scope.design, view.domains.code
    x = view.sums(has.astype(float))
    below = (design.weights[:, None] * x).sum(axis=0)
    with np.errstate(all="ignore"):
        coefficient = np.where(has, view.weight / below[code], 0.0)
    return Figures(
        estimand.name,
        "mean",
        estimand.quantity,
        **_counts(view, has, population, estimand.column),
        lacking=estimand.lacking,
        nothing=_nothing(view, estimand),
        why_not=view.scope.no_value,
        estimated=ratio(design, view.sums(values), x),
        measured=error_parts(view.known, estimand.name, coefficient, code, view.width),
    )


def _share(view: View, name: str) -> Figures:
    """Return the share of dead trees in each domain, or of each domain in all trees."""
    everything = view.population("all")
    trees = view.sums(everything.astype(float))
    bearing = None
    if name == SHARE_DEAD:
        dead = view.sums((~view.living).astype(float))
        bearing = (dead > 0).sum(axis=0)
        estimated = share(view.scope.design, dead, trees)
    else:
        whole = np.repeat(trees.sum(axis=1)[:, None], view.width, axis=1)
        estimated = share(view.scope.design, trees, whole)
    return Figures(
        name,
        "share",
        "percent",
        **_counts(view, everything, everything),
        lacking="",
        nothing=NO_TREES,
        why_not=view.scope.no_value,
        estimated=estimated,
        measured=no_parts(view.width),
        plots_bearing=bearing,
    )


def _covers(view: View) -> Iterator[Figures]:
    """Return the crown cover as summed, and with overlaps at random."""
    crowns = next(estimand for estimand in ESTIMANDS if estimand.name == "crown_area")
    values, has, population = _values(view, crowns)
    scope = view.scope
    summed = _total(view, values, has, population)[0]
    summed = summed.scale_by(1.0 / (scope.land if scope.land > 0 else np.nan))
    figures = Figures(
        CROWN_COVER,
        "share",
        "percent",
        **_counts(view, has, population, crowns.column),
        lacking=crowns.lacking,
        nothing=_nothing(view, crowns),
        why_not=scope.no_value or scope.no_density,
        estimated=summed,
        measured=no_parts(view.width),
    )
    yield figures
    overlapping = Estimated(
        cover_with_random_overlap(summed.value),
        summed.standard_error * slope_of_cover(summed.value),
        summed.freedom,
    )
    yield replace(figures, quantity=CROWN_COVER_OVERLAP, estimated=overlapping)
