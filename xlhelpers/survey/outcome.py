"""What the main job computes from a survey, before anything is written."""

from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from xlhelpers.survey.counted import Counted, count_values
from xlhelpers.survey.decisions.decisions import Ledger, Standing, without_decisions
from xlhelpers.survey.model import Finding, Survey


@dataclass(frozen=True)
class Outcome:
    """The survey, its set-ups (one row a keyed line), its trees and all findings.

    `findings` holds those of the reading first, then those of the checks, each once. `ledger`
    holds what the office decided about them.
    """

    survey: Survey
    setups: pd.DataFrame
    trees: pd.DataFrame
    findings: tuple[Finding, ...]
    ledger: Ledger = field(default_factory=Ledger)

    @cached_property
    def standings(self) -> tuple[Standing, ...]:
        """Return where each finding stands, in their order."""
        if len(self.ledger.standings) == len(self.findings):
            return self.ledger.standings
        return without_decisions(self.findings)

    @property
    def open_findings(self) -> tuple[Finding, ...]:
        """Return the errors and warnings that nobody has settled."""
        stands = zip(self.findings, self.standings, strict=True)
        return tuple(finding for finding, standing in stands if standing.is_open)

    @property
    def doubtful_findings(self) -> tuple[Finding, ...]:
        """Return the open ones, and those closed as NOT SAFE whose value nobody accepted."""
        stands = zip(self.findings, self.standings, strict=True)
        return tuple(finding for finding, standing in stands if standing.is_doubtful)

    @cached_property
    def counted(self) -> Counted:
        """Return which values of the trees are in doubt, and which count nowhere."""
        return count_values(self.survey, self.setups, self.trees, self.findings, self.standings)
