"""How a survey rule is shown with its unit."""

import pytest

from tests.survey.make_survey import make_survey
from xlhelpers.fields.rules import RULES
from xlhelpers.pages.methods import rule_value


# SI Brochure, 9th edition (BIPM 2019), 5.4.3: a space comes before the sign of a unit and before
# %, but not before the sign of degrees
@pytest.mark.parametrize(
    ("label", "shown"),
    [
        ("Steepest reading without a finding", "60°"),
        ("Smallest diameter", "5 cm"),
        ("Good enough to budget on: margin up to", "10 %"),
    ],
)
def test_a_rule_has_its_unit_with_a_space_before_it_but_for_degrees(label: str, shown: str) -> None:
    record = next(rule for rule in RULES.fields if rule.label == label)
    assert rule_value(record, make_survey(lines=[])) == shown
