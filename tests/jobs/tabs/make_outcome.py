"""Outcomes for the tests of the result tabs: an invented survey, computed, with given findings."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from tests.survey.make_survey import make_survey
from xlhelpers.pages.plan import FillFacts
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

FACTS = FillFacts("1.2.3", 1, "2026-05-04 10:00", "town.xlsx", "")
SPECIES: tuple[dict[str, str], ...] = tuple(
    {"botanical": botanical, "common": common, "code": "", "kind": kind, "outline": outline}
    for botanical, common, kind, outline in (
        ("Quercus robur", "English oak", "broadleaf", "ellipsoid"),
        ("Acer platanoides", "Norway maple", "broadleaf", "half-ellipsoid"),
        ("Picea abies", "Norway spruce", "conifer", "cone"),
        ("Tilia cordata", "small-leaved lime", "broadleaf", "ellipsoid"),
        ("Fraxinus excelsior", "European ash", "broadleaf", "half-ellipsoid"),
        ("Aesculus hippocastanum", "horse chestnut", "broadleaf", "ellipsoid"),
        ("Betula pendula", "silver birch", "broadleaf", "paraboloid"),
        ("Pinus sylvestris", "Scots pine", "conifer", "half-ellipsoid"),
        ("Prunus avium", "wild cherry", "broadleaf", "ellipsoid"),
        ("Robinia pseudoacacia", "black locust", "broadleaf", "half-ellipsoid"),
        ("Ulmus minor", "field elm", "broadleaf", "half-ellipsoid"),
        ("Carpinus betulus", "hornbeam", "broadleaf", "ellipsoid"),
        ("Sorbus aucuparia", "rowan", "broadleaf", "ellipsoid"),
        ("Phoenix canariensis", "Canary Island date palm", "palm", ""),
    )
)


def lines_of_town(trees: int, plots: int, seed: int = 4) -> list[dict[str, Any]]:
    """Return one line a tree: percent readings from 20 m, some dead tops, dead and unread trees."""
    rng = np.random.default_rng(seed)
    weights = 1 / np.arange(1, len(SPECIES) + 1)
    kinds = rng.choice(len(SPECIES), trees, p=weights / weights.sum())
    heights, shares = rng.uniform(5, 25, trees), rng.uniform(0.1, 0.4, trees)
    conditions = rng.choice(["", "T", "D"], trees, p=[0.86, 0.09, 0.05])
    unread = rng.random(trees) < 0.04
    lines = []
    for i in range(trees):
        plot, tree = i * plots // trees + 1, i % -(-trees // plots) + 1
        line: dict[str, Any] = {
            "plot": str(plot),
            "tree": str(tree),
            "species": SPECIES[kinds[i]]["botanical"],
            "condition": str(conditions[i]),
            "diameter": 2.5 * heights[i] + 5 * shares[i],
            "width_widest": 0.5 * heights[i],
            "width_across": 0.4 * heights[i],
        }
        if not unread[i]:
            tip = 5 * heights[i] - 8
            line |= {"distance": 20.0, "foot_reading": -8.0, "tip_reading": tip}
            if conditions[i] != "D":
                line["base_reading"] = 5 * heights[i] * shares[i] - 8
            if conditions[i] == "T":
                line["top_reading"] = 5 * heights[i] * 0.85 - 8
        lines.append(line)
    return lines


def make_outcome(
    lines: Sequence[dict[str, Any]],
    findings: Sequence[Finding] = (),
    rules: dict[str, Any] | None = None,
    **tables: Any,
) -> Outcome:
    """Return the outcome of these lines with these findings and no others."""
    survey = make_survey(lines, species=SPECIES, rules=rules, **tables)
    setups = compute_setups(survey)
    return Outcome(survey, setups, build_trees(survey, setups), tuple(findings))


def finding(
    line: int | None = None,
    plot: str = "1",
    tree: str = "1",
    severity: Any = "error",
    block: Any = "paper",
    **more: Any,
) -> Finding:
    """Return a finding of a line of the field sheet; `more` replaces any of its values."""
    values: dict[str, Any] = {
        "check": "base-above-top",
        "severity": severity,
        "block": block,
        "subject": (("plot", plot), ("tree", tree), ("set-up", "1")),
        "message": f"The crown base of tree {tree} (8.2 m) lies above its top (7.4 m).",
        "action": "See on the paper whether the two readings changed places.",
        "fields": ("base_reading",),
        "sheet": "Field sheet",
        "row": None if line is None else 6 + line,
        "column": None if line is None else 11,
        "lines": () if line is None else (line,),
    }
    return Finding(**(values | more))
