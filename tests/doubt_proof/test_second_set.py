"""The second set: surveys and mistakes are what they say, and the figures are counted rightly."""

import hashlib
from collections.abc import Callable
from functools import cache
from itertools import product
from math import isclose, isnan, pi, radians, sqrt, tan
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

from tests.doubt_proof import habits, kinds
from tests.doubt_proof.baselines import score_by_ranges, score_by_regression
from tests.doubt_proof.cities import (
    HELD_OUT_CITIES,
    TUNING_CITIES,
    as_survey,
    reference_for,
    trees_of,
)
from tests.doubt_proof.habits import FOOT, HABITS, HELD_OUT, INCH, TUNING, VERSIONS, Keyed, generate
from tests.doubt_proof.hard_plots import CASES, measure_case
from tests.doubt_proof.kinds import (
    CAUSES,
    FEWEST_ON_PLOT,
    KINDS,
    READINGS,
    Cells,
    Injected,
    Line,
    inject,
    spoil_line,
    spoil_plots,
    take_line,
)
from tests.doubt_proof.measure_doubt import (
    Trial,
    by_kind,
    calibrate,
    collect,
    limit_for,
    measure_lines,
    measure_plots,
    summarize,
    summarize_plots,
)
from tests.real_trees import real_trees
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.setups.setups import compute_setups

CITY = "Boise, ID"
# the beginning of each module's SHA-256: the published figures are those of these texts
FROZEN = {habits: "c695cfc87ad7c64a", kinds: "22764586af8f9a11"}


@cache
def sheets(habit: str, version: str = "tuning", seed: int = 5) -> Keyed:
    return generate(trees_of(CITY).iloc[:220], VERSIONS[version], habit, seed)


def lines_of(keyed: Keyed) -> list[Line]:
    typed, truth = keyed.lines.to_dict("records"), keyed.truth.to_dict("records")
    return [take_line(keyed, typed, truth, at) for at in range(len(typed))]


# ---- the surveys


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("habit", HABITS)
def test_right_sheets_give_the_heights_of_their_trees(habit: str, version: str) -> None:
    """The generator's geometry and the program's are written apart and come to the same."""
    keyed = sheets(habit, version)
    setups = compute_setups(as_survey(keyed, keyed.lines))
    apart = np.log(setups["total_height"].to_numpy() / keyed.truth["height"].to_numpy())
    assert np.isfinite(apart).all()
    assert abs(np.median(apart)) < 0.01
    assert np.quantile(np.abs(apart), 0.9) < 0.08
    eye = setups["eye_above_foot"].to_numpy() - keyed.truth["eye"].to_numpy()
    # half a mark of 0.5 and an aim of 0.25 degrees, from 25 m away
    assert np.quantile(np.abs(eye), 0.9) < 0.4
    assert abs(np.median(eye)) < 0.15


@pytest.mark.parametrize("version", VERSIONS)
def test_habits_are_what_they_say(version: str) -> None:
    own = VERSIONS[version].habits
    stands = sheets("fixed stand", version).lines["distance"].isin(own["fixed stand"].stands)
    assert 0.8 <= stands.mean() < 1.0
    scale = sheets("fixed scale", version)
    assert 0.5 <= (scale.lines["distance"] == scale.truth["base_of_scale"]).mean() < 1.0
    assert scale.instruments["scale_distance"].notna().all()
    assert sheets("steep", version).truth["rise"].std() > 0.15
    assert sheets("rolling", version).truth["rise"].std() < 0.12
    feet = sheets("feet, topographic", version)
    assert feet.units == "us"
    assert (feet.plots["scale"] == "topographic").mean() > 0.5
    for keyed in (sheets(habit, version) for habit in HABITS):
        sizes = keyed.lines.groupby("plot", sort=False)["tree"].nunique()
        assert sizes.max() <= 20
        assert sizes.iloc[:-1].min() >= 8
        assert 0.02 < keyed.lines["setup"].notna().mean() < 0.15


