"""Towns whose every tree is known, surveyed by sample plots again and again.

`python -m tests.simulation.sampled_towns` prints how often intervals called 95 % hold the truth,
by the number of plots.

The trees are those of the open data of real urban trees (McPherson, van Doorn & Peper 2016). How
they stand is invented: plots of 400 m2 in runs of like trees (a street was planted at one time with
one species), the number on a plot varying more than by chance, every tenth plot cut by the edge of
the town. A usual town has about ten trees on a plot that has any, one plot in seven without; a thin
town half as many and a third of its plots without.
"""

from dataclasses import dataclass
from functools import cache
from math import pi

import numpy as np
import pandas as pd

from tests.estimates.make_design import make_design
from tests.real_trees import real_trees
from xlhelpers.estimates.design import Estimated, ratio, share, total
from xlhelpers.estimates.limits import Scale

PLOT_AREA = 400.0
PLOTS_DRAWN = (5, 8, 10, 15, 20, 30, 60, 120)
CONFIDENCE = 0.95
TOTALS = ("trees", "basal area", "crown area")
# of what `survey` gives: totals, means, the share of a genus
SCALES: tuple[Scale, ...] = ("log", "plain", "logit")
MEANS = ("mean height", "mean crown depth", "mean diameter", "share of the commonest genus")
# trees on a full plot, share of plots without any
TOWNS = {"usual": (10.0, 0.12), "thin": (5.0, 0.25)}
_CLUMPING, _CUT = 2.0, 0.1


@dataclass(frozen=True)
class Town:
    """Sums of every plot of a town: `area` (m2), and columns of `sums` by name."""

    area: np.ndarray
    sums: pd.DataFrame
    stratum: np.ndarray
    trees: pd.DataFrame  # with the column `plot`

    @property
    def plots(self) -> int:
        return len(self.area)


def trees_of_a_town() -> pd.DataFrame:
    """Return diameter (cm), height, crown depth and width (m) and species of each tree."""
    table = real_trees()
    found = pd.DataFrame(
        {
            "species": table["scientific_name"],
            "diameter": table["dbh_cm"],
            "height": table["height_m"],
            "depth": table["height_m"] - table["crown_base_m"],
            "width": table["crown_width_mean_m"],
        }
    ).dropna()
    return found[found["depth"] > 0].reset_index(drop=True)


@cache
def make_town(kind: str = "usual", seed: int = 1) -> Town:
    """Return a town with all the trees there are."""
    mean, empty = TOWNS[kind]
    random = np.random.default_rng(seed)
    trees = trees_of_a_town()
    # runs of like trees: sorted by species and size, shuffled within a reach of some thousand
    rank = trees.sort_values(["species", "diameter"]).index.to_numpy()
    order = np.argsort(np.arange(len(rank)) + random.uniform(0, 2500, len(rank)))
    trees = trees.loc[rank[order]].reset_index(drop=True)
    area = np.full(4 * len(trees), PLOT_AREA)
    cut = random.random(len(area)) < _CUT
    area[cut] *= random.uniform(0.15, 0.95, cut.sum())
    density = random.gamma(_CLUMPING, mean / _CLUMPING, len(area))
    density[random.random(len(area)) < empty] = 0.0
    count = random.poisson(density * area / PLOT_AREA)
    last = int(np.searchsorted(np.cumsum(count), len(trees)))
    area, count = area[:last], count[:last]
    trees = trees.iloc[: count.sum()].assign(plot=np.repeat(np.arange(last), count))
    return Town(area, _sums(trees, last), np.arange(last) * 3 // last, trees)


def _sums(trees: pd.DataFrame, plots: int) -> pd.DataFrame:
    genus = trees["species"].str.split().str[0]
    commonest = genus.value_counts().index[0]
    columns = {
        "trees": np.ones(len(trees)),
        "basal area": pi / 40_000 * trees["diameter"] ** 2,
        "crown area": pi / 4 * trees["width"] ** 2,
        "mean height": trees["height"],
        "mean crown depth": trees["depth"],
        "mean diameter": trees["diameter"],
        "share of the commonest genus": genus == commonest,
    }
    plot = trees["plot"].to_numpy()
    return pd.DataFrame(
        {
            name: np.bincount(plot, np.asarray(values, dtype=float), minlength=plots)
            for name, values in columns.items()
        }
    )


def truth(town: Town) -> np.ndarray:
    """Return the true totals and means in the order of TOTALS and MEANS."""
    whole = town.sums.sum()
    return np.array(
        [*(whole[name] for name in TOTALS), *(whole[name] / whole["trees"] for name in MEANS)]
    )


def survey(town: Town, plots: int, random: np.random.Generator, *, strata: bool) -> list[Estimated]:
    """Draw plots and return the estimates of totals, of means, and of the share of a genus."""
    if strata:
        drawn = np.concatenate(
            [
                random.choice(np.flatnonzero(town.stratum == h), plots // 3, replace=False)
                for h in range(3)
            ]
        )
        stratum = town.stratum[drawn]
        whole = np.bincount(town.stratum, town.area)
        possible = np.bincount(town.stratum)
    else:
        drawn = random.choice(town.plots, plots, replace=False)
        stratum, whole, possible = None, np.array([town.area.sum()]), np.array([town.plots])
    design = make_design(town.area[drawn], whole, stratum, possible)
    # the columns are TOTALS, of which the first counts the trees, and then MEANS
    sums = town.sums.to_numpy()[drawn]
    totals, of_means, of_genus = np.split(sums, [len(TOTALS), -1], axis=1)
    trees = sums[:, :1]
    return [
        total(design, totals, trees=trees),
        ratio(design, of_means, np.repeat(trees, len(MEANS) - 1, axis=1)),
        share(design, of_genus, trees),
    ]


def share_held(
    town: Town, plots: int, surveys: int, seed: int = 1, *, strata: bool = False
) -> dict[str, float]:
    """Return for each quantity the share of simulated surveys whose interval held the truth.

    Surveys whose plots bear a quantity not at all or once give no interval and do not count.
    """
    random = np.random.default_rng([seed, plots, int(strata)])
    true = truth(town)
    held, said = np.zeros(len(true)), np.zeros(len(true))
    for _ in range(surveys):
        found = survey(town, plots, random, strata=strata)
        limits = [one.interval(CONFIDENCE, scale) for one, scale in zip(found, SCALES, strict=True)]
        low = np.concatenate([low for low, _ in limits])
        high = np.concatenate([high for _, high in limits])
        held += (low <= true) & (true <= high)
        said += high > low
    return dict(zip((*TOTALS, *MEANS), held / said, strict=True))


def main() -> None:
    """Print the curve."""
    for kind, strata in ((kind, strata) for kind in TOWNS for strata in (False, True)):
        town = make_town(kind)
        print(
            f"{kind} town, {'three strata' if strata else 'one stratum'}: {len(town.trees)} "
            f"real trees on {town.plots} plots, "
            f"{100 * (town.sums['trees'] == 0).mean():.0f} % without trees"
        )
        for plots in PLOTS_DRAWN:
            if strata and plots < 6:
                continue
            found = share_held(town, plots, 4000, strata=strata)
            named = ", ".join(f"{name} {100 * share:.1f}" for name, share in found.items())
            least = [min(found[name] for name in names) for names in (TOTALS, MEANS)]
            drawn = plots // 3 * 3 if strata else plots
            print(f"{drawn:4d} plots: {named}; least {100 * least[0]:.1f} / {100 * least[1]:.1f}")


if __name__ == "__main__":
    main()
