"""Totals and ratios from plots drawn within strata: arithmetic on plain arrays.

Plots are drawn at random without replacement within each stratum, apart from the other strata.
Within a stratum values are carried to its whole size by the ratio of the sums of values and
plot sizes, which for plots of one size is the plain mean. Standard errors are those of the
linearised estimates, with the residuals about that ratio (Cochran 1977, chapters 5 and 6).
`y` and `x` are sums by plot, one column an estimate.

Degrees of freedom follow Satterthwaite (1946), and are at most the number of plots that bear the
value, less one: what stands on few of many plots is known from those few, and its standard error
is as uncertain as they are few. Where one plot alone bears it, there is none. For a ratio a plot
counts as bearing by its part in the whole: (sum)2 over the sum of squares, all of them where they
have equal parts. Without that, intervals of means held the truth too seldom in trials. For a share
that is its part in the whole below the line, and for a total of some of the trees all plots with
trees bear: their limits are no longer at equal distances, and with the few plots of a rare kind
alone they would reach to thousands of times the figure.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.estimates.collapsing import join_lonely, lost_by_the_rate
from xlhelpers.estimates.limits import Scale, limits
from xlhelpers.survey.setups.instruments import Values
from xlhelpers.survey.typed.folding import Flags, Positions


@dataclass(frozen=True)
class Design:
    """Which plots were drawn, and from what.

    Parameters
    ----------
    stratum : ndarray of int
        For each plot the number of its stratum, 0 to H - 1.
    size : ndarray
        For each plot its area, or 1 where plots are counted [> 0].
    total_size : ndarray
        For each stratum its area, or its number of plots [unit of `size`].
    fraction : ndarray
        For each stratum the share of it that was sampled [0 to 1]; 0 leaves out the
        finite-population correction.
    is_census : bool
        Whether everything was measured: values are added up and have no sampling error.
    errors_by_count : bool
        Whether residuals are carried to the whole by the number of plots (1 / `fraction`) instead
        of by size, as some textbooks do where the mean size of all plots is known. By size is
        the better guide where the plots drawn are larger or smaller than the mean plot.
    joins_lonely : bool
        Whether a stratum with one plot is joined with another for the standard error.
    """

    stratum: Positions
    size: Values
    total_size: Values
    fraction: Values
    is_census: bool = False
    errors_by_count: bool = False
    joins_lonely: bool = False

    @property
    def strata(self) -> int:
        """Return the number of strata."""
        return len(self.total_size)

    @property
    def plots(self) -> Positions:
        """Return the number of plots in each stratum."""
        return np.bincount(self.stratum, minlength=self.strata)

    @property
    def weights(self) -> Values:
        """Return for each plot what one of its units stands for in the whole."""
        if self.is_census:
            return np.ones(len(self.size))
        sampled = np.bincount(self.stratum, self.size, minlength=self.strata)
        with np.errstate(all="ignore"):
            return np.asarray((self.total_size / sampled)[self.stratum])

    @property
    def lonely(self) -> Flags:
        """Return which strata have one plot, are not wholly sampled by it, and stay alone."""
        alone = np.bincount(self.group, self.plots)[self.group] == 1
        return np.asarray(alone & (self.plots == 1) & (self.fraction < 1))

    @property
    def group(self) -> Positions:
        """Return for each stratum with which others it is taken for the standard error."""
        if not self.joins_lonely:
            return np.arange(self.strata, dtype=np.int64)
        return join_lonely(self.plots, self.total_size, self.fraction)


@dataclass(frozen=True)
class Estimated:
    """Values, their standard errors and degrees of freedom, one entry a column.

    The standard error is NaN where a stratum has one plot only and where one plot alone bears
    the value; 0 in a census.
    """

    value: Values
    standard_error: Values
    freedom: Values

    def interval(self, confidence: float, scale: Scale = "plain") -> tuple[Values, Values]:
        """Return the lower and the upper limit by Student's t; a census has both at the value."""
        return limits(self.value, self.standard_error, self.freedom, confidence, scale)

    def scale_by(self, factor: float) -> "Estimated":
        """Return the same estimates in another unit."""
        return replace(
            self, value=self.value * factor, standard_error=self.standard_error * abs(factor)
        )


