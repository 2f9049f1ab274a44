"""Stated odds against the share of causes that was right, and the words that follow from it."""

import pandas as pd
import pytest

from tests.doubt_proof.write_calibration import tabulate
from xlhelpers.survey.doubt.calibration import (
    PROBABLY_FROM,
    load_calibration,
    say_how_sure,
    share_right,
)


def test_the_table_has_ranges_without_gaps_and_grows() -> None:
    table = load_calibration()
    assert list(table.columns) == ["stated_from", "stated_to", "lines", "right_share"]
    assert table["stated_from"].iloc[0] == 0
    assert table["stated_to"].iloc[-1] == 1
    assert table["stated_from"].tolist()[1:] == table["stated_to"].tolist()[:-1]
    assert table["right_share"].is_monotonic_increasing


@pytest.mark.parametrize("stated", [0.0, 0.1, 0.35, 0.6, 0.8, 0.95, 1.0])
def test_the_word_follows_what_was_right(stated: float) -> None:
    table = load_calibration()
    own = table[(table["stated_from"] <= stated) & (stated <= table["stated_to"])].iloc[-1]
    assert share_right(stated) == own["right_share"]
    often = own["right_share"] > PROBABLY_FROM == 0.6
    assert say_how_sure(stated) == ("Probably" if often else "Possibly")


def test_stated_odds_in_ranges() -> None:
    """Log odds of 0 and a share of 0.8 are 40 %; of 50, all: 80 %."""
    lines = pd.DataFrame(
        {
            "cause": ["a", "b", "c", ""],
            "odds": [0.0, 0.0, 50.0, 50.0],
            "share": [0.8, 0.8, 0.8, 0.8],
            "right": [True, False, True, False],
        }
    )
    assert tabulate(lines).to_numpy().tolist() == [[0.0, 0.5, 2, 0.5], [0.7, 0.9, 1, 1.0]]
