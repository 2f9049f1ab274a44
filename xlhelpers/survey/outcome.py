"""What the main job computes from a survey, before anything is written."""

from dataclasses import dataclass

import pandas as pd

from xlhelpers.survey.model import Finding, Survey


@dataclass(frozen=True)
class Outcome:
    """The survey, its set-ups (one row a keyed line), its trees and all findings.

    `findings` holds those of the reading first, then those of the checks, each once.
    """

    survey: Survey
    setups: pd.DataFrame
    trees: pd.DataFrame
    findings: tuple[Finding, ...]
