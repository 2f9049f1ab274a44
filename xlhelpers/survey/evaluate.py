"""From the keyed survey to its outcome: set-ups, trees, findings."""

from xlhelpers.survey.checks.rule_questions import ask_about_rules
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.doubt.find import with_doubts
from xlhelpers.survey.model import Survey
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees


def evaluate(survey: Survey) -> Outcome:
    """Measure every set-up, gather the set-ups into trees and look for what does not fit.

    Parameters
    ----------
    survey : Survey
        The tables as keyed.

    Returns
    -------
    Outcome
        Computed tables in the inner units; the findings of the reading stand first, then those of
        the checks, then those that only weighing finds. Findings about readings name likely causes.
    """
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    checked = ask_about_rules(survey, setups, trees, run_checks(survey, setups, trees))
    findings = (*survey.findings, *checked)
    return with_doubts(Outcome(survey, setups, trees, findings))
