"""How often the limits of totals, shares and means hold the truth, and on which side they miss.

`python -m tests.simulation.town_intervals` prints the tables of the README, and what `MEASURED` in
`estimates/intervals.py` holds. All plots of a town have one size, so thousands of surveys are the
columns of one call to the program's own estimates.

Trees are invented. Plots stand in streets of six; a street has its own density and tree size, and a
plot varies about its street's. Diameters are lognormal. A *thin* town has 1.8 trees on a plot and
two plots in five without any, a *dense* one 6.7; the *clustered* one has a third of its plots empty
and three times as many trees on some streets as on others. Nothing was chosen by the FURTHER towns:
they show what holds elsewhere.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from xlhelpers.estimates.design import Design, Estimated, ratio, share, total
from xlhelpers.estimates.intervals import MEASURED
from xlhelpers.estimates.limits import half_width
from xlhelpers.estimates.rough_kinds import is_rough_kind
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.plan.allocation import plots_needed, whole_town

PLOTS = (10, 20, 30, 60)
SURVEYS = 20_000
CONFIDENCE = 0.95
FEW = 5  # a kind on fewer plots than these is an order of magnitude
TOTALS = ("trees", "basal area", "crown area")
SHARES = ("commonest species", "another species", "dead")
MEANS = ("mean diameter",)
_COUNT, _STREET = 4000, 6
Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Kind:
    """What a town is made from: means, and standard deviations of logarithms."""

    trees: float
    empty: float
    streets: float
    plots: float
    sizes_of_streets: float
    sizes: float = 0.5


KINDS = {
    "thin": Kind(1.8, 0.33, 0.4, 0.3, 0.5),
    "dense": Kind(6.7, 0.10, 0.6, 0.4, 0.3),
    "clustered": Kind(3.5, 0.20, 0.9, 0.5, 0.35),
}
FURTHER = {
    "sparse": Kind(1.2, 0.25, 0.5, 0.4, 0.4),
    "even": Kind(4.0, 0.05, 0.2, 0.2, 0.2),
    "streets": Kind(2.5, 0.40, 1.0, 0.3, 0.5),
    "rich": Kind(12.0, 0.15, 0.7, 0.5, 0.3),
    "skewed": Kind(3.0, 0.30, 0.6, 0.5, 0.6, 0.7),
}
# totals are to be held at least so often, shares from the first to the second, and neither side is
# to have more of the misses than this part
LEAST = {"thin": 0.88, "dense": 0.91}
LEAST_ELSEWHERE = 0.88
SHARES_BETWEEN, MOST_ON_ONE_SIDE = (0.93, 0.97), 2 / 3


@cache
def make_town(name: str, seed: int = 3) -> dict[str, Numbers]:
    """Return the sums of every plot: of TOTALS, SHARES, MEANS, each by its name."""
    kind, random = (KINDS | FURTHER)[name], np.random.default_rng(seed)
    street = np.arange(_COUNT) // _STREET
    streets = int(street.max()) + 1
    density = np.exp(random.normal(0, kind.streets, streets))[street]
    density *= np.exp(random.normal(0, kind.plots, _COUNT))
    density[random.random(_COUNT) < kind.empty] = 0
    count = random.poisson(density * kind.trees / density.mean())
    plot = np.repeat(np.arange(_COUNT), count)
    size = np.exp(random.normal(0, kind.sizes_of_streets, streets))[street][plot]
    diameter = np.minimum(np.exp(random.normal(np.log(22), kind.sizes, len(plot))) * size, 180)
    width = (0.9 + 0.16 * diameter) * np.exp(random.normal(0, 0.2, len(plot)))
    # species go by street, deaths by plot
    species = random.beta(((0.5,), (0.3,)), ((1.2,), (2.0,)), (2, streets))[:, street][:, plot]
    dead = random.beta(0.6, 9, _COUNT)[plot]
    of_tree = {
        "trees": np.ones(len(plot)),
        "basal area": pi / 40_000 * diameter**2,
        "crown area": pi / 4 * width**2,
        "commonest species": random.random(len(plot)) < species[0],
        "another species": random.random(len(plot)) < species[1],
        "dead": random.random(len(plot)) < dead,
        "mean diameter": diameter,
    }
    return {
        key: np.bincount(plot, np.asarray(values, dtype=float), minlength=_COUNT)
        for key, values in of_tree.items()
    }


def draw_surveys(plots: int, surveys: int, random: np.random.Generator) -> NDArray[np.int64]:
    """Return the plots of each survey, one column a survey, none twice in it."""
    drawn = random.integers(0, _COUNT, (plots, surveys))
    while True:
        ordered = np.sort(drawn, axis=0)
        twice = (ordered[1:] == ordered[:-1]).any(axis=0)
        if not twice.any():
            return drawn
        drawn[:, twice] = random.integers(0, _COUNT, (plots, int(twice.sum())))


@dataclass(frozen=True)
class Held:
    """Shares of the surveys with limits: that held the truth, that were above it, below it.

    `width` is the median distance of the limits as a part of the truth, `margin` the median of half
    of it as a part of the figure, `surveys` how many had limits. `few` is the same of those where
    the kind was on fewer than FEW plots, None where that was rare. `rough` is the share of the
    surveys in which the figure is called an order of magnitude, for totals and shares.
    """

    held: float
    above: float
    below: float
    width: float
    margin: float
    surveys: int
    few: "Held | None" = None
    rough: float = 0.0

    @property
    def worse_side(self) -> float:
        """Return the share of the misses on the side with more of them."""
        return max(self.above, self.below) / max(self.above + self.below, 1e-9)

    @property
    def chance(self) -> float:
        """Return by how much chance moves the share held: two standard deviations."""
        return 2 * sqrt(self.held * (1 - self.held) / self.surveys)

    @property
    def chance_of_side(self) -> float:
        """Return by how much chance moves the share of the misses on one side."""
        misses = max((self.above + self.below) * self.surveys, 1.0)
        return 2 * sqrt(self.worse_side * (1 - self.worse_side) / misses)


def not_reached(name: str, kind: str, one: Held) -> str:
    """Return what limits of totals and shares do not reach beyond chance, "" for none."""
    low, high = LEAST.get(name, LEAST_ELSEWHERE), 1.0
    if kind == "share":
        low, high = SHARES_BETWEEN
    if one.held + one.chance < low:
        return "too seldom"
    if one.held - one.chance > high:
        return "too often"
    if kind == "total" and one.worse_side - one.chance_of_side > MOST_ON_ONE_SIDE:
        return "one side"
    return ""


def judge_limits(
    found: Estimated, low: Numbers, high: Numbers, truth: float, borne: NDArray[np.int64]
) -> Held:
    """Return how often limits held; surveys without limits do not count."""
    said = np.isfinite(low) & (found.standard_error > 1e-9 * found.value)
    few = said & (borne < FEW)
    with np.errstate(all="ignore"):
        margin = (high - low) / 2 / found.value

    def judge(which: NDArray[np.bool_]) -> Held:
        above, below = (low > truth)[which].mean(), (high < truth)[which].mean()
        width, half = np.median((high - low)[which]) / truth, np.median(margin[which])
        held = 1 - float(above + below)
        return Held(held, float(above), float(below), float(width), float(half), int(which.sum()))

    whole = judge(said)
    return replace(whole, few=judge(few)) if few.mean() > 0.02 else whole


# the program's names of what is judged; kinds of trees are numbers of trees
_NAMES = {"basal area": "basal_area", "crown area": "crown_area"}


def share_called_rough(
    kind: str, quantity: str, found: Estimated, low: Numbers, high: Numbers, sums: Numbers
) -> float:
    """Return in which share of the surveys with limits a figure is an order of magnitude."""
    fair = float(RULES["margin_fair"].default or 0.0)
    plots, borne = len(sums), (sums > 0).sum(axis=0)
    name = "share_of_trees" if kind == "share" else _NAMES.get(quantity, "trees")
    with np.errstate(all="ignore"):
        margin = (high - low) / 2 / found.value
        has_limits = np.isfinite(low) & (found.standard_error > 1e-9 * found.value)
    rough = (borne < FEW) | (np.round(margin, 2) > fair)
    for at in np.flatnonzero(has_limits & ~rough):
        rough[at] = is_rough_kind(name, kind, plots, sums[:, at].sum(), margin[at])
    return float(rough[has_limits].mean())


def measure(
    name: str, plots: int, surveys: int = SURVEYS, seed: int = 1, *, before: bool = False
) -> Iterator[tuple[str, str, Held]]:
    """Survey a town again and again.

    Parameters
    ----------
    name : str
        One of KINDS.
    plots, surveys : int
        How many plots a survey has, and how many surveys are made.
    seed : int
        Of the surveys.
    before : bool
        Whether limits are at equal distances and kinds go by the plots that bear them, as they
        were once.

    Yields
    ------
    tuple
        "total", "share" or "mean"; the quantity; how often its limits held.
    """
    town = make_town(name)
    drawn = draw_surveys(plots, surveys, np.random.default_rng([seed, plots]))
    stratum = np.zeros(plots, dtype=np.int64)
    design = Design(stratum, np.ones(plots), np.array([float(_COUNT)]), np.array([plots / _COUNT]))
    trees = town["trees"][drawn]
    for quantity in (*TOTALS, *SHARES, *MEANS):
        sums, whole = town[quantity][drawn], float(town[quantity].sum())
        borne = (sums > 0).sum(axis=0)
        rate = whole / float(town["trees"].sum())
        if quantity in (*TOTALS, *SHARES):
            of_kind = total(design, sums) if before else total(design, sums, trees=trees)
            low, high = of_kind.interval(CONFIDENCE, "plain" if before else "log")
            one = judge_limits(of_kind, low, high, whole, borne)
            rough = share_called_rough("total", quantity, of_kind, low, high, sums)
            yield "total", quantity, replace(one, rough=rough)
        if quantity in SHARES:
            part = ratio(design, sums, trees) if before else share(design, sums, trees)
            low, high = part.interval(CONFIDENCE, "plain" if before else "logit")
            low, high = np.maximum(low, 0), np.minimum(high, 1)
            one = judge_limits(part, low, high, rate, borne)
            rough = share_called_rough("share", quantity, part, low, high, sums)
            yield "share", quantity, replace(one, rough=rough)
        if quantity in MEANS:
            mean = ratio(design, sums, trees)
            yield "mean", quantity, judge_limits(mean, *mean.interval(CONFIDENCE), rate, borne)


def share_kept(
    name: str, quantity: str, margin: float, chance: float | None, surveys: int = 400
) -> tuple[int, float]:
    """Plan with the town's own variation, survey it, and see how many surveys keep the margin.

    Parameters
    ----------
    name, quantity : str
        One of KINDS and of TOTALS.
    margin : float
        Wanted, a fraction of the total.
    chance : float or None
        Share of the surveys that are to keep it, as `plots_needed` takes it.
    surveys : int
        How many are made.

    Returns
    -------
    tuple of int and float
        The plots planned, and the share of the surveys whose margin was the wanted one or smaller.
    """
    town = make_town(name)
    y, trees = town[quantity], town["trees"]
    figures = whole_town(float(y.std(ddof=1) / y.mean()), _COUNT)
    figures = replace(figures, with_trees=float((trees > 0).mean()))
    needed = plots_needed(figures, margin, chance=chance)
    assert needed is not None
    plots, random = int(needed[0]), np.random.default_rng(8)
    drawn = np.array([random.choice(_COUNT, plots, replace=False) for _ in range(surveys)]).T
    one = np.zeros(plots, dtype=np.int64)
    design = Design(one, np.ones(plots), np.array([float(_COUNT)]), np.array([plots / _COUNT]))
    found = total(design, y[drawn], trees=trees[drawn])
    width = half_width(found.standard_error / found.value, found.freedom, CONFIDENCE)
    return plots, float(np.mean(width <= margin))


# plots of a town, and plots drawn, in each of three strata: one or two have a single plot
LONELY = (
    ((1600, 1600, 800), (8, 6, 1)),
    ((2400, 800, 800), (10, 4, 1)),
    ((1000, 2600, 400), (4, 9, 1)),
    ((2000, 1000, 1000), (12, 1, 1)),
)


def measure_lonely(
    name: str, sizes: tuple[int, ...], drawn: tuple[int, ...], surveys: int = 2000
) -> Iterator[tuple[str, Held]]:
    """Survey a town in strata of which some have one plot; yield each of TOTALS, how it held."""
    town, random = make_town(name), np.random.default_rng(4)
    first = np.cumsum((0, *sizes))
    plots = np.concatenate(
        [
            np.array([random.choice(size, count, replace=False) for _ in range(surveys)]).T + start
            for start, size, count in zip(first, sizes, drawn, strict=False)
        ]
    )
    code = np.repeat(np.arange(len(sizes)), drawn)
    whole = np.array(sizes, dtype=float)
    design = Design(code, np.ones(len(code)), whole, np.array(drawn) / whole, joins_lonely=True)
    for quantity in TOTALS:
        sums = town[quantity][plots]
        found = total(design, sums, trees=town["trees"][plots])
        low, high = found.interval(CONFIDENCE, "log")
        borne = (sums > 0).sum(axis=0)
        yield quantity, judge_limits(found, low, high, float(town[quantity].sum()), borne)


IN_TABLE = (*(("total", name) for name in TOTALS), *(("share", name) for name in SHARES))


def _cell(was: Held, now: Held) -> str:
    sides = f"({100 * now.above:.1f} / {100 * now.below:.1f})"
    return f"{100 * was.held:.0f} → **{100 * now.held:.0f}** {sides}"


def table_rows(plots: tuple[int, ...] = PLOTS) -> Iterator[str]:
    """Yield the rows of the README's table: share held before and now (limits above / below)."""
    for name in KINDS:
        for count in plots:
            was, now = (
                {(kind, quantity): one for kind, quantity, one in measure(name, count, before=old)}
                for old in (True, False)
            )
            cells = " | ".join(_cell(was[key], now[key]) for key in IN_TABLE)
            yield f"| {name} | {count} | {cells} |"


