"""The whole invented survey in memory, without any mistake: every sheet as rows to key."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from town_crews import lines_of_plot
from town_places import STREET, TOOLS, Row, plots
from town_trees import Tree, plot_generator, trees_of_plot

Key = tuple[str, str]
"""Plot and number of a tree."""


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
        keyed, other = lines_of_plot(row, position, here)
        lines += keyed
        trees |= {(tree.plot, tree.number): tree for tree in here}
        if other is not None:
            row["other_scale_tip"] = other
    return Town(tuple(rows), tuple(lines), trees)


def instrument_checks() -> list[Row]:
    """Return checks of every instrument with angles: a wall of 8.00 m, and the level both ways."""
    day, checks = plots()[0]["date"], []
    for position, tool in enumerate(TOOLS.values()):
        scale = next(iter(tool.step))
        rng = plot_generator(position, 2)
        if scale == "height":
            continue
        base = {"percent": 100.0, "topographic": 66.0, "fixed distance": tool.scale_distance}

        def read(slope: float, scale=scale, tool=tool, base=base, rng=rng) -> float:
            degrees = np.degrees(np.arctan(slope)) + tool.zero
            degrees += float(np.clip(rng.normal(0.0, 0.5), -1, 1)) * tool.aim
            tangent = np.tan(np.radians(degrees))
            shown = degrees if scale == "degrees" else tangent * base[scale]
            return round(round(float(shown) / tool.step[scale]) * tool.step[scale], 2) + 0.0

        checks.append(
            {
                "instrument": tool.name,
                "date": day,
                "person": ("AM", "BT", "CK", "DO", "EV")[position % 5],
                "scale": scale,
                "known_height": 8.0,
                "distance": 20.0,
                "foot_reading": read(-1.6 / 20),
                "tip_reading": read(6.4 / 20),
                "level_there": read(0.0),
                "level_back": read(0.0),
            }
        )
    return checks
