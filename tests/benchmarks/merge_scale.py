"""How long a merge of many workbooks takes, step by step, and how much memory it needs.

    python -m tests.benchmarks.merge_scale [--books 40] [--lines 670] [--plots 17] [--keep FOLDER]

Makes the workbooks, one crew's survey each with plots of its own, and puts them together as
`xlhelpers merge` does. Seconds are those of the clock; memory is the peak of this process and that
of its largest helper, times their number. `--profile` shows where the time of one workbook goes,
`--after` where that of the joint one goes. A comparison by hand, not a test: nothing fails when it
is slow.
"""

import argparse
import cProfile
import os
import pstats
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import Any

import numpy as np

from tests.simulation.sightings import INSTRUMENTS as GENERATED
from tests.simulation.sightings import simulate
from tests.simulation.surveys import as_rows, instruments_to_key, population
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.jobs.merge import merge
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

STEPS = {
    "read_all": "read all workbooks",
    "merge_books": "put the tables together",
    "key_merged": "key them",
    "check_merged": "read and check the result",
    "add_report": "report tabs",
    "write_book": "save",
}
SHOWN = 25
# m2 and ha
PLOT_AREA, PART_AREA = 400, 100


def books(folder: Path, count: int, lines: int, plots: int) -> list[Path]:
    """Return so many workbooks, made where they are not there yet."""
    found = [folder / f"crew {number}.xlsx" for number in range(1, count + 1)]
    for number, path in enumerate(found, 1):
        if not path.exists():
            build(path, number, lines, plots)
    return found


def build(path: Path, number: int, lines: int, plots: int) -> None:
    """Write the workbook of one crew: its own plots and people, the instruments of all."""
    height, base = population()
    random = np.random.default_rng(number)
    drawn = random.integers(0, len(height), lines * GENERATED // plots)
    seen = simulate(height[drawn], base[drawn], 1, number)
    here = [f"P{plot}" for plot in range(1, plots + 1)]
    keyed = seen.lines[seen.lines["plot"].isin(here)].head(lines)
    keyed = keyed.assign(
        plot=f"{number}-" + keyed["plot"],
        species=random.choice(("Acer platanoides", "Quercus robur", "Tilia cordata"), len(keyed)),
        diameter=np.round(random.uniform(8, 80, len(keyed)), 1),
        width_widest=np.round(random.uniform(3, 12, len(keyed)), 1),
        setup=None,
        foot_above_eye=np.where(keyed["foot_reading"] > 0, True, None),
    )
    places = seen.plots.head(plots)
    part = f"Part {number}"
    places = places.assign(
        plot=f"{number}-" + places["plot"],
        crew=f"{number}" + places["crew"],
        stratum=part,
        area_inside=PLOT_AREA,
        area_reached=PLOT_AREA,
    )
    people = seen.people.head(plots)
    people = people.assign(initials=f"{number}" + people["initials"])
    package = Package.from_bytes(make_template("metric", "a4", plots, lines), path.name)
    key_rows(package, STRATA, [{"stratum": part, "area": PART_AREA}])
    key_rows(package, PEOPLE, as_rows(people))
    key_rows(package, INSTRUMENTS, instruments_to_key(seen)[:plots])
    key_rows(package, PLOTS, as_rows(places))
    key_rows(package, FIELD_SHEET, as_rows(keyed))
    path.write_bytes(package.to_bytes())


def timed(laps: dict[str, tuple[float, float]], label: str, function: Callable[..., Any]) -> Any:
    """Return the function with its seconds, and the peak of memory behind it, under the label."""

    @wraps(function)
    def run(*args: Any, **options: Any) -> Any:
        start = time.perf_counter()
        try:
            return function(*args, **options)
        finally:
            before = laps.get(label, (0.0, 0.0))[0]
            laps[label] = (before + time.perf_counter() - start, peak(resource.RUSAGE_SELF))

    return run


def peak(who: int) -> float:
    """Return the most memory that a process held [MB]."""
    unit = 1024 if sys.platform != "darwin" else 1024 * 1024
    return resource.getrusage(who).ru_maxrss / unit


@contextmanager
def profiled() -> Iterator[None]:
    """Print where the time goes, the costliest functions first."""
    profile = cProfile.Profile()
    profile.enable()
    yield
    profile.disable()
    pstats.Stats(profile).sort_stats("tottime").print_stats(SHOWN)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--books", type=int, default=40)
    parser.add_argument("--lines", type=int, default=670)
    parser.add_argument("--plots", type=int, default=17)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--after", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = options.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        start = time.perf_counter()
        paths = books(folder, options.books, options.lines, options.plots)
        print(f"{len(paths)} workbooks at hand after {time.perf_counter() - start:.1f} s")
        merge.read_one(paths[0])  # what is imported late is not counted
        if options.profile:
            with profiled():
                merge.read_one(paths[0])
            return
        out = Path(temporary) / "joint.xlsx"
        if options.after:
            with profiled():
                merge.merge(paths, out)
            return
        measure(paths, out)


def measure(paths: list[Path], out: Path) -> None:
    """Merge the workbooks and print seconds by step, and memory."""
    laps: dict[str, tuple[float, float]] = {}
    for name, label in STEPS.items():
        setattr(merge, name, timed(laps, label, getattr(merge, name)))
    start = time.perf_counter()
    joint, _ = merge.merge(paths, out)
    whole = time.perf_counter() - start
    for label, (took, most) in laps.items():
        print(f"{label:28}{took:8.1f} s   peak so far {most:6.0f} MB")
    rest = whole - sum(took for took, _ in laps.values())
    print(f"{'everything else':28}{rest:8.1f} s")
    print(f"{'together':28}{whole:8.1f} s")
    lines, plots = len(joint.rows["lines"]), len(joint.rows["plots"])
    print(f"{lines:,} lines on {plots:,} plots, {len(joint.conflicts):,} contradictions, "
          f"{out.stat().st_size / 1e6:.1f} MB")  # fmt: skip
    workers = min(len(paths), os.cpu_count() or 1)
    own, helper = peak(resource.RUSAGE_SELF), peak(resource.RUSAGE_CHILDREN)
    print(f"peak {own:.0f} MB, helpers {workers} x {helper:.0f} MB, "
          f"together at most {own + workers * helper:.0f} MB")  # fmt: skip


if __name__ == "__main__":
    main()
