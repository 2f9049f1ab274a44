"""All that the likelihoods add to the findings of a survey: causes, doubtful lines, patterns."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pandas as pd

from xlhelpers.survey.decisions.identity import finding_id
from xlhelpers.survey.doubt.batches import base_hits, batch_hits, batches, wrong_bases
from xlhelpers.survey.doubt.explain import explained, weigh_doubts
from xlhelpers.survey.doubt.mismatched_diameters import stranger_hits
from xlhelpers.survey.doubt.patterns import patterns
from xlhelpers.survey.doubt.repeated import by_repeats
from xlhelpers.survey.doubt.table import OTHER_BASE, OTHER_SCALE, STRANGERS, found
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import Flags

# findings about one line, or its plot, that one wrong scale brings with it; none that would be
# there on any scale, because what settles the whole settles these
FOLDED = frozenset(
    {
        "unlikely-tree",
        "eye-height",
        "eye-height-plot",
        "no-height",
        "height-over-limit",
        "height-under-breast-height",
        "angle-over-limit",
        "too-close",
        "repeats-disagree-tip",
        "repeats-disagree-top",
        "repeats-disagree-base",
        "base-counts-as-zero",
    }
)


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
    survey, setups, trees = outcome.survey, outcome.setups, outcome.trees
    others = found(STRANGERS, stranger_hits(usual, doubts.strangers), survey, setups, trees)
    bases = wrong_bases(usual, limits, doubts.apart)
    instruments = found(OTHER_BASE, base_hits(usual, bases), survey, setups, trees)
    told = _lines_of(instruments, len(setups)) | doubts.apart
    groups, weighed = batches(usual, limits, told)
    plots = found(OTHER_SCALE, batch_hits(usual, groups, weighed), survey, setups, trees)
    parents = (*instruments, *plots)
    apart = _lines_of(parents, len(setups))
    findings, unlikely = explained(outcome, doubts, apart)
    more = [
        finding
        for check, hits in (*patterns(usual, limits), *by_repeats(usual))
        for finding in found(check, hits, survey, setups, trees)
    ]
    folded = tuple(_under(finding, parents) for finding in findings)
    doubtful = tuple(_under(finding, others) for finding in unlikely)
    return replace(outcome, findings=(*folded, *others, *parents, *doubtful, *more))


def _lines_of(findings: Iterable[Finding], count: int) -> Flags:
    """Return which of so many lines belong to any of the findings."""
    mask = np.zeros(count, dtype=bool)
    for finding in findings:
        mask[list(finding.lines)] = True
    return mask


def _under(finding: Finding, parents: tuple[Finding, ...]) -> Finding:
    """Return a finding with the id of the one whose cause is also its own."""
    if finding.check not in FOLDED:
        return finding
    for parent in parents:
        lines = set(parent.lines)
        if finding.lines and lines.issuperset(finding.lines):
            return replace(finding, under=finding_id(parent))
    return finding
