"""How long a fill takes and what it is spent on, beside two other ways over the same workbook.

    python tests/benchmarks/fill_speed.py [--lines 20000] [--plots 1600] [--keep FOLDER]

Builds one workbook of simulated set-ups, then runs each way in a process of its own: our fill, each
step timed without the steps inside it; openpyxl loading the workbook, setting the same result
cells and tabs (as plain values) and saving; calamine reading the field sheet; and the floor under
every way. Seconds are those of the processor, so that other work on the machine counts for little;
memory is the peak of the process. A comparison by hand, not a test: nothing fails when it is slow.
"""

import argparse
import importlib
import json
import pickle
import resource
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

REPEATS = 3
MEASURING = ("set-ups", "trees", "checks")

# where a step's function lives, and under which name its time stands
STEPS = (
    ("xlhelpers.package.zip.container", "Package.open", "open"),
    ("xlhelpers.reading.survey", "read_sheets", "read grid"),
    ("xlhelpers.reading.survey", "read_survey", "read survey"),
    ("xlhelpers.survey.setups.setups", "compute_setups", "set-ups"),
    ("xlhelpers.survey.trees.trees", "build_trees", "trees"),
    ("xlhelpers.survey.checks.run", "run_checks", "checks"),
    ("xlhelpers.survey.summaries", "by_plot", "summaries"),
    ("xlhelpers.survey.summaries", "by_species", "summaries"),
    ("xlhelpers.jobs.fill.field_writes", "field_writes", "field results"),
    ("xlhelpers.package.sheet.cell_edit", "edit_cells", "field sheets"),
    ("xlhelpers.package.sheet.cell_edit", "write_cells", "field sheets"),
    ("xlhelpers.package.formulas.formula_edit", "edit_sheet", "field sheets"),
    ("xlhelpers.jobs.fill.tabs.result_tabs", "make_tabs", "tabs"),
    ("xlhelpers.package.graft.graft", "graft_sheets", "graft"),
    ("xlhelpers.pages.our_tabs", "digest_tab", "seals of the tabs"),
    ("xlhelpers.pages.our_tabs", "changes", "changes of the tabs"),
    ("xlhelpers.reading.decisions", "read_decisions", "read decisions"),
    ("xlhelpers.survey.decisions.carry", "merge", "merge decisions"),
    ("xlhelpers.survey.doubt.find", "with_doubts", "likely causes"),
    ("xlhelpers.jobs.fill.formulas", "plan_formulas", "plan formulas"),
    ("xlhelpers.jobs.fill.formulas", "write_formulas", "other formulas"),
    ("xlhelpers.pages.our_tabs", "fingerprint", "fingerprint of the tabs"),
    ("xlhelpers.package.formulas.stale_results", "refresh_on_open", "stale results"),
    ("xlhelpers.package.zip.container", "Package.to_bytes", "save"),
    ("xlhelpers.package.zip.safe_write", "write_book", "save"),
)


