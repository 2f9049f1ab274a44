"""Trees matched by all evidence together, paired plots, and trees that seem to have shrunk."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.survey.make_survey import make_survey
from xlhelpers.errors import ReadingError
from xlhelpers.jobs.change.compare_surveys import compare_surveys
from xlhelpers.jobs.change.match import Features, match_plot, population_of
from xlhelpers.jobs.change.words import looks, sentences
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome

SPECIES = ("Quercus robur", "Acer platanoides", "Picea abies")


def features(**columns: list) -> Features:
    count = len(columns["number"])
    nothing = [np.nan] * count
    own = {"diameter": nothing, "height": nothing, "distance": nothing, "bearing": nothing}
    numbers = {name: np.array(columns.get(name, own[name]), dtype=float) for name in own}
    codes = {name: np.array(columns.get(name, [-1] * count)) for name in ("species", "genus")}
    plot = np.array(["1"] * count, dtype=object)
    return Features(plot, np.array(columns["number"], dtype=object), **codes, **numbers)


def matched(old: Features, new: Features, years: float = 5.0) -> dict[int, int]:
    sides = (np.arange(len(old.number)), np.arange(len(new.number)))
    return {i: j for i, j, _ in match_plot(old, new, sides, years, population_of(old, new)).pairs}


def stand(rng: np.random.Generator, count: int) -> dict[str, np.ndarray]:
    diameter = rng.uniform(10, 80, count)
    return {
        "number": np.array([str(n) for n in range(1, count + 1)], dtype=object),
        "species": rng.integers(0, 6, count),
        "diameter": diameter,
        "height": 3 + 0.9 * diameter**0.75 * rng.normal(1, 0.08, count),
        "distance": 11 * np.sqrt(rng.uniform(0, 1, count)),
        "bearing": rng.uniform(0, 360, count),
    }


def grown(rng: np.random.Generator, trees: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    count = len(trees["number"])
    return trees | {
        "diameter": trees["diameter"] + rng.uniform(0.5, 5, count),
        "height": trees["height"] + rng.normal(1, 0.6, count),
        "distance": trees["distance"] + rng.normal(0, 0.25, count),
        "bearing": (trees["bearing"] + rng.normal(0, 3, count)) % 360,
    }


def as_features(trees: dict[str, np.ndarray], leave: tuple[str, ...] = ()) -> Features:
    kept = {name: list(column) for name, column in trees.items() if name not in leave}
    if "species" in kept:
        kept["genus"] = kept["species"]
    return features(**kept)


@pytest.mark.parametrize(
    ("leave", "number", "most_wrong", "least_right"),
    [
        ((), "kept", 0.002, 0.99),
        (("distance", "bearing"), "kept", 0.005, 0.97),
        pytest.param(("bearing",), "renumbered", 0.02, 0.85, marks=pytest.mark.slow),
        ((), "renumbered", 0.005, 0.97),
        ((), "swapped", 0.01, 0.97),
        pytest.param(("distance", "bearing"), "renumbered", 0.05, 0.5, marks=pytest.mark.slow),
        (("distance", "bearing", "height", "diameter", "species"), "kept", 0.0, 0.97),
    ],
)
def test_trees_find_themselves(
    leave: tuple[str, ...], number: str, most_wrong: float, least_right: float
) -> None:
    rng = np.random.default_rng(5)
    wrong = right = trees = 0
    for _ in range(60):
        old = stand(rng, 12)
        new = grown(rng, old)
        if number == "renumbered":
            new["number"] = np.array([str(n) for n in rng.permutation(12) + 1], dtype=object)
        elif number == "swapped":
            new["number"][[2, 3]] = new["number"][[3, 2]]
            new["number"] = new["number"].copy()
        # one went, one came
        keep = np.arange(1, 12)
        new = {name: np.append(column[keep], stand(rng, 1)[name]) for name, column in new.items()}
        new["number"][-1] = "90"
        pairs = matched(as_features(old, leave), as_features(new, leave))
        right += sum(pairs.get(i) == i - 1 for i in range(1, 12))
        wrong += sum(j != i - 1 for i, j in pairs.items())
        trees += 11
    assert wrong / trees <= most_wrong
    assert right / trees >= least_right


def test_a_tree_that_came_is_not_the_one_that_went() -> None:
    old = features(number=["1", "2"], species=[0, 1], genus=[0, 1], diameter=[60, 30],
                   height=[20, 12], distance=[3, 8], bearing=[10, 200])  # fmt: skip
    new = features(number=["2", "3"], species=[1, 0], genus=[1, 0], diameter=[32, 8],
                   height=[13, 5], distance=[8, 6], bearing=[201, 100])  # fmt: skip
    assert matched(old, new) == {1: 0}


def test_one_wrong_entry_does_not_part_a_tree_from_itself() -> None:
    right = {"number": ["1", "2", "3"], "species": [0, 1, 2], "genus": [0, 1, 2],
             "diameter": [60.0, 30.0, 45.0], "height": [20.0, 12.0, 15.0],
             "distance": [3.0, 8.0, 6.0], "bearing": [10.0, 200.0, 100.0]}  # fmt: skip
    wrongs = {"number": ["7", "2", "3"], "species": [2, 1, 2], "diameter": [6.0, 30.0, 45.0],
              "height": [200.0, 12.0, 15.0], "bearing": [190.0, 200.0, 100.0]}  # fmt: skip
    for name, values in wrongs.items():
        assert matched(features(**right), features(**(right | {name: values}))) == {
            0: 0,
            1: 1,
            2: 2,
        }


def test_twins_without_numbers_or_places_stay_ambiguous() -> None:
    twins = features(number=["", ""], species=[0, 0], genus=[0, 0], diameter=[30, 30.2])
    usual = population_of(twins, twins)
    match = match_plot(twins, twins, (np.arange(2), np.arange(2)), 5.0, usual)
    assert match.pairs == ()
    assert set(match.unsure_old) == {0, 1}
    assert set(match.unsure_old[0]) == {0, 1}
    assert match_plot(twins, twins, (np.arange(0), np.arange(2)), 5.0, usual).pairs == ()


def survey(
    counts: dict[str, list[int]], date: str, areas: tuple[float, ...] = (30.0, 10.0), **more: object
) -> Outcome:
    """Return a survey of plots of 400 m2 with so many oaks each, by stratum."""
    plots, lines = [], []
    for stratum, numbers in counts.items():
        for count in numbers:
            name = str(len(plots) + 1)
            plots.append({"plot": name, "stratum": stratum, "status": "measured" if count else
                          "no trees", "date": date, "area_inside": 400.0, "area_reached": 400.0,
                          "crew": "AB", "instrument": "C1", "scale": "percent",
                          "distance_kind": "level", "trees_counted": count})  # fmt: skip
            lines += [
                {"plot": name, "tree": str(n + 1), "species": SPECIES[n % 3],
                 "diameter": 25.0 + 7 * n, "width_widest": 6.0, "width_across": 5.0,
                 "distance": 20.0 + n, "foot_reading": -7.0, "base_reading": 12.0,
                 "tip_reading": 55.0 + 2 * n} | more
                for n in range(count)
            ]  # fmt: skip
    strata = [{"stratum": name, "area": area * 1e4, "plots_possible": 1e6}
              for name, area in zip(counts, areas, strict=False)]  # fmt: skip
    return evaluate(make_survey(lines=lines, plots=plots, strata=strata))


def test_paired_plots_in_one_stratum_are_the_paired_t_test() -> None:
    before, after = [5, 8, 3, 6, 9, 4, 7], [6, 8, 2, 7, 11, 5, 7]
    change = compare_surveys(
        survey({"A": before}, "2020-06-01"), survey({"A": after}, "2025-06-01")
    )
    net = change.nets[0]
    # scipy as the second witness
    test = stats.ttest_rel(after, before)
    limits = test.confidence_interval(0.95)
    a_hectare = 25.0
    assert net.change * 1e4 == pytest.approx(np.mean(np.subtract(after, before)) * a_hectare)
    # plots possible are many, so the finite-population correction is next to nothing
    assert net.margin * 1e4 == pytest.approx((limits.high - limits.low) / 2 * a_hectare, rel=1e-4)
    assert net.town == pytest.approx(30e4)
    assert change.years == pytest.approx(5, abs=0.01)


def test_strata_are_weighed_by_their_areas() -> None:
    before = {"A": [5, 8, 3, 6], "B": [2, 0, 4]}
    after = {"A": [6, 8, 2, 8], "B": [5, 2, 5]}
    net = compare_surveys(survey(before, "2020-06-01"), survey(after, "2025-06-01")).nets[0]
    gains = {name: np.subtract(after[name], before[name]) * 25.0 for name in before}
    weights = {"A": 0.75, "B": 0.25}
    expected = sum(weights[name] * gains[name].mean() for name in gains)
    parts = [weights[n] ** 2 * gains[n].var(ddof=1) / len(gains[n]) for n in gains]
    freedom = sum(parts) ** 2 / sum(
        p**2 / (len(g) - 1) for p, g in zip(parts, gains.values(), strict=True)
    )
    assert net.change * 1e4 == pytest.approx(expected)
    # degrees of freedom after Satterthwaite, cut to a whole number
    half = stats.t.ppf(0.975, int(freedom)) * np.sqrt(sum(parts))
    assert net.margin * 1e4 == pytest.approx(half, rel=1e-4)


def test_the_ends_of_the_change_in_percent_are_those_of_a_ratio_on_the_log_scale() -> None:
    before, after = np.array([5, 8, 3, 6, 9, 4, 7]), np.array([6, 8, 2, 7, 11, 5, 7])
    net = compare_surveys(
        survey({"A": list(before)}, "2020-06-01"), survey({"A": list(after)}, "2025-06-01")
    ).nets[0]
    ratio = after.sum() / before.sum()
    error = np.std(after - ratio * before, ddof=1) / before.mean() / np.sqrt(7) / ratio
    freedom = int(after.sum() ** 2 / (after**2).sum()) - 1  # plots count by their part
    for end, found in ((-1, net.share_low), (1, net.share_high)):
        reach = end * stats.t.ppf(0.975, freedom) * error
        assert found == pytest.approx(ratio * np.exp(error**2 + reach) - 1, rel=1e-3)
    assert net.share_high - net.share > net.share - net.share_low > 0


def test_the_ends_of_the_deaths_a_year_stay_between_nothing_and_all() -> None:
    old = survey({"A": [6, 6, 6, 6]}, "2020-06-01")
    new = survey({"A": [6, 5, 6, 3]}, "2025-06-01")
    loss, low, high = compare_surveys(old, new).loss
    assert 0 < low < loss < high < 1
    assert loss == pytest.approx(1 - (1 - 4 / 24) ** (1 / 5), rel=1e-3)


def test_areas_in_one_survey_alone_are_said_and_whole_plots_compared() -> None:
    counts = {"A": [5, 8, 3, 6]}
    old, new = survey(counts, "2020-06-01"), survey({"A": [5, 9, 3, 6]}, "2025-06-01")
    for lacking, other in ((old, "OLD"), (new, "NEW")):
        kept = lacking.survey.plots.copy()
        bare = make_survey(
            lines=lacking.survey.lines.to_dict("records"),
            plots=kept.assign(area_inside=np.nan, area_reached=np.nan).to_dict("records"),
            strata=lacking.survey.strata.to_dict("records"),
        )
        sides = [evaluate(bare) if side is lacking else side for side in (old, new)]
        change = compare_surveys(*sides)
        net = change.nets[0]
        assert net.share == pytest.approx(1 / 22)
        assert net.before == pytest.approx(22 / 4)
        assert f"{other} has no plot areas, so whole plots are compared." in net.remark
        found = looks(change, "metric")
        (row,) = found[found["kind"] == "plot areas"].to_dict("records")
        assert f"{other} has none" in row["found"]
        assert "% of OLD" not in row["found"]


def test_pairing_takes_out_what_the_plots_have_in_common() -> None:
    before = [2, 12, 5, 9, 1, 14, 7, 3]
    after = [n + 1 for n in before[:-1]] + [3]
    net = compare_surveys(survey({"A": before}, "2020-06-01"),
                          survey({"A": after}, "2025-06-01")).nets[0]  # fmt: skip
    spread = np.std(before, ddof=1) / np.sqrt(len(before)) * 25
    assert net.is_certain
    assert net.margin * 1e4 < spread


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ({"A": [5]}, {"A": [6]}, "Only one plot was measured both times"),
        ({"A": [5, 6]}, {"A": [6, 6]}, "Only 2 plots: the margin is hardly more than a guess"),
    ],
)
def test_too_few_plots_are_said(
    before: dict[str, list[int]], after: dict[str, list[int]], words: str
) -> None:
    net = compare_surveys(survey(before, "2020-06-01"), survey(after, "2025-06-01")).nets[0]
    assert words in net.remark
    assert np.isfinite(net.change)
    assert bool(np.isfinite(net.margin)) is ("guess" in words)


def test_a_stratum_with_one_plot_is_joined_for_the_margin_as_in_the_report() -> None:
    """Squares about the common rate, raised by what the rate takes of them; scipy's t."""
    before, after = {"A": [5, 6, 7, 9], "B": [3]}, {"A": [6, 6, 8, 12], "B": [4]}
    net = compare_surveys(survey(before, "2020-06-01"), survey(after, "2025-06-01")).nets[0]
    assert "For the margins of the town, A and B are taken together" in net.remark
    gains, weights = np.array([1, 0, 1, 3, 1]) * 25.0, np.array([0.75 / 4] * 4 + [0.25])
    rate = weights @ gains
    rests = np.diag(weights) @ (np.eye(5) - np.outer(np.ones(5), weights))
    error = np.sqrt(((rests @ gains) ** 2).sum() * (weights**2).sum() / (rests**2).sum())
    assert net.change * 1e4 == pytest.approx(rate)
    assert net.margin * 1e4 == pytest.approx(stats.t.ppf(0.975, 4) * error, rel=1e-4)


