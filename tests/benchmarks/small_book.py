"""How long the whole command takes on a small workbook, beside the import of pandas alone.

    python -m tests.benchmarks.small_book [--trees 300] [--plots 28] [--repeats 9]

Builds one workbook of simulated set-ups, one a tree, then runs `xlhelpers fill` and
`python -c "import pandas"` in turn, each in a process of its own with its modules compiled
already. Seconds of the processor and of the clock, medians. A comparison by hand, not a test.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.survey_book import build


def seconds(command: Sequence[str], compiled: Path) -> tuple[float, float]:
    """Return the seconds of processor and of the clock that a command takes."""
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(compiled)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    before, start = os.times(), time.perf_counter()
    done = subprocess.run(command, env=environment, capture_output=True, check=False)
    clock, after = time.perf_counter() - start, os.times()
    if done.returncode > 1:
        raise SystemExit(done.stderr.decode())
    processor = after.children_user + after.children_system
    return processor - before.children_user - before.children_system, clock


def main() -> None:
    """Read the options, build the workbook and compare."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--trees", type=int, default=300, help="trees (300)")
    parser.add_argument("--plots", type=int, default=28, help="plots (28)")
    parser.add_argument("--repeats", type=int, default=9, help="runs of each (9)")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        book, compiled = Path(scratch, "small.xlsx"), Path(scratch, "compiled")
        build(book, options.trees, options.plots)
        filled = ["--out", str(book.with_name("filled.xlsx"))]
        ways = {
            "xlhelpers fill": [sys.executable, "-m", "xlhelpers", "fill", str(book), *filled],
            "import pandas": [sys.executable, "-c", "import pandas"],
        }
        for command in ways.values():
            seconds(command, compiled)
        found: dict[str, list[tuple[float, float]]] = {name: [] for name in ways}
        for _ in range(options.repeats):
            for name, command in ways.items():
                found[name].append(seconds(command, compiled))
    print(f"{options.trees} trees on {options.plots} plots, medians of {options.repeats}")
    print(f"\n{'way':<26}{'processor s':>14}{'clock s':>12}")
    medians = {
        name: [statistics.median(column) for column in zip(*runs, strict=True)]
        for name, runs in found.items()
    }
    for name, (processor, clock) in medians.items():
        print(f"{name:<26}{processor:14.3f}{clock:12.3f}")
    ratios = [a / b for a, b in zip(*medians.values(), strict=True)]
    print(f"{'ratio':<26}{ratios[0]:14.2f}{ratios[1]:12.2f}")


if __name__ == "__main__":
    main()
