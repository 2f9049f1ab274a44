"""Findings of one mistake: one is shown, the others are under it, and one decision resolves all."""

from dataclasses import replace

import pytest

from tests.survey.doubt.test_explain import lines
from tests.survey.doubt.test_patterns import SPECIES
from tests.survey.make_survey import make_survey
from xlhelpers.jobs.fill.tabs.trees import tree_rows
from xlhelpers.survey.decisions.carry import merge
from xlhelpers.survey.decisions.decisions import ACCEPTED, Decision
from xlhelpers.survey.decisions.identity import finding_ids, fingerprint
from xlhelpers.survey.doubt.fold import fold_findings
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.measure_again import measure_again
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome


def found_with(distance: float) -> Outcome:
    """A second set-up of a tree, from 16.9 m by the sheet of the crew, entered as so much."""
    rows = lines()
    rows.append(rows[6] | {"setup": 2, "distance": distance})
    return evaluate(make_survey(rows, species=SPECIES))


def of_line(found: Outcome, line: int = 24) -> list[Finding]:
    return [f for f in found.findings if line in f.lines and f.severity != "note"]


@pytest.mark.parametrize("distance", [55.4, 1.69, 169.0])
def test_one_wrong_distance_is_one_finding(distance: float) -> None:
    found = found_with(distance)
    about = of_line(found)
    assert len(about) == 3
    ids = dict(zip(finding_ids(found.findings), found.findings, strict=True))
    heads = [f for f in about if not f.under]
    assert len(heads) == 1
    assert all(ids[f.under] is heads[0] for f in about if f.under)


def test_accepting_the_one_resolves_the_others_and_their_own_decisions_stay() -> None:
    found = found_with(1.69)
    about = of_line(found)
    ids = finding_ids(found.findings)
    (head,) = (i for i, f in enumerate(found.findings) if f in about and not f.under)
    row = Decision(ids[head], fingerprint(found.findings[head]), ACCEPTED, "CD")
    ledger = merge(found.findings, [row], (), set(), "2026-05-04")
    states = {s.state for f, s in zip(found.findings, ledger.standings, strict=True) if f in about}
    assert states == {"accepted"}


def test_ids_and_fingerprints_stay() -> None:
    found = found_with(169.0)
    plain = [replace(f, under="") for f in found.findings]
    folded = fold_findings(plain)
    assert finding_ids(folded) == finding_ids(plain)
    assert [fingerprint(f) for f in folded] == [fingerprint(f) for f in plain]


def test_findings_of_other_lines_or_other_causes_are_not_folded() -> None:
    one = Finding("a", "warning", "paper", (("tree", "1"),), "m", "a", lines=(0,), causes=("x",))
    other = replace(one, check="b", subject=(("tree", "2"),), lines=(1,))
    another = replace(one, check="c", causes=("y",))
    assert fold_findings([one, other, another]) == (one, other, another)


def test_a_tree_names_its_finding_once_and_short() -> None:
    found = found_with(1.69)
    rows = tree_rows(found)
    (text,) = rows.loc[(rows["plot"] == "1") & (rows["tree"] == "7"), "open"]
    head = next(f for f in of_line(found) if not f.under)
    identity = finding_ids(found.findings)[found.findings.index(head)]
    assert text.count(identity) == 1
    assert "  |  " not in text
    assert len(text) < 160


def test_a_likely_typing_mistake_is_not_sent_to_the_truck() -> None:
    found = found_with(1.69)
    assert any(f.causes for f in of_line(found))
    assert measure_again(found).empty
    assert {f.block for f in of_line(found) if f.causes} == {"paper"}
