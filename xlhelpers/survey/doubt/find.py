"""All that the likelihoods add to the findings of a survey: causes, doubtful lines, patterns."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pandas as pd

from xlhelpers.survey.checks.record import Hits
from xlhelpers.survey.decisions.identity import finding_id
from xlhelpers.survey.doubt.batches import base_hits, batch_hits, find_batches, find_wrong_bases
from xlhelpers.survey.doubt.explain import explain_findings, weigh_doubts
from xlhelpers.survey.doubt.fold import fold_findings
from xlhelpers.survey.doubt.mismatched_diameters import mismatch_hits
from xlhelpers.survey.doubt.patterns import find_patterns
from xlhelpers.survey.doubt.repeated import find_by_repeats
from xlhelpers.survey.doubt.table import make_findings
from xlhelpers.survey.doubt.wide_crowns import wide_crowns_from_one_place
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import Flags

# findings about one line, or its plot, that one wrong scale brings with it; none that would be
# there on any scale, because what resolves the whole resolves these
FOLDED = frozenset(
    (
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
    )
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
        a wrong scale of a plot or a day is one finding, and those of its lines are put under it.
        So are the findings of one mistake on a line.
    """
    if len(outcome.setups) == 0:
        return outcome
    doubts = weigh_doubts(outcome, table)
    usual, limits = doubts.entered, doubts.limits

    def find(check: str, hits: Hits) -> tuple[Finding, ...]:
        return make_findings(outcome, check, hits)

    mismatches = find("diameters-of-other-trees", mismatch_hits(usual, doubts.mismatches))
    bases = find_wrong_bases(usual, limits, doubts.apart)
    instruments = find("fixed-distance-other", base_hits(usual, bases))
    apart = _lines_of(instruments, len(outcome.setups)) | doubts.apart
    batches = find_batches(usual, limits, apart)
    parents = (*instruments, *find("lines-on-other-scale", batch_hits(usual, batches)))
    apart = _lines_of(parents, len(outcome.setups))
    findings, unlikely = explain_findings(outcome, doubts, apart)
    wide = ("wide-crowns-one-place", wide_crowns_from_one_place(usual))
    patterns = (*find_patterns(usual, limits), *find_by_repeats(usual), wide)
    findings = (
        *(_put_under(finding, parents) for finding in findings),
        *mismatches,
        *parents,
        *(_put_under(finding, mismatches) for finding in unlikely),
        *(finding for check, hits in patterns for finding in find(check, hits)),
    )
    return replace(outcome, findings=fold_findings(findings))


def _lines_of(findings: Iterable[Finding], count: int) -> Flags:
    """Return which of so many lines belong to any of the findings."""
    mask = np.zeros(count, dtype=bool)
    for finding in findings:
        mask[list(finding.lines)] = True
    return mask


def _put_under(finding: Finding, parents: tuple[Finding, ...]) -> Finding:
    """Return a finding with the id of the one whose cause is also its own."""
    if finding.check not in FOLDED:
        return finding
    for parent in parents:
        lines = set(parent.lines)
        if finding.lines and lines.issuperset(finding.lines):
            return replace(finding, under=finding_id(parent))
    return finding
