"""The whole invented survey in memory, without any mistake: every sheet as rows to key."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from town_crews import lines_of_plot
from town_places import STREET, TOOLS, YARD, Row, plots
from town_trees import Tree, plot_generator, trees_of_plot
from town_yard import cut_some_back, lines_of_yard

Key = tuple[str, str]
"""Plot and number of a tree."""

# what the instruments were checked against, how far away, with the eye above its foot [m]
TOWER, AWAY, EYE = 30.0, 15.0, 1.6
# the clinometer that had a knock, and by how much it then read too high [degrees]
KNOCKED, KNOCK = "Clino 2", 2.0


@dataclass(frozen=True)
class Town:
    """Plots and field-sheet lines in the units shown (metric), and the true trees behind them."""

    plots: tuple[Row, ...]
    lines: tuple[Row, ...]
    trees: Mapping[Key, Tree]


def grow_town() -> Town:
    """Grow and measure every tree of the town; the same town at every call."""
    rows, lines, trees = plots(), [], {}
    for position, row in enumerate(rows):
        if row["status"] != "measured":
            continue
        street = row["plot"] == STREET
        here = trees_of_plot(row["plot"], position, row["trees_counted"], street)
        if row["plot"] == YARD:
            here = cut_some_back(here)
            keyed, other = lines_of_yard(row, position, here), None
        else:
            keyed, other = lines_of_plot(row, position, here)
        lines += keyed
        trees |= {(tree.plot, tree.number): tree for tree in here}
        if other is not None:
            row["other_scale_tip"] = other
    return Town(tuple(rows), tuple(lines), trees)


def instrument_checks() -> list[Row]:
    """Return checks of every instrument with angles: a tower of 30.00 m, and the level both ways.

    The tower is steep from 15 m away, so that its height shows an angle. One clinometer had a knock
    in the winter, read too high in March and was set right before the first plot.
    """
    day, checks = plots()[0]["date"], []
    for position, tool in enumerate(TOOLS.values()):
        if "height" in tool.step:
            continue
        rng = plot_generator(position, 2)
        if tool.name == KNOCKED:
            checks.append(_check(position, day - timedelta(days=60), KNOCK, rng))
        checks.append(_check(position, day, 0.0, rng))
    return checks


def _check(position: int, day: date, knock: float, rng: np.random.Generator) -> Row:
    """Return one check of an instrument that a knock made read so much too high [degrees]."""
    tool = tuple(TOOLS.values())[position]
    scale = next(iter(tool.step))
    base = {"percent": 100.0, "topographic": 66.0, "fixed distance": tool.scale_distance}

    def read(slope: float) -> float:
        degrees = np.degrees(np.arctan(slope)) + tool.zero + knock
        degrees += float(np.clip(rng.normal(0.0, 0.5), -1, 1)) * tool.aim
        tangent = np.tan(np.radians(degrees))
        shown = degrees if scale == "degrees" else tangent * base[scale]
        return round(round(float(shown) / tool.step[scale]) * tool.step[scale], 2) + 0.0

    return {
        "instrument": tool.name,
        "date": day,
        "person": ("AM", "BT", "CK", "DO", "EV")[position % 5],
        "scale": scale,
        "known_height": TOWER,
        "distance": AWAY,
        "foot_reading": read(-EYE / AWAY),
        "tip_reading": read((TOWER - EYE) / AWAY),
        "level_there": read(0.0),
        "level_back": read(0.0),
    }
