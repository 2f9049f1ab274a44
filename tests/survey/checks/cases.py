"""For each check a survey that fails it, one that passes and one in which the value is blank.

A case is the lines, the plots and whatever else `make_survey` takes. `line()` is a sound tree: a
21.0 m tall oak, its crown from 6.0 m up, seen from 20 m on the percent scale.
"""

from dataclasses import dataclass
from typing import Any

from tests.survey.make_survey import (
    DEFAULT_INSTRUMENTS,
    PLAIN_PLOT,
    REFUSED_CELL,
    make_survey,
)
from xlhelpers.survey.model import Survey

__all__ = ["CASES", "REFUSED_CELL", "Case", "line", "plot", "survey_of"]

Given = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """What makes a survey fail a check, what passes it, and what leaves the value blank."""

    failing: Given
    passing: Given
    blank: Given


BIRCHES = (
    {"botanical": "Betula pendula", "common": "silver birch", "code": "", "kind": "broadleaf",
     "outline": "ellipsoid"},
)  # fmt: skip


NO_WIDTHS: Given = {"width_widest": None, "width_across": None}
RADII: Given = {
    "radius_north": 4.0, "radius_east": 3.5, "radius_south": 5.0, "radius_west": 0.0,
}  # fmt: skip
FOUR_RADII: Given = {"crown_widths": "four radii"}


def line(tree: Any = 1, **changes: Any) -> Given:
    sound: Given = {
        "plot": "1",
        "tree": str(tree) if isinstance(tree, int) else tree,
        "species": "Quercus robur",
        "diameter": 40.0,
        "width_widest": 9.0,
        "width_across": 8.0,
        "distance": 20.0,
        "foot_reading": -8.0,
        "base_reading": 22.0,
        "tip_reading": 97.0,
    }
    return {name: value for name, value in (sound | changes).items() if value is not None}


def plot(**changes: Any) -> Given:
    given: Given = {**PLAIN_PLOT, "plot": "1", **changes}
    return {name: value for name, value in given.items() if value is not None}


def survey_of(given: Given) -> Survey:
    return make_survey(**({"lines": [line()]} | given))


def one(**changes: Any) -> Given:
    return {"lines": [line(**changes)]}


def on(*lines: Given, **changes: Any) -> Given:
    """A plot with changes, and its lines (one sound line if none is given)."""
    return {"lines": list(lines) or [line()], "plots": [plot(**changes)]}


def rows(name: str, *values: float | None, **changes: Any) -> Given:
    """Trees of different size that differ in no regular way, with one column given."""
    trees = []
    for i, value in enumerate(values, 1):
        odd = (i * 7919) % 23
        own = {
            "diameter": 30.3 + odd * 1.7,
            "distance": 19.0 + odd % 5,
            "base_reading": 14.0 + odd,
            "tip_reading": 81.0 + (odd * 5) % 17,
            "width_widest": 6.1 + odd * 0.3,
            "width_across": 5.2 + odd * 0.2,
        }
        trees.append(line(i, **(own | {name: value} | changes)))
    return {"lines": trees}


NOTHING_READ = {
    "distance": None,
    "foot_reading": None,
    "base_reading": None,
    "tip_reading": None,
}
DEAD_TOP = {"condition": "T", "top_reading": 80.0}
LASER = {"instrument": "L1", "kind": "laser that shows heights"}
WITH_LASER = {"instruments": [*DEFAULT_INSTRUMENTS, LASER]}
SECOND = {"setup": 2, "distance": 25.0, "foot_reading": -6.5, "base_reading": 17.5,
          "tip_reading": 77.5}  # fmt: skip
EMPTY = {"species": None, "diameter": None, "width_widest": None, "width_across": None}
TWO_PLOTS = [plot(), plot(plot="2", status="no trees")]
# eyes of 1.6 m on seven trees, and an eighth
EYES = [line(i, distance=20.0 + i, foot_reading=-160 / (20.0 + i)) for i in range(1, 8)]
# the sound tree from 20 m and from 30 m
STATIONS: Given = {"distance": None, "station_step": 10.0, "second_tip_reading": 194 / 3,
                   "second_foot_reading": -16 / 3}  # fmt: skip
