"""How often strata are refused because their plots do not fit their stated area.

The program multiplies the number of plots that would fit by the mean area of the plots measured and
holds that against the stated area. Where the edge of the town cuts some plots, a few plots have
another mean by chance. `python -m tests.simulation.edge_plots` prints the table of the README: a
true frame, before the check allowed for that scatter and now, and frames with a mistake.
"""

from collections.abc import Iterator

import numpy as np

from tests.estimates.make_sample import plot
from tests.survey.make_survey import make_survey
from xlhelpers.survey.plot_roles import plot_roles
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.strata import strata_used
from xlhelpers.survey.trees.trees import build_trees

PLOTS = (2, 3, 5, 10, 20)
SURVEYS = 4000
# the number of plots that would fit, as stated, times the true one
MISTAKES = {"half": 0.5, "twice": 2.0, "acres for hectares": 2.47, "ten times": 10.0}
# of the area of a whole plot: least and most left of the quarter that the edge cuts
LEFT = (0.1, 0.5)
WHOLE, FIT = 400.0, 2000


def make_town(random: np.random.Generator) -> np.ndarray:
    """Return the areas of all plots of a town [m2], a quarter of them cut by its edge."""
    areas = np.full(FIT, WHOLE)
    cut = random.permutation(FIT)[: FIT // 4]
    areas[cut] *= random.uniform(*LEFT, len(cut))
    return areas


def share_refused(
    plots: int, times: float = 1.0, surveys: int = SURVEYS, seed: int = 1
) -> tuple[float, float]:
    """Survey a town again and again, each time as a stratum of one survey.

    Parameters
    ----------
    plots : int
        Plots of each stratum.
    times : float
        The stated number of plots that would fit, as a multiple of the true one.
    surveys, seed : int
        How many strata there are, and the seed of the draws.

    Returns
    -------
    tuple of float
        Share of the strata refused now, and by the limits of 0.8 and 1.25 alone, as it was before.
    """
    random = np.random.default_rng([seed, plots])
    town = make_town(random)
    drawn = town[np.argsort(random.random((surveys, FIT)), axis=1)[:, :plots]]
    possible, stated = round(FIT * times), float(town.sum())
    rows = [
        plot(f"{at}/{which}", f"S{at}", "no trees", area, area)
        for at, areas in enumerate(drawn.tolist())
        for which, area in enumerate(areas)
    ]
    strata = [
        {"stratum": f"S{at}", "area": stated, "plots_possible": possible} for at in range(surveys)
    ]
    survey = make_survey([], rows, strata=strata)
    roles = plot_roles(survey, build_trees(survey, compute_setups(survey)))
    now = float((strata_used(survey, roles).table["problem"] != "").mean())
    ratio = possible * drawn.mean(axis=1) / stated
    return now, float(((ratio < 0.8) | (ratio > 1.25)).mean())


def table_rows() -> Iterator[str]:
    """Yield the rows of the README's table, in percent of the strata."""
    for count in PLOTS:
        now, before = share_refused(count)
        found = [share_refused(count, times)[0] for times in MISTAKES.values()]
        cells = " | ".join(f"{100 * share:.0f}" for share in found)
        yield f"| {count} | {100 * before:.1f} → **{100 * now:.1f}** | {cells} |"


def main() -> None:
    """Print the README's table."""
    print(f"| plots | true frame: refused | {' | '.join(MISTAKES)} |")
    print(f"|---|---{'|---' * len(MISTAKES)}|")
    for row in table_rows():
        print(row)


if __name__ == "__main__":
    main()
