"""Real inventories whose crowns were measured along and across the street, in that order.

McPherson, van Doorn & Peper 2016, Urban tree database (doi 10.2737/RDS-2016-0005). A second width
that is the larger is no mistake there: it is so on about half of the trees.
"""

from typing import Any

import pandas as pd
import pytest

from tests.real_trees import real_trees
from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.survey.checks.rule_questions import CHECK, FEWEST, ask_about_rules
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.model import Finding
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

CITIES = sorted(real_trees()["city"].unique())
ORDER = {"width-across-wider"}


def inventory(city: str) -> pd.DataFrame:
    table = real_trees()
    both = table["crown_width_across_m"].notna() & table["crown_width_along_m"].notna()
    return table[(table["city"] == city) & both].head(300)


def found_in(city: str, rules: dict[str, Any]) -> tuple[Finding, ...]:
    table = inventory(city)
    lines = [
        {
            "plot": "1",
            "tree": str(number),
            "species": row["scientific_name"],
            "diameter": None if pd.isna(row["dbh_cm"]) else row["dbh_cm"],
            "width_widest": row["crown_width_along_m"],
            "width_across": row["crown_width_across_m"],
            "tip_reading": None if pd.isna(row["height_m"]) else row["height_m"],
        }
        for number, row in enumerate(table.to_dict("records"), 1)
    ]
    shown = {"plot": "1", "instrument": "L", "scale": "height", "distance_kind": "none"}
    survey = make_survey(
        lines,
        [PLAIN_PLOT | shown],
        [{"instrument": "L", "kind": "laser that shows heights"}],
        rules=rules | {"crown_depth": "not measured"},
    )
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    return ask_about_rules(survey, setups, trees, run_checks(survey, setups, trees))


@pytest.mark.parametrize("city", CITIES)
def test_fixed_directions_give_no_finding_about_the_order_of_widths(city: str) -> None:
    rules = {
        "crown_widths": "two fixed directions",
        "width_directions": "along and across the street",
    }
    found = found_in(city, rules)
    assert not [f for f in found if f.check in {*ORDER, CHECK}]


@pytest.mark.parametrize("city", CITIES)
def test_under_the_default_rule_most_trees_make_one_question(city: str) -> None:
    table = inventory(city)
    larger = int((table["crown_width_across_m"] > table["crown_width_along_m"] + 1e-9).sum())
    found = found_in(city, {})
    questions = [f for f in found if f.check == CHECK]
    lines = [f for f in found if f.check in ORDER]
    if larger >= FEWEST and larger > len(table) / 2:
        assert (len(questions), len(lines)) == (1, 0)
        assert f"On {larger} of {len(table)} trees" in questions[0].message
    else:
        assert (len(questions), len(lines)) == (0, larger)


def test_some_of_the_inventories_are_asked_about() -> None:
    shares = [
        (table["crown_width_across_m"] > table["crown_width_along_m"]).mean()
        for table in map(inventory, CITIES)
    ]
    assert sum(share > 0.5 for share in shares) >= 2
