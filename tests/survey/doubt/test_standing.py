"""Where people stand: about one share of the height, or at a few set distances.

That crews pace out set distances is common practice, no source.
"""

import numpy as np
import pytest

from xlhelpers.survey.doubt.standing import Standing, learn_standing

LINES = 120


def learn(distance: np.ndarray, height: np.ndarray, fixed: int = -1) -> Standing:
    nobody = np.zeros(len(height), dtype=np.int64)
    level, total = np.log(distance), np.log(height)
    return learn_standing(level, total, distance * 100, nobody, nobody + fixed, 10.0)


def weigh(standing: Standing, distance: float, height: float) -> tuple[float, bool]:
    """Return the log density of a distance to a tree, and whether it is one of the set."""
    line, total = np.array([0]), np.log([height])
    away = np.log([distance]) - standing.level[:1] - standing.rise * total
    found, of_set = standing.log_density(line, np.array([distance * 100]), away, total, np.zeros(1))
    return float(found[0]), bool(of_set[0])


def heights() -> np.ndarray:
    return np.random.default_rng(5).uniform(6, 26, LINES)


def test_a_set_distance_is_not_unusual_whatever_the_tree() -> None:
    height = heights()
    standing = learn(np.where(np.arange(LINES) % 3 > 0, 15.0, 30.0), height)
    for tall in (7.0, 15.0, 24.0):
        likely, of_set = weigh(standing, 15.0, tall)
        other, _ = weigh(standing, 15.1, tall)
        assert of_set
        assert likely > other + 3


def test_each_set_distance_goes_with_its_heights() -> None:
    """Near the low trees and far from the high ones."""
    height = heights()
    standing = learn(np.where(height < 15, 15.0, 30.0), height)
    near, far = (weigh(standing, distance, 24.0)[0] for distance in (15.0, 30.0))
    assert far > near + 1
    near, far = (weigh(standing, distance, 8.0)[0] for distance in (15.0, 30.0))
    assert near > far + 1


def test_measured_distances_are_no_set() -> None:
    height = heights()
    distance = np.round(height * np.random.default_rng(6).uniform(0.9, 1.1, LINES), 1)
    standing = learn(distance, height)
    assert standing.in_set[0] == 0
    usual, _ = weigh(standing, 15.3, 15.0)
    assert usual > weigh(standing, 51.3, 15.0)[0] + 5


@pytest.mark.parametrize("share", [0.8, 1.0, 1.2, 1.5])
def test_nearly_one_height_away_is_never_unusual_enough_by_itself(share: float) -> None:
    """A crew of one very steady habit: other good distances stay far from odds of a mistake."""
    height = heights()
    standing = learn(np.round(height * 1.0, 1), height)
    best = max(weigh(standing, d, 20.0)[0] for d in (19.9, 20.0, 20.1))
    # a mistake of one line in 500 would need a gain of ln 75 to reach odds of 0.15
    assert best - weigh(standing, 20.0 * share, 20.0)[0] < np.log(75)


def test_a_fixed_distance_scale_has_a_set_of_its_own() -> None:
    """The same person measures freely with another instrument."""
    height = np.concatenate([heights(), heights()])
    free = np.round(heights() * 1.05, 1)
    distance = np.concatenate([np.full(LINES, 20.0), free])
    person = np.zeros(2 * LINES, dtype=np.int64)
    fixed = np.repeat([3, -1], LINES)
    standing = learn_standing(np.log(distance), np.log(height), distance * 100, person, fixed, 10.0)
    groups = standing.group[[0, LINES]]
    assert standing.in_set[groups[0]] > 0.9
    assert standing.in_set[groups[1]] == 0


def test_without_any_line_a_usual_distance_is_known() -> None:
    standing = learn(np.full(3, np.nan), np.full(3, np.nan))
    assert weigh(standing, 20.0, 20.0)[0] > weigh(standing, 90.0, 20.0)[0]
