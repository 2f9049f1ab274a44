"""The list for the truck: which trees to measure again, where they are, how far to stand away."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from xlhelpers.fields.field_sheet import MAIN_READINGS as READINGS
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.measure.distances import smallest_standing_distance
from xlhelpers.survey.columns import Column, Table, table_of
from xlhelpers.survey.decisions.decisions import MEASURE_AGAIN as MEASURE_AGAIN_WORD
from xlhelpers.survey.decisions.decisions import Standing, block_now, decision_word
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.outcome_words import shorten_message
from xlhelpers.survey.setups.instruments import Values
from xlhelpers.survey.summaries import open_trees
from xlhelpers.survey.trees.widths import NOT_MEASURED, RADII, RADIUS_FIELDS, widths_rule
from xlhelpers.survey.typed.folding import fold_column, positions_in
from xlhelpers.survey.typed.species_names import fold_species
from xlhelpers.survey.typed.words import identifier_key

MEASURE_AGAIN = Table(
    (
        Column("position", "position", "Position in the findings, of the first of the tree."),
        Column("id", "text", "Visible id of that finding."),
        Column("plot", "text", "Plot of the finding."),
        Column("tree", "text", "Tree of the finding."),
        Column("setup", "text", "Set-up of the finding."),
        Column("about", "text", "What else it is about."),
        Column("species", "text", "As entered."),
        Column("place", "text", "Where the tree is, in the units of the survey."),
        Column("points", "text", "What to measure."),
        Column("found", "text", "What was found, in short."),
        Column("expected_height", "number", "Height to expect.", "length"),
        Column("stand_away", "number", "Distance from which the tip can be read.", "length"),
    )
)
# so many trees of a kind give a height to expect
_LEAST_TREES = 3
_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
_PLACES = ("plot", "tree", "set-up")
# findings of many lines that the paper sheets settle
_WHOLE = frozenset(("lines-on-other-scale", "fixed-distance-other"))
# a finding whose first field is one of these needs no new reading
_NAMES = frozenset(
    (
        "species",
        "plot",
        "tree",
        "setup",
        "instrument",
        "kind",
        "crew",
        "stratum",
        "status",
        "missing_because",
    )
)
_SIGHT = frozenset(("distance", "slope_reading", *READINGS))
_WIDTHS = "both crown widths"
_MEASURES = {
    "diameter": frozenset(("diameter", "other_stems")),
    _WIDTHS: frozenset(("width_widest", "width_across", "recorded_width", *RADIUS_FIELDS)),
}


def measure_again(outcome: Outcome) -> pd.DataFrame:
    """Return one row a tree that only new readings can settle, in the order of the findings.

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
    groups = group_again(outcome)
    chosen = [group[0] for group in groups]
    several = [[outcome.findings[i] for i in group] for group in groups]
    findings = [own[0] for own in several]
    ids = finding_ids(outcome.findings) if chosen else ()
    lines = np.array([f.lines[0] if f.lines else -1 for f in findings], dtype=int)
    subjects = [dict(finding.subject) for finding in findings]
    plausible = np.array([max(f.plausible_height for f in own) for own in several])
    expected, away = _distances(outcome, lines, plausible)
    return table_of(
        MEASURE_AGAIN,
        {
            "position": chosen,
            "id": [ids[i] for i in chosen],
            "plot": [s.get("plot", "") for s in subjects],
            "tree": [s.get("tree", "") for s in subjects],
            "setup": [
                s.get("set-up", "") if len(own) == 1 else ""
                for s, own in zip(subjects, several, strict=True)
            ],
            "about": [_about(finding) for finding in findings],
            "species": _of_lines(outcome, "species", lines),
            "place": _places(outcome, lines, subjects),
            "points": [_list_points(outcome, own) for own in several],
            "found": [
                " ".join(dict.fromkeys(shorten_message(f.message) for f in own)) for own in several
            ],
            "expected_height": expected,
            "stand_away": away,
        },
    )


def group_again(outcome: Outcome) -> list[list[int]]:
    """Return the positions of the findings to settle by measuring again, those of a tree together.

    Left out are findings of names, and trees whose mistake may still be found on paper, unless the
    office sends the crew there.

    Parameters
    ----------
    outcome : Outcome
        The computed survey with its decisions.
    """
    pairs = list(zip(outcome.findings, outcome.standings, strict=True))
    tree_of = outcome.setups["tree_position"].to_numpy(dtype=int)
    unsettled = {
        int(tree_of[line])
        for finding, stands in pairs
        if stands.is_open and not _is_sent(stands) and _may_be_typing(finding)
        for line in finding.lines
    }
    groups: dict[int, list[int]] = {}
    for at, (finding, stands) in enumerate(pairs):
        if not stands.is_open or block_now(finding, stands) != "again" or _is_of_names(finding):
            continue
        tree = int(tree_of[finding.lines[0]]) if finding.lines else -1 - at
        if _is_sent(stands) or tree not in unsettled:
            groups.setdefault(tree, []).append(at)
    return list(groups.values())


def _is_sent(stands: Standing) -> bool:
    """Whether the office sent the crew there; without initials the decision waits."""
    decision = stands.decision
    return decision.is_signed and decision_word(decision.word) == MEASURE_AGAIN_WORD


