"""The scale that was read."""

import numpy as np
import pytest

from tests.survey.checks.cases import line, on
from tests.survey.checks.support import ids_of, only

TOPOGRAPHIC = {"instruments": [{"instrument": "C1", "kind": "clinometer, percent and topographic"}]}


# half a graduation of a degree scale and one of a percent scale, worked out by hand:
# |100 tan(deg) - pct| <= 1 + 0.87 sec²(deg), 0.87 being 100 tan(0.5 degrees)
@pytest.mark.parametrize("degrees", [3.0, 15.0, 30.0, 44.0, 60.0])
@pytest.mark.parametrize("side", [-1, 1])
def test_percent_against_degrees(degrees: float, side: int) -> None:
    tangent = np.tan(np.radians(degrees))
    allowed = 1 + 0.87 * (1 + tangent**2)
    for share, found in ((0.98, False), (1.02, True)):
        percent = 100 * tangent + side * share * allowed
        given = on(line(tip_reading=percent, base_reading="?"), other_scale_tip=degrees)
        assert ("first-tip-other-scale" in ids_of(given)) == found


@pytest.mark.parametrize(("topographic", "found"), [(64.0, False), (60.0, True)])
def test_percent_against_topographic(topographic: float, found: bool) -> None:
    given = on(line(tip_reading=97.0), other_scale_tip=topographic) | TOPOGRAPHIC
    assert ("first-tip-other-scale" in ids_of(given)) == found


def test_the_whole_plot_is_touched_and_the_swap_is_named() -> None:
    given = on(line(1, tip_reading=44.0), line(2, tip_reading=40.0), other_scale_tip=97.0)
    finding = only("first-tip-other-scale", given)
    assert finding.lines == (0, 1)
    assert finding.message == (
        "The tip of tree 1 reads 44 in percent. In degrees that should be 24, but the sheet says "
        "97. They match if the scales are swapped: the sheet was probably read in degrees."
    )


def test_an_instrument_with_one_scale_settles_nothing() -> None:
    given = on(line(tip_reading=40.0, scale="degrees"), other_scale_tip=97.0)
    given |= {"instruments": [{"instrument": "C1", "kind": "protractor with plumb line"}]}
    assert "first-tip-other-scale" not in ids_of(given)


@pytest.mark.parametrize(("twin", "found"), [(44.13, False), (97.0, True)])
def test_a_sorted_sheet_is_judged_by_its_lowest_number(twin: float, found: bool) -> None:
    """97 percent are 44.13 degrees; the tree with number 1 stands on the second line here."""
    given = on(line(2, tip_reading=40.0), line(1, tip_reading=97.0), other_scale_tip=twin)
    assert ("first-tip-other-scale" in ids_of(given)) == found
