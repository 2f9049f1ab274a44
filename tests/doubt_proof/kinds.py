"""Mistakes of single lines for the second set: what clerks and crews do, and the causes that fit.

Each kind is a function of one typed line. It returns the cells that change, or None where the line
cannot show the mistake or would stay as it is: a decimal of 0 that was dropped changes nothing.
Some kinds have variants, one a field. `CAUSES` says which ids name a variant rightly.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import atan, atan2, degrees, isfinite, pi, sqrt
from typing import Any

import numpy as np
import pandas as pd

from tests.doubt_proof.habits import FOOT, INCH, POINTS, SCALES_OF, Keyed, read_angle
from tests.real.make_reference import kind_of

READINGS = tuple(f"{point}_reading" for point in POINTS)
BASES = (15.0, 20.0, 25.0, 30.0, 40.0)
WIDTHS = ("width_widest", "width_across")
# another tree's diameter or distance is a mistake worth the name from this factor on
OTHER_FROM = 1.15
# lines from which on a plot is read on the wrong scale as a whole
FEWEST_ON_PLOT = 8
# digits that are taken for each other when a hand-written sheet is typed
LOOK_ALIKE = {"1": "74", "2": "7", "3": "85", "4": "91", "5": "638", "6": "58", "7": "12",
              "8": "36", "9": "4"}  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One typed line, what is true of it, the line above on its plot, and the survey's units."""

    typed: Mapping[str, Any]
    truth: Mapping[str, Any]
    above: Mapping[str, Any] | None
    broad: bool
    units: str

    def number(self, name: str) -> float:
        """Return a typed number, NaN for a blank."""
        return float(self.typed[name])


Cells = dict[str, float]
Spoil = Callable[[Line, np.random.Generator], Cells | None]


@dataclass(frozen=True)
class Injected:
    """A mistake that was made: position of its line, kind, variant, right causes, its cells."""

    line: int
    kind: str
    variant: str
    right: tuple[str, ...]
    before: Cells
    after: Cells


# ---- scales


def _aim_again(line: Line, name: str, scale: str, base: float) -> float:
    """Read the angle at which a point was aimed at on another scale of the instrument."""
    step = max(float(line.truth["step"]), 0.5 if scale == "fixed distance" else 0.0)
    angle = float(line.truth[f"angle_{name.removesuffix('_reading')}"])
    return _mark(angle, scale, base, step)


def _mark(angle: float, scale: str, base: float, step: float) -> float:
    columns = (np.array([value]) for value in (angle, scale, base, step))
    return float(read_angle(*columns)[0])


def _read_on(scale: str) -> Spoil:
    def spoil(line: Line, random: np.random.Generator) -> Cells | None:
        shown = dict(SCALES_OF[line.truth["kind"]])
        if line.truth["scale"] == scale or scale not in shown:
            return None
        return {name: _aim_again(line, name, scale, shown[scale]) for name in READINGS}

    return spoil


def _read_on_base(base: float) -> Spoil:
    def spoil(line: Line, random: np.random.Generator) -> Cells | None:
        offered = {made_for for _, made_for in SCALES_OF[line.truth["kind"]]}
        now = line.truth["base_of_scale"]
        if line.truth["scale"] != "fixed distance" or base not in offered - {now}:
            return None
        return {name: _aim_again(line, name, "fixed distance", base) for name in READINGS}

    return spoil


# ---- units


def _distance_in_other_unit(line: Line, random: np.random.Generator) -> Cells:
    by = 1 / FOOT if line.units == "metric" else FOOT
    return {"distance": round(line.number("distance") * by, 1)}


def _width_in_other_unit(line: Line, random: np.random.Generator) -> Cells:
    by, places = (1 / FOOT, 0) if line.units == "metric" else (FOOT, 1)
    return {name: round(line.number(name) * by, places) for name in WIDTHS}


def _diameter_in_other_unit(line: Line, random: np.random.Generator) -> Cells:
    by = 1 / INCH if line.units == "metric" else INCH
    return {"diameter": round(line.number("diameter") * by, 1)}


def _girth(line: Line, random: np.random.Generator) -> Cells:
    return {"diameter": round(line.number("diameter") * pi, 1)}


# ---- slips


def _on_text(name: str, edit: Callable[[str, np.random.Generator], str | None]) -> Spoil:
    """Edit the digits of one cell."""

    def spoil(line: Line, random: np.random.Generator) -> Cells | None:
        old = line.number(name)
        if not isfinite(old) or old == 0:
            return None
        text = edit(f"{abs(old):.10g}", random)
        return {name: float(np.copysign(float(text), old))} if text not in (None, "", ".") else None

    return spoil


def _move_point(text: str, random: np.random.Generator) -> str:
    return f"{float(text) * random.choice([0.1, 10.0]):.10g}"