def test_what_cannot_be_compared_is_refused() -> None:
    old, new = survey({"A": [5, 6]}, "2020-06-01"), survey({"A": [6, 7]}, "2025-06-01")
    with pytest.raises(ReadingError, match="OLD was measured after NEW"):
        compare_surveys(new, old)
    other = survey({"A": [6, 7]}, "2025-06-01")
    other.survey.plots["plot"] = ["X1", "X2"]
    other.trees["plot"] = "X" + other.trees["plot"]
    with pytest.raises(ReadingError, match="No plot was measured in both"):
        compare_surveys(old, other)


def test_all_dead_and_no_diameters_give_words() -> None:
    dead = compare_surveys(survey({"A": [3, 4]}, "2020-06-01"),
                           survey({"A": [3, 4]}, "2025-06-01", condition="D"))  # fmt: skip
    assert set(dead.trees["fate"]) == {"died"}
    assert dead.growths[0].trees == 0
    assert dead.loss[0] == pytest.approx(1.0)
    bare = compare_surveys(survey({"A": [3, 4]}, "2020-06-01", diameter=np.nan),
                           survey({"A": [3, 4]}, "2025-06-01", diameter=np.nan))  # fmt: skip
    assert "a diameter" in bare.nets[1].remark
    assert bare.nets[1].plots == 0
    diameter = next(one for one in bare.growths if one.what == "diameter" and not one.group)
    assert diameter.trees == 0