# five trees within 20 m of each other
PLACED = [line(i, latitude=51.2 + 0.00005 * i, longitude=7.1) for i in range(1, 6)]
STEEP = [line(i, foot_reading=-20.0, distance=20.0 + i, tip_reading=85.0 - i) for i in range(1, 5)]

CASES: dict[str, Case] = {
    # words
    "plot-unknown": Case(
        {"lines": [line(), line(plot="11")], "plots": [plot()]},
        {"lines": [line(plot="1.0")], "plots": [plot()]},
        {"lines": [line(plot=None)], "plots": [plot()]},
    ),
    "plot-instrument-unknown": Case(on(instrument="C9"), on(instrument="c1"), on(instrument=None)),
    "line-instrument-unknown": Case(one(instrument="C9"), one(instrument="C1"), one()),
    "stratum-unknown": Case(
        on(stratum="Nroth") | {"strata": [{"stratum": "North"}]},
        on(stratum="north") | {"strata": [{"stratum": "North"}]},
        on() | {"strata": [{"stratum": "North"}]},
    ),
    "person-unknown": Case(on(crew="AB XY"), on(crew="ab, cd", keyed_by="CD"), on(crew=None)),
    "species-unknown": Case(
        one(species="Quercus robor"), one(species="English oak"), one(species=None)
    ),
    "kind-unknown": Case(
        {"instruments": [{"instrument": "C1", "kind": "clinometer, percent and degree"}]},
        {"instruments": [{"instrument": "C1", "kind": "clinometer, percent and degrees"}]},
        {"instruments": [{"instrument": "C1", "scale_1": "percent"}]},
    ),
    "condition-unknown": Case(one(condition="X"), one(condition="D"), one()),
    "reason-in-other-words": Case(
        one(tip_reading=None, missing_because="a wasp nest"),
        one(tip_reading=None, missing_because="not safe: wasps"),
        one(tip_reading=None),
    ),
    # cells of the plots sheet
    "plot-status-blank": Case(on(status=None), on(), on(status=REFUSED_CELL)),
    "plot-instrument-blank": Case(on(instrument=None), on(), on(instrument=REFUSED_CELL)),
    "plot-scale-blank": Case(on(scale=None), on(), on(scale=REFUSED_CELL)),
    "plot-distance-kind-blank": Case(
        on(distance_kind=None), on(), on(line(**NOTHING_READ), distance_kind=None)
    ),
    "plot-area-impossible": Case(
        on(area_inside=0.04, area_reached=0.04),
        on(area_inside=400.0, area_reached=0.0),
        on(area_inside=None, area_reached=REFUSED_CELL),
    ),
    "trees-counted": Case(
        on(line(1), line(3), trees_counted=3), on(trees_counted=1), on(trees_counted=None)
    ),
    "plot-without-lines": Case(
        {"plots": [plot(), plot(plot="2")]},
        {"plots": TWO_PLOTS},
        {"plots": [plot(), plot(plot="2", status=REFUSED_CELL)]},
    ),
    "lines-on-unmeasured-plot": Case(on(status="refused"), on(), on(status=None)),
    # numbers that stand twice
    "duplicate-number": Case(
        {"lines": [line(), line(species="Picea abies")]},
        {"lines": [line(), line(2, species="Picea abies")]},
        {"lines": [line(), line(**(EMPTY | SECOND | {"setup": None}))]},
    ),
    "setup-number-twice": Case(
        {"lines": [line(), line(**SECOND), line(**(SECOND | {"distance": 24.0}))]},
        {"lines": [line(), line(**SECOND), line(**(SECOND | {"setup": 3}))]},
        {"lines": [line(), line(2)]},
    ),
    "setup-other-species": Case(
        {"lines": [line(), line(**SECOND, species="Picea abies")]},
        {"lines": [line(), line(**SECOND, species="English oak")]},
        {"lines": [line(), line(**(SECOND | {"species": None}))]},
    ),
    "setup-other-diameter": Case(
        {"lines": [line(), line(**SECOND, diameter=42.0)]},
        {"lines": [line(), line(**SECOND, diameter=41.0)]},
        {"lines": [line(), line(**(SECOND | {"diameter": None}))]},
    ),
    "plot-twice": Case(
        {"plots": [plot(), plot(plot="1.0")]},
        {"plots": TWO_PLOTS},
        {"plots": [plot(), plot(plot=None), plot(plot=None)]},
    ),
    "instrument-twice": Case(
        {"instruments": [*DEFAULT_INSTRUMENTS, DEFAULT_INSTRUMENTS[0] | {"instrument": "c1"}]},
        {"instruments": [*DEFAULT_INSTRUMENTS, LASER]},
        {"instruments": [*DEFAULT_INSTRUMENTS, {"kind": "pole or tape"}, {"kind": "pole or tape"}]},
    ),
    # scales
    "plot-scale-lacking": Case(on(scale="topographic"), on(scale="degrees"), on(scale=None)),
    "line-scale-lacking": Case(
        one(scale="topographic"), one(scale="degrees", tip_reading=44.0), one(scale=None)
    ),
    "first-tip-other-scale": Case(
        on(other_scale_tip=40.0), on(other_scale_tip=44.0), on(other_scale_tip=None)
    ),
    "readings-hundredfold": Case(
        one(foot_reading=-0.08, base_reading=0.22, tip_reading=0.97),
        one(),
        one(foot_reading=-0.08, base_reading=0.22, tip_reading=None),
    ),
    # cells of the field sheet
    "plot-blank": Case(one(plot=None), one(), one(plot=REFUSED_CELL)),
    "tree-blank": Case(one(tree=None), one(), one(tree=REFUSED_CELL)),
    "species-blank": Case(one(species=None), one(), one(species="?")),
    "diameter-blank": Case(one(diameter=None), one(), one(diameter="NOT SAFE")),
    "widths-blank": Case(
        one(width_widest=None, width_across=None),
        one(condition="D", width_widest=None, width_across=None, base_reading=None),
        one(width_widest="NOT SAFE", width_across="NOT SAFE"),
    ),
    "no-readings": Case(
        one(**NOTHING_READ),
        one(**NOTHING_READ) | {"rules": {"heights_on": "some trees"}},
        one(**NOTHING_READ, missing_because="NO ACCESS"),
    ),
    "distance-blank": Case(
        one(distance=None),
        on(line(distance=None, foot_reading=None, base_reading=6.0, tip_reading=21.0),
           instrument="L1", scale="height", distance_kind="none") | WITH_LASER,
        one(distance="NOT SAFE"),
    ),
    "foot-blank": Case(
        one(foot_reading=None),
        one(foot_reading=None, missing_because="EYE HEIGHT"),
        one(foot_reading=REFUSED_CELL),
    ),
    "base-blank": Case(
        one(base_reading=None), one(base_reading=None, base_by_pole=6.0), one(base_reading="?")
    ),
    "tip-blank": Case(one(tip_reading=None), one(tip_reading=0.0), one(tip_reading="NOT SEEN")),
    "slope-reading-blank": Case(
        one(distance_kind="along slope"),
        one(distance_kind="along slope", slope_reading=4.0),
        one(distance_kind="along slope", slope_reading="?"),
    ),
    "no-height": Case(
        one(scale="degrees", tip_reading=97.0), one(), one(scale="degrees", tip_reading="?")
    ),
    # order
    "tip-not-above-foot": Case(one(tip_reading=-30.0), one(), one(tip_reading="?")),
    "base-above-top": Case(
        one(base_reading=99.0), one(base_reading=96.0), one(base_reading="?")
    ),
    "top-above-tip": Case(
        one(condition="T", top_reading=99.0), one(**DEAD_TOP), one(condition="T", top_reading="?")
    ),
    "base-below-foot": Case(
        one(base_reading=-14.0), one(base_reading=-7.0), one(base_reading="?")
    ),
    "base-counts-as-zero": Case(
        one(base_reading=-8.5), one(base_reading=-8.0), one(base_reading="?")
    ),
    "crown-of-no-depth": Case(
        one(base_reading=97.0), one(base_reading=96.0), one(base_reading="?")
    ),
    "foot-plus-unticked": Case(
        one(foot_reading=8.0), one(foot_reading=8.0, foot_above_eye=True), one(foot_reading="?")
    ),
    "foot-plus-unticked-plot": Case(
        {"lines": [line(i, foot_reading=8.0 + i) for i in (1, 2, 3)]},
        {"lines": [line(i, foot_reading=8.0 + i, foot_above_eye=i > 1) for i in (1, 2, 3)]},
        {"lines": [line(i, foot_reading="?") for i in (1, 2, 3)]},
    ),
    "foot-ticked-without-plus": Case(
        one(foot_above_eye=True),
        one(foot_reading=8.0, foot_above_eye=True),
        one(foot_reading="?", foot_above_eye=True),
    ),
    "ratio-impossible": Case(
        {"lines": [line(base_reading=None, base_by_pole=18.0, missing_because="NOT SEEN"),
                   line(**(SECOND | {"tip_reading": 40.0, "base_reading": None}))]},
        {"lines": [line(), line(**SECOND)]},
        one(base_reading="?"),
    ),
    # the eye above the foot
    "eye-height-plot": Case(
        {"lines": STEEP, "plots": [plot(slope=0.02)]},
        {"lines": STEEP, "plots": [plot(slope=0.2)]},
        {"lines": [tree | {"foot_reading": "?"} for tree in STEEP], "plots": [plot(slope=0.02)]},
    ),
    "eye-height": Case(
        {"lines": [*EYES, line(8, foot_reading=-20.0)], "plots": [plot(slope=0.02)]},
        {"lines": [*EYES, line(8, foot_reading=-9.0)], "plots": [plot(slope=0.02)]},
        {"lines": [*EYES, line(8, foot_reading="?")], "plots": [plot(slope=0.02)]},
    ),
    # where the instrument stood
    "distance-zero": Case(one(distance=0.0), one(), one(distance="?")),
    "under-crown": Case(
        one(distance=10.0, width_widest=21.0, foot_reading=-16.0),
        one(distance=10.0, width_widest=19.0, foot_reading=-16.0),
        one(distance=10.0, width_widest=None, width_across=None, foot_reading=-16.0),
    ),
    "too-close": Case(
        one(distance=10.0, foot_reading=-16.0, tip_reading=194.0),
        one(distance=10.0, foot_reading=-16.0, tip_reading=184.0),
        one(distance=10.0, foot_reading=-16.0, tip_reading="?"),
    ),
    # ranges
    "height-over-limit": Case(
        one(distance=60.0, foot_reading=-2.7, tip_reading=98.0),
        one(distance=60.0, foot_reading=-2.7, tip_reading=97.0),
        one(distance=60.0, foot_reading=-2.7, tip_reading="?"),
    ),
    "height-under-breast-height": Case(
        one(tip_reading=-2.0, base_reading=-5.0),
        one(tip_reading=-1.0, base_reading=-5.0),
        one(tip_reading="?", base_reading=-5.0),
    ),
    "angle-over-limit": Case(
        one(tip_reading=174.0) | {"rules": {"limit_distance_share": 0.4}},
        one(tip_reading=173.0) | {"rules": {"limit_distance_share": 0.4}},
        one(tip_reading="?") | {"rules": {"limit_distance_share": 0.4}},
    ),
    "diameter-over-limit": Case(one(diameter=251.0), one(diameter=250.0), one(diameter="?")),
    "diameter-under-smallest": Case(one(diameter=4.9), one(diameter=5.0), one(diameter="?")),
    "stems-out-of-order": Case(
        one(other_stems="24 44"), one(other_stems="24 18"), one(other_stems=None)
    ),
    "width-over-limit": Case(one(width_across=41.0), one(width_across=8.0), one(width_across="?")),
    "width-zero": Case(one(width_across=0.0), one(), one(width_across=None)),
    "width-across-wider": Case(one(width_across=9.1), one(width_across=9.0), one(width_across="?")),
    "width-one-only": Case(
        one(width_across=None), one(), one(width_across=REFUSED_CELL)
    ),
    # shapes
    "widths-differ": Case(
        one(width_across=1.4), one(width_across=1.5), one(width_across="?")
    ),
    "stem-thick-for-genus": Case(
        # the thickest birch of the open tree data has 70.157 cm
        {"lines": [line(species="Betula pendula", diameter=141.0)], "species": BIRCHES},
        {"lines": [line(species="Betula pendula", diameter=140.0)], "species": BIRCHES},
        {"lines": [line(species="Betula pendula", diameter="?")], "species": BIRCHES},
    ),
    "crown-shallow": Case(
        {"lines": [line(i, base_reading=88.0 if i == 1 else 22.0 + i) for i in range(1, 6)]},
        {"lines": [line(i, base_reading=86.0 if i == 1 else 22.0 + i) for i in range(1, 6)]},
        {"lines": [line(i, base_reading="?" if i == 1 else 22.0 + i) for i in range(1, 6)]},
    ),
    "steep-sights": Case(
        one(distance=16.0, foot_reading=-10.0, tip_reading=101.0),
        one(distance=16.0, foot_reading=-10.0, tip_reading=100.0),
        one(distance=16.0, foot_reading=-10.0, tip_reading="?"),
    ),
    # repeats
    "repeats-disagree-tip": Case(
        {"lines": [line(), line(**(SECOND | {"tip_reading": 90.0}))]},
        {"lines": [line(), line(**SECOND)]},
        {"lines": [line(), line(**(SECOND | {"tip_reading": "?"}))]},
    ),
    "repeats-disagree-top": Case(
        {"lines": [line(**DEAD_TOP), line(**SECOND, condition="T", top_reading=50.0)]},
        {"lines": [line(**DEAD_TOP), line(**SECOND, condition="T", top_reading=64.0)]},
        {"lines": [line(**DEAD_TOP), line(**SECOND, condition="T", top_reading="?")]},
    ),
    "repeats-disagree-base": Case(
        {"lines": [line(), line(**(SECOND | {"base_reading": 30.0}))]},
        {"lines": [line(), line(**SECOND)]},
        {"lines": [line(), line(**(SECOND | {"base_reading": "?"}))]},
    ),
    "setup-keyed-twice": Case(
        {"lines": [line(), line(setup=2)]},
        {"lines": [line(), line(**SECOND)]},
        {"lines": [line(), line(setup=2, **NOTHING_READ)]},
    ),
    # dead tops
    "dead-top-without-reading": Case(
        one(condition="T"), one(**DEAD_TOP), one(condition="T", top_reading="?")
    ),
    "reading-without-dead-top": Case(
        one(top_reading=80.0), one(**DEAD_TOP), one(top_reading=80.0, condition=REFUSED_CELL)
    ),
    "dead-top-short": Case(
        one(condition="T", top_reading=93.0),
        one(condition="T", top_reading=92.0),
        one(condition="T", top_reading="?"),
    ),
    # whole lines and columns
    "copied-line": Case(
        {"lines": [*rows("note", *[None] * 10)["lines"],
                   rows("note", None)["lines"][0] | {"tree": "11", "tip_reading": 60.0}]},
        {"lines": [*rows("note", *[None] * 10)["lines"],
                   rows("note", None)["lines"][0] | {"tree": "11", "diameter": 31.4,
                                                      "width_widest": 9.9}]},
        {"lines": [*rows("note", *[None] * 10)["lines"],
                   rows("note", None)["lines"][0] | {"tree": "11", "tip_reading": "?",
                                                      "base_reading": "?"}]},
    ),
    "dragged-column": Case(
        rows("diameter", 31.0, 32.0, 33.0, 34.0, 35.0, 52.3, 47.1, 60.6, 41.2, 39.9),
        rows("distance", *[20.0] * 10),
        rows("diameter", 31.0, 32.0, 33.0, None, 35.0, 36.0, 37.0, None, 41.2, 39.9),
    ),
    # what the sheet carries, and what it leaves out
    "recorded-depth-differs": Case(
        one(recorded_depth=15.06), one(recorded_depth=15.05), one(recorded_depth=None)
    ),
    "recorded-width-differs": Case(
        one(recorded_width=8.56), one(recorded_width=8.55), one(recorded_width=None)
    ),
    "recorded-height-differs": Case(
        one(recorded_height=21.06), one(recorded_height=21.05), one(recorded_height=None)
    ),
    "diameter-elsewhere": Case(
        one(diameter_at=0.8), one(diameter_at=1.3), one(diameter_at=0.8, diameter="NOT SAFE")
    ),
    "tag-twice": Case(
        {"lines": [line(tag="17"), line(2, tag="17")]},
        {"lines": [line(tag="17"), line(2, tag="18")]},
        {"lines": [line(tag="17"), line(**SECOND, tag="17")]},
    ),
    "position-incomplete": Case(
        one(latitude=51.2), one(latitude=51.2, longitude=7.1),
        one(latitude=51.2, longitude=REFUSED_CELL),
    ),
    "second-tip-missing": Case(
        one(**(STATIONS | {"second_tip_reading": None})), one(**STATIONS),
        one(**(STATIONS | {"second_tip_reading": "NOT SAFE"})),
    ),
    "stations-too-near": Case(
        one(**(STATIONS | {"second_tip_reading": 75.0})), one(**STATIONS),
        one(**(STATIONS | {"second_tip_reading": "?"})),
    ),
    "station-step-unused": Case(
        one(**(STATIONS | {"distance": 20.0})), one(**STATIONS),
        one(**(STATIONS | {"distance": 20.0, "station_step": "?"})),
    ),
    "position-off-plot": Case(
        {"lines": [*PLACED, line(6, latitude=7.1001, longitude=51.2001)]},
        {"lines": [*PLACED, line(6, latitude=51.2003, longitude=7.1003)]},
        {"lines": [*PLACED, line(6, latitude=7.1001)]},
    ),
    # crown radii, and the eye height of a whole plot
    "radii-missing": Case(
        {"lines": [line(**NO_WIDTHS)], "rules": FOUR_RADII},
        {"lines": [line(**NO_WIDTHS, **RADII)], "rules": FOUR_RADII},
        {"lines": [line(**NO_WIDTHS, **dict.fromkeys(RADII, "NOT SEEN"))], "rules": FOUR_RADII},
    ),
    "radii-unasked": Case(
        one(**RADII), {"lines": [line(**RADII)], "rules": FOUR_RADII},
        one(**dict.fromkeys(RADII, "NOT SEEN")),
    ),
    "foot-by-eye": Case(
        {"lines": [line(foot_reading=None)], "plots": [plot(foot_by="eye height")]},
        {"lines": [line()], "plots": [plot(foot_by="eye height")]},
        {"lines": [line(foot_reading="?")], "plots": [plot(foot_by="eye height")]},
    ),
    "foot-by-eye-on-slope": Case(
        {"lines": [line(foot_reading=None)], "plots": [plot(foot_by="eye height", slope=0.12)]},
        {"lines": [line(foot_reading=None)], "plots": [plot(foot_by="eye height", slope=0.1)]},
        {"lines": [line(foot_reading=None)], "plots": [plot(foot_by="eye height")]},
    ),
    "closed-blanks": Case(one(tip_reading="NOT SAFE"), one(), one(tip_reading=None)),
}  # fmt: skip
