"""Which values of the trees are in doubt, and which cannot be and count nowhere.

A value is in doubt while a finding about its quantity is open, or closed as NOT SAFE: then nobody
measures again, and nobody accepted the value either. A value in doubt counts, and the mean
without it is shown too. A value that cannot be, such as a negative height, counts in no mean, no
sum and no chart until the office accepts it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.survey.decisions.decisions import Standing
from xlhelpers.survey.model import Finding, Survey
from xlhelpers.survey.quantities import MEASURED, OF_COLUMNS, QUANTITIES, Quantity
from xlhelpers.survey.typed.folding import Flags, Positions
from xlhelpers.wording import plural

# readings that are right differ by no more than so many uncertainties
_UNCERTAINTIES = 2.0
_SAME = 1e-9
# quantity -> what one value of it is called
NOUNS: dict[Quantity, str] = {
    "height": "height",
    "crown": "crown depth",
    "width": "crown width",
    "diameter": "diameter",
}
# the columns that say whether a tree has a value at all; a depth that cannot be has none
_VALUES: dict[Quantity, tuple[str, ...]] = {
    "height": ("total_height",),
    "crown": ("crown_depth", "crown_base"),
    "width": ("width_widest", "width_across"),
    "diameter": ("diameter",),
}


@dataclass(frozen=True)
class Counted:
    """What counts of the trees.

    `in_doubt` has for each quantity the trees with a value of it that is in doubt, `left_out`
    those whose value cannot be, by measured quantity; `any_doubt` are the trees with any finding
    in doubt. `trees` are the trees with blanks in place of the values left out.
    """

    in_doubt: Mapping[Quantity, Flags]
    left_out: Mapping[Quantity, Flags]
    any_doubt: Flags
    trees: pd.DataFrame

    @property
    def named_left_out(self) -> dict[Quantity, Flags]:
        """Return `left_out` as it is told: a crown goes with its height and is not told twice."""
        return {**self.left_out, "crown": self.left_out["crown"] & ~self.left_out["height"]}

    def doubts_column(self, column: str) -> Flags:
        """Return the trees whose value in a column of the trees is in doubt."""
        flags = np.zeros(len(self.trees), dtype=bool)
        for quantity in OF_COLUMNS.get(column, ("identity",)):
            flags = flags | self.in_doubt[quantity]
        return flags

    def lacks_column(self, column: str) -> Flags:
        """Return the trees whose value in a column of the trees is left out."""
        flags = np.zeros(len(self.trees), dtype=bool)
        for quantity in OF_COLUMNS.get(column, ()):
            flags = flags | self.left_out[quantity]
        return flags


def count_values(
    survey: Survey,
    setups: pd.DataFrame,
    trees: pd.DataFrame,
    findings: Sequence[Finding],
    standings: Sequence[Standing],
) -> Counted:
    """Return what counts of the trees of a survey.

    Parameters
    ----------
    survey : Survey
        The tables as entered; looked at are the limits of its rules.
    setups, trees : DataFrame
        As computed.
    findings : sequence of Finding
        All findings.
    standings : sequence of Standing
        Where each of them stands.
    """
    tree = setups["tree_position"].to_numpy(dtype=np.int64)
    count = len(trees)
    doubted = [f for f, stands in zip(findings, standings, strict=True) if stands.is_doubtful]
    in_question = {
        quantity: _trees_of(
            [f for f in doubted if quantity in f.quantities and not f.is_missing], tree, count
        )
        for quantity in QUANTITIES
    }
    has = {
        quantity: np.isfinite(trees[list(columns)].to_numpy(dtype=float)).any(axis=1)
        for quantity, columns in _VALUES.items()
    }
    in_doubt = {
        quantity: flags & has[quantity] if quantity in has else flags
        for quantity, flags in in_question.items()
    }
    cannot_be = _cannot_be(survey, setups, trees)
    left_out = {quantity: cannot_be[quantity] & in_doubt[quantity] for quantity in MEASURED}
    blanked = {
        column: trees[column].mask(np.logical_or.reduce([left_out[one] for one in made_of]))
        for column, made_of in OF_COLUMNS.items()
        if column in trees and any(left_out[one].any() for one in made_of)
    }
    any_doubt = _trees_of(doubted, tree, count)
    return Counted(in_doubt, left_out, any_doubt, trees.assign(**blanked) if blanked else trees)


def _trees_of(findings: Iterable[Finding], tree: Positions, count: int) -> Flags:
    flags = np.zeros(count, dtype=bool)
    for finding in findings:
        flags[tree[list(finding.lines)]] = True
    return flags


def _cannot_be(survey: Survey, setups: pd.DataFrame, trees: pd.DataFrame) -> dict[Quantity, Flags]:
    """Return by quantity the trees with a value that cannot be, of a set-up or of their mean."""
    tree, count = setups["tree_position"].to_numpy(dtype=np.int64), len(trees)
    limits = {name: float(value) for name, value in survey.rules.items() if _is_number(value)}

    def any_setup(flags: Any) -> Flags:
        return np.bincount(tree[np.asarray(flags, dtype=bool)], minlength=count) > 0

    with np.errstate(invalid="ignore"):
        has_stem = np.isfinite(trees["diameter"].to_numpy(dtype=float))
        at = survey.lines["diameter_at"].to_numpy(dtype=float)
        totals = setups["total_height"].to_numpy(dtype=float)
        low = (totals < limits["breast_height"] - _SAME) & ~(at < totals)
        mean = trees["total_height"].to_numpy(dtype=float)
        height = any_setup((totals <= _SAME) | (totals > limits["limit_height"] + _SAME))
        height |= any_setup(low & (has_stem[tree] if count else False))
        height |= (mean <= _SAME) | (mean > limits["limit_height"] + _SAME)
        crown = height | any_setup(_crown_cannot_be(setups))
        crown |= _mean_crown_cannot_be(trees)
        widths = trees[["width_widest", "width_across"]].to_numpy(dtype=float)
        too_wide = np.asarray((widths > limits["limit_width"] + _SAME) | (widths <= 0), dtype=bool)
        stem = trees["largest_stem"].to_numpy(dtype=float)
        return {
            "height": height,
            "crown": crown,
            "width": np.any(too_wide, axis=1),
            "diameter": stem > limits["limit_diameter"] + _SAME,
        }


def _crown_cannot_be(setups: pd.DataFrame) -> Flags:
    """Return the lines whose crown ends below its base or the foot, or above the tip."""

    def allowed(point: str) -> pd.Series:
        common = setups[f"{point}_u_common"].fillna(0.0)
        reading = setups[f"{point}_u_reading"].fillna(0.0)
        u = (common**2 + reading**2).pow(0.5)
        return _UNCERTAINTIES * u + _SAME

    return np.asarray(
        (setups["crown_top"] - setups["crown_base"] < -allowed("depth"))
        | (setups["crown_base"] < -allowed("base"))
        | (setups["crown_top"] - setups["total_height"] > allowed("top"))
    )


def _mean_crown_cannot_be(trees: pd.DataFrame) -> Flags:
    u = trees[["u_base", "u_top"]].fillna(0.0)
    # a depth that cannot be has no uncertainty of its own
    depth = _UNCERTAINTIES * u.pow(2).sum(axis=1).pow(0.5) + _SAME
    u = _UNCERTAINTIES * u + _SAME
    return np.asarray(
        (trees["crown_top"] - trees["crown_base"] < -depth)
        | (trees["crown_base"] < -u["u_base"])
        | (trees["crown_top"] - trees["total_height"] > u["u_top"])
    )


def _is_number(value: object) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)


def left_out_texts(counted: Counted) -> Any:
    """Return for each tree what of it is left out, such as "height, diameter"; "" for nothing."""
    texts = np.full(len(counted.trees), "", dtype=object)
    for quantity, flags in counted.named_left_out.items():
        for at in np.flatnonzero(flags).tolist():
            texts[at] = ", ".join(filter(None, (texts[at], NOUNS[quantity])))
    return texts


def name_left_out(counts: Mapping[Quantity, float]) -> str:
    """Return how many values of each quantity are left out, such as "2 heights, 1 diameter"."""
    named = [(int(counts.get(quantity, 0)), NOUNS[quantity]) for quantity in MEASURED]
    return ", ".join(plural(count, noun) for count, noun in named if count)
