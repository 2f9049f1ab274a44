"""The native charts: how many, what they are drawn from, and what is said to those who listen."""

import re

import numpy as np
import pandas as pd
import pytest
from lxml import etree

from tests.jobs.tabs.make_outcome import FACTS, finding, lines_of_town, make_outcome
from tests.jobs.tabs.reading import CHART, MAIN, alt_texts, charts, open_book, title_of
from xlhelpers.jobs.fill.tabs.by_plot import GREATEST_PLOTS, GREATEST_TREES, bars_of
from xlhelpers.jobs.fill.tabs.result_tabs import render_tabs
from xlhelpers.pages.plan import DOUBTFUL
from xlhelpers.survey.outcome import Outcome

LAYERS = ["stem", "crown", "dead_top", "dead_tree", "height_only"]


@pytest.fixture(scope="module")
def town() -> tuple[Outcome, bytes]:
    lines = lines_of_town(240, 20)
    outcome = make_outcome(lines, [finding(0, "1", "1")])
    return outcome, render_tabs(outcome, FACTS)


def _chart(data: bytes, title: str) -> etree._Element:
    return next(c for c in charts(data) if title_of(c) == title)


def _drawn(data: bytes, reference: str) -> list[object]:
    """Return the values of the cells that a series refers to."""
    match = re.fullmatch(r"'?([^'!]+)'?!\$([A-Z]+)\$(\d+):\$([A-Z]+)\$(\d+)", reference)
    assert match is not None, reference
    sheet = open_book(data)[match[1]]
    cells = sheet[f"{match[2]}{match[3]}:{match[4]}{match[5]}"]
    return [row[0].value for row in cells]


def test_a_chart_a_plot_one_of_the_chosen_two_of_species(
    town: tuple[Outcome, bytes],
) -> None:
    titles = [title_of(c) for c in charts(town[1])]
    assert sorted(t for t in titles if t.startswith("Plot ")) == sorted(
        f"Plot {i}" for i in range(1, 21)
    )
    assert sum("Trees by species" in t for t in titles) == 1
    assert sum("Mean total height" in t for t in titles) == 1
    assert sum("The trees of the plot" in t for t in titles) == 1
    assert len(titles) == 23


def test_every_chart_is_described_and_carries_our_name(town: tuple[Outcome, bytes]) -> None:
    said = alt_texts(town[1])
    assert len(said) == 23
    assert all(name.startswith("xlh_chart_") for name, _ in said)
    assert len({name for name, _ in said}) == 23
    assert all(len(description) > 40 for _, description in said)
    tallest = town[0].trees.query("plot == '3'").sort_values("total_height").iloc[-1]
    assert (
        f"tree {tallest['tree']} with {tallest['total_height']:.1f} m"
        in dict(said)["xlh_chart_plot_3"]
    )


def test_axes_have_titles_with_units(town: tuple[Outcome, bytes]) -> None:
    for chart in charts(town[1]):
        axes = [
            "".join(t.text for t in axis.iter(f"{MAIN}t"))
            for axis in chart.iter(f"{CHART}catAx", f"{CHART}valAx")
        ]
        assert len(axes) == 2
        assert all(axes)
        if "species" not in title_of(chart):
            assert "Height above the foot (m)" in axes


def test_us_survey_has_feet_on_its_axes() -> None:
    data = render_tabs(make_outcome(lines_of_town(12, 1), rules={"units": "us"}), FACTS)
    texts = [t.text for t in _chart(data, "Plot 1").iter(f"{MAIN}t")]
    assert "Height above the foot (ft)" in texts


def test_bars_are_drawn_from_the_trees_of_their_plot(town: tuple[Outcome, bytes]) -> None:
    outcome, data = town
    trees = outcome.trees.query("plot == '1' and total_height > 0")
    stacked = np.zeros(len(trees))
    for series in _chart(data, "Plot 1").iter(f"{CHART}ser"):
        values = _drawn(data, series.find(f"{CHART}val//{CHART}f").text)
        stacked += [0.0 if v is None else float(v) for v in values]  # type: ignore[arg-type]
        names = _drawn(data, series.find(f"{CHART}cat//{CHART}f").text)
        assert names == ["1 ?", *trees["tree"].tolist()[1:]]
    np.testing.assert_allclose(stacked, trees["total_height"].to_numpy(), atol=1e-9)