def test_the_held_out_version_has_other_figures_and_other_cities() -> None:
    assert tuple(HELD_OUT.habits) == HABITS
    for name in HABITS:
        assert TUNING.habits[name] != HELD_OUT.habits[name]
    tuned, other = (set(v.habits["fixed stand"].stands) for v in (TUNING, HELD_OUT))
    assert not tuned & other
    assert TUNING.eye != HELD_OUT.eye
    assert not set(TUNING_CITIES) & set(HELD_OUT_CITIES)
    assert {*TUNING_CITIES, *HELD_OUT_CITIES} == set(real_trees()["city"])


def test_no_survey_is_weighed_by_its_own_city_or_a_held_out_one() -> None:
    city = real_trees()["city"]
    others = (~city.isin([*HELD_OUT_CITIES, CITY])).sum()
    (count,) = reference_for(CITY).query("level == 'all'")["n"]
    # trees without a height or a width are in no reference
    assert 0.97 * others < count <= others


@pytest.mark.parametrize(
    ("module", "digest"), FROZEN.items(), ids=lambda v: getattr(v, "__name__", "")
)
def test_what_was_kept_back_stays_as_it_was(module: ModuleType, digest: str) -> None:
    """A changed habit or kind is another set, whose figures are measured anew on both versions."""
    text = Path(str(module.__file__)).read_text(encoding="utf-8")
    assert hashlib.sha256(text.encode()).hexdigest()[:16] == digest


# ---- the mistakes


def tangent(reading: float, scale: str, base: float) -> float:
    return tan(radians(reading)) if scale == "degrees" else reading / base


def height_of(line: Line, cells: Cells, point: str, scale: str = "", base: float = 0.0) -> float:
    """Return the height over the foot that readings give from the true distance."""
    scale, base = scale or line.truth["scale"], base or line.truth["base_of_scale"]
    foot, aim = (
        tangent(cells.get(f"{name}_reading", line.number(f"{name}_reading")), scale, base)
        for name in ("foot", point)
    )
    return float(line.truth["level"] * (aim - foot))


def read_on(scale: str, base: float) -> Callable[[Line, Injected], bool]:
    """On the other scale the readings give the tree, and on the marked one they do not."""

    def check(line: Line, one: Injected) -> bool:
        right = height_of(line, one.after, "tip", scale, base)
        near = abs(right - line.truth["height"]) < 0.15 * line.truth["height"] + 0.5
        return near and set(one.after) == set(READINGS) and one.after != one.before

    return check


def cell(name: str, check: Callable[[float, float], bool]) -> Callable[[Line, Injected], bool]:
    return lambda line, one: list(one.after) == [name] and check(one.before[name], one.after[name])


def by(metric: float, us: float) -> Callable[[Line, Injected], bool]:
    """Every cell is a factor of what it was, to half a unit of rounding."""

    def check(line: Line, one: Injected) -> bool:
        factor = metric if line.units == "metric" else us
        return all(abs(one.after[n] - factor * one.before[n]) <= 0.5001 for n in one.after)

    return check


def digits(value: float) -> str:
    return f"{abs(value):g}"


def is_shorter(old: float, new: float) -> bool:
    """Whether one digit of the old number is lacking."""
    texts = (digits(old)[:i] + digits(old)[i + 1 :] for i in range(len(digits(old))))
    return any(isclose(float(text), abs(new)) for text in texts if text.strip("."))


def is_doubled(old: float, new: float) -> bool:
    return len(digits(new)) == len(digits(old)) + 1 and is_shorter(new, old)


def is_swapped(old: float, new: float) -> bool:
    a, b = (f"{abs(value):08.2f}".replace(".", "") for value in (old, new))
    apart = [i for i in range(len(a)) if a[i] != b[i]]
    return sorted(a) == sorted(b) and len(apart) == 2 and apart[1] == apart[0] + 1


def is_moved(old: float, new: float) -> bool:
    return isclose(new, 10 * old) or isclose(10 * new, old, abs_tol=1e-3)