def total(
    design: Design,
    y: ArrayLike,
    bearing: ArrayLike | None = None,
    trees: ArrayLike | None = None,
) -> Estimated:
    """Estimate totals over the strata.

    Parameters
    ----------
    design : Design
        The plots.
    y : array_like, shape (plots,) or (plots, k)
        Sum of the values on each plot; an empty plot has 0.
    bearing : array_like, same shape, optional
        Not 0 where a plot bears the value: `y` itself unless given. For differences give ones,
        as a plot without a difference tells as much as any other.
    trees : array_like, shape (plots,), optional
        Trees on each plot. A plot with any tells of those of a kind, and counts for the degrees of
        freedom.

    Returns
    -------
    Estimated
        In the unit of `y`.

    References
    ----------
    Cochran1977, section 6.10 (separate ratio estimate) and 5.4
    """
    values = _columns(y)
    expanded = (design.weights[:, None] * values).sum(axis=0)
    totals = Estimated(expanded, *_spread(design, values))
    borne = values if bearing is None else _columns(bearing)
    return _limit_freedom(design, totals, borne, _plots_less_one(borne if trees is None else trees))


def total_from_known(
    design: Design,
    y: ArrayLike,
    known: ArrayLike,
    counted: ArrayLike,
    trees: ArrayLike | None = None,
) -> Estimated:
    """Estimate totals where some trees lack the value: they are taken to be like the others.

    Parameters
    ----------
    design : Design
        The plots.
    y : array_like, shape (plots,) or (plots, k)
        Sum of the known values on each plot.
    known, counted : array_like, same shape
        How many trees have the value, and how many there are.
    trees : array_like, shape (plots,), optional
        As for `total`.

    Returns
    -------
    Estimated
        Mean of the known times the number of trees; NaN where none is known.
    """
    values = _columns(y)
    value, linear = linear_values(design, values, known, counted)
    totals = Estimated(value, *_spread(design, linear))
    return _limit_freedom(
        design, totals, values, _plots_less_one(values if trees is None else trees)
    )


def linear_values(
    design: Design, y: ArrayLike, known: ArrayLike, counted: ArrayLike
) -> tuple[Values, Values]:
    """Return totals where some trees lack the value, and what each plot adds to their spread.

    Parameters
    ----------
    design, y, known, counted
        As for `total_from_known`.

    Returns
    -------
    tuple of ndarray
        The totals, shape (k,), and the linearised values of the plots, shape (plots, k).
    """
    values, has, all_of_them = _columns(y), _columns(known), _columns(counted)
    weight = design.weights[:, None]
    sums = [(weight * column).sum(axis=0) for column in (values, has, all_of_them)]
    with np.errstate(all="ignore"):
        mean = sums[0] / sums[1]
        raised = sums[2] / sums[1]
        linear = mean * all_of_them + raised * (values - mean * has)
    return np.asarray(mean * sums[2]), np.asarray(linear)


def ratio(design: Design, y: ArrayLike, x: ArrayLike) -> Estimated:
    """Estimate ratios of two totals, such as the mean height of the trees, by the ratio of means.

    Parameters
    ----------
    design : Design
        The plots.
    y, x : array_like, shape (plots,) or (plots, k)
        Sums on each plot of numerator and denominator.

    Returns
    -------
    Estimated
        NaN where the denominator is zero.

    References
    ----------
    Cochran1977, sections 2.11 and 6.11 (combined ratio)
    """
    numerator = _columns(y)
    worth = np.maximum(_effective_plots(design, numerator) - 1, 1.0)
    most = np.fmin(_plots_less_one(numerator), worth)
    return _limit_freedom(design, _ratio(design, numerator, _columns(x)), numerator, most)


