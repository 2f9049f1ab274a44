"""Ten thousand damaged workbooks and two hundred killed fills; run by hand, it takes long.

    python -m tests.endurance [--damaged 10000] [--kills 200] [--fill-every 10] [--first 0]

Each damaged workbook must be refused with a clear sentence or give a sound result; every so many
go through the whole fill on the disk. Any other exception, more than ten seconds of the processor,
changed original, or memory over a gigabyte is a failure; each is named with its trial, which can be
repeated. A run that was cut off goes on with `--kills 0 --first` and the last number that it named.
"""

import argparse
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path

from tests.package.books import user_book
from tests.package.hostile import KINDS, try_fill, try_kill, try_use
from tests.package.rich_book import rich_book

ROOT = Path(__file__).parents[1]
MEMORY = 2**30
CORPUS = ROOT.parent / "shared" / "corpus"


def sources(folder: Path) -> list[tuple[str, bytes]]:
    """The workbooks that are damaged: our own, and small real ones where they are at hand."""
    rich = rich_book(folder / "rich.xlsx", lines=3).read_bytes()
    real = sorted(CORPUS.glob("*.xls[xm]")) if CORPUS.is_dir() else []
    small = [path for path in real if path.stat().st_size < 60_000]
    return [("rich", rich), ("own", user_book()), *((p.name, p.read_bytes()) for p in small)]


def run_damaged(folder: Path, count: int, fill_every: int, first: int) -> None:
    """Try so many damaged workbooks, from the first one on."""
    books = sources(folder)
    ends: Counter[str] = Counter()
    said: Counter[str] = Counter()
    failed: list[str] = []
    slowest, start = 0.0, time.monotonic()
    for number in range(first, count):
        kind = KINDS[number % len(KINDS)]
        filled = number % fill_every == 0
        name, book = books[0] if filled else books[(number // len(KINDS)) % len(books)]
        trial = f"{kind} {number} of {name}"
        begun = time.process_time()
        try:
            if filled:
                end, message = try_fill(book, kind, number, folder / "damaged.xlsx")
            else:
                end, message = try_use(book, kind, number)
        except KeyboardInterrupt:
            raise
        except BaseException as error:
            print(f"failed: {trial}: {error!r:.200}", flush=True)
            failed.append(trial)
            end, message = "failed", ""
        slowest = max(slowest, time.process_time() - begun)
        ends[f"{'fill' if filled else 'use'}: {end}"] += 1
        said[" ".join(message.split()[-6:])] += message != ""
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
        if peak > MEMORY:
            raise SystemExit(f"{trial}: {peak / 2**20:.0f} MB of memory")
        if number % 500 == 499:
            print(f"{number + 1} damaged: {dict(ends)}", flush=True)
    print(
        f"{count - first} damaged workbooks in {time.monotonic() - start:.0f} s: {dict(ends)}; "
        f"slowest {slowest:.1f} s, peak {peak / 2**20:.0f} MB, {len(said)} endings of messages"
    )


def run_kills(folder: Path, count: int) -> None:
    """Kill so many fills."""
    keyed = rich_book(folder / "keyed.xlsx", lines=12)
    whole = Path(shutil.copy(keyed, folder / "town.xlsx"))
    start = time.monotonic()
    subprocess.run([sys.executable, "-m", "xlhelpers", "fill", str(whole)], check=False,
                   stdout=subprocess.DEVNULL)  # fmt: skip
    seconds, complete = time.monotonic() - start, whole.read_bytes()
    ends: Counter[str] = Counter()
    for number in range(count):
        place = folder / f"kill {number}"
        place.mkdir()
        path = Path(shutil.copy(keyed, place / "town.xlsx"))
        ends[try_kill(path, complete, random.Random(number), seconds)] += 1
        shutil.rmtree(place)
    print(f"{count} kills of a fill of {seconds:.1f} s: {dict(ends)}")


def main() -> None:
    """Read the options and run both."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--damaged", type=int, default=10_000, help="damaged workbooks (10000)")
    parser.add_argument("--kills", type=int, default=200, help="killed fills (200)")
    parser.add_argument("--fill-every", type=int, default=10, help="a whole fill every so many")
    parser.add_argument("--first", type=int, default=0, help="number of the first damaged one (0)")
    options = parser.parse_args()
    warnings.simplefilter("ignore")
    os.environ["SOURCE_DATE_EPOCH"] = "1700000000"
    os.environ["PYTHONPATH"] = str(ROOT)
    with tempfile.TemporaryDirectory() as folder:
        if options.kills:
            run_kills(Path(folder), options.kills)
        if options.damaged:
            run_damaged(Path(folder), options.damaged, options.fill_every, options.first)


if __name__ == "__main__":
    main()
