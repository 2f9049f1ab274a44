"""Estimates and standard errors of eleven invented surveys, against R's survey package.

The stored values were computed by `r_survey/estimates.R` (Lumley's survey package for R, 4.1),
which reads the same tables of plots and trees and shares no code with the program. Where R with
that package is installed, the script runs again and must give the stored values.
"""

import csv
import math
import shutil
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from tests.estimates.make_sample import outcome_of
from tests.estimates.r_survey.make_surveys import HERE, SURVEYS, make_surveys
from tests.survey.make_survey import PLAIN_PLOT
from xlhelpers.estimates.collapsing import join_lonely
from xlhelpers.estimates.estimates import ALL_DEAD, NO_TREES, Estimates, estimate
from xlhelpers.estimates.limits import limits
from xlhelpers.estimates.rows import ONE_PLOT, TOO_FEW_PLOTS
from xlhelpers.survey.outcome import Outcome

NAMES = [survey.name for survey in SURVEYS]
KEYS = ("scope", "domain_kind", "domain", "quantity", "kind")
Key = tuple[str, ...]
Values = dict[Key, tuple[float, float]]
RELATIVE = 1e-9


def read_rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def read_values(path: Path) -> dict[str, Values]:
    """Return for each survey its values and standard errors; "NA" and "NaN" are NaN."""
    found: dict[str, Values] = {}
    for row in read_rows(path):
        numbers = [
            math.nan if row[name] in ("NA", "NaN") else float(row[name])
            for name in ("value", "standard_error")
        ]
        key = tuple(row[name] for name in KEYS)
        found.setdefault(row["survey"], {})[key] = (numbers[0], numbers[1])
    return found


def read_survey(name: str) -> Outcome:
    """Return a survey of the tables as computed by the program."""
    strata, plots, trees = (
        [row for row in read_rows(HERE / f"{table}.csv") if row["survey"] == name]
        for table in ("strata", "plots", "trees")
    )
    known_plots = [
        {
            **PLAIN_PLOT,
            **{key: row[key] for key in ("plot", "stratum", "status")},
            **{key: number(row["area"]) for key in ("area_inside", "area_reached")},
        }
        for row in plots
    ]
    lines = [
        {
            **{key: row[key] for key in ("plot", "tree", "species", "condition", "group")},
            **{key: number(row[key]) for key in ("diameter", "width_widest", "width_across")},
            "tip_reading": number(row["tip"]),
            "base_reading": number(row["base"]),
            "distance": 20.0,
            "foot_reading": -10.0,
        }
        for row in trees
    ]
    sizes = [
        {
            "stratum": row["stratum"],
            "area": number(row["land"]),
            "plots_possible": number(row["possible"]),
        }
        for row in strata
    ]
    return outcome_of(lines, known_plots, sizes, survey_kind=strata[0]["kind"])


def number(text: str) -> float | None:
    return float(text) if text else None


@cache
def estimates_of(name: str) -> Estimates:
    return estimate(read_survey(name))


@cache
def stored() -> dict[str, Values]:
    return read_values(HERE / "values.csv")


def test_the_tables_are_those_that_the_generator_makes() -> None:
    for table, rows in make_surveys().items():
        written = [
            {key: "" if value is None else str(value) for key, value in row.items()} for row in rows
        ]
        assert read_rows(HERE / f"{table}.csv") == written


@pytest.mark.parametrize("name", NAMES)
def test_estimates_and_standard_errors_are_those_of_r(name: str) -> None:
    """Every figure that the program shows; what it withholds has a reason that the tables bear."""
    theirs, compared = stored()[name], 0
    for row in estimates_of(name).table.to_dict("records"):
        key = tuple(row[column] for column in KEYS)
        value, error = theirs.get(key, (math.nan, math.nan))
        if math.isnan(row["value"]):
            assert_withheld(row, value)
            continue
        assert row["value"] == pytest.approx(value, rel=RELATIVE, abs=1e-300), key
        compared += 1
        if math.isnan(row["standard_error"]):
            # no spread: R's is nought but for the arithmetic
            assert error <= RELATIVE * abs(value), key
        else:
            assert row["standard_error"] == pytest.approx(error, rel=RELATIVE, abs=1e-12), key
    assert compared > 0.5 * len(theirs) > 50


