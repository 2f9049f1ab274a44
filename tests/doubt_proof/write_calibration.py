"""Writes how often named causes were right, by their stated odds, into the program's table.

Run by hand after the weighing changed: ``python -m tests.doubt_proof.write_calibration``.
"""

import argparse
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd

from tests.doubt_proof.cities import TUNING_CITIES
from tests.doubt_proof.measure_doubt import HABITS, Trial, collect, measure_lines

# hardly any cause is named below the first of them
BINS = (0.0, 0.5, 0.7, 0.9, 1.0)


def tabulate(lines: pd.DataFrame) -> pd.DataFrame:
    """Return the table of measured lines: stated odds in bins against the share that was right."""
    named = lines[lines["cause"] != ""]
    odds = named["odds"].to_numpy(dtype=float)
    stated = named["share"].to_numpy(dtype=float) / (1 + np.exp(-np.clip(odds, -500, 500)))
    place = np.clip(np.searchsorted(BINS, stated, side="right") - 1, 0, len(BINS) - 2)
    right = named["right"].to_numpy(dtype=bool)
    rows = [
        {
            "stated_from": BINS[at],
            "stated_to": BINS[at + 1],
            "lines": int((place == at).sum()),
            "right_share": round(float(right[place == at].mean()), 3),
        }
        for at in np.unique(place)
    ]
    return pd.DataFrame(rows)


def main() -> None:
    """Measure the tuning cities and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    own = files("xlhelpers.survey.doubt").joinpath("calibration.csv")
    parser.add_argument("--out", type=Path, default=Path(str(own)))
    parser.add_argument("--seeds", type=int, default=1)
    options = parser.parse_args()
    trials = [
        Trial(city, habit, 300, 0.10, seed, "tuning")
        for seed in range(options.seeds)
        for habit in HABITS
        for city in TUNING_CITIES
    ]
    table = tabulate(collect(map(measure_lines, trials)))
    table.to_csv(options.out, index=False)
    print(table.to_string(index=False))


if __name__ == "__main__":
    main()