def is_misread(old: float, new: float) -> bool:
    a, b = digits(old), digits(new)
    return a[0] != b[0] and a[1:] == b[1:] and old * new > 0


def swapped(one: str, other: str) -> Callable[[Line, Injected], bool]:
    return lambda line, made: (
        made.after[one] == made.before[other] and made.after[other] == made.before[one]
    )


def is_neighbours(name: str) -> Callable[[Line, Injected], bool]:
    def check(line: Line, one: Injected) -> bool:
        above = line.above
        return (
            above is not None
            and above["plot"] == line.typed["plot"]
            and above["tree"] != line.typed["tree"]
            and one.after == {name: above[name]}
        )

    return check


def ratio(line: Line, one: Injected) -> float:
    return height_of(line, one.after, "tip") / float(line.truth["height"])


def rounding(line: Line) -> float:
    """Return what half a mark of 1 and two aims of 0.3 degrees may be from there (m)."""
    return 0.5 + 0.03 * float(line.truth["level"])


_SLIP_CHECKS = {
    "decimal": is_moved,
    "dropped": is_shorter,
    "doubled": is_doubled,
    "transposed": is_swapped,
}
DESCRIPTIONS: dict[str, Callable[[Line, Injected], bool]] = {
    "scale-degrees": read_on("degrees", 1.0),
    "scale-percent": read_on("percent", 100.0),
    "scale-topographic": read_on("topographic", 66.0),
    **{f"scale-for-{b}-m": read_on("fixed distance", float(b)) for b in (15, 20, 25, 30, 40)},
    "distance-other-unit": by(1 / FOOT, FOOT),
    "width-other-unit": by(1 / FOOT, FOOT),
    "diameter-inches": by(1 / INCH, INCH),
    "diameter-girth": by(pi, pi),
    "foot-sign": cell("foot_reading", lambda old, new: new == -old and new > 0),
    "foot-tip-swapped": swapped("foot_reading", "tip_reading"),
    "base-tip-swapped": swapped("base_reading", "tip_reading"),
    "foot-base-swapped": swapped("foot_reading", "base_reading"),
    "reading-as-share": lambda line, one: len(one.after) == 1 and all(
        isclose(100 * one.after[n], one.before[n]) and n in READINGS for n in one.after
    ),
    "readings-as-shares": lambda line, one: len(one.after) == 3 and all(
        isclose(100 * one.after[n], one.before[n]) and n in READINGS for n in one.after
    ),
    "misread-tip": cell("tip_reading", is_misread),
    "neighbour-diameter": is_neighbours("diameter"),
    "neighbour-distance": is_neighbours("distance"),
    "slope-as-level": cell("distance", lambda old, new: 1.0 < new / old < 1.2),
    "near-edge": lambda line, one: line.broad and 1.0 < ratio(line, one) < 4.0,
    "lean": lambda line, one: 0.7 < ratio(line, one) < 3.0,
    "dead-top": lambda line, one: 0.5 < ratio(line, one) < 0.95,
    "stray-branch": lambda line, one: (
        -rounding(line)
        < height_of(line, one.after, "base")
        < 0.5 * line.truth["base"] + rounding(line)
    ),
    "base-to-ground": lambda line, one: height_of(line, one.after, "base") < 0.5,
}  # fmt: skip
for _variant in CAUSES:
    _slip, _, _name = _variant.partition("-")
    if _slip in _SLIP_CHECKS and _variant != "distance-other-unit":
        _column = _name if _name in ("distance", "diameter") else f"{_name}_reading"
        DESCRIPTIONS[_variant] = cell(_column, _SLIP_CHECKS[_slip])


@cache
def _every_third(habit: str, seed: int) -> list[Line]:
    """Lines of all plots, so that all instruments are among them."""
    return lines_of(sheets(habit, seed=seed))[::3]


