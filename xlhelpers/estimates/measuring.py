"""How far errors of measuring could move an estimate, beside the error of the sampling.

Each estimate is a weighted sum of tree values. Its part of reading errors falls with more trees.
The systematic part does not: what the readings of one instrument share is added up over all its
readings, and only different instruments may make up for each other. Taking that share to have
one sign throughout is the careful side. What different people see in the same tree is taken in
the same way, as if each person always saw too much or too little.

The scatter of the readings is already in the sampling error, since it moves the sums of the
plots; the systematic parts are not.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.instruments import Values
from xlhelpers.survey.trees.means import point_mean
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of, fold_column
from xlhelpers.survey.typed.words import identifier_key

# Standard deviation between observers as a share of the diameter (Luoma et al. 2017, abstract)
DIAMETER_OBSERVER_SHARE = 0.015
# estimate -> point of the uncertainty columns
_POINTS = {"mean_height": "tip", "mean_crown_depth": "depth"}
# estimate -> observers' standard deviation as a share of the tree's value
_OBSERVED = {
    "mean_diameter": DIAMETER_OBSERVER_SHARE,
    "basal_area": 2 * DIAMETER_OBSERVER_SHARE,
}
_WITH_DEAD = {"basal_area_with_dead": "basal_area"}


@dataclass(frozen=True)
class Instruments:
    """The readings behind one quantity of the trees: a row a set-up that entered a mean.

    `tree` is a position in the trees, `share` the part of the tree's mean that the set-up has,
    `instrument` a code; `common` and `reading` the parts of its standard uncertainty (m).
    """

    tree: Positions
    share: Values
    instrument: Positions
    common: Values
    reading: Values


@dataclass(frozen=True)
class Measuring:
    """All that is known of measuring errors in a survey.

    `by_name` has the readings of each estimate that carries instruments' errors; `observer` the
    observers' standard deviation of each tree's value; `person` a code of who measured the tree.
    """

    by_name: dict[str, Instruments]
    observer: dict[str, Values]
    person: Positions


@dataclass(frozen=True)
class Parts:
    """Standard uncertainties of estimates from measuring; NaN where not carried."""

    random: Values
    systematic: Values
    observer: Values

    def scale_by(self, factor: float) -> "Parts":
        """Return the same parts in another unit."""
        return Parts(self.random * factor, self.systematic * factor, self.observer * factor)


def no_parts(domains: int) -> Parts:
    """Return parts that say that none is carried."""
    nothing = np.full(domains, np.nan)
    return Parts(nothing, nothing, nothing)


def gather_errors(outcome: Outcome) -> Measuring:
    """Gather the errors of measuring of a survey."""
    setups, trees = outcome.setups, outcome.trees
    total, top, base = (
        point_mean(setups, height, point)
        for height, point in (("total_height", "tip"), ("crown_top", "top"), ("crown_base", "base"))
    )
    used = {"mean_height": total.used, "mean_crown_depth": top.used & base.used}
    observer = {
        name: share * trees["diameter" if name == "mean_diameter" else name].to_numpy()
        for name, share in _OBSERVED.items()
    }
    observer |= {name: observer[living] for name, living in _WITH_DEAD.items()}
    observer["mean_height"] = trees["observer_u"].to_numpy()
    crews = np.append(outcome.survey.plots["crew"].to_numpy(dtype=object), "")
    first = [(str(crew).split() or [""])[0] for crew in crews]
    person = codes_of(fold_column(first, identifier_key))[trees["plot_position"].to_numpy()]
    by_name = {name: _readings(setups, used[name], point) for name, point in _POINTS.items()}
    return Measuring(by_name, observer, person)


def errors_of_trees(known: Measuring, at: Positions, trees: int) -> Measuring:
    """Return what is known of some of the trees, which are numbered anew.

    Parameters
    ----------
    known : Measuring
        Of all trees.
    at : ndarray of int
        The trees wanted.
    trees : int
        How many trees there are.
    """
    place = np.full(trees, -1, dtype=np.int64)
    place[at] = np.arange(len(at))
    by_name = {}
    for name, of in known.by_name.items():
        here = place[of.tree] >= 0
        by_name[name] = Instruments(
            place[of.tree[here]],
            of.share[here],
            of.instrument[here],
            of.common[here],
            of.reading[here],
        )
    observer = {name: values[at] for name, values in known.observer.items()}
    return Measuring(by_name, observer, known.person[at])


def error_parts(
    known: Measuring, name: str, coefficient: Values, domain: Positions, domains: int
) -> Parts:
    """Return the measuring part of an estimate, for each domain.

    Parameters
    ----------
    known : Measuring
        As `gather_errors` gives it.
    name : str
        Name of the estimate.
    coefficient : ndarray
        For each tree how much the estimate moves with its value; 0 or NaN for no part in it.
    domain : ndarray of int
        For each tree its domain.
    domains : int
        How many there are.
    """
    coefficient = np.where(np.isfinite(coefficient), coefficient, 0.0)
    none = no_parts(domains)
    random, systematic, observer = none.random, none.systematic, none.observer
    if name in known.by_name:
        random, systematic = _of_instruments(known.by_name[name], coefficient, domain, domains)
    if name in known.observer:
        joint = coefficient * known.observer[name]
        observer, _ = _add_by_group(joint, coefficient, domain, known.person, domains)
    return Parts(random, systematic, observer)


def _readings(setups: pd.DataFrame, used: Flags, point: str) -> Instruments:
    tree = setups["tree_position"].to_numpy()[used]
    n = np.bincount(tree, minlength=1)
    instrument = codes_of(fold_column(setups["instrument"], identifier_key))[used]
    common = setups[f"{point}_u_common"].to_numpy()[used]
    return Instruments(
        tree, 1 / n[tree], instrument, common, setups[f"{point}_u_reading"].to_numpy()[used]
    )


def _of_instruments(
    of: Instruments, coefficient: Values, domain: Positions, domains: int
) -> tuple[Values, Values]:
    weight = coefficient[of.tree] * of.share
    place = domain[of.tree]
    systematic, raised = _add_by_group(weight * of.common, weight, place, of.instrument, domains)
    known = np.isfinite(of.reading)
    squares = np.bincount(place[known], (weight[known] * of.reading[known]) ** 2, minlength=domains)
    return np.sqrt(squares * raised), systematic


def _add_by_group(
    joint: Values, weight: Values, domain: Positions, group: Positions, domains: int
) -> tuple[Values, Values]:
    """Add within groups as they stand and between groups as squares."""
    # Trees of unknown accuracy are taken to be like the others. Also returned is by how much the
    # known were raised for them; both are NaN where none is known.
    inside = weight != 0
    known = inside & np.isfinite(joint)
    every = np.bincount(domain[inside], np.abs(weight[inside]), minlength=domains)
    having = np.bincount(domain[known], np.abs(weight[known]), minlength=domains)
    with np.errstate(all="ignore"):
        raised = every / having
    groups = int(group.max()) + 1 if len(group) else 1
    sums = np.bincount(
        domain[known] * groups + group[known], joint[known], minlength=domains * groups
    ).reshape(domains, groups)
    raised = np.where(having > 0, raised, np.nan)
    return np.sqrt((sums**2).sum(axis=1)) * raised, raised
