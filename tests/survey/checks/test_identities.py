"""Ids and fingerprints stay for ever: decisions in workbooks depend on them, whatever the words.

`identities.csv` was computed once, before the texts of findings and the labels of fields changed.
A label that changes keeps its first wording as `former` of its field.
"""

import csv
from pathlib import Path

import pytest

from tests.survey.checks.cases import CASES
from tests.survey.checks.support import findings_of
from xlhelpers.survey.decisions.identity import finding_id, fingerprint

with Path(__file__).with_name("identities.csv").open(encoding="utf-8", newline="") as file:
    KNOWN = {row["check"]: (row["finding"], row["fingerprint"]) for row in csv.DictReader(file)}


def test_every_check_has_its_identity() -> None:
    assert set(KNOWN) == set(CASES)


@pytest.mark.parametrize("check", KNOWN)
def test_identity_stays(check: str) -> None:
    finding = next(f for f in findings_of(CASES[check].failing) if f.check == check)
    assert (finding_id(finding), fingerprint(finding)) == KNOWN[check]