@pytest.mark.parametrize("variant", CAUSES)
def test_each_mistake_changes_the_line_as_described(variant: str) -> None:
    (kind,) = (kind for kind, variants in KINDS.items() if variant in variants)
    random = np.random.default_rng(3)
    made = 0
    for habit, seed in product(HABITS, (5, 6, 7)):
        for at, line in enumerate(_every_third(habit, seed)):
            one = spoil_line(line, at, kind, variant, random)
            if one is None:
                continue
            made += 1
            assert one.right[0] == variant
            assert one.before == {name: line.number(name) for name in one.after}
            assert any(one.after[name] != one.before[name] for name in one.after)
            assert DESCRIPTIONS[variant](line, one), one
    assert made >= 3


def test_a_lean_matters() -> None:
    random = np.random.default_rng(8)
    own = enumerate(_every_third("rolling", 5))
    made = [(line, spoil_line(line, at, "lean", "lean", random)) for at, line in own]
    apart = [abs(ratio(line, one) - 1) for line, one in made if one is not None]
    assert len(apart) > 20
    assert np.median(apart) > 0.1


def test_a_slope_distance_is_as_much_longer_as_the_ground_is_steep() -> None:
    random = np.random.default_rng(4)
    longer = []
    for at, line in enumerate(lines_of(sheets("steep"))):
        one = spoil_line(line, at, "slope distance as level", "slope-as-level", random)
        if one is not None:
            secant = sqrt(1 + line.truth["rise"] ** 2)
            assert abs(one.after["distance"] - secant * one.before["distance"]) <= 0.0501
            longer.append(secant)
    assert len(longer) > 10


@pytest.mark.parametrize("habit", HABITS)
def test_a_right_line_stays_right_and_a_tree_has_one_mistake(habit: str) -> None:
    keyed = sheets(habit)
    lines, made = inject(keyed, 0.10, 9)
    assert len(made) == round(0.10 * len(keyed.lines))
    assert len({one.kind for one in made}) >= 8
    differ = (lines != keyed.lines) & ~(lines.isna() & keyed.lines.isna())
    assert differ.any(axis=1)[differ.any(axis=1)].index.tolist() == [one.line for one in made]
    for one in made:
        changed = {name for name in one.after if one.after[name] != one.before[name]}
        assert set(differ.columns[differ.loc[one.line]]) == changed
    trees = lines.loc[[one.line for one in made], ["plot", "tree"]]
    assert not trees.duplicated().any()


def test_a_decimal_of_zero_that_is_dropped_is_no_mistake() -> None:
    line = lines_of(sheets("fixed stand"))[0]
    whole = Line({**line.typed, "distance": 8.0}, line.truth, None, line.broad, line.units)
    random = np.random.default_rng(5)
    tries = [spoil_line(whole, 0, "digit dropped", "dropped-distance", random) for _ in range(20)]
    assert tries == [None] * 20


@pytest.mark.parametrize("habit", HABITS)
def test_a_spoilt_plot_is_read_on_the_other_scale_as_a_whole(habit: str) -> None:
    keyed = sheets(habit)
    lines, wrong = spoil_plots(keyed, keyed.lines, 0.10, 3)
    assert wrong
    differ = (lines[list(READINGS)] != keyed.lines[list(READINGS)]).any(axis=1)
    assert set(lines.loc[differ, "plot"]) == set(wrong)
    own = lines_of(keyed)
    for plot, scale in wrong.items():
        rows = np.flatnonzero(lines["plot"] == plot)
        assert len(rows) >= FEWEST_ON_PLOT
        for row in rows:
            cells = {name: float(lines.loc[row, name]) for name in READINGS}
            before = {name: own[row].number(name) for name in READINGS}
            one = Injected(row, "other scale", scale, (scale,), before, cells)
            assert cells == before or DESCRIPTIONS[scale](own[row], one)


def test_every_right_cause_is_one_that_the_program_may_name() -> None:
    ids = {name for names in CAUSES.values() for name in names}
    assert ids <= {mistake.id for mistake in MISTAKES}


# ---- the figures


