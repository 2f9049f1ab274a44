"""The shipped reference: what it holds, and that the kept script makes it from the open data."""

import numpy as np
import pandas as pd
import pytest

from tests.real.make_reference import make_reference
from tests.real_trees import real_trees
from xlhelpers.survey.doubt.reference import FIGURES, curves_for, reference


def trees(*rows: tuple[str, str, str]) -> pd.DataFrame:
    columns = ["botanical", "genus", "kind"]
    named = pd.DataFrame(rows, columns=columns).assign(species=[row[0] for row in rows])
    return named.assign(condition="", diameter_at=np.nan)


def test_species_then_genus_then_kind_then_all() -> None:
    table = reference().set_index(["level", "name"])["height_a"]
    found = curves_for(
        trees(
            ("Acer saccharinum", "Acer", "broadleaf"),
            ("Acer tataricum", "Acer", "broadleaf"),
            ("Paulownia tomentosa", "Paulownia", "broadleaf"),
            ("something", "", ""),
        ),
        reference(),
    )
    wanted = [("species", "acer saccharinum"), ("genus", "acer"), ("kind", "broadleaf"),
              ("all", "all")]  # fmt: skip
    assert found.of["height_a"].tolist() == [table[name] for name in wanted]


def test_a_palm_has_no_height_on_its_diameter() -> None:
    palm = curves_for(trees(("Washingtonia robusta", "Washingtonia", "palm")), reference())
    assert np.isnan(palm.of["height_a"][0])
    assert 0.5 < palm.of["share"][0] < 0.9


@pytest.mark.parametrize(
    ("condition", "diameter_at", "judged"),
    [("", np.nan, True), ("T", np.nan, True), ("C", np.nan, False), ("", 0.8, False)],
)
def test_cut_back_trees_and_diameters_from_elsewhere_have_no_usual_size(
    condition: str, diameter_at: float, judged: bool
) -> None:
    tree = trees(("Acer saccharinum", "Acer", "broadleaf"))
    tree = tree.assign(condition=condition, diameter_at=diameter_at)
    found = curves_for(tree, reference()).of
    for name in ("height_a", "height_b", "height_c", "width_a", "width_b", "width_c"):
        assert np.isfinite(found[name][0]) == judged
    assert np.isfinite(found["share"][0])


def test_curves_rise_over_all_diameters_seen() -> None:
    table = reference()
    table = table[(table["height_a"].notna())]
    for _, row in table.iterrows():
        d = np.geomspace(max(row["least_diameter"], 5), row["greatest_diameter"], 20)
        x = np.log(d / 30)
        for name in ("height", "width"):
            size = np.exp(row[f"{name}_a"] + row[f"{name}_b"] * x + row[f"{name}_c"] * x * x)
            assert (np.diff(size) > 0).mean() > 0.8, (row["name"], name)
        assert 0.05 < row["height_spread"] < 0.6
    assert reference()[["share", "share_spread"]].gt(0).all().all()


def test_the_script_makes_the_shipped_table() -> None:
    made = make_reference(real_trees()).reset_index(drop=True)
    pd.testing.assert_frame_equal(made, reference(), check_dtype=False, atol=2e-4)


@pytest.mark.slow
def test_mistakes_in_the_data_hardly_move_a_curve() -> None:
    table = real_trees()
    wrong = table.copy()
    rows = np.random.default_rng(1).choice(len(wrong), len(wrong) // 20, replace=False)
    wrong.loc[wrong.index[rows], "height_m"] *= 10
    level = [make_reference(t).set_index(["level", "name"]) for t in (table, wrong)]
    moved = (level[1]["height_a"] - level[0]["height_a"]).abs()
    assert moved[level[0]["n"] >= 100].max() < 0.06
    assert set(FIGURES) <= set(level[0].columns)


@pytest.mark.parametrize("level", ["all", "kind", "genus", "species"])
def test_every_level_is_there(level: str) -> None:
    assert (reference()["level"] == level).any()