def _places(text: str) -> list[int]:
    return [i for i in range(len(text)) if text[i].isdigit()]


def _drop(text: str, random: np.random.Generator) -> str | None:
    if len(_places(text)) < 2:
        return None
    at = int(random.choice(_places(text)))
    return text[:at] + text[at + 1 :]


def _double(text: str, random: np.random.Generator) -> str:
    at = int(random.choice(_places(text)))
    return text[: at + 1] + text[at:]


def _transpose(text: str, random: np.random.Generator) -> str | None:
    """Swap two neighbouring digits, also over the point: 18.4 may become 81.4 or 14.8."""
    places = _places(text)
    pairs = [(i, j) for i, j in pairwise(places) if text[i] != text[j]]
    if not pairs:
        return None
    i, j = pairs[int(random.integers(len(pairs)))]
    swapped = list(text)
    swapped[i], swapped[j] = text[j], text[i]
    return "".join(swapped)


def _misread_first(text: str, random: np.random.Generator) -> str | None:
    """Take the first digit for another: mostly one that looks like it when written by hand."""
    if text[0] == "0":
        return None
    any_other = "".join(d for d in "123456789" if d != text[0])
    among = LOOK_ALIKE[text[0]] if random.random() < 0.7 else any_other
    return str(random.choice(list(among))) + text[1:]


def _foot_sign(line: Line, random: np.random.Generator) -> Cells | None:
    foot = line.number("foot_reading")
    return {"foot_reading": -foot} if foot < 0 else None


def _swap(one: str, other: str) -> Spoil:
    def spoil(line: Line, random: np.random.Generator) -> Cells:
        return {one: line.number(other), other: line.number(one)}

    return spoil


def _one_share(line: Line, random: np.random.Generator) -> Cells | None:
    if line.truth["scale"] != "percent":
        return None
    name = str(random.choice(READINGS))
    return {name: round(line.number(name) / 100, 4)}


def _all_shares(line: Line, random: np.random.Generator) -> Cells | None:
    if line.truth["scale"] != "percent":
        return None
    return {name: round(line.number(name) / 100, 4) for name in READINGS}


def _neighbour(name: str) -> Spoil:
    def spoil(line: Line, random: np.random.Generator) -> Cells | None:
        if line.above is None or not isfinite(line.number(name)):
            return None
        other = float(line.above[name])
        factor = max(other, line.number(name)) / min(other, line.number(name))
        return {name: other} if factor >= OTHER_FROM else None

    return spoil


# ---- what the crew did


def _aim_at(line: Line, name: str, tangent: float) -> Cells:
    """Aim at another tangent than the point's own, with the error that this aim had."""
    truth, point = line.truth, name.removesuffix("_reading")
    height, level = (truth["height"] if point == "tip" else truth["base"]), truth["level"]
    away = truth["offset"] if point == "tip" else 0.0
    error = truth[f"angle_{point}"] - degrees(atan2(height - truth["eye"], level - away))
    angle = degrees(atan(tangent)) + error
    return {name: _mark(angle, truth["scale"], truth["base_of_scale"], truth["step"])}


def _along_slope(line: Line, random: np.random.Generator) -> Cells | None:
    by = sqrt(1 + float(line.truth["rise"]) ** 2)
    if by < 1.02:
        return None
    return {"distance": round(line.number("distance") * by, 1)}


def _near_edge(line: Line, random: np.random.Generator) -> Cells | None:
    """Aim at the outline of an elliptic crown: from near it hides the tip behind its edge."""
    truth = line.truth
    half, depth = truth["wide"] / 2, (truth["height"] - truth["base"]) / 2
    middle = truth["base"] + depth
    part = np.linspace(0.0, 0.95, 40)
    seen = (middle + depth * np.sqrt(1 - part**2) - truth["eye"]) / (truth["level"] - half * part)
    tip = (truth["height"] - truth["eye"]) / truth["level"]
    edge = tip + random.uniform(0.6, 1.0) * (float(seen.max()) - tip)
    if not line.broad or tip <= 0 or edge < 1.05 * tip:
        return None
    return _aim_at(line, "tip_reading", edge)


def _lean(line: Line, random: np.random.Generator) -> Cells | None:
    """The tip leans toward the crew or away by an eighth to a quarter of the height."""
    truth = line.truth
    away = float(random.choice([-1, 1]) * random.uniform(0.12, 0.25)) * truth["height"]
    if truth["level"] - away < truth["level"] / 3:
        return None
    tangent = (truth["height"] - truth["eye"]) / (truth["level"] - away)
    return _aim_at(line, "tip_reading", tangent)


