"""The trial of the leaf area regression gives the figures that the program's limits rest on."""

import pytest

from tests.real.leaf_area_trial import FEWEST, SMALLEST_CROWN, borne_out, compared, grouped
from xlhelpers.survey.trees.crowns import LEAF_AREA_GENERA


def test_figures_over_all_kinds() -> None:
    """Pinned: any change of the regression or of its range shows here."""
    frame = compared()
    ratio = frame["ratio"]
    assert len(frame) == 3487
    assert ratio.median() == pytest.approx(1.87, abs=0.005)
    assert ratio.quantile(0.05) == pytest.approx(0.765, abs=0.005)
    assert ratio.quantile(0.95) == pytest.approx(9.07, abs=0.005)


def test_figures_of_the_genera_that_are_borne_out() -> None:
    frame = compared()
    genera = borne_out(frame)
    assert set(genera) == LEAF_AREA_GENERA
    chosen = frame[
        frame["genus"].isin(genera) & (frame[["depth", "width"]] >= SMALLEST_CROWN).all(axis=1)
    ]
    figures = grouped(chosen, ["all"] * len(chosen)).loc["all"]
    assert figures["n"] == 1459
    assert figures[["median", "5 %", "95 %"]].tolist() == pytest.approx(
        [1.56, 0.72, 3.97], abs=5e-3
    )


@pytest.mark.parametrize("name", ["Fraxinus", "Crataegus", "Betula", "Pyrus", "Acer"])
def test_published_shading_factors_do_better_than_one_for_all(name: str) -> None:
    """Of the genera with such trees more are within a factor of two of the recorded area."""
    published, one_for_all = (
        grouped(frame, frame["genus"]).loc[name]
        for frame in (compared(), compared(published=False))
    )
    assert published["n"] == one_for_all["n"] >= FEWEST
    assert published["within 2"] > one_for_all["within 2"]
    assert 0.5 < published["median"] < one_for_all["median"]