def share(design: Design, y: ArrayLike, x: ArrayLike) -> Estimated:
    """Estimate shares of all trees, or of their sums, for limits on the logit scale.

    Parameters
    ----------
    design : Design
        The plots.
    y, x : array_like, shape (plots,) or (plots, k)
        Sums on each plot of the part and of the whole; `y` is at most `x`.

    Returns
    -------
    Estimated
        As `ratio`, with the degrees of freedom of the design: at most the plots that bear the
        whole, less one, and at most what those are worth by their parts in it.

    References
    ----------
    KornGraubard1998; the limit by parts: no source, set by trials
    """
    part, whole = _columns(y), _columns(x)
    most = np.fmin(_plots_less_one(whole), _effective_plots(design, whole))
    return _limit_freedom(design, _ratio(design, part, whole), part, most)


def _ratio(design: Design, numerator: Values, denominator: Values) -> Estimated:
    weight = design.weights[:, None]
    below = (weight * denominator).sum(axis=0)
    with np.errstate(all="ignore"):
        value = (weight * numerator).sum(axis=0) / below
        linear = (numerator - value * denominator) / below
    return Estimated(value, *_spread(design, linear))


def _effective_plots(design: Design, values: Values) -> Values:
    """Return how many plots of equal parts a sum is worth."""
    expanded = design.weights[:, None] * np.abs(values)
    with np.errstate(all="ignore"):
        return np.asarray(expanded.sum(axis=0) ** 2 / (expanded**2).sum(axis=0))


def _plots_less_one(values: ArrayLike) -> Values:
    """Return how many plots bear a value, less one; at least 1 unless one alone does."""
    return np.asarray(np.abs((_columns(values) != 0).sum(axis=0) - 1.0))


def _limit_freedom(design: Design, estimate: Estimated, values: Values, most: Values) -> Estimated:
    """Limit the degrees of freedom; there are none where one plot alone bears a value."""
    # what is wholly sampled has no error however few plots bear it
    if design.is_census or bool((design.fraction >= 1).all()):
        return estimate
    alone = (values != 0).sum(axis=0) == 1
    return Estimated(
        estimate.value,
        np.where(alone, np.nan, estimate.standard_error),
        np.where(alone, np.nan, np.fmin(estimate.freedom, most)),
    )


def _columns(values: ArrayLike) -> Values:
    array = np.asarray(values, dtype=float)
    return array[:, None] if array.ndim == 1 else array


def _spread(design: Design, linear: Values) -> tuple[Values, Values]:
    """Return standard errors and degrees of freedom of the totals of linearised values."""
    width, group = linear.shape[1], design.group
    if design.is_census:
        return np.zeros(width), np.full(width, np.nan)
    if design.lonely.any() or (design.plots == 0).any():
        return np.full(width, np.nan), np.full(width, np.nan)
    of_plot = group[design.stratum]
    plots = np.bincount(of_plot)
    order = np.argsort(of_plot, kind="stable")
    first = np.cumsum(plots) - plots
    stratum, of_plot = design.stratum[order], of_plot[order]
    size, values, weight = design.size[order], linear[order], design.weights[order]
    rate = np.add.reduceat(weight[:, None] * values, first)
    rate = rate / np.add.reduceat(weight * size, first)[:, None]
    raised = 1 / design.fraction[stratum] if design.errors_by_count else weight
    # of strata taken together the least is sampled on the careful side
    fraction = np.ones(len(plots))
    np.minimum.at(fraction, group, design.fraction)
    with np.errstate(all="ignore"):
        rest = raised[:, None] * (values - size[:, None] * rate[of_plot])
        # a stratum that its one plot makes up adds no error
        factor = np.where(plots > 1, (1 - fraction) * plots / (plots - 1), 0.0)
        joined = np.bincount(group) > 1
        if joined.any():
            lost = lost_by_the_rate(weight, raised, size, of_plot)
            factor = np.where(joined, (1 - fraction) * lost, factor)
        by_stratum = factor[:, None] * np.add.reduceat(rest**2, first)
        variance = by_stratum.sum(axis=0)
        share = by_stratum / variance
        freedom = 1 / (share**2 / (plots - 1)[:, None])[plots > 1].sum(axis=0)
    whole = float((plots - 1).sum())
    return np.sqrt(variance), np.where(variance > 0, freedom, whole)
