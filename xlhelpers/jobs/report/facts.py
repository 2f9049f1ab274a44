"""What the council's report is made from: the estimates, or the bare figures of what was measured.

The numbers are estimates for the town with margins, or in a census counts. Where an area is
missing or the plots are too few, the report covers the measured trees only, and says so.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import GROUP, NOT_STATED
from xlhelpers.estimates.estimates import Estimates, estimate, estimate_shares
from xlhelpers.estimates.rows import ONE_PLOT, is_rough
from xlhelpers.fields.families import families
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.rules import RULES
from xlhelpers.reading.rules import default_of
from xlhelpers.survey.counted import name_left_out
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import CENSUS_KIND, EMPTY, MEASURED
from xlhelpers.survey.typed.folding import Flags

Mode = Literal["sample", "census", "measured", "nothing"]
# what the figures of a tree's size are made from
_SIZES = ("total_height", "crown_depth", "mean_width", "basal_area")
ON_ONE_PLOT = "groups found on one plot only"
AGE, GENUS, FAMILY = "age", "genus", "family"
YOUNG_TO_OLD = ("young", "between young and old", "old", "living, no diameter", "dead")


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
        """Return rows of the town with `margin`, half the distance between both ends."""
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

    def share_dead(self, part: str = "") -> pd.Series | None:
        """Return the share of dead trees in the town or a part of it, None where there is none."""
        rows = self.town("share_dead", "share").to_frame().T
        if part:
            rows = self.by_stratum("share_dead", "share")
            rows = rows[rows["scope"] == part]
        return rows.iloc[0] if len(rows) else None

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
    def inside(self) -> Flags:
        """Return the trees on plots that count."""
        used = self.estimates.plots["counted_as"].isin((MEASURED, EMPTY)).to_numpy(dtype=bool)
        at = self.outcome.trees["plot_position"].to_numpy()
        return np.asarray(np.append(used, False)[at], dtype=bool)

    @property
    def on_plots(self) -> str:
        """Return "on this plot" where one alone counts, or "on these plots"."""
        used = self.estimates.plots["counted_as"].isin((MEASURED, EMPTY)).sum()
        return "on this plot" if used == 1 else "on these plots"

    @property
    def trees_in_doubt(self) -> int:
        """Return how many trees on plots that count have anything in doubt."""
        return int((self.outcome.counted.any_doubt & self.inside).sum())

    @property
    def left_out(self) -> str:
        """Return how many values on plots that count cannot be and are left out, in words."""
        flags = self.outcome.counted.named_left_out
        return name_left_out(
            {one: int((these & self.inside).sum()) for one, these in flags.items()}
        )

    def rule(self, name: str) -> float:
        """Return a survey rule that is a number in the inner unit, NaN where it is blank."""
        value = self.outcome.survey.rules.get(name)
        return float(value) if isinstance(value, int | float) else float("nan")

    def is_usual(self, name: str) -> bool:
        """Return whether a survey rule that is a number has its usual value, or none at all."""
        value, usual = self.rule(name), default_of(RULES[name], self.units)
        return not math.isfinite(value) or math.isclose(value, float(usual), rel_tol=1e-6)

    @property
    def parts(self) -> list[str]:
        """Return the names of the parts of the town, none where it is not divided."""
        names = [str(name) for name in self.outcome.survey.strata["stratum"]]
        return names if len(names) > 1 else []

    @cached_property
    def ages(self) -> list[str]:
        """Return for each tree which of YOUNG_TO_OLD it is, by the diameter of its stem."""
        trees = self.outcome.counted.trees
        diameter = trees["diameter"].to_numpy(dtype=float)
        # a diameter typed as 6 in must not fall below it by conversion
        young, old = self.rule("young_below") - 1e-9, self.rule("old_from") - 1e-9
        known = [diameter < young, diameter >= old, np.isfinite(diameter)]
        by_size = np.select(known, [YOUNG_TO_OLD[at] for at in (0, 2, 1)], YOUNG_TO_OLD[3])
        dead = trees["condition"].to_numpy(dtype=object) == "D"
        return [str(age) for age in np.where(dead, YOUNG_TO_OLD[4], by_size)]

    @cached_property
    def genera(self) -> list[str]:
        """Return the genus of each tree, "" where no botanical name is known."""
        return [str(genus) for genus in self.outcome.trees["genus"]]

    @cached_property
    def families(self) -> list[str]:
        """Return the family of each tree, "" where it is not known."""
        known = families()
        return [known.get(genus, "") for genus in self.genera]

    @cached_property
    def _shares_by_label(self) -> pd.DataFrame:
        labels = {AGE: self.ages, GENUS: self.genera, FAMILY: self.families}
        outcome = _as_census(self.outcome) if self.mode == "measured" else self.outcome
        return self._with_margin(estimate_shares(outcome, labels, self.confidence))

    def labelled(self, kind: str) -> pd.DataFrame:
        """Return the shares of all trees by AGE (young ones first), GENUS or FAMILY."""
        rows = self._shares_by_label[self._shares_by_label["domain_kind"] == kind]
        if kind == AGE:
            order = rows["domain"].map(YOUNG_TO_OLD.index)
            rows = rows.iloc[np.argsort(order.to_numpy(), kind="stable")]
        return rows.reset_index(drop=True)

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
        pooled["domain"], pooled["value"] = ON_ONE_PLOT, known
        pooled[["low", "high", "margin"]] = np.nan
        pooled["words"] = ONE_PLOT if self.has_margins else ""
        return pd.concat([rows[~alone], pooled], ignore_index=True)

    def _with_margin(self, rows: pd.DataFrame) -> pd.DataFrame:
        if not self.has_margins:
            return rows.assign(margin=np.nan)
        low, high = (rows[end].to_numpy(dtype=float) for end in ("low", "high"))
        return rows.assign(margin=(high - low) / 2)


def is_even(row: pd.Series) -> bool:
    """Return whether both ends of a figure are equally far from it, as those of a mean are."""
    return str(row["kind"]) == "mean"


def is_order_of_magnitude(row: pd.Series) -> bool:
    """Return whether a figure is based on so few plots that it is no more than that."""
    return is_rough(str(row["kind"]), int(row["plots_with"]))


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
