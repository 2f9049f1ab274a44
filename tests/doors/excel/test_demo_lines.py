"""Every function on every line of the invented town, through both engines, against the batch.

The uncertainty function takes the uncertainties of distance and angle as they are given, the
batch those of each instrument; on the town's angles it is compared with the formula itself.
"""

import json
import subprocess
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.town import town_outcome
from xlhelpers.doors.excel import functions
from xlhelpers.measure.slopes import SCALES
from xlhelpers.measure.uncertainty import height_from_angles
from xlhelpers.survey.outcome import Outcome

ROOT = Path(__file__).parents[3]


@dataclass(frozen=True)
class Lines:
    """A function, its arguments as columns, and what the batch gives on these lines."""

    function: str
    columns: tuple[Any, ...]
    expected: Any


def angle(slopes: Any) -> Any:
    return np.degrees(np.arctan(slopes))


def sighted(outcome: Outcome) -> list[Lines]:
    """Heights of all lines that were sighted without anything beyond a point and the foot."""
    lines, setups = outcome.survey.lines, outcome.setups
    plain = setups["scale"].isin(list(SCALES)) & setups["level_distance"].notna()
    plain &= lines["tip_offset"].isna() & lines["mark_above_foot"].isna()
    found = []
    for point, reading, result in (
        ("tip", "tip_reading", "total_height"),
        ("base", "base_reading", "base_sighted"),
        ("top", "top_reading", "top_sighted"),
    ):
        way = setups[f"{point}_way"].str.startswith("sighted, ")
        at = plain & way & lines[reading].notna() & setups[result].notna()
        # where the office ticked that the foot is above the eye, an unsigned number may stand
        foot = np.where(setups["foot_slope"] > 0, abs(lines["foot_reading"]), lines["foot_reading"])
        columns = (
            lines[reading][at],
            foot[at],
            (setups["level_distance"] - setups["distance_added"])[at],
            setups["scale"][at],
            setups["scale_distance"][at],
            2 * setups["distance_added"][at],
        )
        found.append(Lines("height_above_foot", columns, setups[result][at]))
    along = (setups["distance_kind"] == "along slope") & plain & lines["slope_reading"].notna()
    columns = (
        lines["distance"][along],
        lines["slope_reading"][along],
        setups["scale"][along],
        setups["scale_distance"][along],
    )
    level = (setups["level_distance"] - setups["distance_added"])[along]
    found.append(Lines("level_distance", columns, level))
    # the foot is aimed at on the bark
    to_foot = setups["level_distance"] - setups["distance_added"]
    to_foot = to_foot * np.hypot(1, setups["foot_slope"])
    both = setups["tip_way"] == "two straight distances"
    columns = (
        lines["tip_straight"][both],
        angle(setups["tip_slope"])[both],
        to_foot[both],
        angle(setups["foot_slope"])[both],
    )
    found.append(Lines("height_from_straight_distances", columns, setups["total_height"][both]))
    return [*found, *uncertain(outcome)]


def uncertain(outcome: Outcome) -> list[Lines]:
    setups = outcome.setups
    at = setups[["level_distance", "tip_slope", "foot_slope"]].notna().all(axis=1)
    level = setups["level_distance"][at]
    tip, foot = angle(setups["tip_slope"])[at], angle(setups["foot_slope"])[at]
    given = (level, tip, foot, 0.01 * level, np.full(len(level), 0.25))
    expected = height_from_angles(*(np.asarray(column) for column in given))
    return [Lines("height_uncertainty", given, expected)]


def of_trees(outcome: Outcome) -> list[Lines]:
    trees = outcome.trees
    both = trees[["width_widest", "width_across"]].notna().all(axis=1)
    crown = trees["crown_depth"].notna()
    solid = both & crown & trees["volume"].notna()
    stem = trees["diameter"].notna()
    widths = [trees["width_widest"], trees["width_across"]]
    heights = [trees["crown_top"][crown], trees["crown_base"][crown]]
    many = trees["stem_count"] > 1
    stems = stem_table(outcome)[many.to_numpy()]
    unit = pd.Series("cm", index=trees.index)
    return [
        Lines("crown_depth", tuple(heights), trees["crown_depth"][crown]),
        Lines(
            "crown_ratio",
            (*heights, trees["total_height"][crown]),
            trees["live_crown_ratio"][crown],
        ),
        Lines("crown_mean_width", tuple(w[both] for w in widths), trees["mean_width"][both]),
        Lines("crown_area", tuple(w[both] for w in widths), trees["projection_area"][both]),
        Lines(
            "crown_volume",
            (
                trees["outline"][solid],
                *(w[solid] for w in widths),
                trees["crown_depth"][solid],
            ),
            trees["volume"][solid],
        ),
        Lines("combined_diameter", (stems,), trees["diameter"][many]),
        Lines("basal_area", (trees["diameter"][stem], unit[stem]), trees["basal_area"][stem]),
    ]


def stem_table(outcome: Outcome) -> Any:
    """Return all stems of each tree, a row a tree, NaN where there is no further stem."""
    lines = outcome.survey.lines.iloc[outcome.trees["first_line"].to_numpy(int)]
    rows = []
    for diameter, others in zip(lines["diameter"], lines["other_stems"], strict=True):
        more = [float(text) for text in str(others or "").split()] if others else []
        rows.append([diameter, *more][:6] + [np.nan] * (5 - len(more)))
    return np.array(rows, dtype=float)


@cache
def every() -> list[Lines]:
    return [*sighted(town_outcome()), *of_trees(town_outcome())]


def given(one: Lines) -> list[Any]:
    def cells(column: Any) -> Any:
        table = np.asarray(column, dtype=object)
        table = table if table.ndim == 2 else table[:, None]
        return [[None if cell != cell else cell for cell in row] for row in table.tolist()]

    return [cells(column) for column in one.columns]


def test_the_functions_meet_the_whole_town() -> None:
    used = {one.function for one in every()}
    # the other two answer questions that no line of a field sheet asks
    assert set(functions.__all__) - used == {"standing_distance", "convert_unit"}
    counts = [len(np.asarray(one.expected)) for one in every()]
    assert min(counts) >= 5, counts
    assert sum(counts) > 2_000


@pytest.mark.parametrize("route", ["inside", "classic"])
def test_equal_to_the_batch_on_every_line(route: str) -> None:
    pytest.importorskip("xlwings")
    jobs = json.dumps([[one.function, given(one)] for one in every()])
    command = [
        sys.executable,
        str(ROOT / "tests/doors/excel/engine.py"),
        route,
        "xlhelpers.doors.excel.udfs",
    ]
    done = subprocess.run(command, input=jobs, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    answers = json.loads(done.stdout.splitlines()[-1])
    for one, found in zip(every(), answers, strict=True):
        expected = np.asarray(one.expected, dtype=float)
        values = np.array([row[0] for row in found], dtype=object)
        numbers = pd.to_numeric(pd.Series(values), errors="coerce").to_numpy()
        np.testing.assert_allclose(numbers, expected, rtol=1e-12, err_msg=one.function)
