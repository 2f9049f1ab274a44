"""What the council's report is made from: the estimates, or the bare figures of what was measured.

The numbers are estimates for the town with margins, or in a census counts. Where an area is
missing or the plots are too few, the report covers the measured trees only, and says so.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import GROUP, NOT_STATED
from xlhelpers.estimates.estimates import Estimates, estimate
from xlhelpers.estimates.intervals import t_multiplier
from xlhelpers.estimates.rows import ONE_PLOT
from xlhelpers.fields.quantities import Units
from xlhelpers.survey.counted import name_left_out
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import CENSUS_KIND, EMPTY, MEASURED
from xlhelpers.survey.typed.folding import Flags

Mode = Literal["sample", "census", "measured", "nothing"]
# what the figures of a tree's size are made from
_SIZES = ("total_height", "crown_depth", "mean_width", "basal_area")
ON_ONE_PLOT = "groups found on one plot only"


@dataclass(frozen=True)
class Facts:
    """What the report says, before it is put into words.

    `mode` is what the figures are about: "sample" the town, with margins; "census" the town,
    counted; "measured" the measured trees alone, and `because` says why; "nothing" where there is
    no tree. `outcome` is the survey as entered, `plots` how each of its plots is counted.
    """

    outcome: Outcome
    estimates: Estimates
    mode: Mode
    confidence: float
    plots: pd.DataFrame
    because: str = ""

    @property
    def units(self) -> Units:
        """Return the units of the survey, in which everything is shown."""
        return self.outcome.survey.units

    @property
    def has_margins(self) -> bool:
        """Return whether the figures carry a sampling margin."""
        return self.mode == "sample"

    @property
    def reason(self) -> str:
        """Return `because` without its advice to the office."""
        return f"{self.because.split('. ')[0].rstrip('.')}."

    @cached_property
    def _town(self) -> dict[tuple[str, str, str], pd.DataFrame]:
        table = self.estimates.table
        whole = self._with_margin(table[table["scope"] == ""])
        groups = whole.groupby(["quantity", "kind", "domain_kind"], sort=False)
        return {
            (str(quantity), str(kind), str(domain)): rows.reset_index(drop=True)
            for (quantity, kind, domain), rows in groups
        }

    def rows(self, quantity: str, kind: str, domain_kind: str = "") -> pd.DataFrame:
        """Return rows of the town with `margin`, the half width before any end is cut off."""
        nothing = self.estimates.table.iloc[0:0].assign(margin=np.nan)
        return self._town.get((quantity, kind, domain_kind), nothing)

    def by_stratum(self, quantity: str, kind: str) -> pd.DataFrame:
        """Return one row a stratum, none where there is one stratum alone."""
        table = self.estimates.table
        chosen = (table["quantity"] == quantity) & (table["kind"] == kind)
        rows = table[chosen & (table["scope_kind"] == "stratum")].reset_index(drop=True)
        return self._with_margin(rows.assign(domain=rows["scope"]))

    def town(self, quantity: str, kind: str) -> pd.Series:
        """Return the row of the whole town."""
        return self.rows(quantity, kind).iloc[0]

    @cached_property
    def _without_open(self) -> Estimates:
        trees, counted = self.outcome.trees, self.outcome.counted
        sizes = {name: trees[name].mask(counted.doubts_column(name)) for name in _SIZES}
        outcome = replace(self.outcome, trees=trees.assign(**sizes))
        return estimate(
            _as_census(outcome) if self.mode == "measured" else outcome, self.confidence
        )

    def without_open(self, quantity: str, kind: str) -> float:
        """Return a figure as if no tree had a size that is in doubt, NaN unknown.

        The plots and what each stands for stay as they are: a tree without a size is treated like
        the others.
        """
        return float(self._without_open.select(quantity, kind)["value"].iloc[0])

    @cached_property
    def _inside(self) -> Flags:
        """Return the trees on plots that count."""
        used = self.plots["counted_as"].isin((MEASURED, EMPTY)).to_numpy(dtype=bool)
        at = self.outcome.trees["plot_position"].to_numpy()
        return np.asarray(np.append(used, False)[at], dtype=bool)

    @property
    def trees_in_doubt(self) -> int:
        """Return how many trees on plots that count have anything in doubt."""
        return int((self.outcome.counted.any_doubt & self._inside).sum())

    @property
    def left_out(self) -> str:
        """Return how many values on plots that count cannot be and are left out, in words."""
        flags = self.outcome.counted.named_left_out
        return name_left_out(
            {one: int((these & self._inside).sum()) for one, these in flags.items()}
        )

    def groups(self, quantity: str, kind: str) -> pd.DataFrame:
        """Return one row a group; those on one plot are pooled, since they may name somebody."""
        rows = self.rows(quantity, kind, GROUP)
        alone = (rows["plots_with"] <= 1) & (rows["domain"] != NOT_STATED)
        if not alone.any():
            return rows
        pooled = rows[alone].iloc[[0]].copy()
        for name in ("trees", "trees_without", "open_trees", "left_out"):
            pooled[name] = rows.loc[alone, name].sum()
        known = np.nan if self.has_margins else rows.loc[alone, "value"].sum()
        pooled["domain"], pooled["value"], pooled["margin"] = ON_ONE_PLOT, known, np.nan
        pooled["words"] = ONE_PLOT if self.has_margins else ""
        return pd.concat([rows[~alone], pooled], ignore_index=True)

    def _with_margin(self, rows: pd.DataFrame) -> pd.DataFrame:
        if not self.has_margins:
            return rows.assign(margin=np.nan)
        reach = t_multiplier(rows["degrees_of_freedom"].to_numpy(dtype=float), self.confidence)
        return rows.assign(margin=reach * rows["standard_error"].to_numpy(dtype=float))


def gather(outcome: Outcome, confidence: float) -> Facts:
    """Estimate, and decide what the figures can be about.

    Parameters
    ----------
    outcome : Outcome
        The computed survey.
    confidence : float
        Of the margins, above 0.5 and below 1.
    """
    estimates = estimate(outcome, confidence)
    trees = estimates.select("trees", "total").iloc[0]
    mode: Mode = "census" if estimates.is_census else "sample"
    facts = Facts(outcome, estimates, mode, confidence, estimates.plots)
    if len(outcome.trees) == 0:
        return replace(facts, mode="nothing", because="No tree is entered.")
    if np.isfinite(trees["value"]) and trees["trees"] > 0:
        return facts
    because = str(trees["words"]) or "No tree is on a plot that counts."
    alone = estimate(_as_census(outcome), confidence)
    if alone.select("trees", "total").iloc[0]["trees"] == 0:
        return replace(facts, mode="nothing", because="No tree is on a listed plot.")
    return replace(facts, estimates=alone, mode="measured", because=because)


def _as_census(outcome: Outcome) -> Outcome:
    """Return the survey as if its plots were all there is, so that trees are simply counted."""
    survey = outcome.survey
    count = len(survey.plots)
    at = outcome.trees["plot_position"].to_numpy()
    has_trees = np.bincount(at[at >= 0], minlength=count) > 0
    plots = survey.plots.assign(
        plot=[str(number) for number in range(1, count + 1)],
        stratum="",
        status=np.where(has_trees, "measured", "outside"),
        area_inside=np.nan,
        area_reached=np.nan,
        trees_counted=np.nan,
    )
    rules = {**survey.rules, "survey_kind": CENSUS_KIND}
    alone = replace(survey, rules=rules, plots=plots, strata=survey.strata.iloc[0:0])
    return replace(outcome, survey=alone)