def cells_not_reached(names: tuple[str, ...], plots: tuple[int, ...] = PLOTS) -> Iterator[str]:
    """Yield a line for each total or share of the towns that does not reach what it is to."""
    for name in names:
        for count in plots:
            for kind, quantity, one in measure(name, count):
                missed = not_reached(name, kind, one) if kind != "mean" else ""
                if missed:
                    rough = f"called rough in {100 * one.rough:.2f} %"
                    yield f"{name} {count} {kind} {quantity}: {missed}, {_show(one)}, {rough}"


def least_held(plots: int) -> dict[str, tuple[float, float, float]]:
    """Return of each kind the least held in KINDS, and the most above and below the truth."""
    found: dict[str, list[Held]] = {"total": [], "mean": [], "share": []}
    for name in KINDS:
        for kind, quantity, one in measure(name, plots):
            if kind != "total" or quantity in TOTALS:
                found[kind].append(one)
    return {
        kind: (min(one.held for one in all_of_them), max(one.above for one in all_of_them),
               max(one.below for one in all_of_them))
        for kind, all_of_them in found.items()
    }  # fmt: skip


def _show(one: Held) -> str:
    sides = f"({100 * one.above:.1f} / {100 * one.below:.1f})"
    return f"{100 * one.held:.1f} {sides} ± {100 * one.chance:.1f}, margin {one.margin:.0%}"


