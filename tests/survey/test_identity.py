"""Identity and fingerprint of findings."""

from dataclasses import replace

import pytest

from xlhelpers.fields.rules import RULES
from xlhelpers.survey.decisions.identity import finding_id, finding_ids, fingerprint
from xlhelpers.survey.model import Finding

PLAIN = Finding(
    check="foot-above-eye",
    severity="error",
    block="paper",
    subject=(("plot", "7"), ("tree", "12"), ("set-up", "1")),
    message="Foot reading +8 without the tick.",
    action="Look at the sign on the paper sheet.",
    fields=("foot_reading", "foot_above_eye"),
    sheet="Field sheet",
    row=18,
    column=10,
    lines=(12,),
    evidence=("foot_reading=8",),
)


@pytest.mark.parametrize(
    "change",
    [
        {"row": 99, "column": 3, "lines": (87,), "sheet": "Copy"},
        {"message": "said otherwise", "action": "do otherwise", "severity": "warning"},
        {"evidence": ("foot_reading=9",)},
        {"fields": ("foot_above_eye", "foot_reading")},
        {"subject": (("plot", " 7"), ("tree", "12"), ("set-up", "1"))},
    ],
)
def test_identity_does_not_depend_on(change):
    assert finding_id(replace(PLAIN, **change)) == finding_id(PLAIN)


@pytest.mark.parametrize(("before", "now"), [("Keyed by", "Entered by"), ("Heights on", None)])
def test_a_column_or_rule_keeps_its_identity_when_its_label_changes(before, now):
    now = now or RULES["heights_on"].label
    for what in ("column", "rule"):
        old, new = (replace(PLAIN, subject=((what, label),)) for label in (before, now))
        assert finding_id(old) == finding_id(new)
    # a plot may be called as it likes
    old, new = (replace(PLAIN, subject=(("plot", label),)) for label in (before, now))
    assert finding_id(old) != finding_id(new)


@pytest.mark.parametrize(
    "change",
    [
        {"check": "another"},
        {"fields": ("foot_reading",)},
        {"subject": (("plot", "71"), ("tree", "2"), ("set-up", "1"))},
    ],
)
def test_identity_depends_on(change):
    assert finding_id(replace(PLAIN, **change)) != finding_id(PLAIN)


def test_fingerprint_follows_the_compared_readings_only():
    assert fingerprint(replace(PLAIN, row=99, message="x", check="y")) == fingerprint(PLAIN)
    assert fingerprint(replace(PLAIN, evidence=("foot_reading=9",))) != fingerprint(PLAIN)
    parted = replace(PLAIN, evidence=("a", "b")), replace(PLAIN, evidence=("ab",))
    assert fingerprint(parted[0]) != fingerprint(parted[1])


def test_the_id_is_short_legible_and_the_same_on_every_machine():
    # pinned: an id that changed would lose the decisions that people took
    assert finding_id(PLAIN) == "X7MG9GFJ"
    ids = {finding_id(replace(PLAIN, check=str(i))) for i in range(2000)}
    assert len(ids) == 2000
    assert all(len(i) == 8 and i[0].isalpha() and not set(i) & set("0125BILOSUZ8") for i in ids)


def test_findings_of_one_identity_are_told_apart_whatever_their_order():
    other = replace(PLAIN, evidence=("foot_reading=9",), row=19)
    ids = dict(zip((8, 9), finding_ids((PLAIN, other)), strict=True))
    assert len(set(ids.values())) == 2
    assert dict(zip((9, 8), finding_ids((other, PLAIN)), strict=True)) == ids
    assert finding_id(PLAIN) in ids.values()


def test_findings_of_different_identity_keep_their_plain_id():
    findings = (PLAIN, replace(PLAIN, check="another"))
    assert finding_ids(findings) == tuple(map(finding_id, findings))