def test_species_charts_follow_the_table(town: tuple[Outcome, bytes]) -> None:
    outcome, data = town
    chart = _chart(data, "Trees by species")
    reference = chart.find(f".//{CHART}val//{CHART}f").text
    counted = outcome.trees["botanical"].value_counts()
    assert _drawn(data, reference) == counted.tolist()
    heights = _chart(data, "Mean total height of the 12 most common species")
    references = [f.text for f in heights.iter(f"{CHART}f")]
    assert len(references) == 4  # names, means, and the spread both ways
    assert {len(_drawn(data, r)) for r in references} == {12}
    living = outcome.trees[outcome.trees["condition"] != "D"]
    first = living[living["botanical"] == counted.index[0]]["total_height"]
    assert _drawn(data, references[-1])[0] == pytest.approx(first.mean())
    assert _drawn(data, references[0])[0] == pytest.approx(first.std())


@pytest.mark.slow
def test_more_plots_than_charts() -> None:
    lines = lines_of_town(200, 100)
    data = render_tabs(make_outcome(lines), FACTS)
    titles = [title_of(c) for c in charts(data) if title_of(c).startswith("Plot ")]
    assert len(titles) == GREATEST_PLOTS
    assert "Plot 1" in titles
    said = [c.value for row in open_book(data)["By plot"].iter_rows() for c in row]
    assert any(f"the first {GREATEST_PLOTS} of" in str(text) for text in said)


def test_long_street_shows_its_first_trees_and_says_so() -> None:
    lines = [line for line in lines_of_town(90, 1) if "tip_reading" in line]
    titles = [title_of(c) for c in charts(render_tabs(make_outcome(lines), FACTS))]
    assert f"Plot 1, first {GREATEST_TREES} of {len(lines)} trees" in titles


def test_no_chart_without_trees() -> None:
    assert charts(render_tabs(make_outcome([]), FACTS)) == []


@pytest.mark.parametrize(
    ("condition", "base", "top", "total", "bar"),
    [
        ("living", 4.0, 18.0, 18.0, {"stem": 4.0, "crown": 14.0}),
        ("dead top", 4.0, 15.0, 18.0, {"stem": 4.0, "crown": 11.0, "dead_top": 3.0}),
        ("dead", np.nan, np.nan, 12.0, {"dead_tree": 12.0}),
        ("living", np.nan, 18.0, 18.0, {"height_only": 18.0}),
        ("living", 19.0, 18.0, 18.0, {"height_only": 18.0}),  # a base above the top is no crown
        ("dead top", 4.0, 20.0, 18.0, {"height_only": 18.0}),
        ("living", -0.1, 18.0, 18.0, {"stem": 0.0, "crown": 18.0}),
    ],
)
def test_layers_of_a_bar(
    condition: str, base: float, top: float, total: float, bar: dict[str, float]
) -> None:
    tree = {
        "plot": "1",
        "tree": "1",
        "condition": condition,
        "crown_base": base,
        "crown_top": top,
        "total_height": total,
        "left_out": "",
        DOUBTFUL: False,
    }
    row = bars_of(pd.DataFrame([tree])).iloc[0]
    assert {k: row[k] for k in LAYERS if not np.isnan(row[k])} == pytest.approx(bar)


def test_tree_without_a_height_has_no_bar() -> None:
    outcome = make_outcome([{"plot": "1", "tree": "1", "species": "Quercus robur"}])
    trees = outcome.trees.assign(condition="living", left_out="", **{DOUBTFUL: False})
    assert bars_of(trees).empty


@pytest.mark.parametrize("left_out", ["height", "crown depth", "diameter"])
def test_what_is_left_out_of_means_is_not_drawn(left_out: str) -> None:
    tree = {
        "plot": "1", "tree": "1", "condition": "living", "crown_base": 4.0, "crown_top": 18.0,
        "total_height": 18.0, "left_out": left_out, DOUBTFUL: True,
    }  # fmt: skip
    bars = bars_of(pd.DataFrame([tree]))
    assert len(bars) == (0 if left_out == "height" else 1)
    if left_out == "crown depth":
        assert bars["height_only"].tolist() == [18.0]