def main() -> None:
    """Print the towns, the README's table, and means, widths and rare kinds beside it."""
    for name in KINDS:
        of_plot = make_town(name)["trees"]
        empty, mean = 100 * np.mean(of_plot == 0), np.mean(of_plot)
        print(f"{name}: {mean:.1f} trees on a plot, {empty:.0f} % of the plots empty")
    print(f"| town | plots | {' | '.join(name for _, name in IN_TABLE)} |")
    print(f"|---|---{'|---' * len(IN_TABLE)}|")
    for row in table_rows():
        print(row)
    for name in KINDS:
        for sizes, drawn in LONELY:
            for quantity, one in measure_lonely(name, sizes, drawn):
                held = f"{100 * one.held:.1f} ({100 * one.above:.1f} / {100 * one.below:.1f})"
                print(f"{name} strata with {drawn} plots {quantity}: {held}")
    for name in KINDS:
        for quantity in TOTALS:
            for wanted in (0.2, 0.3, 0.4):
                kept = [share_kept(name, quantity, wanted, chance) for chance in (None, 0.9)]
                words = ", ".join(f"{plots} plots {100 * part:.0f}" for plots, part in kept)
                print(f"{name} {quantity} margin {wanted:.0%} kept with {words}")
    for name in KINDS:
        for count in PLOTS:
            for kind, quantity, one in measure(name, count):
                few = "" if one.few is None else f"; on few plots {_show(one.few)}"
                print(f"{name} {count} {kind} {quantity}: {_show(one)}, width {one.width:.2f}{few}")
    print("Not reached:", *cells_not_reached((*KINDS, *FURTHER)), sep="\n")
    for count in MEASURED:
        print(count, {kind: np.round(held, 3) for kind, held in least_held(count).items()})


if __name__ == "__main__":
    main()