def two_years(**new: float) -> pd.DataFrame:
    """Return what is found when the first tree of a plot was measured otherwise in NEW."""
    old = survey({"A": [12, 11]}, "2020-06-01")
    other = survey({"A": [12, 11]}, "2025-06-01")
    lines = other.survey.lines.copy()
    for name, value in new.items():
        lines.loc[3, name] = value
    later = evaluate(make_survey(lines=lines.to_dict("records"),
                                 plots=other.survey.plots.to_dict("records"),
                                 strata=other.survey.strata.to_dict("records")))  # fmt: skip
    return compare_surveys(old, later)


def test_the_measurement_that_does_not_fit_the_diameter_is_likelier_wrong() -> None:
    change = two_years(tip_reading=8.0)
    (found,) = change.shrunk
    assert (found.row, found.what, found.likelier) == (3, "height", "NEW")
    assert found.change < -found.allowed
    assert "height in NEW is far too low for its diameter" in found.because
    assert not two_years().shrunk


def test_where_both_fit_alike_no_side_is_taken() -> None:
    (found,) = two_years(diameter=38.0).shrunk
    assert (found.row, found.what, found.likelier) == (3, "diameter", "")


def test_another_tree_in_its_place_is_not_taken_for_it() -> None:
    change = two_years(diameter=11.0)
    assert change.trees.loc[3, "fate"] == "ambiguous"
    assert change.trees.loc[3, "candidates"] == "may be new tree 4"
    assert not change.shrunk


