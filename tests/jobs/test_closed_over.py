"""A closing word over a reading ends the measuring again and makes no doubtful height sound."""

from pathlib import Path

import numpy as np
import pytest

from tests.jobs.books import varied, write_filled
from tests.jobs.deciding import TROUBLED, decide, rekey, row_of, rows_of
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.decisions.closed_over import CLOSED_SINCE
from xlhelpers.survey.outcome import Outcome

ABOVE = "base-above-top"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Tree 7 has its crown base above its top, and a height by the same readings."""
    return write_filled(tmp_path / "town.xlsx", [*varied(5), *TROUBLED])


def height_of(outcome: Outcome, tree: str) -> tuple[float, bool]:
    """Return the height of a tree, and whether it is doubtful."""
    at = outcome.trees["tree"].tolist().index(tree)
    return float(outcome.trees["total_height"].iloc[at]), bool(
        outcome.counted.in_doubt["height"][at]
    )


@pytest.mark.parametrize(
    "word", ["NOT SAFE", *(pytest.param(w, marks=pytest.mark.slow) for w in ("no access", "?"))]
)
def test_a_finding_stays_where_a_word_hides_its_reading(book: Path, word: str) -> None:
    before = {row["Finding"]: row for row in rows_of(book)}
    (code,) = [code for code, row in before.items() if "above the crown top" in str(row)]
    rekey(book, "7", {"base_reading": word})
    filled = fill(book)
    height, doubtful = height_of(filled.outcome, "7")
    assert np.isfinite(height)
    assert doubtful
    (found,) = [f for f in filled.outcome.open_findings if f.check == ABOVE]
    assert found.block == "paper"
    row = next(row for row in rows_of(book) if row["Finding"] == code)
    assert row["What was found"] == f"{before[code]['What was found']} {CLOSED_SINCE}"
    assert code not in {row["Finding"] for row in rows_of(book, "Log")}
    # once said, it is said again in the same words
    assert not fill(book).wrote


@pytest.mark.slow
def test_no_word_of_the_office_makes_the_height_behind_a_word_sound(book: Path) -> None:
    rekey(book, "7", {"base_reading": "NOT SAFE"})
    fill(book)
    for typed, is_doubtful in (({"Decision": "NOT SAFE", "Initials": "CD"}, True),
                               ({"Decision": "accepted", "Initials": ""}, True)):  # fmt: skip
        decide(book, "7", typed)
        assert height_of(compute(Package.open(book)), "7")[1] == is_doubtful


@pytest.mark.slow
def test_the_office_settles_it_by_accepting_or_by_the_right_readings(book: Path) -> None:
    rekey(book, "7", {"base_reading": "NOT SAFE"})
    fill(book)
    decide(book, "7", {"Decision": "accepted", "Initials": "CD"})
    assert not height_of(fill(book).outcome, "7")[1]
    assert row_of(book, "7")["Status"] == "accepted"
    decide(book, "7", {"Decision": None, "Initials": None})
    assert height_of(compute(Package.open(book)), "7")[1]
    rekey(book, "7", {"base_reading": 10, "tip_reading": 70})
    outcome = compute(Package.open(book))
    assert not height_of(outcome, "7")[1]
    assert ABOVE not in {f.check for f in outcome.findings}


def test_a_word_that_was_there_before_keeps_nothing_that_was_corrected(tmp_path: Path) -> None:
    """The base was never read; the height was impossible by its distance, and is right now."""
    lines = [*varied(5), {"tree": "6", "distance": 250, "foot_reading": -1, "base_reading": "?"}]
    book = write_filled(tmp_path / "town.xlsx", lines)
    assert "6" in {str(row["Tree"]) for row in rows_of(book)}
    rekey(book, "6", {"distance": 25, "foot_reading": -6})
    outcome = compute(Package.open(book))
    assert not height_of(outcome, "6")[1]
    assert not [f for f in outcome.findings if CLOSED_SINCE in f.message]


def test_without_a_value_nothing_is_kept(book: Path) -> None:
    """NOT SAFE over the tip leaves no height, so nothing doubtful is used."""
    rekey(book, "7", {"tip_reading": "NOT SAFE", "base_reading": "NOT SAFE"})
    outcome = compute(Package.open(book))
    assert np.isnan(height_of(outcome, "7")[0])
    assert ABOVE not in {f.check for f in outcome.findings}
    # what could not be read is answered by the word
    rekey(book, "6", {"tip_reading": "UNREADABLE"})
    trees = {dict(f.subject).get("tree") for f in compute(Package.open(book)).open_findings}
    assert trees == {"8"}
