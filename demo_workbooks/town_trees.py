"""The trees of the invented town as they truly are, before anybody measures them.

Species are real, every figure about them is invented: a height curve on diameter, the share of
the height below the crown, the width of the crown as a share of the height.
"""

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

SEED = 20_250_512
"""The one number from which every tree and every reading of the town follows."""


@dataclass(frozen=True)
class Kind:
    """How one species grows here: `tallest` [m] and `growth` [1/cm] of its height curve."""

    species: str
    kind: str
    tallest: float
    growth: float
    bare: float
    spread: float
    thickest: float
    weight: float = 1.0


KINDS: tuple[Kind, ...] = (
    Kind("Acer platanoides", "broadleaf", 19, 0.040, 0.17, 0.55, 75, 3),
    Kind("Acer pseudoplatanus", "broadleaf", 22, 0.036, 0.18, 0.55, 80, 2),
    Kind("Acer saccharinum", "broadleaf", 23, 0.034, 0.16, 0.65, 90),
    Kind("Aesculus hippocastanum", "broadleaf", 20, 0.034, 0.14, 0.60, 95, 2),
    Kind("Betula pendula", "broadleaf", 18, 0.050, 0.22, 0.42, 45, 2),
    Kind("Celtis australis", "broadleaf", 16, 0.040, 0.20, 0.65, 65, 2),
    Kind("Fraxinus excelsior", "broadleaf", 23, 0.036, 0.22, 0.50, 75, 2),
    Kind("Gleditsia triacanthos", "broadleaf", 16, 0.045, 0.20, 0.62, 55, 2),
    Kind("Jacaranda mimosifolia", "broadleaf", 13, 0.045, 0.20, 0.75, 55),
    Kind("Liquidambar styraciflua", "broadleaf", 20, 0.042, 0.18, 0.42, 60, 2),
    Kind("Liriodendron tulipifera", "broadleaf", 24, 0.036, 0.20, 0.45, 80),
    Kind("Magnolia grandiflora", "broadleaf", 14, 0.045, 0.15, 0.55, 60, 2),
    Kind("Morus alba", "broadleaf", 11, 0.050, 0.20, 0.80, 55),
    Kind("Olea europaea", "broadleaf", 8, 0.060, 0.22, 0.75, 50, 2),
    Kind("Platanus occidentalis", "broadleaf", 24, 0.034, 0.20, 0.60, 105, 3),
    Kind("Prunus cerasifera", "broadleaf", 8, 0.090, 0.22, 0.75, 35, 2),
    Kind("Quercus ilex", "broadleaf", 15, 0.036, 0.18, 0.70, 75, 2),
    Kind("Quercus palustris", "broadleaf", 21, 0.038, 0.17, 0.50, 75),
    Kind("Quercus robur", "broadleaf", 22, 0.030, 0.16, 0.65, 115, 2),
    Kind("Robinia pseudoacacia", "broadleaf", 18, 0.045, 0.25, 0.48, 60, 2),
    Kind("Tilia cordata", "broadleaf", 20, 0.038, 0.15, 0.48, 80, 3),
    Kind("Ulmus parvifolia", "broadleaf", 14, 0.045, 0.20, 0.75, 55),
    Kind("Cedrus deodara", "conifer", 24, 0.034, 0.10, 0.45, 90),
    Kind("Cupressus sempervirens", "conifer", 17, 0.050, 0.07, 0.16, 45, 2),
    Kind("Picea abies", "conifer", 23, 0.042, 0.08, 0.32, 60),
    Kind("Pinus nigra", "conifer", 20, 0.042, 0.30, 0.38, 65, 2),
    Kind("Pinus pinea", "conifer", 15, 0.045, 0.50, 0.65, 75, 2),
    Kind("Phoenix canariensis", "palm", 12, 0.030, 0.64, 0.55, 75, 2),
    Kind("Washingtonia robusta", "palm", 19, 0.060, 0.84, 0.18, 45, 2),
    Kind("Trachycarpus fortunei", "palm", 7, 0.120, 0.68, 0.32, 24),
)


@dataclass(frozen=True)
class Tree:
    """One tree as it stands: heights above the foot [m], stems [cm, largest first], widths [m].

    `lean` is the level distance [m] from the foot to below the tip, toward the observer.
    `condition` is "" (living), "T" (dead top) or "D" (dead).
    """

    plot: str
    number: str
    kind: Kind
    condition: str
    stems: tuple[float, ...]
    total: float
    crown_top: float
    crown_base: float
    widest: float
    across: float
    lean: float = 0.0


def plot_generator(number: int, purpose: int) -> Generator:
    """Return the generator of one plot (0, 1, 2 ...) and purpose, so that plots do not mix."""
    return np.random.default_rng([SEED, purpose, number])


def trees_of_plot(plot: str, position: int, count: int, street: bool = False) -> list[Tree]:
    """Grow the trees of one plot, numbered from 1.

    A street is planted with six species in turn; a plot takes its species by their weights.
    """
    rng = plot_generator(position, 0)
    weights = np.array([kind.weight for kind in KINDS])
    drawn = rng.choice(len(KINDS), size=count, p=weights / weights.sum())
    if street:
        drawn = np.array([0, 14, 20, 9, 15, 28])[(np.arange(count) // 4) % 6]
    return [_tree(plot, str(i + 1), KINDS[int(k)], rng) for i, k in enumerate(drawn)]


def _tree(plot: str, number: str, kind: Kind, rng: Generator) -> Tree:
    diameter = float(rng.uniform(0.2, 0.95)) * kind.thickest
    diameter = round(max(diameter, 9.0 if kind.kind == "palm" else 7.0), 1)
    total = 1.3 + (kind.tallest - 1.3) * (1 - np.exp(-kind.growth * diameter))
    total = float(total * np.clip(rng.normal(1.0, 0.08), 0.85, 1.15))
    bare = float(kind.bare * np.clip(rng.normal(1.0, 0.15), 0.7, 1.15))
    base = max(total * bare, 0.8)
    widest = float(kind.spread * total * np.clip(rng.normal(1.0, 0.12), 0.75, 1.25))
    across = float(widest * rng.uniform(0.78, 0.99))
    top, condition, stems, lean = total, "", (diameter,), 0.0
    fate = rng.uniform()
    if fate < 0.035 and kind.kind != "palm" and total > 6:
        condition, top = "T", total - float(rng.uniform(1.6, 0.25 * total + 0.5))
    elif fate < 0.065 and kind.kind != "palm":
        condition = "D"
    elif fate < 0.125 and kind.kind == "broadleaf":
        parts = np.sort(rng.uniform(0.45, 0.95, rng.integers(1, 4)))[::-1]
        stems = (diameter, *(round(float(diameter * part), 1) for part in parts))
    elif fate < 0.15 and total > 6:
        lean = round(float(rng.choice([-1, 1]) * rng.uniform(0.06, 0.14) * total), 1)
    return Tree(
        plot,
        number,
        kind,
        condition,
        stems,
        total,
        top,
        base,
        round(widest, 1),
        round(across, 1),
        lean,
    )