def _dead_top(line: Line, random: np.random.Generator) -> Cells | None:
    """Aim at the living top of a tree whose upper 15 to 40 % are dead."""
    truth = line.truth
    living = random.uniform(0.60, 0.85) * truth["height"]
    if living <= truth["base"]:
        return None
    return _aim_at(line, "tip_reading", (living - truth["eye"]) / truth["level"])


def _stray_branch(line: Line, random: np.random.Generator) -> Cells | None:
    truth = line.truth
    if truth["base"] < 1.5:
        return None
    low = random.uniform(0.2, 0.5) * truth["base"]
    return _aim_at(line, "base_reading", (low - truth["eye"]) / truth["level"])


def _base_to_ground(line: Line, random: np.random.Generator) -> Cells | None:
    """Aim at the ground under the near edge of the crown instead of at its base."""
    truth = line.truth
    near = random.uniform(0.5, 1.0) * truth["wide"] / 2
    left = truth["level"] - near
    below = -truth["eye"] - truth["rise"] * near
    if left < 2 or below >= 0:
        return None
    return _aim_at(line, "base_reading", below / left)


_SLIPS = (
    ("decimal", "decimal moved", _move_point, ("distance", "tip", "diameter")),
    ("dropped", "digit dropped", _drop, ("distance", "tip", "diameter", "foot")),
    ("doubled", "digit doubled", _double, ("distance", "tip", "diameter")),
    ("transposed", "digits transposed", _transpose, ("distance", "tip", "diameter")),
)  # fmt: skip


def _field(name: str) -> str:
    return name if name in ("distance", "diameter") else f"{name}_reading"


# kind, variant, function
_RECORDS: tuple[tuple[str, str, Spoil], ...] = (
    ("other scale", "scale-degrees", _read_on("degrees")),
    ("other scale", "scale-percent", _read_on("percent")),
    ("other scale", "scale-topographic", _read_on("topographic")),
    *(("other scale", f"scale-for-{base:g}-m", _read_on_base(base)) for base in BASES),
    ("distance in other unit", "distance-other-unit", _distance_in_other_unit),
    ("widths in other unit", "width-other-unit", _width_in_other_unit),
    ("diameter in other unit", "diameter-inches", _diameter_in_other_unit),
    ("girth for diameter", "diameter-girth", _girth),
    *(
        (kind, f"{slip}-{name}", _on_text(_field(name), edit))
        for slip, kind, edit, names in _SLIPS
        for name in names
    ),
    ("foot sign lost", "foot-sign", _foot_sign),
    ("tip and another swapped", "foot-tip-swapped", _swap("foot_reading", "tip_reading")),
    ("tip and another swapped", "base-tip-swapped", _swap("base_reading", "tip_reading")),
    ("foot and base swapped", "foot-base-swapped", _swap("foot_reading", "base_reading")),
    ("one reading as a share", "reading-as-share", _one_share),
    ("all readings as shares", "readings-as-shares", _all_shares),
    ("first digit of the tip misread", "misread-tip", _on_text("tip_reading", _misread_first)),
    ("neighbour's diameter", "neighbour-diameter", _neighbour("diameter")),
    ("neighbour's distance", "neighbour-distance", _neighbour("distance")),
    ("slope distance as level", "slope-as-level", _along_slope),
    ("near edge of the crown", "near-edge", _near_edge),
    ("lean", "lean", _lean),
    ("dead top left out", "dead-top", _dead_top),
    ("base on a stray branch", "stray-branch", _stray_branch),
    ("base to the ground below", "base-to-ground", _base_to_ground),
)
KINDS: dict[str, dict[str, Spoil]] = {}
for _kind, _variant, _spoil in _RECORDS:
    KINDS.setdefault(_kind, {})[_variant] = _spoil
# what the crew aimed at, or where it taped: the line as typed is a line that could be true
SOFT = ("slope distance as level", "near edge of the crown", "lean", "dead top left out",
        "base on a stray branch")  # fmt: skip
# a variant is its own cause; a lean toward the crew and a near edge show as one and the same
CAUSES: dict[str, tuple[str, ...]] = {variant: (variant,) for _, variant, _ in _RECORDS} | {
    "near-edge": ("near-edge", "lean"),
    "lean": ("lean", "near-edge"),
}


def spoil_line(
    line: Line, position: int, kind: str, variant: str, random: np.random.Generator
) -> Injected | None:
    """Make one mistake on one line; None where the line would stay as it is.

    Parameters
    ----------
    line : Line
        The line as it should be.
    position : int
        Its position among the survey's lines.
    kind, variant : str
        Keys of `KINDS`.
    random : Generator
        Source of chance.
    """
    after = KINDS[kind][variant](line, random)
    if after is None:
        return None
    before = {name: line.number(name) for name in after}
    sound = all(isfinite(value) for value in (*before.values(), *after.values()))
    if not sound or all(abs(after[name] - before[name]) < 1e-9 for name in after):
        return None
    return Injected(position, kind, variant, CAUSES[variant], before, after)


