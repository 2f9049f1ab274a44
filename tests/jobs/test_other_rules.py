"""Two workbooks whose rules or plots say other things about widths, tapes and feet."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from tests.jobs.books import GOOD, PLOT, keyed, run, varied
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.change.change import change
from xlhelpers.jobs.merge.book import HEIGHTS
from xlhelpers.jobs.merge.merge import merge
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.widths import widths_differ
from xlhelpers.template.keyed_rows import key_rows

FIXED = {"crown_widths": "two fixed directions"}
STREET = FIXED | {"width_directions": "along and across the street"}


def book_of(path: Path, rules: dict[str, str], plot: dict[str, Any] | None = None) -> Path:
    lines = [GOOD | line for line in varied(5)]
    book = keyed(path, lines, [PLOT | {"trees_counted": 5} | (plot or {})])
    package = Package.open(book)
    key_rows(package, RULES, [rules])
    book.write_bytes(package.to_bytes())
    return book


def texts_of(path: Path) -> str:
    book = openpyxl.load_workbook(path)
    cells = (cell.value for sheet in book for row in sheet for cell in row)
    return " ".join(str(value) for value in cells if value is not None)


@pytest.mark.parametrize(
    ("one", "other", "differ"),
    [
        ({}, {}, False),
        ({}, FIXED, True),
        (FIXED, FIXED, False),
        (FIXED, STREET, True),
        ({}, {"crown_widths": "four radii"}, True),
        # another direction counts only where widths are taken in fixed ones
        ({}, {"width_directions": "along and across the street"}, False),
        ({}, {"crown_widths": "not measured"}, False),
    ],
)
def test_widths_of_two_rules(one: dict[str, str], other: dict[str, str], differ: bool) -> None:
    usual = {"crown_widths": "widest and across", "width_directions": "north-south and east-west"}
    assert widths_differ(usual | one, usual | other) == differ
    assert widths_differ(usual | other, usual | one) == differ


def test_crown_areas_of_two_rules_are_no_change(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = book_of(tmp_path / "old.xlsx", {}), book_of(tmp_path / "new.xlsx", FIXED)
    out = tmp_path / "change.xlsx"
    assert run("change", old, new, "--out", out) == 1
    said = capsys.readouterr().out
    sentence = (
        "Crown widths were taken in two ways: “widest and across” in OLD and “two fixed directions "
        "(north-south and east-west)” in NEW. So crown areas cannot be compared."
    )
    assert f"Crown area: cannot be told. {sentence}" in said
    assert f"crown widths: {sentence}" in said
    assert sentence in texts_of(out)
    nets = {net.measure.key: net for net in change(old, new)[0].nets}
    assert math.isnan(nets["crown-area"].change)
    assert math.isfinite(nets["basal-area"].change)
    rows = list(openpyxl.load_workbook(out)["Plots"].iter_rows(values_only=True))
    at = next(i for i, row in enumerate(rows) if row[0] == "Plot no.")
    shown = dict(zip(map(str, rows[at]), rows[at + 1], strict=True))
    areas = {name: value for name, value in shown.items() if name.startswith("Crown area")}
    assert [value is None for value in areas.values()] == [False, False, True]


def test_crown_areas_of_one_rule_are_compared(tmp_path: Path) -> None:
    old, new = book_of(tmp_path / "old.xlsx", FIXED), book_of(tmp_path / "new.xlsx", FIXED)
    nets = {net.measure.key: net for net in change(old, new)[0].nets}
    assert nets["crown-area"].change == 0


def test_two_entries_of_two_rules(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one, two = book_of(tmp_path / "one.xlsx", {}), book_of(tmp_path / "two.xlsx", STREET)
    out = tmp_path / "both.xlsx"
    assert run("compare", one, two, "--out", out) == 1
    words = "crown widths are “widest and across” in the first entry"
    assert words in capsys.readouterr().out
    assert words in texts_of(out)
    again = book_of(tmp_path / "again.xlsx", {})
    assert run("compare", one, again) == 0
    assert "crown widths" not in capsys.readouterr().out


def test_a_merge_says_that_widths_were_taken_in_two_ways(tmp_path: Path) -> None:
    one, two = book_of(tmp_path / "one.xlsx", {}), book_of(tmp_path / "two.xlsx", STREET)
    merged, _ = merge([one, two], tmp_path / "out.xlsx")
    said = {c.label: c.done for c in merged.conflicts if c.kind == "rule"}
    assert set(said) == {"Crown widths are", "Fixed directions are"}
    assert all("do not compare them" in text for text in said.values())
    before, after = (read_survey(Package.open(path)).lines for path in (one, tmp_path / "out.xlsx"))
    for name in ("width_widest", "width_across"):
        assert after[name].tolist() == before[name].tolist() * 2


def heights_of(path: Path) -> np.ndarray:
    return compute_setups(read_survey(Package.open(path)))[list(HEIGHTS)].to_numpy(float)


def test_a_merge_of_plots_whose_tapes_end_elsewhere(tmp_path: Path) -> None:
    """Both rows stay, and so does every line; each height that the first row changes is listed."""
    one = book_of(tmp_path / "one.xlsx", {}, {"distance_to": "centre"})
    two = book_of(tmp_path / "two.xlsx", {}, {"distance_to": "bark"})
    out = tmp_path / "out.xlsx"
    merged, _ = merge([one, two], out)
    survey = read_survey(Package.open(out))
    assert survey.plots["distance_to"].tolist() == ["centre", "bark"]
    assert len(survey.lines) == 10
    assert (
        survey.lines["distance"].tolist()
        == read_survey(Package.open(one)).lines["distance"].tolist() * 2
    )
    (conflict,) = [c for c in merged.conflicts if c.label == "Distance to"]
    assert (conflict.stands, conflict.other) == ("centre", "bark")
    assert "heights may differ" in conflict.done
    own = np.vstack([heights_of(one), heights_of(two)])
    moved = ~np.isclose(heights_of(out), own, rtol=1e-6)
    assert moved[5:].all()
    assert not moved[:5].any()
    assert sum(c.kind == "height" for c in merged.conflicts) == moved.sum()


def test_a_merge_keeps_heights_by_the_eye_height_of_a_plot(tmp_path: Path) -> None:
    """The lines of the later workbook say for themselves that the eye height stands for it."""
    one = book_of(tmp_path / "one.xlsx", {})
    no_foot = [GOOD | line | {"foot_reading": None, "tree": f"{line['tree']}0"}
               for line in varied(3)]  # fmt: skip
    no_foot[2]["missing_because"] = "NOT SEEN: hedge"
    plot = PLOT | {"trees_counted": 5, "foot_by": "eye height"}
    two = keyed(tmp_path / "two.xlsx", no_foot, [plot])
    one = keyed(one, [GOOD | line for line in varied(5)], [plot | {"foot_by": "read"}])
    out = tmp_path / "out.xlsx"
    merged, _ = merge([one, two], out)
    assert np.isfinite(heights_of(two)).all(axis=1).tolist() == [True, True, False]
    np.testing.assert_allclose(heights_of(out), np.vstack([heights_of(one), heights_of(two)]))
    assert not [c for c in merged.conflicts if c.kind == "height"]
    assert [c.other for c in merged.conflicts if c.label == "Foot of the trees"] == ["eye height"]
    reasons = read_survey(Package.open(out)).lines["missing_because"].tolist()[5:]
    assert reasons == ["EYE HEIGHT", "EYE HEIGHT", "NOT SEEN: hedge"]
