"""What the crews saw: dead trees and dead tops, by part of the town, with no rating of risk."""

import numpy as np
import pandas as pd

from xlhelpers.jobs.report import words
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import percent, write_ends, write_value
from xlhelpers.jobs.report.sections import TOWN
from xlhelpers.jobs.report.verdicts import HEADING, in_cell, verdict
from xlhelpers.pages.plan import Cell, Section, Table
from xlhelpers.survey.typed.folding import fold_column
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import plural

DEAD, DEAD_TOP = "D", "T"
NO_RATING = (
    "The crews wrote down what they saw. This report does not rate tree risk. Local codes and "
    "licensed arborists decide."
)
_COUNT = "#,##0"


def what_crews_saw(facts: Facts) -> Section:
    """Return dead trees and dead tops on the plots, by part of the town."""
    title = "What the crews saw"
    trees = facts.outcome.trees[facts.inside]
    dead, tops = (int((trees["condition"] == word).sum()) for word in (DEAD, DEAD_TOP))
    among = f"among {plural(len(trees), 'tree')}"
    if not dead and not tops:
        text = f"The crews saw no dead tree and no dead top {among}."
        return Section("seen", title, (text,), notes=(NO_RATING,))
    seen = [
        plural(count, what) if count else f"no {what}"
        for count, what in ((dead, "dead tree"), (tops, "dead top"))
    ]
    text = f"The crews saw {seen[0]} and {seen[1]} {among}."
    part = fold_column(trees["stratum"], identifier_key)
    body = [
        _row(facts, name, trees[part == fold_column([name], identifier_key)[0]], "stratum")
        for name in facts.parts
    ]
    body.append(_row(facts, TOWN if facts.mode != "measured" else "All plots", trees, "town"))
    headings = (
        "Part of the town",
        "Dead trees",
        _share_heading(facts),
        "Dead tops",
        "Trees measured",
        *([HEADING] if facts.mode != "measured" else []),
    )
    table = Table(headings, tuple(body), total=len(body) > 1)
    notes = (
        NO_RATING,
        "A dead top is dead wood at the tip of a living tree. A tree with a dead top is counted as "
        "living.",
    )
    return Section("seen", title, (text,), table, notes=notes)


def _share_heading(facts: Facts) -> str:
    return f"Share dead ({percent(facts.confidence)})" if facts.has_margins else "Share dead"


def _row(facts: Facts, name: str, trees: pd.DataFrame, scope: str) -> tuple[Cell, ...]:
    dead, tops = (int((trees["condition"] == word).sum()) for word in (DEAD, DEAD_TOP))
    if facts.mode == "measured":
        part = write_value(dead / len(trees), "percent", facts.units) if dead else "—"
        counts = (Cell(float(count), _COUNT) for count in (tops, len(trees)))
        return (Cell(name), Cell(float(dead), _COUNT), Cell(part, right=True), *counts)
    row = facts.share_dead("" if scope == "town" else name)
    share, judged = "—" if not dead else words.TOO_FEW, ""
    if row is not None and dead > 0 and words.is_worth_showing(facts, row):
        judged = verdict(facts, row)
        share = write_value(float(row["value"]), "percent", facts.units)
        if facts.has_margins and np.isfinite(row["margin"]):
            share += f" ({write_ends(row['low'], row['high'], 'percent', facts.units)})"
    return (
        Cell(name),
        Cell(float(dead), _COUNT),
        Cell(share, right=True),
        Cell(float(tops), _COUNT),
        Cell(float(len(trees)), _COUNT),
        Cell(in_cell(judged)),
    )