def spoil_plots(
    keyed: Keyed, lines: pd.DataFrame, share: float, seed: int
) -> tuple[pd.DataFrame, dict[str, str]]:
    """Read all lines of some plots on another scale of the instrument.

    Parameters
    ----------
    keyed : Keyed
        The sheets without a mistake.
    lines : DataFrame
        Their lines, which may hold other mistakes; those on the chosen plots are lost.
    share : float
        Share of the plots; at least one plot is chosen where one can be.
    seed : int
        Start of the random numbers.

    Returns
    -------
    (DataFrame, dict)
        The lines, and for each spoilt plot the cause that is right.
    """
    random = np.random.default_rng([seed, 29])
    typed, truth = keyed.lines.to_dict("records"), keyed.truth.to_dict("records")
    names = keyed.plots["plot"].to_numpy()
    wanted, spoilt = max(1, round(share * len(names))), {}
    lines = lines.copy()
    for plot in random.permutation(names).tolist():
        rows = np.flatnonzero(keyed.lines["plot"].to_numpy() == plot)
        if len(spoilt) >= wanted or len(rows) < FEWEST_ON_PLOT:
            continue
        own = [take_line(keyed, typed, truth, int(row)) for row in rows]
        for variant in random.permutation(list(KINDS["other scale"])).tolist():
            after = [KINDS["other scale"][variant](line, random) for line in own]
            if any(cells is None for cells in after):
                continue
            lines.loc[rows, keyed.lines.columns] = keyed.lines.loc[rows]
            for row, cells in zip(rows, after, strict=True):
                for name, value in (cells or {}).items():
                    lines.loc[row, name] = value
            spoilt[plot] = variant
            break
    return lines, spoilt


def inject(
    keyed: Keyed, density: float, seed: int, kinds: tuple[str, ...] = tuple(KINDS)
) -> tuple[pd.DataFrame, list[Injected]]:
    """Put mistakes of many kinds into a share of the lines, one a tree at most.

    Parameters
    ----------
    keyed : Keyed
        The sheets without a mistake.
    density : float
        Share of the lines, 0 to 1.
    seed : int
        Start of the random numbers.
    kinds : tuple of str
        Keys of `KINDS`, all equally likely where the line can show them.

    Returns
    -------
    (DataFrame, list of Injected)
        The lines with the mistakes, and the mistakes in the order of their lines.
    """
    random = np.random.default_rng([seed, 23])
    lines = keyed.lines.copy()
    typed, truth = keyed.lines.to_dict("records"), keyed.truth.to_dict("records")
    wanted = max(1, round(density * len(lines)))
    made: list[Injected] = []
    touched: set[tuple[str, str]] = set()
    for position in random.permutation(len(lines)).tolist():
        tree = (typed[position]["plot"], typed[position]["tree"])
        if len(made) >= wanted:
            break
        if tree in touched:
            continue
        line = take_line(keyed, typed, truth, position)
        one = _spoil_somehow(line, position, kinds, random)
        if one is not None:
            touched.add(tree)
            made.append(one)
    for one in made:
        for name, value in one.after.items():
            lines.loc[one.line, name] = value
    return lines, sorted(made, key=lambda one: one.line)


def _spoil_somehow(
    line: Line, position: int, kinds: tuple[str, ...], random: np.random.Generator
) -> Injected | None:
    """Make the first mistake that the line can show, in an order by chance."""
    for kind in random.permutation(kinds).tolist():
        for variant in random.permutation(list(KINDS[kind])).tolist():
            one = spoil_line(line, position, kind, variant, random)
            if one is not None:
                return one
    return None


def take_line(keyed: Keyed, typed: list[dict], truth: list[dict], position: int) -> Line:
    """Return one line of the sheets with what is true of it.

    Parameters
    ----------
    keyed : Keyed
        The sheets.
    typed, truth : list of dict
        Their lines and truth as records.
    position : int
        Which line.
    """
    own = typed[position]
    first = _first_setup(typed, position)
    above = _tree_above(typed, position)
    broad = kind_of(first["species"].split()[0]) == "broadleaf"
    return Line(own, truth[position], above, broad, keyed.units)


def _first_setup(typed: list[dict], position: int) -> dict:
    while typed[position]["species"] == "":
        position -= 1
    return typed[position]


def _tree_above(typed: list[dict], position: int) -> dict | None:
    """Return the nearest line above that is another tree's first set-up on the same plot."""
    own = typed[position]
    for at in range(position - 1, -1, -1):
        other = typed[at]
        if other["plot"] != own["plot"]:
            return None
        if other["tree"] != own["tree"] and other["species"] != "":
            return other
    return None
