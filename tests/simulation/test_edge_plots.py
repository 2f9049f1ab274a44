"""True frames with plots cut by the edge are seldom refused, and wrong ones still are."""

from pathlib import Path

import pytest

from tests.simulation.edge_plots import share_refused, table_rows


def test_a_true_frame_with_five_plots_is_hardly_ever_refused() -> None:
    now, before = share_refused(5, surveys=400)
    # the limits of 0.8 and 1.25 alone refused one stratum in ten
    assert before == pytest.approx(0.11, abs=0.04)
    assert now <= 0.01
    assert share_refused(5, 10.0, surveys=400)[0] == 1.0


@pytest.mark.slow
def test_the_table_of_the_readme_is_what_the_script_prints() -> None:
    text = (Path(__file__).parent / "README.md").read_text(encoding="utf-8")
    rows = list(table_rows())
    assert len(rows) == 5
    for row in rows:
        assert row in text
