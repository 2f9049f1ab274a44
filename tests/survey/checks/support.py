"""What the tests of the checks share."""

from tests.survey.checks.cases import Given, survey_of
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.model import Finding
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

_FINDINGS: dict[str, tuple[Finding, ...]] = {}


def findings_of(given: Given) -> tuple[Finding, ...]:
    """The findings of a survey; what is given again is not worked out again."""
    known = repr(given)
    if known not in _FINDINGS:
        _FINDINGS[known] = _compute(given)
    return _FINDINGS[known]


def _compute(given: Given) -> tuple[Finding, ...]:
    survey = survey_of(given)
    setups = compute_setups(survey)
    return run_checks(survey, setups, build_trees(survey, setups))


def ids_of(given: Given) -> list[str]:
    return [finding.check for finding in findings_of(given)]


def only(check: str, given: Given) -> Finding:
    """The one finding of this check."""
    found = [finding for finding in findings_of(given) if finding.check == check]
    assert len(found) == 1
    return found[0]
