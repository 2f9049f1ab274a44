"""The trial of the leaf area regression gives the figures that the program's limits rest on."""

import pytest

from tests.real.leaf_area_trial import SMALLEST_CROWN, borne_out, compared, grouped


def test_figures_over_all_kinds() -> None:
    """Pinned: any change of the regression or of its range shows here."""
    frame = compared()
    ratio = frame["ratio"]
    assert len(frame) == 3487
    assert ratio.median() == pytest.approx(1.98, abs=0.005)
    assert ratio.quantile(0.05) == pytest.approx(0.85, abs=0.005)
    assert ratio.quantile(0.95) == pytest.approx(9.60, abs=0.005)


def test_figures_of_the_genera_that_are_borne_out() -> None:
    frame = compared()
    genera = borne_out(frame)
    assert len(genera) == 18
    chosen = frame[
        frame["genus"].isin(genera) & (frame[["depth", "width"]] >= SMALLEST_CROWN).all(axis=1)
    ]
    figures = grouped(chosen, ["all"] * len(chosen)).loc["all"]
    assert figures["n"] == 1431
    assert figures[["median", "5 %", "95 %"]].tolist() == pytest.approx(
        [1.71, 0.84, 4.49], abs=5e-3
    )
