"""Every check has its three cases, and the table does not contradict itself."""

import dataclasses

import numpy as np
import pytest

from tests.survey.checks.cases import CASES, survey_of
from tests.survey.checks.support import findings_of
from xlhelpers.errors import SpecificationError
from xlhelpers.sources import SOURCES
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, Check, Hits, validate
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.checks.table import CHECKS, DESCRIBED, describe
from xlhelpers.survey.decisions.identity import finding_id
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

IDS = [check.id for check in CHECKS]


def test_every_check_has_its_cases() -> None:
    assert sorted(CASES) == sorted(IDS)


@pytest.mark.parametrize("check", CHECKS, ids=IDS)
def test_failing(check: Check) -> None:
    found = [f for f in findings_of(CASES[check.id].failing) if f.check == check.id]
    assert found
    for finding in found:
        assert (finding.severity, finding.block) == (check.severity, check.block)
        assert finding.subject
        assert finding.evidence
        assert "{" not in finding.message + finding.action
        assert "nan" not in finding.message + finding.action
        assert check.table == "survey" or (finding.sheet and finding.row)
        assert check.table == "survey" or finding.column
        assert len(finding_id(finding)) == 8


@pytest.mark.parametrize("check_id", IDS)
@pytest.mark.parametrize("kind", ["passing", "blank"])
def test_passing_and_blank(check_id: str, kind: str) -> None:
    found = findings_of(getattr(CASES[check_id], kind))
    assert check_id not in [finding.check for finding in found]


def test_a_sound_tree_has_no_finding() -> None:
    assert findings_of({}) == ()


def test_an_empty_survey_has_no_finding() -> None:
    assert findings_of({"lines": [], "plots": []}) == ()


def test_ids_are_unique_and_stable() -> None:
    assert len(set(IDS)) == len(IDS)
    assert all(i == i.lower() and " " not in i for i in IDS)


@pytest.mark.parametrize("check", CHECKS, ids=IDS)
def test_basis_exists(check: Check) -> None:
    assert check.basis in SOURCES or check.basis in (DEFINITION, COMMON_PRACTICE)


def test_nothing_rates_a_risk() -> None:
    for row in describe():
        text = " ".join(row).casefold()
        assert not any(word in text for word in ("risk", "hazard", "danger", "stability"))


def test_description_has_a_row_for_each_check() -> None:
    rows = describe()
    assert [row[0] for row in rows] == IDS
    assert all(len(row) == len(DESCRIBED) and all(row) for row in rows)
    assert not any("{" in text for row in rows for text in row)


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({}, "is listed twice"),
        ({"id": "new", "basis": "Nobody1900"}, "no source"),
        ({"id": "new", "compares": ("no_such_field",)}, "no field"),
        ({"id": "new", "message": "{distance:furlongs}"}, "unknown kind, furlongs"),
    ],
)
def test_a_wrong_record_is_refused(change: dict[str, object], complaint: str) -> None:
    wrong = dataclasses.replace(CHECKS[0], **change)  # type: ignore[arg-type]
    with pytest.raises(SpecificationError, match=complaint):
        validate((*CHECKS, wrong))


def test_a_blank_of_a_message_that_nothing_fills_is_an_error() -> None:
    survey = survey_of({})
    setups = compute_setups(survey)
    check = dataclasses.replace(CHECKS[0], message="{no_such_value}", fails=_first_row)
    with pytest.raises(KeyError, match="no_such_value"):
        run_checks(survey, setups, build_trees(survey, setups), (check,))


def _first_row(facts: object) -> Hits:
    return Hits(np.zeros(1, dtype=np.int64))
