"""Wide crowns that were measured from one place only: asked about once for a survey."""

import numpy as np

from xlhelpers.survey.checks.record import NO_HITS, Hits
from xlhelpers.survey.doubt.weigh import Usual

# so many trees make it worth a word
FEWEST = 10


def wide_crowns_from_one_place(usual: Usual) -> Hits:
    """Return one hit where fewer wide crowns were measured from two places than the rules ask for.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    """
    trees = usual.trees
    bound = trees["near_edge"].to_numpy(dtype=float)
    once = np.flatnonzero(np.isfinite(bound))
    living = trees["condition"].to_numpy(dtype=object) != "D"
    broad = living & ~trees["kind"].isin(("conifer", "palm")).to_numpy()
    twice = int((broad & (trees["n_total"].to_numpy() > 1)).sum())
    wanted = float(usual.survey.rules["repeats_wanted"] or 0)
    if len(once) < FEWEST or not wanted > 0 or twice >= wanted * (twice + len(once)):
        return NO_HITS
    worst = int(once[np.argmax(bound[once])])
    name = f"{trees['tree'].array[worst]} of plot {trees['plot'].array[worst]}"
    return Hits(
        np.zeros(1, dtype=np.int64),
        {
            "once": [len(once)],
            "usual": [float(np.median(bound[once]))],
            "most": [float(bound[worst])],
            "worst": [name],
        },
        subjects=[(("survey", "wide crowns"),)],
        evidence=[("wide crowns from one place",)],
    )