def test_what_both_measurements_allow_is_no_finding() -> None:
    # a tip read one percent lower at 23 m is 0.23 m: observers differ by more
    change = two_years(tip_reading=60.0)
    tree = change.trees.iloc[3]
    assert tree["growth_height"] == pytest.approx(-0.23)
    assert not change.shrunk
    u = np.hypot(tree["u_height_old"], tree["u_height_new"])
    observers = 0.029 * np.hypot(tree["height_old"], tree["height_new"])  # Luoma et al. 2017
    assert tree["allowed_height"] == pytest.approx(2 * np.hypot(u, observers))
    assert tree["u_growth_height_a_year"] == pytest.approx(np.hypot(u, observers) / tree["years"])


def test_in_a_census_the_change_is_exact() -> None:
    outcomes = []
    for counts, date in (([5, 8], "2020-06-01"), ([6, 10], "2025-06-01")):
        sample = survey({"A": counts}, date).survey
        rules = {"survey_kind": "every tree"}
        outcomes.append(evaluate(make_survey(
            lines=sample.lines.to_dict("records"), plots=sample.plots.to_dict("records"),
            rules=rules,
        )))  # fmt: skip
    net = compare_surveys(*outcomes).nets[0]
    assert net.change * net.town == pytest.approx(3)
    assert net.margin == 0
    assert "Every tree was measured both times" in net.remark


