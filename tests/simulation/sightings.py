"""A frozen generator of sightings: true trees in, keyed lines out.

It has its own geometry and its own constants and imports nothing of the program, so that what it
simulates cannot be bent toward what the program expects. Every instrument has a zero error and a
tape bias of its own, the same in all its readings; every aim and every distance has an error of
its own; readings are rounded to the mark of the scale. People have their own eye heights. The
relief has three grades: near level, rolling and steep. Metres, centimetres and degrees.

Frozen means: not to be changed to make a test pass. A new habit of crews is a new generator.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

# kind of instrument, scale, step that is read, base of a fixed-distance scale, kind of distance
CRAFTS = (
    ("clinometer, percent and degrees", "percent", 1.0, 100.0, "level"),
    ("clinometer, percent and degrees", "degrees", 1.0, np.nan, "level"),
    ("clinometer, percent and degrees", "percent", 1.0, 100.0, "along slope"),
    ("clinometer, degrees and topographic", "topographic", 1.0, 66.0, "level"),
    ("clinometer, scales for 20 m and 25 m", "fixed distance", 0.5, 20.0, "level"),
    ("electronic angle meter", "degrees", 0.1, np.nan, "level"),
    ("laser with angles", "degrees", 0.1, np.nan, "straight to the foot"),
)
U_AIM, U_ZERO = 0.2, 0.2  # degrees
U_DISTANCE, U_TAPE = 0.1, 0.003  # metres; share of the distance
RELIEF = {"near level": 0.02, "rolling": 0.12, "steep": 0.30}  # spread of the ground's slope
INSTRUMENTS = 160
SHARE_DEAD_TOP = 0.08


@dataclass(frozen=True)
class Sightings:
    """Keyed lines and the sheets beside them, in shown metric units, and the truth a tree."""

    lines: pd.DataFrame
    plots: pd.DataFrame
    instruments: pd.DataFrame
    people: pd.DataFrame
    truth: pd.DataFrame


def simulate(height: np.ndarray, crown_base: np.ndarray, setups: int, seed: int) -> Sightings:
    """Simulate the same number of set-ups for each tree.

    Parameters
    ----------
    height, crown_base : array_like
        True total height and crown base above the foot [m]; one each a tree.
    setups : int
        Set-ups a tree, all with the plot's instrument, each from a place of its own.
    seed : int
        Start of the random numbers.
    """
    random = np.random.default_rng(seed)
    trees = len(height)
    craft_of = np.arange(INSTRUMENTS) % len(CRAFTS)
    zero = random.normal(0, U_ZERO, INSTRUMENTS)
    tape = random.normal(0, U_TAPE, INSTRUMENTS)
    eye = random.normal(1.6, 0.09, INSTRUMENTS)
    instrument = random.integers(0, INSTRUMENTS, trees)
    relief = random.choice(list(RELIEF.values()), trees)
    dead_top = random.random(trees) < SHARE_DEAD_TOP
    crown_top = np.where(dead_top, height - 0.25 * (height - crown_base), height)
    truth = pd.DataFrame({"total_height": height, "crown_top": crown_top, "crown_base": crown_base})

    tree = np.repeat(np.arange(trees), setups)
    own = instrument[tree]
    lines = pd.DataFrame(
        {
            "plot": [f"P{i + 1}" for i in own],
            "tree": [str(i + 1) for i in tree],
            "setup": np.tile(np.arange(1, setups + 1), trees),
            "condition": np.where(dead_top[tree], "T", ""),
        }
    )
    readings = _readings(random, truth.iloc[tree], relief[tree], eye[own], (zero[own], tape[own]),
                         craft_of[own])  # fmt: skip
    lines = pd.concat([lines, readings], axis=1)
    lines.loc[~dead_top[tree], "top_reading"] = np.nan
    return Sightings(lines, _plots(craft_of), _instruments(craft_of), _people(eye), truth)


def _readings(
    random: np.random.Generator,
    truth: pd.DataFrame,
    relief: np.ndarray,
    eye: np.ndarray,
    faults: tuple[np.ndarray, np.ndarray],
    craft: np.ndarray,
) -> pd.DataFrame:
    """Stand somewhere, measure the distance, read the points."""
    zero, tape = faults
    count = len(truth)
    height = truth["total_height"].to_numpy()
    level = np.maximum(8.0, height * random.uniform(0.8, 1.5, count))
    ground = random.normal(0, relief, count)  # slope from the observer up to the foot
    foot_below_eye = eye - level * ground
    kind = np.array([c[4] for c in CRAFTS])[craft]
    true_distance = np.select(
        [kind == "along slope", kind == "straight to the foot"],
        [level * np.hypot(1, ground), np.hypot(level, foot_below_eye)],
        level,
    )
    distance = true_distance * (1 + tape) + random.normal(0, U_DISTANCE, count)

    def read(rise: np.ndarray) -> np.ndarray:
        angle = np.degrees(np.arctan2(rise, level)) + zero + random.normal(0, U_AIM, count)
        return _mark(angle, craft)

    frame = {"distance": np.round(distance, 2)}
    frame["foot_reading"] = read(-foot_below_eye)
    frame["base_reading"] = read(truth["crown_base"].to_numpy() - foot_below_eye)
    frame["top_reading"] = read(truth["crown_top"].to_numpy() - foot_below_eye)
    frame["tip_reading"] = read(height - foot_below_eye)
    along = read(level * ground)  # to a mark on the stem at the height of the eye
    frame["slope_reading"] = np.where(kind == "along slope", along, np.nan)
    return pd.DataFrame(frame)


def _mark(angle: np.ndarray, craft: np.ndarray) -> np.ndarray:
    """Read an angle on the scale of each craft, to the nearest mark."""
    step = np.array([c[2] for c in CRAFTS])[craft]
    base = np.array([c[3] for c in CRAFTS])[craft]
    shown = np.where(np.isnan(base), angle, base * np.tan(np.radians(angle)))
    return np.round(np.round(shown / step) * step, 6)


def _plots(craft_of: np.ndarray) -> pd.DataFrame:
    names = [str(i + 1) for i in range(len(craft_of))]
    return pd.DataFrame(
        {
            "plot": [f"P{n}" for n in names],
            "status": "measured",
            "crew": [f"Q{n}" for n in names],
            "instrument": [f"I{n}" for n in names],
            "scale": [CRAFTS[c][1] for c in craft_of],
            "distance_kind": [CRAFTS[c][4] for c in craft_of],
        }
    )


def _instruments(craft_of: np.ndarray) -> pd.DataFrame:
    fixed = [CRAFTS[c][1] == "fixed distance" for c in craft_of]
    return pd.DataFrame(
        {
            "instrument": [f"I{i + 1}" for i in range(len(craft_of))],
            "kind": [CRAFTS[c][0] for c in craft_of],
            "scale_distance": [20.0 if f else np.nan for f in fixed],
            "distance_to": "centre",
            "u_angle": U_AIM,
            "u_zero": U_ZERO,
            "u_distance": U_DISTANCE,
            "u_distance_share": U_TAPE,
            "origin": "the generator's own figures",
        }
    )


def _people(eye: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame(
        {"initials": [f"Q{i + 1}" for i in range(len(eye))], "eye_height": np.round(eye, 2)}
    )
