"""Numbers that were refused as impossible, weighed as if they had been read."""

import math
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace

import numpy as np

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.doubt.readings import take_sheet
from xlhelpers.survey.doubt.weigh import Usual, measure_as_entered
from xlhelpers.survey.model import Finding, Survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees
from xlhelpers.survey.typed import numbers

# the check of the reading that refuses a number outside every possible range
IMPOSSIBLE = "value-impossible"
# fields whose typing mistakes are weighed
WEIGHED = frozenset(
    (
        "distance",
        "foot_reading",
        "base_reading",
        "tip_reading",
        "diameter",
        "width_widest",
        "width_across",
    )
)


def is_refused(finding: Finding) -> bool:
    """Whether a finding is one on a refused number that a typing mistake may explain."""
    return finding.check == IMPOSSIBLE and len(finding.lines) == 1 and finding.fields[0] in WEIGHED


def restore_refused(usual: Usual, findings: Iterable[Finding]) -> Usual:
    """Return all lines as they would be if the refused numbers had been read.

    What is typical stays what the lines without these numbers say.

    Parameters
    ----------
    usual : Usual
        All lines as read.
    findings : iterable of Finding
        Findings for which `is_refused` holds.
    """
    lines = usual.survey.lines.copy()
    for finding in findings:
        value = _read_again(usual.survey, finding)
        lines.loc[finding.lines[0], finding.fields[0]] = value
    survey = replace(usual.survey, lines=lines)
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    return replace(
        usual,
        survey=survey,
        setups=setups,
        trees=trees,
        sheet=take_sheet(survey, setups, trees, np.arange(len(setups))),
        seen=measure_as_entered(survey, setups, trees, usual.ways),
    )


def forget_refused(usual: Usual, findings: Iterable[Finding]) -> Usual:
    """Return lines without the eye heights that the refused numbers would give.

    Parameters
    ----------
    usual : Usual
        As `restore_refused` gives them.
    findings : iterable of Finding
        The same findings.
    """
    eye = usual.seen.eye.copy()
    eye[[f.lines[0] for f in findings if f.fields[0] in ("distance", "foot_reading")]] = np.nan
    return replace(usual, seen=replace(usual.seen, eye=eye))


def _read_again(survey: Survey, finding: Finding) -> float:
    """Return the refused number in the inner unit, NaN where the text does not say it."""
    field = FIELD_SHEET[finding.fields[0]]
    quantity = QUANTITIES[field.quantity or "number"]
    typed: object = finding.evidence[0]
    with suppress(ValueError):
        typed = float(finding.evidence[0])
    cell = np.array([typed], dtype=object)
    value = float(numbers.column(cell, quantity, survey.units).values[0])
    girth = field.name == "diameter" and survey.rules["diameter_typed_as"] == "girth"
    return value / math.pi if girth else value