def two_plots(date: str, taller: float, thickest: float = 250.0, **odd: object) -> Outcome:
    """Return two plots of four oaks of 13.6 m and more; the last tree has odd readings."""
    lines = []
    for at in range(8):
        distance = 20.0 + at
        lines.append({
            "plot": str(1 + at // 4), "tree": str(1 + at % 4), "species": "Quercus robur",
            "diameter": 30.0 + at, "width_widest": 6.0, "width_across": 6.0, "distance": distance,
            "foot_reading": -160 / distance, "base_reading": 200 / distance,
            "tip_reading": 100 * (12 + taller) / distance,
        })  # fmt: skip
    lines[-1] |= odd
    plots = [
        {"plot": plot, "status": "measured", "crew": "AB", "instrument": "C1", "scale": "percent",
         "distance_kind": "level", "date": date, "area_inside": 500.0}
        for plot in ("1", "2")
    ]  # fmt: skip
    return evaluate(make_survey(lines=lines, plots=plots, rules={"limit_diameter": thickest}))


def test_doubt_about_a_diameter_leaves_the_growth_of_heights_alone() -> None:
    old, new = two_plots("2020-05-01", 0.0), two_plots("2025-05-01", 1.0, thickest=36.5)
    change = compare_surveys(old, new)
    counts = {one.what: one.trees for one in change.growths if not one.group}
    doubted = new.counted.in_doubt
    assert doubted["diameter"].tolist() == [*[False] * 7, True]
    assert counts == {"height": 8 - int(doubted["height"].sum()), "diameter": 7}
    basal = next(net for net in change.nets if net.measure.key == "basal-area")
    assert basal.after == pytest.approx(basal.before, rel=0.03)
    assert "Left out because it cannot be right: 1 diameter." in basal.remark
    found = looks(change, "metric")
    assert found.loc[found["kind"] == "left out", "found"].tolist() == [
        "1 tree with a value that cannot be right in OLD or NEW. Such a value is in no mean and no "
        "total."
    ]


def test_every_tree_alive_both_times_is_in_the_mean_or_has_a_reason() -> None:
    old = two_plots("2020-05-01", 0.0)
    new = two_plots("2025-05-01", 1.0, thickest=36.5, tip_reading=None)
    change = compare_surveys(old, new)
    for one in change.growths:
        trees = change.trees[change.trees["fate"] == "alive"]
        if one.group:
            trees = trees[trees["species"] == one.group]
        assert one.trees + sum(count for _, count in one.left_out) == len(trees)
        why = trees[f"not_used_{one.what}"]
        assert {why: int(count) for why, count in one.left_out} == (
            why[why != ""].value_counts().to_dict()
        )
    height, diameter = (
        next(one for one in change.growths if one.what == what and not one.group)
        for what in ("height", "diameter")
    )
    assert height.left_out == (("not measured both times", 1),)
    assert diameter.left_out == (("a value that cannot be right", 1),)
    said = " ".join(sentences(change, "metric"))
    assert "Left out: 1 of the 8 trees alive both times: a value that cannot be right (1)." in said


def test_the_growth_of_one_tree_counts_the_observers() -> None:
    change = compare_surveys(two_plots("2020-05-01", 0.0), two_plots("2025-05-01", 1.0))
    said = [text for text in sentences(change, "metric") if "growth:" in text]
    assert len(said) == 2
    for text, parts in zip(said, ("instruments and observers", "observers"), strict=True):
        assert f"a year, counting the {parts} of both years." in text
    # Luoma et al. 2017: 1.5 % of a diameter, each time
    trees = change.trees
    both = 0.015 * np.hypot(trees["diameter_old"], trees["diameter_new"])
    np.testing.assert_allclose(trees["u_growth_diameter"], both)
    # one person measured all: on the mean the differences do not shrink with the trees
    diameter = next(one for one in change.growths if one.what == "diameter" and not one.group)
    ends = [0.015 * trees[f"diameter_{side}"].mean() for side in ("old", "new")]
    assert diameter.observers == pytest.approx(np.hypot(*ends) / trees["years"].iloc[0])
    words = f"People who always see too much or too little can add ± {diameter.observers:.2f} cm"
    assert words in said[1]


def test_a_height_below_nothing_is_in_no_growth() -> None:
    old, new = two_plots("2020-05-01", 0.0, tip_reading=-70.0), two_plots("2025-05-01", 1.0)
    change = compare_surveys(old, new)
    height = next(one for one in change.growths if one.what == "height" and not one.group)
    assert height.trees == 7
    assert height.mean == pytest.approx(0.2, abs=1e-3)
