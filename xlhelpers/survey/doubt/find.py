"""All that the likelihoods add to the findings of a survey: causes, doubtful lines, patterns."""

from dataclasses import replace

import numpy as np
import pandas as pd

from xlhelpers.survey.doubt.batches import batch_hits, batches
from xlhelpers.survey.doubt.explain import EXPLAINED, explained, weigh_doubts
from xlhelpers.survey.doubt.patterns import patterns
from xlhelpers.survey.doubt.table import OTHER_SCALE, found
from xlhelpers.survey.identity import finding_id
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome

# findings about one line, or its plot, that one wrong scale brings with it
FOLDED = EXPLAINED | {"eye-height-plot", "base-counts-as-zero"}


def with_doubts(outcome: Outcome, table: pd.DataFrame | None = None) -> Outcome:
    """Return an outcome whose findings name likely causes, with those that only weighing finds.

    Parameters
    ----------
    outcome : Outcome
        With the findings of the reading and of the checks.
    table : DataFrame, optional
        Another reference than the shipped one.

    Returns
    -------
    Outcome
        The same survey, set-ups and trees. A finding about readings ends with its likely causes;
        a wrong scale of a plot or a day is one finding, and those of its lines stand under it.
    """
    if len(outcome.setups) == 0:
        return outcome
    doubts = weigh_doubts(outcome, table)
    usual, limits = doubts.usual, doubts.limits
    groups, weighed = batches(usual, limits)
    survey, setups, trees = outcome.survey, outcome.setups, outcome.trees
    parents = found(OTHER_SCALE, batch_hits(usual, groups, weighed), survey, setups, trees)
    apart = np.zeros(len(setups), dtype=bool)
    for parent in parents:
        apart[list(parent.lines)] = True
    findings, unlikely = explained(outcome, doubts, apart)
    others = [
        finding
        for check, hits in patterns(usual, limits)
        for finding in found(check, hits, survey, setups, trees)
    ]
    folded = tuple(_under(finding, parents) for finding in findings)
    return replace(outcome, findings=(*folded, *parents, *unlikely, *others))


def _under(finding: Finding, parents: tuple[Finding, ...]) -> Finding:
    """Return a finding with the id of the one whose cause is also its own."""
    if finding.check not in FOLDED:
        return finding
    for parent in parents:
        lines = set(parent.lines)
        if finding.lines and lines.issuperset(finding.lines):
            return replace(finding, under=finding_id(parent))
    return finding
