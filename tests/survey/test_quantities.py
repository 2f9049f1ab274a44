"""What a finding puts in doubt, by the fields that it compares."""

import pytest

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.survey.checks.record import Check
from xlhelpers.survey.checks.table import CHECKS
from xlhelpers.survey.columns import TREES
from xlhelpers.survey.doubt.table import CHECKS as DOUBT_CHECKS
from xlhelpers.survey.model import Finding
from xlhelpers.survey.quantities import MEASURED, OF_COLUMNS, QUANTITIES, quantities_of

ALL_CHECKS = (*CHECKS, *DOUBT_CHECKS)
BY_ID = {check.id: check for check in ALL_CHECKS}


@pytest.mark.parametrize("check", ALL_CHECKS, ids=[check.id for check in ALL_CHECKS])
def test_every_check_says_what_it_is_about(check: Check) -> None:
    assert check.quantities
    assert set(check.quantities) <= set(QUANTITIES)
    # a record says it itself only where its fields would not
    assert check.about != quantities_of(check.compares)


@pytest.mark.parametrize(
    ("check", "quantities"),
    [
        # a name, a missing label, a count: no number of the tree is wrong by it
        *((name, {"identity"}) for name in (
            "species-unknown", "person-unknown", "stratum-unknown", "plot-unknown", "trees-counted",
            "plot-status-blank", "duplicate-number", "plot-twice", "plot-without-lines",
            "lines-on-unmeasured-plot", "reason-in-other-words", "plot-area-impossible",
        )),
        ("diameter-over-limit", {"diameter"}),
        ("stems-out-of-order", {"diameter"}),
        ("width-over-limit", {"width"}),
        ("recorded-width-differs", {"width"}),
        ("base-blank", {"crown"}),
        # what moves the height moves the crown's top with it
        ("tip-not-above-foot", {"height", "crown"}),
        ("height-over-limit", {"height", "crown"}),
        ("plot-scale-lacking", {"height", "crown"}),
        # a set-up that may be of another tree: the mean may be over two trees
        ("setup-number-twice", {"height", "crown", "identity"}),
        ("unlikely-tree", {"height", "crown", "width", "diameter"}),
    ],
)  # fmt: skip
def test_what_a_check_is_about(check: str, quantities: set[str]) -> None:
    assert set(BY_ID[check].quantities) == quantities


def test_every_reading_of_the_main_run_enters_a_measured_quantity() -> None:
    names = {"plot", "tree", "setup", "species"}
    for field in FIELD_SHEET.fields:
        if field.block == "main":
            is_measured = set(quantities_of((field.name,))) <= set(MEASURED)
            assert is_measured == (field.name not in names), field.name


def test_a_finding_without_fields_puts_everything_in_doubt() -> None:
    finding = Finding("any", "error", "paper", (), "message", "action")
    assert finding.quantities == QUANTITIES


def test_columns_of_trees_exist() -> None:
    assert set(OF_COLUMNS) <= set(TREES.names)
