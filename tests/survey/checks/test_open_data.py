"""The checks on real trees with known mistakes.

McPherson, van Doorn & Peper 2016, Urban tree database (doi 10.2737/RDS-2016-0005): an excerpt of
7,763 trees of nine cities, with heights, crown bases and recorded depths and widths.
"""

from collections import Counter
from typing import Any

import pandas as pd

from tests.real_trees import real_trees
from tests.survey.checks.cases import Given
from tests.survey.checks.support import findings_of
from tests.survey.make_survey import PLAIN_PLOT


def tree_of(row: dict[str, Any]) -> Given:
    def number(name: str) -> float | None:
        return None if pd.isna(row[name]) else row[name]

    widths = (number("crown_width_along_m"), number("crown_width_across_m"))
    known = sorted((w for w in widths if w is not None), reverse=True)
    return {
        "plot": row["city"],
        "tree": str(row["tree_id"]),
        "species": row["scientific_name"],
        "diameter": number("dbh_cm"),
        "width_widest": known[0] if known else None,
        "width_across": known[1] if len(known) > 1 else None,
        "base_reading": number("crown_base_m"),
        "tip_reading": number("height_m"),
        "recorded_depth": number("crown_depth_m"),
        "recorded_width": number("crown_width_mean_m"),
    }


def test_known_mistakes_are_found() -> None:
    lines = [tree_of(row) for row in real_trees().to_dict("records")]
    shown = {"instrument": "L", "scale": "height", "distance_kind": "none"}
    plots = [PLAIN_PLOT | shown | {"plot": name} for name in {tree["plot"] for tree in lines}]
    instruments = [{"instrument": "L", "kind": "laser that shows heights"}]
    found = Counter(
        f.check for f in findings_of({"lines": lines, "plots": plots, "instruments": instruments})
    )
    assert found["duplicate-number"] == 148
    assert found["recorded-depth-differs"] == 13
    assert found["recorded-width-differs"] == 10
    # a crown base at or above the top
    assert found["base-above-top"] + found["crown-of-no-depth"] == 3
    # distance, foot and sights are absent, and nothing is said of them
    assert not {"distance-blank", "foot-blank", "eye-height", "copied-line"} & set(found)
