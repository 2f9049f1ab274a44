"""Copied lines and dragged columns: found where they are, silent on equal trees of a street."""

import numpy as np
import pytest

from tests.survey.checks.cases import Given, line, plot, rows
from tests.survey.checks.support import findings_of, ids_of, only


def varied(plots: int = 3, trees: int = 12, seed: int = 5) -> list[Given]:
    """Trees whose readings differ as real ones do."""
    random = np.random.default_rng(seed)
    found = []
    for number in range(plots):
        for tree in range(1, trees + 1):
            height, distance = random.uniform(8, 24), float(random.integers(12, 30))
            base = height * random.uniform(0.15, 0.4)
            width = round(height * random.uniform(0.3, 0.5), 1)
            readings = [round(100 * (h - 1.6) / distance) for h in (0.0, base, height)]
            found.append(
                line(tree, plot=str(number + 1), diameter=round(height * 2.1, 1),
                     distance=distance, width_widest=width, width_across=round(width * 0.8, 1),
                     foot_reading=readings[0], base_reading=readings[1], tip_reading=readings[2])
            )  # fmt: skip
    return found


@pytest.mark.parametrize("seed", range(8))
def test_varied_trees_are_neither_copied_nor_dragged(seed: int) -> None:
    assert not {"copied-line", "dragged-column"} & set(ids_of({"lines": varied(seed=seed)}))


@pytest.mark.parametrize("changed", ["distance", "foot_reading", "base_reading", "tip_reading"])
def test_three_readings_and_the_diameter(changed: str) -> None:
    lines = varied()
    lines[7] = lines[2] | {"tree": "8", changed: lines[7][changed] + 0.5, "width_widest": 77.7}
    finding = only("copied-line", {"lines": lines})
    assert finding.lines == (2, 7)
    # the text holds on the later line and on the earlier one
    assert finding.message.startswith("Plot 1 tree 8 (row 13) has the same ")
    assert " as plot 1 tree 3 (row 8). " in finding.message


def test_readings_and_both_widths() -> None:
    lines = varied()
    lines[7] = lines[2] | {"tree": "8", "diameter": 99.0}
    assert only("copied-line", {"lines": lines}).lines == (2, 7)


def test_far_apart_all_must_agree() -> None:
    lines = varied()
    lines[30] = lines[2] | {"plot": "3", "tree": "7"}
    assert only("copied-line", {"lines": lines}).lines == (2, 30)
    lines[30] = lines[30] | {"width_across": 1.1}
    assert "copied-line" not in ids_of({"lines": lines})


def test_one_crews_day_is_looked_at_as_a_plot_is() -> None:
    lines = varied()
    lines[30] = lines[2] | {"plot": "3", "tree": "7", "diameter": 99.0}
    days = ["2026-06-01", "2026-06-02", "2026-06-01"]
    plots = [plot(plot=str(i), date=day) for i, day in enumerate(days, 1)]
    assert only("copied-line", {"lines": lines, "plots": plots}).lines == (2, 30)
    plots[2]["date"] = "2026-06-03"
    assert "copied-line" not in ids_of({"lines": lines, "plots": plots})


def test_equal_trees_of_a_street_are_not_copied() -> None:
    random = np.random.default_rng(1)
    street = [
        line(i, diameter=float(random.integers(19, 22)), distance=15.0, foot_reading=-11.0,
             base_reading=float(random.integers(8, 12)), tip_reading=float(random.integers(40, 46)),
             width_widest=float(random.integers(4, 6)), width_across=4.0)
        for i in range(1, 31)
    ]  # fmt: skip
    assert "copied-line" not in ids_of({"lines": street})


def test_a_dragged_column_is_pointed_at_with_all_its_lines() -> None:
    lines = varied()
    for step in range(6):
        lines[14 + step]["tip_reading"] = 60.0 + step
    finding = only("dragged-column", {"lines": lines})
    assert finding.lines == (14, 15, 16, 17, 18, 19)
    assert (finding.row, finding.fields) == (20, ("tip_reading",))
    assert finding.message == (
        "From plot 2 tree 3 (row 20) to plot 2 tree 8 (row 25), the tip reading changes by the "
        "same step on all 6 lines. The cell was probably dragged down."
    )


def test_lines_that_do_not_follow_each_other_are_no_run() -> None:
    given = rows("diameter", 31.0, 32.0, 33.0, 34.0, 35.0, 52.3, 47.1, 60.6, 41.2, 39.9)
    assert "dragged-column" in ids_of(given)
    for position, line_ in enumerate(given["lines"]):
        line_["_row"] = 6 + 2 * position
    assert "dragged-column" not in ids_of(given)


def test_steps_of_inches_are_equal_after_conversion() -> None:
    inches = [2.54 * (12.1 + 0.1 * i) for i in range(6)]
    given = rows("diameter", *inches, 52.3, 47.1, 60.6, 41.2)
    assert [f.lines for f in findings_of(given) if f.check == "dragged-column"] == [
        (0, 1, 2, 3, 4, 5)
    ]