def test_the_figures_are_counted_as_described() -> None:
    table = pd.DataFrame(
        {
            "kind": ["lean", "lean", "girth for diameter", "", "", "", ""],
            "spoilt": [True, True, True, True, False, False, False],
            "found": [True, False, True, True, True, False, False],
            "cause": ["lean", "", "dropped-diameter", "lean", "dead-top", "", ""],
            "right": [True, False, False, False, False, False, False],
            "odds": [3.0, -1.0, -np.inf, 2.0, 1.0, -2.0, -np.inf],
            "share": [0.8, np.nan, 0.4, 0.5, 0.5, np.nan, np.nan],
        }
    )
    figures = summarize(table)
    assert figures["mistakes"] == 3
    assert figures["found"] == pytest.approx(66.7)
    assert figures["named first"] == pytest.approx(33.3)
    # three of four named causes: on a wrong line, on another line of its tree, on a right line
    assert figures["wrong or needless"] == pytest.approx(75.0)
    assert figures["false"] == pytest.approx(33.3)
    assert by_kind(table).loc["lean", "found"] == pytest.approx(50.0)
    stated = calibrate(table)
    assert stated.loc[stated["of"] == "mistake", "n"].sum() == len(table)
    assert stated.loc[stated["of"] == "first cause", "n"].sum() == 2


def test_the_limit_lets_a_share_of_the_scores_pass() -> None:
    scores = np.r_[np.arange(100.0), -np.inf]
    limit = limit_for(scores, 0.02)
    assert (scores > limit).sum() == 2


def test_plain_ways_score_a_wrong_height_higher_than_right_ones() -> None:
    random = np.random.default_rng(6)
    stem = random.uniform(10, 60, 80)
    tall = 1.2 * stem**0.65 * np.exp(random.normal(0, 0.1, 80))
    tall[7] *= 4
    measures = pd.DataFrame(
        {
            "genus": "Acer", "kind": "broadleaf", "height": tall, "base": 0.25 * tall,
            "level": 1.2 * stem**0.65, "eye": 1.6, "diameter": stem, "width": 0.5 * stem**0.8,
        }
    )  # fmt: skip
    assert score_by_regression(measures).argmax() == 7
    assert score_by_ranges(measures).argmax() == 7
    measures.loc[3, "height"] = np.nan
    assert np.isinf(score_by_regression(measures)[3])
    assert np.isinf(score_by_ranges(measures)[3])


NONE_WRONG = (
    "right plot, steep uphill", "right plot, steep downhill", "right plot, cut back, uphill",
)  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_each_hard_plot_is_built(name: str) -> None:
    counts = measure_case(name, Trial(CITY, "rolling", 120, 0.0, 2))
    assert counts is not None
    assert counts["wrong"] == (name not in NONE_WRONG)
    assert counts["watched"] == name.startswith("right plot")
    assert counts["watched accused"] == 0


@pytest.mark.slow
@pytest.mark.parametrize("city", ["Claremont, CA", "Boise, ID"])
def test_eyes_alone_accuse_no_plot(city: str) -> None:
    """A topographic scale read as percent would lower every eye; the trees would be too low."""
    counts = measure_case(
        "right plot, steep downhill", Trial(city, "feet, topographic", 200, 0.0, 0)
    )
    assert counts is not None
    assert counts["watched accused"] == 0


@pytest.mark.slow
def test_the_doubt_on_cities_and_habits_that_nothing_was_tuned_on() -> None:
    """The bounds lie a tenth and more under what the tuning version gave."""
    trials = [Trial(c, h, 300, 0.10, 77, "held-out") for h in HABITS for c in HELD_OUT_CITIES]
    table = collect(map(measure_lines, trials))
    figures = summarize(table)
    print(figures)
    assert figures["mistakes"] > 250
    assert figures["found"] >= 55
    assert figures["named first"] >= 30
    assert figures["wrong or needless"] <= 45
    assert figures["false"] <= 5
    plots = summarize_plots(collect(map(measure_plots, trials)))
    print(plots)
    assert plots["found"] >= 55
    assert plots["accused"] <= 0.02 * plots["right plots"]
    assert not isnan(plots["right scale"])