class Stopwatch:
    """Seconds of processor by step; the time of a step inside another is the inner one's."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._inner: list[float] = []

    def wrap(self, function: Callable[..., Any], label: str) -> Callable[..., Any]:
        """Return the function with its time counted under the label."""

        @wraps(function)
        def timed(*args: Any, **options: Any) -> Any:
            start = time.process_time()
            self._inner.append(0.0)
            try:
                found = function(*args, **options)
                return list(found) if function.__name__ == "field_writes" else found
            finally:
                whole = time.process_time() - start
                self.seconds[label] = self.seconds.get(label, 0.0) + whole - self._inner.pop()
                if self._inner:
                    self._inner[-1] += whole

        return timed

    def attach(self) -> None:
        """Put the timed functions in the place of the plain ones, wherever they were imported."""
        importlib.import_module("xlhelpers.jobs.fill.fill")
        for home, name, label in STEPS:
            owner: Any = importlib.import_module(home)
            *outer, name = name.split(".")
            for part in outer:
                owner = getattr(owner, part)
            if outer and isinstance(owner.__dict__[name], classmethod):
                plain = owner.__dict__[name].__func__
                setattr(owner, name, classmethod(self.wrap(plain, label)))
            elif outer:
                setattr(owner, name, self.wrap(getattr(owner, name), label))
            else:
                replace_everywhere(getattr(owner, name), self.wrap(getattr(owner, name), label))


def replace_everywhere(plain: object, other: object) -> None:
    """Let every module of the program that imported a function have another in its place."""
    modules = [module for name, module in sys.modules.items() if name.startswith("xlhelpers")]
    for module in modules:
        for name, value in list(vars(module).items()):
            if value is plain:
                setattr(module, name, other)


def fill_ours(book: Path) -> dict[str, float]:
    """Fill a copy of the workbook, timed by step, and keep what was written for the others."""
    watch = Stopwatch()
    watch.attach()
    importlib.import_module(
        "xlhelpers.doors.command_line.main"
    ).run_lightly()  # as the command does
    fill = importlib.import_module("xlhelpers.jobs.fill.fill")
    start = time.process_time()
    filled = fill.fill(book, filled_book(book))
    whole = time.process_time() - start
    peak, seconds = peak_memory(), dict(watch.seconds)
    writes = importlib.import_module("xlhelpers.jobs.fill.field_writes").field_writes
    cells = [
        (sheet, [(w.row, w.column, w.value) for w in of_sheet])
        for sheet, of_sheet in writes(filled.outcome)
    ]
    tabs = filled.tabs_written
    written_cells(book).write_bytes(pickle.dumps((cells, tabs)))
    other = whole - sum(seconds.values())
    return {**seconds, "other": other, "whole": whole, "peak": peak,
            "findings": len(filled.outcome.findings)}  # fmt: skip


def measure_ours(book: Path) -> dict[str, float]:
    """Time measuring and checking alone, the best of several runs."""
    from xlhelpers.package.zip.container import Package
    from xlhelpers.reading.survey import read_survey
    from xlhelpers.survey.evaluate import evaluate

    survey = read_survey(Package.open(book))
    return {"whole": best(lambda: evaluate(survey)), "peak": peak_memory()}


def fill_openpyxl(book: Path) -> dict[str, float]:
    """Load, set the same cells and tabs as plain values, save.

    The values are held ready beforehand; the peak of memory includes them.
    """
    from openpyxl import load_workbook
    from python_calamine import CalamineWorkbook

    cells, tabs = pickle.loads(written_cells(book).read_bytes())
    ready = CalamineWorkbook.from_path(filled_book(book))
    shown = {tab: ready.get_sheet_by_name(tab).to_python() for tab in tabs}
    del ready
    seconds: dict[str, float] = {}
    start = time.process_time()
    workbook = load_workbook(book)
    seconds["load"] = time.process_time() - start
    for sheet, of_sheet in cells:
        worksheet = workbook[sheet]
        for row, column, value in of_sheet:
            if value is not None:
                worksheet.cell(row, column).value = value
    for tab, rows in shown.items():
        worksheet = workbook.create_sheet(tab)
        for row in rows:
            worksheet.append(row)
    seconds["set the cells"] = time.process_time() - start - sum(seconds.values())
    workbook.save(book.with_name("openpyxl.xlsx"))
    seconds["save"] = time.process_time() - start - sum(seconds.values())
    return {**seconds, "whole": time.process_time() - start, "peak": peak_memory()}


def read_calamine(book: Path) -> dict[str, float]:
    """Read the field sheet, the best of several runs."""
    from python_calamine import CalamineWorkbook

    from xlhelpers.fields.field_sheet import FIELD_SHEET

    def read() -> object:
        return CalamineWorkbook.from_path(book).get_sheet_by_name(FIELD_SHEET.tab).to_python()

    return {"whole": best(read), "peak": peak_memory()}


def floor(book: Path) -> dict[str, float]:
    """Do what no way can do without, the best of several runs.

    The field sheet read by calamine; it and the tabs inflated, their rows parted and joined
    again, and deflated as a fill deflates them.
    """
    from xlhelpers.fields.workbook import RESULT_TABS
    from xlhelpers.package.parts.parts import sheet_named
    from xlhelpers.package.zip.container import Package
    from xlhelpers.package.zip.zip_entries import pack

    package = Package.open(filled_book(book))
    names = ["Field sheet", *RESULT_TABS.values()]
    parts = [sheet.part for name in names if (sheet := sheet_named(package, name))]

    def rewrite() -> None:
        for part in parts:
            pack(b"</row>".join(package.read(part).split(b"</row>")))

    return {"whole": read_calamine(book)["whole"] + best(rewrite), "peak": peak_memory()}


def best(run: Callable[[], object]) -> float:
    """Return the least seconds of processor over several runs."""
    found = []
    for _ in range(REPEATS):
        start = time.process_time()
        run()
        found.append(time.process_time() - start)
    return min(found)


def peak_memory() -> float:
    """Return the most memory that this process ever held [MB]."""
    unit = 1024 if sys.platform != "darwin" else 1024 * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


def filled_book(book: Path) -> Path:
    """Return where our filled copy lies."""
    return book.with_name("filled.xlsx")


def written_cells(book: Path) -> Path:
    """Return where the result cells lie for the other ways."""
    return book.with_name("cells.pickle")


WAYS: dict[str, Callable[[Path], dict[str, float]]] = {
    "fill": fill_ours,
    "measuring and checking": measure_ours,
    "openpyxl": fill_openpyxl,
    "calamine": read_calamine,
    "floor": floor,
}


def one_way(options: argparse.Namespace) -> dict[str, float]:
    """Run the way that was asked for in this process."""
    if options.way != "build":
        return WAYS[options.way](options.book)
    # imported here only, so that the other ways carry no more than they use
    from tests.benchmarks.survey_book import build

    start = time.process_time()
    build(options.book, options.lines, options.plots)
    return {"whole": time.process_time() - start}


def run_apart(way: str, book: Path, options: argparse.Namespace) -> dict[str, float]:
    """Run one way in a process of its own and return its figures.

    The workbook is built apart, too: a process counts its parent's memory into its own peak.
    """
    command = [sys.executable, __file__, "--way", way, "--book", str(book)]
    command += ["--lines", str(options.lines), "--plots", str(options.plots)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{way} failed:\n{done.stderr}")
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def report(book: Path, options: argparse.Namespace) -> None:
    """Run every way and print the tables."""
    found = {way: run_apart(way, book, options) for way in WAYS}
    ours, plain, read = found["fill"], found["openpyxl"], found["calamine"]
    print(f"\n{'step of our fill':<34}{'s':>8}{'share':>8}")
    for step, seconds in ours.items():
        if step not in {"whole", "peak", "findings"}:
            print(f"{step:<34}{seconds:8.2f}{seconds / ours['whole']:8.1%}")
    print(f"\n{'way':<34}{'s':>8}{'MB':>8}")
    for name, figures in found.items():
        print(f"{name:<34}{figures['whole']:8.2f}{figures['peak']:8.0f}")
    for step in ("load", "set the cells", "save"):
        print(f"{'  openpyxl: ' + step:<34}{plain[step]:8.2f}")
    in_fill = sum(ours.get(step, 0.0) for step in MEASURING)
    again = found["measuring and checking"]["whole"]
    print(f"\n{'ratio':<46}{'':>8}")
    print(f"{'openpyxl : our fill, time':<46}{plain['whole'] / ours['whole']:8.2f}")
    print(f"{'openpyxl : our fill, memory':<46}{plain['peak'] / ours['peak']:8.2f}")
    print(f"{'our fill : floor':<46}{ours['whole'] / found['floor']['whole']:8.2f}")
    print(f"{'measuring and checking : calamine read':<46}{again / read['whole']:8.2f}")
    print(f"{'  the same, first run, inside the fill':<46}{in_fill / read['whole']:8.2f}")
    print(f"\n{ours['findings']:.0f} findings; seconds of processor, best of {REPEATS} where alone")


def main() -> None:
    """Read the options, build the workbook and compare."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--lines", type=int, default=20_000, help="set-ups (20000)")
    parser.add_argument("--plots", type=int, default=1_600, help="plots (1600)")
    parser.add_argument("--keep", type=Path, help="a folder for the workbooks, to be kept")
    parser.add_argument("--way", choices=["build", *WAYS], help=argparse.SUPPRESS)
    parser.add_argument("--book", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.way:
        warnings.simplefilter("ignore")
        print(json.dumps(one_way(options)))
        return
    with tempfile.TemporaryDirectory() as scratch:
        folder = options.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        book = folder / "keyed.xlsx"
        built = run_apart("build", book, options)
        print(f"{options.lines} set-ups on {options.plots} plots, {book.stat().st_size:,} bytes, "
              f"built in {built['whole']:.1f} s")  # fmt: skip
        report(book, options)


if __name__ == "__main__":
    main()
