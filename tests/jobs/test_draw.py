"""Places drawn from a list: the seed alone decides, and each place is as likely as another."""

import numpy as np

from xlhelpers.jobs.plan.draw import draw_places

NAMES = [str(number) for number in range(1, 61)]
STRATA = ["North" if number <= 20 else "South" for number in range(1, 61)]


def drawn(names: list[str], strata: list[str], counts: dict[str, int], seed: int) -> set[str]:
    return {names[at] for at in draw_places(names, strata, counts, seed)["place"]}


def test_the_order_of_rows_and_other_places_have_no_part() -> None:
    counts = {"North": 5, "South": 9}
    once = drawn(NAMES, STRATA, counts, 11)
    assert once == drawn(NAMES[::-1], STRATA[::-1], counts, 11)
    assert len(once) == 14
    assert once != drawn(NAMES, STRATA, counts, 12)
    # without a place that was not drawn, the same are drawn
    keep = [at for at, name in enumerate(NAMES) if name in once or at % 2]
    assert once == drawn([NAMES[i] for i in keep], [STRATA[i] for i in keep], counts, 11)


def test_a_larger_sample_holds_the_smaller() -> None:
    small = drawn(NAMES, STRATA, {"North": 3, "South": 4}, 5)
    assert small < drawn(NAMES, STRATA, {"North": 6, "South": 5}, 5)


def test_spelling_of_strata_and_what_is_not_asked_for() -> None:
    rows = draw_places(NAMES, STRATA, {"NORTH ": 2}, 3)
    assert rows["stratum"].tolist() == ["NORTH ", "NORTH "]
    assert rows["drawn"].tolist() == [1, 2]
    assert (rows["place"] < 20).all()
    assert len(draw_places(NAMES, STRATA, {"North": 99}, 3)) == 20
    assert draw_places([], [], {"North": 3}, 3).empty


def test_each_place_is_as_likely_as_another() -> None:
    seeds = 1500
    counts = np.zeros(60)
    for seed in range(seeds):
        counts[draw_places(NAMES, STRATA, {"North": 5, "South": 10}, seed)["place"]] += 1
    share = counts / seeds
    # five standard deviations of a share of a quarter
    assert np.abs(share - 0.25).max() < 5 * np.sqrt(0.25 * 0.75 / seeds)
