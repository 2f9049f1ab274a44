"""Mistakes put into keyed lines, frozen with the generator: what clerks and crews really do.

Each is a function of the lines, the positions to spoil and a source of chance; it returns the
positions that it changed, with the lines changed in place. A position where the mistake would
change nothing is left out. `STANDS_FOR` says which causes name the mistake rightly.
"""

from collections.abc import Callable

import numpy as np
import pandas as pd

from tests.doubt_proof.generator import CRAFTS, mark

READINGS = ("foot_reading", "base_reading", "tip_reading")
BASES = {"percent": 100.0, "topographic": 66.0}

Spoil = Callable[[pd.DataFrame, np.ndarray, np.random.Generator], np.ndarray]


def _angle(reading: np.ndarray, scale: np.ndarray) -> np.ndarray:
    base = np.array([BASES.get(s, np.nan) for s in scale])
    return np.where(np.isnan(base), reading, np.degrees(np.arctan(reading / base)))


def _read_on(other: str, when: str) -> Spoil:
    """The crew read `other` where the sheet says `when`."""

    def spoil(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
        kinds = {c[0] for c in CRAFTS if c[1] == other}
        good = lines["_craft_scale"].eq(when) & lines["_kind"].isin(kinds)
        at = at[good.to_numpy()[at]]
        for name in READINGS:
            angle = _angle(lines[name].to_numpy()[at], np.full(len(at), when))
            whole = np.array([c[1] == other and c[2] == 1.0 for c in CRAFTS]).argmax()
            lines.loc[at, name] = mark(angle, np.full(len(at), whole))
        return at

    return spoil


def _new(name: str, change: Callable[[np.ndarray, np.random.Generator], np.ndarray]) -> Spoil:
    """Change one cell; only where the value becomes another one."""

    def spoil(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
        old = lines[name].to_numpy(dtype=float)[at]
        new = change(old, random)
        good = np.isfinite(old) & np.isfinite(new) & (new != old)
        lines.loc[at[good], name] = new[good]
        return at[good]

    return spoil


def _as_text(value: float) -> str:
    return f"{abs(value):.10g}"


def _digits(edit: Callable[[str, np.random.Generator], str | None]):
    def change(old: np.ndarray, random: np.random.Generator) -> np.ndarray:
        made = []
        for value in old:
            text = edit(_as_text(value), random) if np.isfinite(value) else None
            made.append(np.nan if text in (None, "", ".") else np.copysign(float(text), value))
        return np.array(made)

    return change


def _transpose(text: str, random: np.random.Generator) -> str | None:
    pairs = [
        i for i in range(len(text) - 1)
        if text[i] != text[i + 1] and text[i].isdigit() and text[i + 1].isdigit()
    ]  # fmt: skip
    if not pairs:
        return None
    i = int(random.choice(pairs))
    return text[:i] + text[i + 1] + text[i] + text[i + 2 :]


def _drop(text: str, random: np.random.Generator) -> str | None:
    places = [i for i in range(len(text)) if text[i].isdigit()]
    if len(places) < 2:
        return None
    i = int(random.choice(places))
    return text[:i] + text[i + 1 :]


def _double(text: str, random: np.random.Generator) -> str:
    places = [i for i in range(len(text)) if text[i].isdigit()]
    i = int(random.choice(places))
    return text[: i + 1] + text[i:]


def _decimal(old: np.ndarray, random: np.random.Generator) -> np.ndarray:
    return np.round(old * random.choice([0.1, 10.0], len(old)), 4)


def _swap(one: str, other: str) -> Spoil:
    def spoil(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
        a, b = lines[one].to_numpy()[at], lines[other].to_numpy()[at]
        lines.loc[at, one], lines.loc[at, other] = b, a
        return at[a != b]

    return spoil


def _sign(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
    at = at[lines["foot_reading"].to_numpy()[at] < 0]
    lines.loc[at, "foot_reading"] = -lines["foot_reading"].to_numpy()[at]
    return at


def _sign_and_tick(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
    at = _sign(lines, at, random)
    lines.loc[at, "foot_above_eye"] = True
    return at


def _shares(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
    for name in READINGS:
        lines.loc[at, name] = lines[name].to_numpy()[at] / 100
    return at


def _neighbour(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
    at = at[at > 0]
    old, above = lines["distance"].to_numpy()[at], lines["distance"].to_numpy()[at - 1]
    lines.loc[at, "distance"] = above
    return at[np.abs(np.log(above / old)) > np.log(1.3)]


def _higher(name: str, low: float, high: float) -> Spoil:
    """A crew's mistake about a point: its tangent over the foot is a factor of the true one."""

    def spoil(lines: pd.DataFrame, at: np.ndarray, random: np.random.Generator) -> np.ndarray:
        scale = lines["_craft_scale"].to_numpy()[at]
        foot, point = (
            np.tan(np.radians(_angle(lines[n].to_numpy()[at], scale)))
            for n in ("foot_reading", name)
        )
        tangent = foot + (point - foot) * random.uniform(low, high, len(at))
        angle = np.degrees(np.arctan(tangent))
        lines.loc[at, name] = mark(angle, lines["_craft"].to_numpy()[at])
        return at

    return spoil


_TIP, _FAR, _STEM = "tip_reading", "distance", "diameter"

KINDS: dict[str, Spoil] = {
    "degrees taken as percent": _read_on("degrees", "percent"),
    "percent taken as degrees": _read_on("percent", "degrees"),
    "topographic taken as percent": _read_on("topographic", "percent"),
    "percent taken as topographic": _read_on("percent", "topographic"),
    "feet for metres": _new(_FAR, lambda old, r: np.round(old / 0.3048, 1)),
    "decimal moved, distance": _new(_FAR, _decimal),
    "decimal moved, tip": _new(_TIP, _decimal),
    "digit dropped, distance": _new(_FAR, _digits(_drop)),
    "digit dropped, tip": _new(_TIP, _digits(_drop)),
    "digit dropped, diameter": _new(_STEM, _digits(_drop)),
    "digit doubled, distance": _new(_FAR, _digits(_double)),
    "digit doubled, tip": _new(_TIP, _digits(_double)),
    "digits transposed, distance": _new(_FAR, _digits(_transpose)),
    "digits transposed, tip": _new(_TIP, _digits(_transpose)),
    "digits transposed, diameter": _new(_STEM, _digits(_transpose)),
    "foot and tip swapped": _swap("foot_reading", _TIP),
    "base and tip swapped": _swap("base_reading", _TIP),
    "foot sign lost": _sign,
    "foot sign lost, and ticked": _sign_and_tick,
    "typed with a % sign": _shares,
    "inches for centimetres": _new(_STEM, lambda old, r: np.round(old / 2.54, 1)),
    "girth for diameter": _new(_STEM, lambda old, r: np.round(old * np.pi, 1)),
    "neighbour's distance": _neighbour,
    "near edge taken for the top": _higher(_TIP, 1.15, 1.4),
    "dead top left out": _higher(_TIP, 0.6, 0.85),
    "base on a stray branch": _higher("base_reading", 0.2, 0.5),
}

# the causes that name each kind rightly
STANDS_FOR: dict[str, tuple[str, ...]] = {
    "degrees taken as percent": ("scale-degrees",),
    "percent taken as degrees": ("scale-percent",),
    "topographic taken as percent": ("scale-topographic",),
    "percent taken as topographic": ("scale-percent",),
    "feet for metres": ("distance-other-unit",),
    "decimal moved, distance": ("decimal-distance",),
    "decimal moved, tip": ("decimal-tip",),
    "digit dropped, distance": ("dropped-distance", "decimal-distance"),
    "digit dropped, tip": ("dropped-tip", "decimal-tip"),
    "digit dropped, diameter": ("dropped-diameter", "decimal-diameter"),
    "digit doubled, distance": ("doubled-distance",),
    "digit doubled, tip": ("doubled-tip",),
    "digits transposed, distance": ("transposed-distance",),
    "digits transposed, tip": ("transposed-tip",),
    "digits transposed, diameter": ("transposed-diameter",),
    "foot and tip swapped": ("foot-tip-swapped",),
    "base and tip swapped": ("base-tip-swapped",),
    "foot sign lost": ("foot-sign",),
    "foot sign lost, and ticked": ("foot-sign",),
    "typed with a % sign": ("readings-as-shares",),
    "inches for centimetres": ("diameter-inches",),
    "girth for diameter": ("diameter-girth",),
    "neighbour's distance": ("neighbour-distance",),
    "near edge taken for the top": ("near-edge", "lean"),
    "dead top left out": ("dead-top",),
    "base on a stray branch": ("stray-branch",),
}


def whole_plots(
    lines: pd.DataFrame, kind: str, random: np.random.Generator, share: float
) -> np.ndarray:
    """Read whole plots of ten trees or more on the wrong scale; return the changed positions."""
    changed: list[np.ndarray] = []
    for _, rows in lines.groupby("plot", sort=False):
        if len(rows) >= 10 and random.random() < share:
            changed.append(KINDS[kind](lines, rows.index.to_numpy(), random))
    return np.concatenate(changed) if changed else np.empty(0, dtype=int)


def single_lines(
    lines: pd.DataFrame, kind: str, random: np.random.Generator, share: float
) -> np.ndarray:
    """Put one kind of mistake into a share of the lines, at most one a tree."""
    first = np.flatnonzero(lines["setup"].isna())
    chosen = np.sort(random.choice(first, max(1, int(share * len(first))), replace=False))
    return KINDS[kind](lines, chosen, random)
