"""The list for the truck: which trees to measure again, where they are, how far to stand away."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.measure.distances import smallest_standing_distance
from xlhelpers.survey.columns import Column, Table, table_of
from xlhelpers.survey.decisions.decisions import block_now
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.instruments import Values
from xlhelpers.survey.summaries import open_trees
from xlhelpers.survey.typed.folding import fold_column, positions_in
from xlhelpers.survey.typed.species_names import fold_species
from xlhelpers.survey.typed.words import identifier_key

MEASURE_AGAIN = Table(
    (
        Column("position", "position", "Position in the findings."),
        Column("id", "text", "Visible id of the finding."),
        Column("plot", "text", "Plot of the finding."),
        Column("tree", "text", "Tree of the finding."),
        Column("setup", "text", "Set-up of the finding."),
        Column("about", "text", "What else it is about."),
        Column("species", "text", "As entered."),
        Column("place", "text", "Where the tree is, in the units of the survey."),
        Column("expected_height", "number", "Height to expect.", "length"),
        Column("stand_away", "number", "Distance from which the tip can be read.", "length"),
    )
)
# so many trees of a kind give a height to expect
_LEAST_TREES = 3
_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
_PLACES = ("plot", "tree", "set-up")


def measure_again(outcome: Outcome) -> pd.DataFrame:
    """Return one row a finding that only a new reading can settle, in the order of the findings.

    Parameters
    ----------
    outcome : Outcome
        The computed survey with its decisions.

    Returns
    -------
    DataFrame
        With the columns MEASURE_AGAIN; NaN unknown. From `stand_away` the tip is seen under the
        greatest angle of the survey rules at most, and the tree's length is between.
    """
    chosen = [
        i
        for i, (finding, stands) in enumerate(zip(outcome.findings, outcome.standings, strict=True))
        if stands.is_open and block_now(finding, stands) == "again"
    ]
    findings = [outcome.findings[i] for i in chosen]
    ids = finding_ids(outcome.findings) if chosen else ()
    lines = np.array([f.lines[0] if f.lines else -1 for f in findings], dtype=int)
    subjects = [dict(finding.subject) for finding in findings]
    expected, away = _distances(outcome, lines)
    return table_of(
        MEASURE_AGAIN,
        {
            "position": chosen,
            "id": [ids[i] for i in chosen],
            "plot": [s.get("plot", "") for s in subjects],
            "tree": [s.get("tree", "") for s in subjects],
            "setup": [s.get("set-up", "") for s in subjects],
            "about": [_about(finding) for finding in findings],
            "species": _of_lines(outcome, "species", lines),
            "place": _places(outcome, lines, subjects),
            "expected_height": expected,
            "stand_away": away,
        },
    )


def _about(finding: Finding) -> str:
    return ", ".join(f"{name} {value}" for name, value in finding.subject if name not in _PLACES)


def _of_lines(outcome: Outcome, column: str, lines: np.ndarray) -> list[str]:
    values = outcome.survey.lines[column].to_numpy(dtype=object)
    return [str(values[line]) if line >= 0 else "" for line in lines.tolist()]


def _distances(outcome: Outcome, lines: np.ndarray) -> tuple[Values, Values]:
    """Return the height to expect and the distance to stand away, m, for each of these lines."""
    expected, eye = np.full(len(lines), np.nan), np.zeros(len(lines))
    known = lines >= 0
    if known.any():
        tree = outcome.setups["tree_position"].to_numpy(dtype=int)[lines[known]]
        expected[known] = expected_heights(outcome)[tree]
        measured = outcome.setups["eye_above_foot"].to_numpy(dtype=float)[lines[known]]
        limit = float(outcome.survey.rules["limit_eye"]) + 2.0
        # an eye far from the foot's level may be the very mistake; none is the safer guess
        eye[known] = np.where(np.abs(measured) <= limit, measured, 0.0)
    angle = float(outcome.survey.rules["limit_angle"])
    away = np.asarray(smallest_standing_distance(expected, eye, angle), dtype=float)
    return expected, np.maximum(away, expected)


def expected_heights(outcome: Outcome) -> Values:
    """Return for each tree the height to expect when it is measured again, m; NaN unknown.

    The greater of its own height, where that is possible at all, and of the median height of
    its species in this survey (of all trees where too few are settled): too far away costs a
    walk, too near costs the reading.
    """
    trees = outcome.trees
    own = trees["total_height"].to_numpy(dtype=float)
    own = np.where((own > 0) & (own <= float(outcome.survey.rules["limit_height"])), own, np.nan)
    settled = own.copy()
    settled[sorted(open_trees(outcome))] = np.nan
    if not np.isfinite(settled).any():
        return own
    species = pd.Series(fold_column(trees["species"], fold_species))
    grouped = pd.Series(settled).groupby(species)
    median = grouped.transform("median").to_numpy(dtype=float)
    count = grouped.transform("count").to_numpy()
    usual = np.where(count >= _LEAST_TREES, median, np.nanmedian(settled))
    return np.asarray(np.fmax(own, usual), dtype=float)


def _places(outcome: Outcome, lines: np.ndarray, subjects: Sequence[dict[str, str]]) -> list[str]:
    """Return where each tree stands: the note of its plot, its place in it, its own note."""
    survey = outcome.survey
    of_plot = positions_in(
        [s.get("plot", "") for s in subjects], survey.plots["plot"], identifier_key
    )
    plot_notes = survey.plots["note"].to_numpy(dtype=object)
    bearing, distance = (
        survey.lines[c].to_numpy(dtype=float) for c in ("bearing", "centre_distance")
    )
    notes = survey.lines["note"].to_numpy(dtype=object)
    said = []
    for line, plot in zip(lines.tolist(), of_plot.tolist(), strict=True):
        words = [str(plot_notes[plot]) if plot >= 0 else ""]
        if line >= 0:
            words += [_from_centre(distance[line], bearing[line], survey.units), str(notes[line])]
        said.append("; ".join(word for word in words if word))
    return said


def _from_centre(distance: float, bearing: float, units: Units) -> str:
    length = QUANTITIES["length"]
    far = ""
    if np.isfinite(distance):
        shown = distance / length.factor(units)
        far = f"{shown:.1f} {length.unit(units)} from the plot centre"
    if not np.isfinite(bearing):
        return far
    wind = _WINDS[round(bearing / 45) % len(_WINDS)]
    return f"{far or 'from the plot centre'}, at {bearing:.0f}° ({wind})"
