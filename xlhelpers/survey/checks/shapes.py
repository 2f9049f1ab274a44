"""Trees of an unlikely shape, each against its own kind: stems, crowns, and steep near sights."""

from functools import cache

import numpy as np
import pandas as pd

from xlhelpers.survey.checks.facts import Facts, Numbers, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.ranges import too_close, too_steep, under_crown
from xlhelpers.survey.checks.record import NO_HITS, Hits, hits_where
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.trees.records import CUT_BACK
from xlhelpers.survey.typed.folding import Flags, codes_of, fold, fold_column

# the wider of a crown's widths over the other: one in 1,000 open-grown street trees has more
GREATEST_RATIO = 6.0
# times the thickest stem of the genus in the open tree data
ROOM = 2.0
# a crown is shallow, and those of others deep, as shares of the height; mates of the same kind
SHALLOW, DEEP, FEWEST_MATES = 0.1, 0.4, 3


def widths_differ(facts: Facts) -> Hits:
    """Crowns whose two widths differ by more than a real crown's do."""
    widths = np.stack([facts.tree("width_widest"), facts.tree("width_across")])
    with np.errstate(all="ignore"):
        ratio = widths.max(axis=0) / widths.min(axis=0)
    mask = (widths.min(axis=0) > 0) & (ratio > GREATEST_RATIO + SAME)
    mask &= widths.max(axis=0) <= facts.limit("limit_width") + SAME
    return hits_where(mask, ratio=np.array([f"{value:.1f}" for value in ratio], dtype=object))


@cache
def _thickest_of_genera() -> dict[str, float]:
    """Return the thickest stem (cm) of each genus in the reference, its species among them."""
    table = reference()
    own = table[table["level"].isin(("genus", "species"))]
    genus = own["name"].str.split().str[0]
    return {
        str(name): float(most)
        for name, most in own["greatest_diameter"].groupby(genus).max().items()
    }


def stem_too_thick_for_genus(facts: Facts) -> Hits:
    """Stems far thicker than any of their genus in the open tree data, and under the limit."""
    thickest = _thickest_of_genera()
    genus = [fold(str(name)) for name in facts.tree_text("genus")]
    most = np.array([thickest.get(name, np.nan) for name in genus], dtype=float)
    stem = facts.tree("largest_stem")
    mask = (stem > ROOM * most) & (stem <= facts.limit("limit_diameter") + SAME)
    return hits_where(mask, thickest=most)


def crown_shallow(facts: Facts) -> Hits:
    """Crowns of a tenth of the height, where those of the same kind on the plot are deep."""
    ratio = facts.tree("live_crown_ratio")
    shallow = (ratio > SAME) & (ratio < SHALLOW) & ~same(facts.tree_text("kind"), "palm")
    shallow &= ~same(facts.tree_text("condition"), "D")
    shallow &= ~same(facts.tree_text("condition"), CUT_BACK)
    if not shallow.any():
        return NO_HITS
    mates = _average_mates(facts, ratio)
    return hits_where(shallow & (mates > DEEP), mates=mates)


def _average_mates(facts: Facts, ratio: Numbers) -> Numbers:
    """Return the median ratio of the trees of one kind and plot, NaN for too few."""
    plots, kinds = fold_column(facts.tree_text("plot")), facts.tree_text("kind")
    group = codes_of(plots, kinds)
    grouped = pd.Series(ratio).groupby(group)
    enough = grouped.transform("count").to_numpy() > FEWEST_MATES
    return np.where(enough, grouped.transform("median").to_numpy(dtype=float), np.nan)


def _steep_and_near(facts: Facts) -> Flags:
    level, total = facts.setup("level_distance"), facts.setup("total_height")
    steep = (facts.setup("tip_slope") > 1 + SAME) & (level < total - SAME)
    named = under_crown(facts) | too_close(facts)
    named[too_steep(facts).rows] = True
    return np.asarray(steep & ~named, dtype=np.bool_)


def steep_sights(facts: Facts) -> Hits:
    """The tips that were read above 45 degrees from less than one height away, as one note."""
    lines = np.flatnonzero(_steep_and_near(facts))
    if len(lines) == 0:
        return NO_HITS
    return Hits(
        np.zeros(1, dtype=np.int64),
        {"count": [len(lines)]},
        lines=[()],
        subjects=[(("survey", "steep sights"),)],
        evidence=[(f"{len(lines)} steep sights",)],
    )