def _may_be_typing(finding: Finding) -> bool:
    """Whether the paper sheet may settle what a finding says of a line's readings."""
    return any(cause.is_typing for cause in finding.causes) or finding.check in _WHOLE


def _is_of_names(finding: Finding) -> bool:
    return bool(finding.fields) and finding.fields[0] in _NAMES


def _list_points(outcome: Outcome, findings: Sequence[Finding]) -> str:
    """Return what to measure of one tree: all points of a sight, or what the findings name."""
    names = {name for finding in findings for name in finding.fields}
    points = [word for word, own in _MEASURES.items() if names & own]
    rules = outcome.survey.rules
    if widths_rule(rules) == RADII:
        points = ["four crown radii" if word == _WIDTHS else word for word in points]
    if names & _SIGHT or not points:
        condition = {
            str(outcome.setups["condition"].array[line]) for f in findings for line in f.lines
        }
        top = ["crown top"] if "T" in condition else []
        crown = [] if rules["crown_depth"] == NOT_MEASURED else ["crown base", *top]
        points = ["distance", "foot", *crown, "tip", *points]
    return ", ".join(points)


def _about(finding: Finding) -> str:
    return ", ".join(f"{name} {value}" for name, value in finding.subject if name not in _PLACES)


def _of_lines(outcome: Outcome, column: str, lines: np.ndarray) -> list[str]:
    values = outcome.survey.lines[column].to_numpy(dtype=object)
    return [str(values[line]) if line >= 0 else "" for line in lines.tolist()]


def _distances(outcome: Outcome, lines: np.ndarray, plausible: Values) -> tuple[Values, Values]:
    """Return the height to expect and the distance to stand away, m, for each of these lines."""
    # `plausible` are the greatest heights that causes and trees of the kind give, 0 unknown.
    expected, eye = np.full(len(lines), np.nan), np.zeros(len(lines))
    known = lines >= 0
    if known.any():
        tree = outcome.setups["tree_position"].to_numpy(dtype=int)[lines[known]]
        other = np.where(plausible[known] > 0, plausible[known], np.nan)
        expected[known] = np.fmax(expected_heights(outcome)[tree], other)
        measured = outcome.setups["eye_above_foot"].to_numpy(dtype=float)[lines[known]]
        limit = float(outcome.survey.rules["limit_eye"]) + 2.0
        # an eye far from the foot's level may be the very mistake; none is the safer guess
        eye[known] = np.where(np.abs(measured) <= limit, measured, 0.0)
    angle = float(outcome.survey.rules["limit_angle"])
    away = np.asarray(smallest_standing_distance(expected, eye, angle), dtype=float)
    return expected, np.maximum(away, expected)


def expected_heights(outcome: Outcome) -> Values:
    """Return for each tree the height to expect when it is measured again, m; NaN unknown.

    The greatest height by any of its set-ups, where that is possible at all, or the median height
    of its species in this survey (of all trees where too few are settled) if that is more: too far
    away costs a walk, too near costs the reading.
    """
    trees = outcome.trees
    limit = float(outcome.survey.rules["limit_height"])
    settled = _possible(trees["total_height"].to_numpy(dtype=float), limit)
    own = settled.copy()
    of_setups = _possible(outcome.setups["total_height"].to_numpy(dtype=float), limit)
    tree = outcome.setups["tree_position"].to_numpy(dtype=int)
    seen = tree >= 0
    np.fmax.at(own, tree[seen], of_setups[seen])
    settled[sorted(open_trees(outcome))] = np.nan
    if not np.isfinite(settled).any():
        return own
    species = pd.Series(fold_column(trees["species"], fold_species))
    grouped = pd.Series(settled).groupby(species)
    median = grouped.transform("median").to_numpy(dtype=float)
    count = grouped.transform("count").to_numpy()
    usual = np.where(count >= _LEAST_TREES, median, np.nanmedian(settled))
    return np.asarray(np.fmax(own, usual), dtype=float)


def _possible(heights: Values, limit: float) -> Values:
    return np.where((heights > 0) & (heights <= limit), heights, np.nan)


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
    notes, tags = (survey.lines[c].to_numpy(dtype=object) for c in ("note", "tag"))
    places = []
    for line, plot in zip(lines.tolist(), of_plot.tolist(), strict=True):
        words = [str(plot_notes[plot]) if plot >= 0 else ""]
        if line >= 0:
            words.append(f"tag {tags[line]}" if tags[line] else "")
            words += [_from_centre(distance[line], bearing[line], survey.units), str(notes[line])]
        places.append("; ".join(word for word in words if word))
    return places


def _from_centre(distance: float, bearing: float, units: Units) -> str:
    length = QUANTITIES["length"]
    far = ""
    if np.isfinite(distance):
        number = distance / length.factor(units)
        far = f"{number:.1f} {length.unit(units)} from the plot centre"
    if not np.isfinite(bearing):
        return far
    wind = _WINDS[round(bearing / 45) % len(_WINDS)]
    return f"{far or 'from the plot centre'}, at {bearing:.0f}° ({wind})"
