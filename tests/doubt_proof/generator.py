"""A frozen generator of whole surveys: real trees in, keyed lines out, with habits of crews.

It has its own geometry and its own constants and imports nothing of the program. Each person has
an eye height, a habit of standing and a way of writing distances; each instrument a zero error.
Tips lie beside the stem, so that no height is exact. Three sets: near-level ground, rolling
ground, and a street, where the carriageway and not the tree decides how far one can stand.
Metres, centimetres and degrees.

Frozen means: not to be changed to make a figure better. A new habit is a new set.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

# kind of instrument, scale, step that is read, base of the scale, share of the plots
CRAFTS = (
    ("clinometer, percent and degrees", "percent", 1.0, 100.0, 0.40),
    ("clinometer, percent and degrees", "degrees", 1.0, np.nan, 0.25),
    ("clinometer, percent and topographic", "percent", 1.0, 100.0, 0.10),
    ("clinometer, percent and topographic", "topographic", 1.0, 66.0, 0.10),
    ("electronic angle meter", "degrees", 0.1, np.nan, 0.10),
    ("electronic angle meter", "percent", 0.1, 100.0, 0.05),
)
U_AIM, U_ZERO = 0.25, 0.15  # degrees
U_DISTANCE = 0.10  # metres
SIDEWAYS = 0.03  # spread of the tip's offset toward the observer, share of the height
PEOPLE = 5
SHARE_TWICE = 0.08


@dataclass(frozen=True)
class Ground:
    """One set: spread of the ground's slope along the sight, and of the standing."""

    slope: float
    street: bool


SETS = {
    "near level": Ground(0.02, False),
    "rolling": Ground(0.10, False),
    "street": Ground(0.03, True),
}


@dataclass(frozen=True)
class Keyed:
    """The sheets as keyed without a mistake, in shown metric units."""

    lines: pd.DataFrame
    plots: pd.DataFrame
    instruments: pd.DataFrame
    people: pd.DataFrame


def generate(trees: pd.DataFrame, ground: Ground, seed: int) -> Keyed:
    """Survey these trees.

    Parameters
    ----------
    trees : DataFrame
        Columns species, dbh, height, base, along, across; in cm and m.
    ground : Ground
        One of `SETS`.
    seed : int
        Start of the random numbers.
    """
    random = np.random.default_rng(seed)
    trees = trees.iloc[random.permutation(len(trees))].reset_index(drop=True)
    plot = _plots_of(random, len(trees))
    count = int(plot.max()) + 1
    person = random.integers(0, PEOPLE, count)
    craft = random.choice(len(CRAFTS), count, p=[c[4] for c in CRAFTS])
    number = np.concatenate([np.arange(1, n + 1) for n in np.bincount(plot)])
    who = _people(random)
    twice = np.flatnonzero(random.random(len(trees)) < SHARE_TWICE)
    order = np.sort(np.r_[np.arange(len(trees)), twice])
    again = np.r_[False, order[1:] == order[:-1]]
    frame = pd.DataFrame(
        {
            "plot": [f"P{i + 1}" for i in plot[order]],
            "tree": number[order].astype(str),
            "setup": np.where(again, 2.0, np.nan),
            "species": np.where(again, "", trees["species"].to_numpy()[order]),
            "diameter": np.where(again, np.nan, trees["dbh"].to_numpy()[order].round(1)),
        }
    )
    wide = np.sort(trees[["along", "across"]].to_numpy(), axis=1).round(1)[order]
    frame["width_widest"] = np.where(again, np.nan, wide[:, 1])
    frame["width_across"] = np.where(again, np.nan, wide[:, 0])
    own, zero = plot[order], random.normal(0, U_ZERO, count)
    seen = _sight(random, trees.iloc[order], ground, who.iloc[person[own]], own)
    frame = pd.concat([frame, _read(random, seen, zero[own], craft[own])], axis=1)
    slope = np.full(count, ground.slope) if ground.slope > 0.05 else np.full(count, np.nan)
    return Keyed(frame, _plots(person, craft, slope), _instruments(), _sheet_of(who))


