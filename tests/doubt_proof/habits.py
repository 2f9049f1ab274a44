"""A second generator of keyed surveys: five habits, each in a tuning and a held-out version.

Real trees in, keyed lines out, as the office would type them: metres and centimetres, or feet and
inches. Like the first generator it has its own geometry and imports nothing of the program. The
habits: rolling ground, fixed standing distances whatever the tree, steep ground, feet with the
topographic scale, and instruments whose scale is made for one distance.

Both versions have the same habits and other figures: distances, slopes, eye heights, tapes, and how
finely a crew reads its scale. Whoever improves the program looks at the tuning version alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

FOOT, INCH = 0.3048, 2.54
POINTS = ("foot", "base", "tip")
# standard deviations: one aim and the instrument's zero (degrees), a taped distance (m)
U_AIM, U_ZERO, U_DISTANCE = 0.25, 0.15, 0.10
# spread of the tip's offset toward the observer, as a share of the height
SIDEWAYS = 0.03
SHARE_TWICE = 0.08
PLOTS_A_DAY, CREWS_A_DAY = 6, 2
# the slope of one sight differs by so much from that of the plot
UNEVEN = 0.03
# what an instrument shows besides the scale that the crew chose: name and distance it is made for
SCALES_OF: dict[str, tuple[tuple[str, float], ...]] = {
    "clinometer, percent and degrees": (("percent", 100.0), ("degrees", np.nan)),
    "clinometer, percent and topographic": (("percent", 100.0), ("topographic", 66.0)),
    "clinometer, degrees and topographic": (("degrees", np.nan), ("topographic", 66.0)),
    "electronic angle meter": (("degrees", np.nan), ("percent", 100.0)),
    "clinometer, scales for 15 m and 20 m": (("fixed distance", 15.0), ("fixed distance", 20.0)),
    "clinometer, scales for 20 m and 25 m": (("fixed distance", 20.0), ("fixed distance", 25.0)),
    "clinometer, scales for 15 m to 40 m": tuple(
        ("fixed distance", base) for base in (15.0, 20.0, 25.0, 30.0, 40.0)
    ),
}


@dataclass(frozen=True)
class Craft:
    """One way of reading: kind of instrument, scale, the distance it is made for, steps, share.

    Each crew reads to one of the steps, all equally likely; `share` is that of the crews' days.
    """

    kind: str
    scale: str
    base: float
    steps: tuple[float, ...]
    share: float


@dataclass(frozen=True)
class Habit:
    """Ground, standing and instruments of one habit.

    `slope` is the least and the greatest tangent of a plot's ground. `stands` are the distances at
    which crews stand (m), none where the tree decides; `strays` is the share of the sights from
    somewhere else. Where `at_scale` is true, crews stand at the distance of their scale.
    """

    slope: tuple[float, float]
    crafts: tuple[Craft, ...]
    stands: tuple[float, ...] = ()
    strays: float = 0.0
    at_scale: bool = False
    units: str = "metric"


@dataclass(frozen=True)
class Version:
    """One version of all habits.

    People's eye heights (mean and spread, m), how far they stand in tree heights (least and
    greatest), the steps of their tapes and of crown widths, metric and in feet.
    """

    habits: Mapping[str, Habit]
    eye: tuple[float, float]
    far: tuple[float, float]
    tapes: tuple[float, ...]
    tapes_in_feet: tuple[float, ...]
    width_step: float
    width_step_in_feet: float


@dataclass(frozen=True)
class Keyed:
    """The sheets as typed without a mistake, in the units of the survey.

    `truth` has a row a line: the angles as aimed (degrees) and the geometry of the sight (m).
    """

    lines: pd.DataFrame
    truth: pd.DataFrame
    plots: pd.DataFrame
    instruments: pd.DataFrame
    people: pd.DataFrame
    units: str


def _optical(fine: tuple[float, ...], tenth: float) -> tuple[Craft, ...]:
    """The usual mixture: optical clinometers, and electronic meters for a share of the days."""
    level = "clinometer, percent and degrees"
    return (
        Craft(level, "percent", 100.0, fine, 0.40),
        Craft(level, "degrees", np.nan, fine, 0.32 - tenth / 2),
        Craft("clinometer, percent and topographic", "percent", 100.0, fine, 0.14 - tenth / 2),
        Craft("clinometer, percent and topographic", "topographic", 66.0, fine, 0.14),
        Craft("electronic angle meter", "degrees", np.nan, (0.1,), tenth),
    )


def _topographic(fine: tuple[float, ...]) -> tuple[Craft, ...]:
    return (
        Craft("clinometer, percent and topographic", "topographic", 66.0, fine, 0.60),
        Craft("clinometer, percent and topographic", "percent", 100.0, fine, 0.20),
        Craft("clinometer, degrees and topographic", "topographic", 66.0, fine, 0.20),
    )


def _fixed(*made_for: tuple[str, float, tuple[float, ...], float]) -> tuple[Craft, ...]:
    return tuple(
        Craft(kind, "fixed distance", base, steps, share) for kind, base, steps, share in made_for
    )


_WHOLE, _HALVES, _TENTHS = (1.0, 1.0, 1.0, 0.5), (1.0, 0.5, 0.5), (1.0, 0.5, 0.1)
_TWO, _TWO_LONG, _MANY = (
    "clinometer, scales for 15 m and 20 m", "clinometer, scales for 20 m and 25 m",
    "clinometer, scales for 15 m to 40 m",
)  # fmt: skip
TUNING = Version(
    {
        "rolling": Habit((0.03, 0.17), _optical(_HALVES, 0.12)),
        "fixed stand": Habit((0.0, 0.08), _optical(_TENTHS, 0.10), (12.0, 18.0, 25.0), 0.12),
        "steep": Habit((0.20, 0.35), _optical(_HALVES, 0.12)),
        "feet, topographic": Habit((0.0, 0.10), _topographic(_HALVES), units="us"),
        "fixed scale": Habit(
            (0.0, 0.08),
            _fixed((_TWO_LONG, 20.0, (0.5, 0.25), 0.3), (_TWO_LONG, 25.0, (0.5, 0.25), 0.4),
                   (_MANY, 25.0, (0.5, 1.0), 0.3)),
            strays=0.30, at_scale=True,
        ),
    },
    eye=(1.66, 0.07), far=(0.8, 1.35), tapes=(0.1, 0.2, 1.0), tapes_in_feet=(0.5, 1.0),
    width_step=0.5, width_step_in_feet=0.5,
)  # fmt: skip
HELD_OUT = Version(
    {
        "rolling": Habit((0.0, 0.20), _optical(_WHOLE, 0.15)),
        "fixed stand": Habit((0.0, 0.05), _optical(_WHOLE, 0.15), (15.0, 20.0, 30.0), 0.08),
        "steep": Habit((0.15, 0.40), _optical(_WHOLE, 0.15)),
        "feet, topographic": Habit((0.0, 0.12), _topographic(_WHOLE), units="us"),
        "fixed scale": Habit(
            (0.0, 0.05),
            _fixed((_TWO, 15.0, (0.5,), 0.3), (_TWO, 20.0, (0.5,), 0.4),
                   (_MANY, 20.0, (0.5, 0.25), 0.3)),
            strays=0.20, at_scale=True,
        ),
    },
    eye=(1.60, 0.09), far=(0.85, 1.25), tapes=(0.1, 0.1, 0.5, 1.0), tapes_in_feet=(0.1, 1.0),
    width_step=0.1, width_step_in_feet=1.0,
)  # fmt: skip
VERSIONS = {"tuning": TUNING, "held-out": HELD_OUT}
HABITS = tuple(TUNING.habits)


def generate(trees: pd.DataFrame, version: Version, habit: str, seed: int) -> Keyed:
    """Survey these trees.

    Parameters
    ----------
    trees : DataFrame
        Columns species, dbh, height, base, along, across; in cm and m.
    version : Version
        `TUNING` or `HELD_OUT`.
    habit : str
        One of `HABITS`.
    seed : int
        Start of the random numbers.
    """
    own = version.habits[habit]
    random = np.random.default_rng(seed)
    trees = trees.iloc[random.permutation(len(trees))].reset_index(drop=True)
    plot = _divide_into_plots(random, len(trees))
    number = np.concatenate([np.arange(1, n + 1) for n in np.bincount(plot)])
    crews = _make_crews(random, version, own)
    places = _make_plots(random, own, crews, int(plot.max()) + 1)
    twice = np.flatnonzero(random.random(len(trees)) < SHARE_TWICE)
    order = np.sort(np.r_[np.arange(len(trees)), twice])
    again = np.r_[False, order[1:] == order[:-1]]
    where = places.iloc[plot[order]].reset_index(drop=True)
    truth = _sight(random, trees.iloc[order].reset_index(drop=True), own, where)
    lines = pd.DataFrame(
        {
            "plot": where["plot"],
            "tree": number[order].astype(str),
            "setup": np.where(again, 2.0, np.nan),
            "species": np.where(again, "", trees["species"].to_numpy()[order]),
        }
    )
    _type_tree(lines, trees.iloc[order].reset_index(drop=True), again, version, own)
    _type_sight(random, lines, truth, where, own)
    return Keyed(
        lines, truth.join(where[["kind", "scale", "base_of_scale", "step", "tape"]]),
        places[["plot", "status", "date", "crew", "instrument", "scale", "distance_kind", "slope"]],
        _list_instruments(places), _list_people(crews), own.units,
    )  # fmt: skip


def _divide_into_plots(random: np.random.Generator, trees: int) -> np.ndarray:
    """Give each tree its plot: 8 to 20 trees stand on one."""
    sizes = random.integers(8, 21, trees // 8 + 2)
    return np.repeat(np.arange(len(sizes)), sizes)[:trees]


def _make_crews(random: np.random.Generator, version: Version, own: Habit) -> pd.DataFrame:
    count = int(random.integers(3, 7))
    tapes = version.tapes if own.units == "metric" else version.tapes_in_feet
    return pd.DataFrame(
        {
            "crew": [f"Q{i + 1}" for i in range(count)],
            "eye": random.normal(*version.eye, count),
            "far": random.uniform(*version.far, count),
            "tape": random.choice(tapes, count),
            "fine": random.random(count),
        }
    )


def _make_plots(
    random: np.random.Generator, own: Habit, crews: pd.DataFrame, count: int
) -> pd.DataFrame:
    """Return the plots in the order of their days, with crew, instrument and ground."""
    day = np.arange(count) // PLOTS_A_DAY
    team = random.integers(0, len(crews), (int(day.max()) + 1, CREWS_A_DAY))
    shares = np.array([craft.share for craft in own.crafts])
    carried = random.choice(len(own.crafts), team.shape, p=shares / shares.sum())
    turn = random.integers(0, CREWS_A_DAY, count)
    who, which = team[day, turn], carried[day, turn]
    # a crew has one instrument of each craft, with an error of its own zero
    zero = random.normal(0, U_ZERO, (len(crews), len(own.crafts)))
    steepest = random.uniform(*own.slope, count)
    noted = (random.random(count) < 0.7) & (steepest > 0.05)
    craft = [own.crafts[i] for i in which]
    fine = crews["fine"].to_numpy()[who]
    return pd.DataFrame(
        {
            "plot": [f"P{i + 1}" for i in range(count)],
            "status": "measured",
            "date": pd.Timestamp("2025-05-05") + pd.to_timedelta(day, unit="D"),
            "crew": crews["crew"].to_numpy()[who],
            "instrument": [f"{crews['crew'][i]}-{j + 1}" for i, j in zip(who, which, strict=True)],
            "kind": [c.kind for c in craft],
            "scale": [c.scale for c in craft],
            "base_of_scale": [c.base for c in craft],
            "step": [c.steps[int(f * len(c.steps))] for c, f in zip(craft, fine, strict=True)],
            "distance_kind": "level",
            "slope": np.where(noted, (steepest / 0.05).round() * 0.05, np.nan),
            "steepest": steepest,
            "zero": zero[who, which],
            "eye": crews["eye"].to_numpy()[who],
            "far": crews["far"].to_numpy()[who],
            "tape": crews["tape"].to_numpy()[who],
            # the distance that a crew with fixed ones likes on this plot
            "liked": random.choice(own.stands, count) if own.stands else np.nan,
        }
    )


def _stand(
    random: np.random.Generator, trees: pd.DataFrame, own: Habit, where: pd.DataFrame
) -> tuple[np.ndarray, np.ndarray]:
    """Return the level distance of each sight, and whether it is one of the fixed ones."""
    count, height = len(trees), trees["height"].to_numpy()
    clear = trees[["along", "across"]].max(axis=1).to_numpy() / 2 + 1.5
    least = np.maximum(np.maximum(clear, 6.0), 0.55 * height)
    free = height * where["far"].to_numpy() * np.exp(random.normal(0, 0.15, count))
    free = np.maximum(free, least * np.exp(np.abs(random.normal(0, 0.1, count))))
    strays = random.random(count) < own.strays
    if own.at_scale:
        base = where["base_of_scale"].to_numpy()
        fixed = np.where(base >= least, base, 2 * base)
    elif own.stands:
        any_of = np.array(own.stands)
        chosen = random.choice(any_of, count)
        chosen = np.where(random.random(count) < 0.6, where["liked"], chosen)
        enough = np.where(any_of >= least[:, None], any_of, np.inf).min(axis=1)
        fixed = np.where(chosen >= least, chosen, enough)
    else:
        fixed = np.full(count, np.inf)
    stands = np.isfinite(fixed) & (fixed >= least) & ~strays
    return np.where(stands, fixed, free), stands


def _sight(
    random: np.random.Generator, trees: pd.DataFrame, own: Habit, where: pd.DataFrame
) -> pd.DataFrame:
    """Stand somewhere and aim: distance, ground, eye and the three angles of each line."""
    count, height = len(trees), trees["height"].to_numpy()
    level, stands = _stand(random, trees, own, where)
    unit = 1.0 if own.units == "metric" else FOOT
    tape = where["tape"].to_numpy() * unit
    # a crew that reads whole metres also stands at a whole metre
    level = np.where(~stands & (tape > 0.25 * unit), np.round(level / tape) * tape, level)
    around = random.uniform(0, 2 * np.pi, count)
    rise = where["steepest"].to_numpy() * np.cos(around) + random.normal(0, UNEVEN, count)
    eye = where["eye"].to_numpy() + random.normal(0, 0.03, count) - level * rise
    offset = random.normal(0, SIDEWAYS, count) * height
    base = trees["base"].to_numpy()
    tangents = {
        "foot": -eye / level,
        "base": (base - eye) / level,
        "tip": (height - eye) / (level - offset),
    }
    truth = pd.DataFrame(
        {
            "level": level, "stands": stands, "rise": rise, "eye": eye, "height": height,
            "base": base, "offset": offset,
            "wide": trees[["along", "across"]].mean(axis=1).to_numpy(),
        }
    )  # fmt: skip
    for point, tangent in tangents.items():
        aim = where["zero"].to_numpy() + random.normal(0, U_AIM, count)
        truth[f"angle_{point}"] = np.degrees(np.arctan(tangent)) + aim
    return truth


def _type_tree(
    lines: pd.DataFrame, trees: pd.DataFrame, again: np.ndarray, version: Version, own: Habit
) -> None:
    """Add diameter and crown widths to the lines, blank on repeat set-ups."""
    metric = own.units == "metric"
    stem, length = (1.0, 1.0) if metric else (INCH, FOOT)
    step = version.width_step if metric else version.width_step_in_feet
    lines["diameter"] = np.where(again, np.nan, (trees["dbh"] / stem).round(1))
    wide = np.sort(trees[["along", "across"]].to_numpy(), axis=1) / length
    wide = np.maximum(np.round(wide / step), 1) * step
    lines["width_widest"] = np.where(again, np.nan, wide[:, 1].round(2))
    lines["width_across"] = np.where(again, np.nan, wide[:, 0].round(2))


def _type_sight(
    random: np.random.Generator,
    lines: pd.DataFrame,
    truth: pd.DataFrame,
    where: pd.DataFrame,
    own: Habit,
) -> None:
    """Add distance and readings to the lines, as a crew writes them."""
    unit = 1.0 if own.units == "metric" else FOOT
    tape = where["tape"].to_numpy()
    typed = truth["level"].to_numpy() / unit
    # a fixed distance is written as what it should be; the tape errs all the same
    round_one = truth["stands"].to_numpy() | (tape > 0.25)
    taped = typed + random.normal(0, U_DISTANCE, len(lines)) / unit
    tidy = np.where(truth["stands"], typed, np.round(typed / tape) * tape)
    lines["distance"] = np.where(round_one, tidy, np.round(taped / tape) * tape).round(2)
    for point in POINTS:
        lines[f"{point}_reading"] = read_angle(
            truth[f"angle_{point}"].to_numpy(), where["scale"].to_numpy(),
            where["base_of_scale"].to_numpy(), where["step"].to_numpy(),
        )  # fmt: skip
    lines["foot_above_eye"] = lines["foot_reading"] > 0


def read_angle(
    angle: np.ndarray, scale: np.ndarray, base: np.ndarray, step: np.ndarray
) -> np.ndarray:
    """Read angles (degrees) on scales made for a base, to the nearest step of each."""
    with np.errstate(invalid="ignore"):
        shown = np.where(scale == "degrees", angle, base * np.tan(np.radians(angle)))
    return np.round(np.round(shown / step) * step, 6) + 0.0


def _list_instruments(places: pd.DataFrame) -> pd.DataFrame:
    own = places.drop_duplicates("instrument")
    fixed = own["scale"] == "fixed distance"
    return pd.DataFrame(
        {
            "instrument": own["instrument"],
            "kind": own["kind"],
            "scale_distance": own["base_of_scale"].where(fixed),
            "distance_to": "centre",
        }
    ).reset_index(drop=True)


def _list_people(crews: pd.DataFrame) -> pd.DataFrame:
    """Every second person's eye height is on the sheet (m), to 5 cm."""
    eye = ((crews["eye"] / 0.05).round() * 0.05).round(2)
    return pd.DataFrame({"initials": crews["crew"], "eye_height": eye.where(crews.index % 2 == 0)})
