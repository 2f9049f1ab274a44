"""Time and memory of the file format room at two sizes of a field sheet, a row.

    python -m tests.benchmarks.package_growth [--rows 20000 200000] [--repeats 3]

A sheet of 13 keyed and 35 blank columns, one formula of the user's a row that reads a result, is
read, gets 14 result columns, loses the stored results that rest on them, and is saved. Each run
has a process of its own; seconds are those of the processor, the median counts, and what starting
up takes is left out of both. A comparison by hand, not a test: nothing fails when it is slow.
"""

import argparse
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.package.books import plain_parts, zipped
from xlhelpers.package.formulas.stale_results import refresh_on_open
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import ColumnWrites
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import column_letters
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book

KEYED, WIDTH, FIRST_RESULT, RESULTS = 13, 48, 34, 14


def build(path: Path, rows: int) -> None:
    """Write the workbook."""
    letters = [column_letters(column) for column in range(1, WIDTH + 1)]
    random = np.random.default_rng(5)
    keyed = np.round(random.random((rows, KEYED)) * 90, 1).tolist()
    blank = [f'<c r="{name}%d" s="0"/>' for name in letters[KEYED:]]
    total = f"<f>{letters[FIRST_RESULT - 1]}%d*2</f><v>0</v></c>"
    lines = []
    for row, values in enumerate(keyed, 1):
        cells = [f'<c r="{name}{row}" s="0"><v>{value}</v></c>'
                 for name, value in zip(letters, values, strict=False)]  # fmt: skip
        cells += [text % row for text in blank]
        cells.append(f'<c r="AX{row}">' + total % row)
        lines.append(f'<row r="{row}">{"".join(cells)}</row>')
    path.write_bytes(zipped(plain_parts("".join(lines))))


def peak() -> float:
    """Return the most memory that this process ever held [MB]."""
    unit = 1024 if sys.platform != "darwin" else 1024 * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


def run(path: Path) -> dict[str, float]:
    """Do all steps; return the seconds of each, and the memory before and at the peak."""
    found = {"memory before": peak()}
    moment = time.process_time()

    def lap(step: str) -> None:
        nonlocal moment
        now = time.process_time()
        found[step], moment = now - moment, now

    package = Package.open(path)
    sheet = sheets(package)[0]
    lap("open")
    rows = read_grid(package, sheet).shape[0]
    lap("read grid")
    random = np.random.default_rng(1)
    columns: dict[int, object] = {
        FIRST_RESULT + at: random.random(rows) * 30 for at in range(RESULTS - 1)
    }
    texts = [f"WARNING: line {row} is odd" if row % 5 == 0 else None for row in range(rows)]
    columns[FIRST_RESULT + RESULTS - 1] = np.array(texts, dtype=object)
    result = edit_cells(package, sheet, ColumnWrites(np.arange(1, rows + 1), columns, 1))  # type: ignore[arg-type]
    lap("edit")
    refresh_on_open(package, {sheet.name: result.changed})
    lap("stale results")
    data = package.to_bytes()
    lap("deflate")
    write_book(path.with_name("out.xlsx"), data, backup=False)
    lap("write and check")
    found["peak"] = peak()
    return found


def measured(path: Path) -> dict[str, float]:
    """Run all steps in a process of their own."""
    command = [sys.executable, "-m", "tests.benchmarks.package_growth", "--book", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def main() -> None:
    """Read the options, build the workbooks and compare."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--rows", type=int, nargs=2, default=[20_000, 200_000])
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--book", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.book:
        print(json.dumps(run(options.book)))
        return
    a_row = []
    with tempfile.TemporaryDirectory() as folder:
        for rows in options.rows:
            path = Path(folder) / f"{rows}.xlsx"
            built = subprocess.run([sys.executable, "-c", BUILD, str(path), str(rows)], check=False)
            assert built.returncode == 0
            runs = [measured(path) for _ in range(options.repeats)]
            middle = {step: statistics.median(run[step] for run in runs) for step in runs[0]}
            seconds = sum(v for k, v in middle.items() if k not in ("memory before", "peak"))
            grown = middle["peak"] - middle["memory before"]
            a_row.append((seconds / rows * 1e6, grown / rows * 1024))
            print(f"{rows:,} rows: {seconds:.2f} s, peak {middle['peak']:.0f} MB")
            for step, value in middle.items():
                print(f"    {step:<16}{value:9.2f}")
            print(f"    {a_row[-1][0]:.1f} µs and {a_row[-1][1]:.2f} kB a row")
    print(f"growth: time {a_row[1][0] / a_row[0][0]:.2f}, memory {a_row[1][1] / a_row[0][1]:.2f}")


# The workbook is built apart: a process counts its parent's memory into its own peak.
BUILD = (
    "import sys\nfrom pathlib import Path\nfrom tests.benchmarks.package_growth import build\n"
    "build(Path(sys.argv[1]), int(sys.argv[2]))"
)

if __name__ == "__main__":
    main()
