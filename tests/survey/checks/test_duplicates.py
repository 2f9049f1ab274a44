"""Numbers that stand twice."""

import pytest

from tests.survey.checks.cases import SECOND, line
from tests.survey.checks.support import ids_of, only


def test_both_lines_carry_the_finding() -> None:
    trees = [line(1), line(2, tip_reading=60.0), line(1, species="Picea abies", diameter=22.0)]
    finding = only("duplicate-number", {"lines": trees})
    assert finding.lines == (0, 2)
    assert finding.row == 8
    assert finding.message == (
        "2 different trees have this number: Quercus robur 40.0 cm (row 6) and Picea abies 22.0 cm "
        "(row 8). They are kept apart."
    )


# Luoma et al. 2017: 0.3 cm or 1.5 % between observers, so two of them differ by less than
# 2 sqrt(2) times that: 0.85 cm on thin stems, 1.70 cm on 40 cm
@pytest.mark.parametrize(
    ("first", "second", "differs"),
    [(10.0, 10.8, False), (10.0, 10.9, True), (40.0, 41.6, False), (40.0, 41.8, True)],
)
def test_diameters_of_two_people(first: float, second: float, differs: bool) -> None:
    given = {"lines": [line(diameter=first), line(**SECOND, diameter=second)]}
    assert ("setup-other-diameter" in ids_of(given)) == differs