def assert_withheld(row: dict, value: float) -> None:
    """One plot bears it, a part has one plot, or nothing has the value."""
    words = str(row["words"])
    if ONE_PLOT in words:
        # of a share of dead trees those with dead trees
        assert row["plots_with"] <= 1 or row["quantity"] == "share_dead"
    elif TOO_FEW_PLOTS in words:
        assert row["scope"]
        assert row["plots"] == 1
    else:
        assert any(text in words for text in (NO_TREES, ALL_DEAD, "No living tree here has"))
        assert math.isnan(value) or value == 0


def test_figures_are_compared_by_the_hundred() -> None:
    shown = [name for name in NAMES for value in estimates_of(name).table["value"].dropna()]
    assert len(shown) > 2000
    assert sum(len(values) for values in stored().values()) > 2000


@pytest.mark.parametrize("name", ["one plot in a stratum", "two strata of one plot"])
def test_strata_with_one_plot_are_joined_as_the_tables_say(name: str) -> None:
    """`margin_with` was written by hand, before any value was drawn."""
    survey = next(survey for survey in SURVEYS if survey.name == name)
    names = [part.name for part in survey.parts]
    wanted = [names.index(part.margin_with or part.name) for part in survey.parts]
    fraction = [part.plots / (part.possible or 1e9) for part in survey.parts]
    found = join_lonely(
        [part.plots for part in survey.parts], [part.land or 0 for part in survey.parts], fraction
    )
    pairs = [(found[i] == found[j]) == (wanted[i] == wanted[j])
             for i in range(len(names)) for j in range(len(names))]  # fmt: skip
    assert all(pairs)


def test_r_has_other_rules_for_one_plot_and_the_same_total() -> None:
    """R takes the variance of other strata or leaves the stratum out; none of it is joining two.

    Joining adds something to leaving out (`certainty`), since the plot's stratum varies too.
    """
    rules: dict[str, dict[str, float]] = {}
    for row in read_rows(HERE / "one_plot_rules.csv"):
        shown = estimates_of(row["survey"]).select("trees", "total").iloc[0]
        assert shown["value"] == pytest.approx(float(row["value"]), rel=RELATIVE)
        assert shown["standard_error"] != pytest.approx(float(row["standard_error"]), rel=1e-3)
        rules.setdefault(row["survey"], {})[row["rule"]] = float(row["standard_error"])
    assert len(rules) == 2
    for name, errors in rules.items():
        assert set(errors) == {"adjust", "average", "certainty"}
        shown = estimates_of(name).select("trees", "total").iloc[0]
        assert shown["standard_error"] > errors["certainty"]


def test_limits_of_a_share_are_those_of_r() -> None:
    """`svyciprop` with the method "xlogit", for simple samples of single trees."""
    rows = read_rows(HERE / "logit_limits.csv")
    assert len(rows) == 4
    for row in rows:
        value, error = float(row["value"]), float(row["standard_error"])
        found = limits(value, error, int(row["of"]) - 1, 0.95, "logit")
        wanted = [float(row["low"]), float(row["high"])]
        assert [end[0] for end in found] == pytest.approx(wanted, rel=RELATIVE)


def has_r() -> bool:
    if not shutil.which("Rscript"):
        return False
    asked = ["Rscript", "-e", "quit(status = !requireNamespace('survey', quietly = TRUE))"]
    return subprocess.run(asked, capture_output=True, check=False).returncode == 0


@pytest.mark.slow  # R takes some ten seconds
def test_r_gives_the_stored_values(tmp_path: Path) -> None:
    if not has_r():
        pytest.skip("R with its survey package is not installed")
    out = tmp_path / "values.csv"
    subprocess.run(["Rscript", str(HERE / "estimates.R"), str(out)], check=True)
    again = read_values(out)
    assert again.keys() == stored().keys()
    for name, values in stored().items():
        assert values.keys() == again[name].keys()
        np.testing.assert_allclose(
            np.array(list(again[name].values())),
            np.array(list(values.values())),
            rtol=RELATIVE,
            atol=1e-12,
        )
