"""How long a workbook calculates after one keystroke, in LibreOffice, beside an earlier version.

`python -m tests.benchmarks.keystrokes --before FOLDER` makes the same survey with the code here and
with that of another checkout, fills both, and types into each. LibreOffice runs without a window,
in a profile of its own. The system's Python needs its module `uno`.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

HERE = Path(__file__).resolve().parent
_MAKE = """
import sys
from pathlib import Path
from tests.benchmarks.survey_book import build
from xlhelpers.jobs.fill.fill import fill
book = Path(sys.argv[1])
build(book, int(sys.argv[2]), int(sys.argv[3]))
if sys.argv[4] == "fill":
    fill(book)
"""


def make(tree: Path, book: Path, lines: int, plots: int, state: str) -> None:
    """Write the survey with the code of a checkout."""
    arguments = [str(book), str(lines), str(plots), state]
    subprocess.run(
        [sys.executable, "-c", _MAKE, *arguments],
        cwd=tree,
        env=os.environ | {"PYTHONPATH": str(tree)},
        check=True,
    )


def type_into(book: Path, python: str, repeats: int) -> dict[str, float]:
    """Return kind of keystroke -> seconds of the fastest repeat, and those of loading."""
    command = [python, str(HERE / "type_with_uno.py"), str(book), str(repeats)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--before", type=Path, help="a checkout of the earlier version")
    parser.add_argument("--lines", type=int, default=4800)
    parser.add_argument("--plots", type=int, default=400)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--state", choices=("keyed", "fill"), default="fill")
    parser.add_argument("--python", default="/usr/bin/python3", help="a Python with uno")
    chosen = parser.parse_args()
    trees = {"before": chosen.before, "now": HERE.parent.parent}
    results: dict[str, dict[str, float]] = {}
    with TemporaryDirectory() as folder:
        for name, tree in trees.items():
            if tree is not None:
                book = Path(folder) / f"{name}.xlsx"
                make(tree, book, chosen.lines, chosen.plots, chosen.state)
                results[name] = type_into(book, chosen.python, chosen.repeats)
                results[name]["size of the file, MB"] = book.stat().st_size / 1e6
    names = list(results)
    print(f"{'':32}" + "".join(f"{name:>10}" for name in names) + f"{'before/now':>12}")
    for kind in results["now"]:
        values = [results[name].get(kind, float("nan")) for name in names]
        ratio = f"{values[0] / values[-1]:12.1f}" if len(values) > 1 else ""
        print(f"{kind:32}" + "".join(f"{value:10.3f}" for value in values) + ratio)


if __name__ == "__main__":
    main()
