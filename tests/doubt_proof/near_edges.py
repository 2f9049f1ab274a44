"""How often an aim at the near edge of a wide crown is seen, and how much too high it measures.

    python -m tests.doubt_proof.near_edges [--held-out] [--seeds 1]

One kind of mistake a survey, on one line in ten that can show it, in all habits and cities.
"""

import argparse
from dataclasses import dataclass

import numpy as np

from tests.doubt_proof.cities import as_survey, reference_for
from tests.doubt_proof.habits import HABITS
from tests.doubt_proof.kinds import inject
from tests.doubt_proof.measure_doubt import (
    CITIES,
    Trial,
    evaluate,
    is_about_one_tree,
    make_sheets,
    per_hundred,
)

KIND = "near edge of the crown"
SHARE = 0.1


@dataclass(frozen=True)
class Edges:
    """The aims at near edges of one survey: too high by these shares, seen, named."""

    too_high: np.ndarray
    seen: np.ndarray
    named: np.ndarray


def measure_edges(trial: Trial) -> Edges:
    """Return what one survey with near edges alone gives.

    Parameters
    ----------
    trial : Trial
        Its density is the share of the lines.
    """
    keyed = make_sheets(trial)
    lines, made = inject(keyed, trial.density, trial.chance, (KIND,))
    outcome = evaluate(as_survey(keyed, lines), reference_for(trial.city))
    wrong = np.array([one.line for one in made], dtype=np.int64)
    tree = outcome.setups["tree_position"].to_numpy()
    true = keyed.truth["height"].to_numpy()[wrong]
    height = outcome.setups["total_height"].to_numpy()[wrong]
    own = [f for f in outcome.findings if is_about_one_tree(f, tree)]
    seen = [any(line in f.lines for f in own) for line in wrong]
    named = [
        any(line in f.lines and f.causes and f.causes[0].kind == "near-edge" for f in own)
        for line in wrong
    ]
    return Edges(height / true - 1, np.array(seen, dtype=bool), np.array(named, dtype=bool))


def main() -> None:
    """Print how many there were, the median of what they add, how many are seen and named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--held-out", action="store_true", help="not while anything is tuned")
    parser.add_argument("--seeds", type=int, default=1)
    options = parser.parse_args()
    version = "held-out" if options.held_out else "tuning"
    found = [
        measure_edges(Trial(city, habit, 300, SHARE, seed, version))
        for seed in range(options.seeds)
        for habit in HABITS
        for city in CITIES[version]
    ]
    too_high = np.concatenate([each.too_high for each in found])
    seen, named = (np.concatenate([getattr(e, n) for e in found]) for n in ("seen", "named"))
    low, middle, high = 100 * np.quantile(too_high, (0.1, 0.5, 0.9))
    print(
        f"{len(too_high)} aims at a near edge: too high by {middle:.0f} % in the median "
        f"(one in ten under {low:.0f} %, one in ten over {high:.0f} %), "
        f"seen {per_hundred(seen.sum(), len(seen))} of 100, "
        f"named {per_hundred(named.sum(), len(named))}"
    )


if __name__ == "__main__":
    main()
