"""Ten invented surveys as tables: `python -m tests.estimates.r_survey.make_surveys` writes them.

The numbers are drawn once, with a fixed seed. `estimates.R` and the program read the same tables.
"""

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
STRATA = ("survey", "stratum", "land", "possible", "margin_with", "kind")
PLOTS = ("survey", "plot", "stratum", "status", "area")
TREES = (
    *("survey", "plot", "tree", "species", "condition", "group", "diameter", "tip", "base"),
    *("width_widest", "width_across"),
)
SPECIES = ("Quercus robur", "Acer platanoides", "Picea abies", "Tilia")
GROUPS = ("Main street", "Park")


@dataclass(frozen=True)
class Part:
    """A stratum: its plots, trees a plot, share of empty plots, and what is known of its size.

    `land` and `possible` are None where they are not stated; `margin_with` names the stratum
    whose plots show how this one varies, "" itself.
    """

    name: str
    plots: int
    trees: float
    empty: float
    land: float | None
    possible: int | None
    margin_with: str = ""


@dataclass(frozen=True)
class Kind:
    """A survey: its strata, the areas of its plots (None without areas), what is not known."""

    name: str
    parts: Sequence[Part]
    areas: tuple[float, ...] | None = (400.0,)
    missing: float = 0.1
    groups: bool = False
    census: bool = False


SURVEYS = (
    Kind("one stratum", [Part("Town", 14, 5, 0.1, 900_000, None)]),
    Kind(
        "three strata",
        [
            Part("Harbour", 6, 7, 0.0, 160_000, 400),
            Part("Old town", 5, 3, 0.2, 100_000, 250),
            Part("Hills", 9, 4, 0.2, 440_000, 1100),
        ],
        groups=True,
    ),
    Kind(
        "one plot in a stratum",
        [
            Part("Harbour", 5, 6, 0.0, 160_000, 400),
            Part("Quay", 1, 4, 0.0, 60_000, 150, "Old town"),
            Part("Old town", 4, 3, 0.2, 100_000, 250),
            Part("Hills", 6, 5, 0.2, 440_000, 1100),
        ],
    ),
    Kind(
        "two strata of one plot",
        [
            Part("Quay", 1, 4, 0.0, 50_000, None, "Old town"),
            Part("Old town", 1, 6, 0.0, 62_000, None),
            Part("Hills", 8, 5, 0.2, 400_000, None),
        ],
        areas=(400.0, 300.0, 380.0),
    ),
    Kind("much of the town", [Part("Town", 18, 4, 0.15, 16_000, 40)], missing=0.2),
    Kind(
        "plots without areas",
        [Part("East", 7, 4, 0.1, 90_000, 60), Part("West", 6, 6, 0.1, 70_000, 45)],
        areas=None,
    ),
    Kind(
        "unequal plots",
        [Part("Town", 12, 5, 0.1, 500_000, None)],
        areas=(400.0, 90.0, 250.0, 360.0),
        groups=True,
    ),
    Kind(
        "unequal plots in strata",
        [
            Part("Harbour", 6, 7, 0.0, 160_000, 520),
            Part("Old town", 5, 3, 0.2, 100_000, 330),
            Part("Hills", 9, 4, 0.2, 440_000, None),
        ],
        areas=(400.0, 210.0, 320.0),
        missing=0.2,
    ),
    Kind("nearly half empty", [Part("Town", 24, 2.2, 0.4, 2_000_000, 5000)]),
    Kind(
        "a stratum measured whole",
        [
            Part("Square", 1, 9, 0.0, 400, 1),
            Part("Park", 3, 8, 0.0, 1_200, 3),
            Part("Streets", 10, 3, 0.3, 380_000, 950),
        ],
    ),
    Kind("every tree", [Part("Town", 9, 5, 0.1, 3_600, None)], census=True),
)


def make_surveys(seed: int = 11) -> dict[str, list[dict[str, object]]]:
    """Return the rows of the three tables."""
    random = np.random.default_rng(seed)
    tables: dict[str, list[dict[str, object]]] = {"strata": [], "plots": [], "trees": []}
    for survey in SURVEYS:
        at = 0
        for part in survey.parts:
            tables["strata"].append(
                {
                    "survey": survey.name,
                    "stratum": part.name,
                    "land": part.land,
                    "possible": part.possible,
                    "margin_with": part.margin_with or part.name,
                    "kind": "every tree" if survey.census else "sample plots",
                }
            )
            for _ in range(part.plots):
                at += 1
                count = 0 if random.random() < part.empty else 1 + random.poisson(part.trees - 1)
                tables["plots"].append(
                    {
                        "survey": survey.name,
                        "plot": f"P{at}",
                        "stratum": part.name,
                        "status": "measured" if count else "no trees",
                        "area": survey.areas[at % len(survey.areas)] if survey.areas else None,
                    }
                )
                species = random.dirichlet((2.0, 1.2, 0.6, 0.4))
                tables["trees"] += [
                    {"survey": survey.name, "plot": f"P{at}", "tree": number + 1}
                    | _tree(survey, random, species)
                    for number in range(count)
                ]
    return tables


def _tree(survey: Kind, random: np.random.Generator, species: np.ndarray) -> dict[str, object]:
    """Return a tree seen from 20 m with the foot at -10 %; some values are not known."""
    base = int(random.integers(5, 20))
    known = {
        "diameter": round(float(np.exp(random.normal(3.2, 0.5))), 1),
        "tip": base + int(random.integers(10, 60)),
        "base": base,
        "width_widest": round(float(random.uniform(3, 11)), 1),
    }
    known["width_across"] = round(known["width_widest"] * float(random.uniform(0.6, 1)), 1)
    lacks = random.random(3) < survey.missing
    lacking = [("diameter",), ("tip", "base"), ("width_widest", "width_across")]
    for lost, names in zip(lacks, lacking, strict=True):
        known |= dict.fromkeys(names) if lost else {}
    return {
        "species": SPECIES[int(random.choice(4, p=species))],
        "condition": "D" if random.random() < 0.08 else "",
        "group": GROUPS[int(random.random() < 0.4)] if survey.groups else "",
        **known,
    }


def main() -> None:
    """Write the tables beside this module."""
    tables = make_surveys()
    for name, columns in (("strata", STRATA), ("plots", PLOTS), ("trees", TREES)):
        with (HERE / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, columns, lineterminator="\n")
            writer.writeheader()
            writer.writerows(tables[name])


if __name__ == "__main__":
    main()