def _plots_of(random: np.random.Generator, trees: int) -> np.ndarray:
    """Give each tree its plot: 10 to 16 trees stand on one."""
    sizes = random.integers(10, 17, trees // 10 + 2)
    return np.repeat(np.arange(len(sizes)), sizes)[:trees]


def _people(random: np.random.Generator) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "eye": random.normal(1.6, 0.09, PEOPLE),
            "habit": random.uniform(0.85, 1.25, PEOPLE),
            "step": random.choice([0.1, 0.1, 0.5, 1.0], PEOPLE),
        }
    )


def _sight(
    random: np.random.Generator,
    trees: pd.DataFrame,
    ground: Ground,
    who: pd.DataFrame,
    plot: np.ndarray,
) -> pd.DataFrame:
    """Stand somewhere; return the level distance and the rise to each point."""
    count = len(trees)
    height = trees["height"].to_numpy()
    clear = trees[["along", "across"]].max(axis=1).to_numpy() / 2 + 1.5
    level = height * who["habit"].to_numpy() * np.exp(random.normal(0, 0.15, count))
    if ground.street:
        across = random.choice([11.0, 14.0, 17.0, 21.0], int(plot.max()) + 1)[plot]
        crosses = random.random(count) < 0.6
        level = np.where(crosses, across + random.normal(0, 0.5, count), level)
    level = np.maximum(np.maximum(level, clear), np.maximum(6.0, 0.55 * height))
    step = who["step"].to_numpy()
    level = np.where(step > 0.1, np.round(level / step) * step, level)
    eye = who["eye"].to_numpy() - level * random.normal(0, ground.slope, count)
    offset = random.normal(0, SIDEWAYS, count) * height
    return pd.DataFrame(
        {
            "level": level,
            "foot": -eye / level,
            "base": (trees["base"].to_numpy() - eye) / level,
            "tip": (height - eye) / (level - offset),
        }
    )


def _read(
    random: np.random.Generator, seen: pd.DataFrame, zero: np.ndarray, craft: np.ndarray
) -> pd.DataFrame:
    """Read distance and angles as they are written."""
    count = len(seen)
    tape = random.normal(0, U_DISTANCE, count)
    whole = np.abs(seen["level"] * 2 - (seen["level"] * 2).round()) < 1e-9
    frame = {"distance": (seen["level"] + np.where(whole, 0.0, tape)).round(1)}
    for point in ("foot", "base", "tip"):
        angle = np.degrees(np.arctan(seen[point])) + zero + random.normal(0, U_AIM, count)
        frame[f"{point}_reading"] = mark(angle.to_numpy(), craft)
    table = pd.DataFrame(frame)
    table["foot_above_eye"] = table["foot_reading"] > 0
    return table


def mark(angle: np.ndarray, craft: np.ndarray) -> np.ndarray:
    """Read an angle on the scale of each craft, to the nearest mark."""
    step = np.array([c[2] for c in CRAFTS])[craft]
    base = np.array([c[3] for c in CRAFTS])[craft]
    shown = np.where(np.isnan(base), angle, base * np.tan(np.radians(angle)))
    return np.round(np.round(shown / step) * step, 6) + 0.0


def _plots(person: np.ndarray, craft: np.ndarray, slope: np.ndarray) -> pd.DataFrame:
    count = len(person)
    return pd.DataFrame(
        {
            "plot": [f"P{i + 1}" for i in range(count)],
            "status": "measured",
            "date": pd.Timestamp("2024-06-03") + pd.to_timedelta(np.arange(count) // 8, unit="D"),
            "crew": [f"Q{i + 1}" for i in person],
            "instrument": [f"I{CRAFTS[c][0]}" for c in craft],
            "scale": [CRAFTS[c][1] for c in craft],
            "distance_kind": "level",
            "slope": slope,
        }
    )


def _instruments() -> pd.DataFrame:
    kinds = list(dict.fromkeys(c[0] for c in CRAFTS))
    return pd.DataFrame(
        {"instrument": [f"I{kind}" for kind in kinds], "kind": kinds, "distance_to": "centre"}
    )


def _sheet_of(who: pd.DataFrame) -> pd.DataFrame:
    """Every second person's eye height is on the sheet, to 5 cm."""
    eye = (who["eye"] / 0.05).round() * 0.05
    known = np.arange(len(who)) % 2 == 0
    return pd.DataFrame(
        {
            "initials": [f"Q{i + 1}" for i in range(len(who))],
            "eye_height": np.where(known, eye.round(2), np.nan),
        }
    )
