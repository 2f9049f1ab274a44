"""A fill that is killed leaves the original or the complete result, and the next one says so."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from tests.package.hostile import try_kill
from tests.package.rich_book import rich_book
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.book_files import TEMPORARY_PREFIX, TEMPORARY_SUFFIX
from xlhelpers.package.zip.safe_write import clear_leftovers

FEW, MANY = range(4), range(4, 20)


@pytest.fixture(scope="module")
def keyed_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return rich_book(tmp_path_factory.mktemp("rich") / "town.xlsx", lines=12)


@pytest.mark.slow
@pytest.mark.parametrize(
    "numbers", [FEW, pytest.param(MANY, marks=pytest.mark.slow)], ids=["few", "many"]
)
def test_kills_at_moments_of_chance(
    numbers: range, keyed_book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    whole = Path(shutil.copy(keyed_book, tmp_path / "town.xlsx"))
    start = time.monotonic()
    done = subprocess.run([sys.executable, "-m", "xlhelpers", "fill", str(whole)], check=False)
    assert done.returncode in (0, 1)
    seconds, complete = time.monotonic() - start, whole.read_bytes()
    ends = Counter()
    for number in numbers:
        folder = tmp_path / f"kill {number}"
        folder.mkdir()
        path = Path(shutil.copy(keyed_book, folder / "town.xlsx"))
        ends[try_kill(path, complete, random.Random(number), seconds)] += 1
    assert sum(ends.values()) == len(numbers)
    assert ends["original"] + ends["original, unfinished file left"] > 0


def test_the_next_fill_says_that_one_was_cut_off(keyed_book: Path, tmp_path: Path) -> None:
    path = Path(shutil.copy(keyed_book, tmp_path / "town.xlsx"))
    left = tmp_path / f"{TEMPORARY_PREFIX}town.xlsx abc{TEMPORARY_SUFFIX}"
    other = tmp_path / f"{TEMPORARY_PREFIX}other town.xlsx abc{TEMPORARY_SUFFIX}"
    for item in (left, other):
        item.write_bytes(path.read_bytes()[:1000])
    done = fill(path)
    assert any("interrupted" in sentence and left.name in sentence for sentence in done.notes)
    assert not left.exists()
    assert other.exists()
    assert not any("interrupted" in sentence for sentence in fill(path).notes)


def test_a_fill_under_way_is_not_taken_for_one_that_was_cut_off(
    keyed_book: Path, tmp_path: Path
) -> None:
    path = Path(shutil.copy(keyed_book, tmp_path / "town.xlsx"))
    code = (
        "import sys, time\nfrom pathlib import Path\nfrom xlhelpers.package.zip import safe_write\n"
        "path = Path(sys.argv[1])\n"
        "with safe_write._temporary(path, b'x'):\n"
        "    print('begun', flush=True)\n    time.sleep(60)"
    )
    other = subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE)
    assert other.stdout is not None
    try:
        assert other.stdout.readline() == b"begun\n"
        assert clear_leftovers(path) is None
    finally:
        other.kill()
        other.wait()
        other.stdout.close()
    said = clear_leftovers(path)
    assert said is not None
    assert "interrupted" in said
