"""Damaged workbooks give a clear refusal or a sound result, never another exception."""

from __future__ import annotations

import resource
from collections import Counter
from pathlib import Path

import pytest

from tests.package.books import parts_of, user_book, zipped
from tests.package.hostile import KINDS, keyed_texts, try_fill, try_use
from tests.package.rich_book import rich_book
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.zip.container import Package

BOOK = user_book()
OF_EACH_KIND = 20
FILLED_OF_EACH_KIND = 5
FIRST, OTHERS = range(1), range(1, FILLED_OF_EACH_KIND)
# whose fills take long; the usual run opens and reads these too
LONG = ("twice", "swap", "text", "element", "name")


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return rich_book(tmp_path_factory.mktemp("rich") / "town.xlsx", lines=3).read_bytes()


@pytest.mark.parametrize("kind", KINDS)
def test_damage_of_each_kind(kind: str) -> None:
    ends = Counter(try_use(BOOK, kind, seed)[0] for seed in range(OF_EACH_KIND))
    assert ends["refused"] > 0 or kind in ("number", "text", "twice")


@pytest.mark.parametrize(
    "seeds", [FIRST, pytest.param(OTHERS, marks=pytest.mark.slow)], ids=["first", "others"]
)
@pytest.mark.parametrize(
    "kind", [pytest.param(k, marks=pytest.mark.slow) if k in LONG else k for k in KINDS]
)
def test_a_damaged_workbook_is_filled_or_left_as_it_was(
    kind: str, seeds: range, rich: bytes, tmp_path: Path
) -> None:
    for seed in seeds:
        try_fill(rich, kind, seed, tmp_path / f"{seed}.xlsx")
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 < 1024


def test_there_are_three_hundred_of_them() -> None:
    assert len(KINDS) * (OF_EACH_KIND + FILLED_OF_EACH_KIND) >= 300


def test_a_field_sheet_that_holds_another_sheet_gets_results_in_its_result_columns_only(
    rich: bytes, tmp_path: Path
) -> None:
    """The names of columns still point at it; what stands there is not touched."""
    parts = parts_of(rich)
    names = {sheet.name: sheet.part for sheet in sheets(Package.from_bytes(rich))}
    parts[names["Field sheet"]] = parts[names["Guide"]]
    path = tmp_path / "town.xlsx"
    path.write_bytes(zipped(parts))
    before = keyed_texts(path.read_bytes())
    fill(path)
    assert keyed_texts(path.read_bytes()) == before
    assert not fill(path).wrote
