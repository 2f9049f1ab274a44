"""A county at once: hundreds of workbooks merged, checked, estimated and reported.

    python -m tests.benchmarks.county_scale [--books 150 300] [--keep FOLDER]

For each number of workbooks (17 plots and 670 lines each, a part of the county of their own) two
processes do what the commands `merge` and `report` do, one after the other. Seconds are those of
the clock, memory the peak of each process and, for the merge, of its helpers besides. Costs a line
are compared between the numbers of workbooks. A comparison by hand, not a test: nothing fails when
it is slow.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path
from resource import RUSAGE_CHILDREN, RUSAGE_SELF

from tests.benchmarks.merge_scale import books, peak

LINES, PLOTS = 670, 17


def merge_all(paths: list[Path], out: Path) -> dict[str, float]:
    """Merge as the command does."""
    from xlhelpers.jobs.merge.merge import merge

    merged, _ = merge(paths, out)
    workers = min(len(paths), os.cpu_count() or 1)
    memory = peak(RUSAGE_SELF) + workers * peak(RUSAGE_CHILDREN)
    return {"lines": len(merged.rows["lines"]), "peak": memory}


def report_all(book: Path, out: Path) -> dict[str, float]:
    """Read and check the joint survey, estimate, and write the report; seconds by step."""
    from xlhelpers.jobs.report.book import render_council_report
    from xlhelpers.jobs.report.facts import gather
    from xlhelpers.package.zip.container import Package
    from xlhelpers.package.zip.safe_write import write_book
    from xlhelpers.reading.survey import read_survey
    from xlhelpers.survey.evaluate import evaluate

    moments = [time.perf_counter()]
    package = Package.open(book)
    survey = read_survey(package)
    moments.append(time.perf_counter())
    outcome = evaluate(survey)
    moments.append(time.perf_counter())
    facts = gather(outcome, 0.95)
    moments.append(time.perf_counter())
    write_book(out, render_council_report(facts, None), backup=False)
    moments.append(time.perf_counter())
    names = ("read", "measure and check", "estimate", "report")
    seconds = [later - sooner for sooner, later in pairwise(moments)]
    took = dict(zip(names, seconds, strict=True))
    return {**took, "trees": len(outcome.trees), "peak": peak(RUSAGE_SELF)}


def apart(step: str, *arguments: str) -> dict[str, float]:
    """Run a step in a process of its own."""
    start = time.perf_counter()
    command = [sys.executable, "-m", "tests.benchmarks.county_scale", "--step", step, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{step} failed:\n{done.stderr}")
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return {"whole": time.perf_counter() - start, **found}


def main() -> None:
    """Make the workbooks and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--books", type=int, nargs="+", default=[150, 300])
    parser.add_argument("--keep", type=Path, help="a folder for the workbooks, to be kept")
    parser.add_argument("--step", choices=["merge", "report"], help=argparse.SUPPRESS)
    parser.add_argument("files", type=Path, nargs="*", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.step == "merge":
        print(json.dumps(merge_all(options.files[1:], options.files[0])))
        return
    if options.step == "report":
        print(json.dumps(report_all(options.files[1], options.files[0])))
        return
    with tempfile.TemporaryDirectory() as temporary:
        folder = options.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        costs = []
        for count in options.books:
            paths = [str(path) for path in books(folder, count, LINES, PLOTS)]
            joint, said = Path(temporary) / f"{count}.xlsx", Path(temporary) / f"{count} said.xlsx"
            merged = apart("merge", str(joint), *paths)
            told = apart("report", str(said), str(joint))
            together = merged["whole"] + told["whole"]
            costs.append(together / merged["lines"])
            print(f"{count} workbooks, {merged['lines']:,} lines, {told['trees']:,} trees")
            for step, seconds in {"merge": merged["whole"], **told}.items():
                if step not in ("whole", "trees", "peak"):
                    print(f"  {step:<20}{seconds:8.1f} s")
            print(f"  {'together':<20}{together:8.1f} s, {1e3 * costs[-1]:.2f} ms a line")
            print(f"  peak of the merge with its helpers {merged['peak']:.0f} MB")
            print(f"  peak of the report {told['peak']:.0f} MB")
        if len(costs) > 1:
            print(f"cost a line, most to fewest workbooks: {costs[-1] / costs[0]:.2f}")


if __name__ == "__main__":
    main()
