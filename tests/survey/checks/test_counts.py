"""Trees counted against trees keyed."""

import pytest

from tests.survey.checks.cases import line, on
from tests.survey.checks.support import ids_of, only
from xlhelpers.survey.checks.counts import missing_and_extra


@pytest.mark.parametrize(
    ("numbers", "counted", "expected"),
    [
        (("1", "2", "4"), 4, (["3"], [])),
        (("1", "2", "5"), 3, (["3"], ["5"])),
        (("101", "103"), 3, (["102"], [])),
        (("A1", "A2"), 3, ([], [])),
        ((), 2, (["1", "2"], [])),
        (("1", "2"), 1, ([], ["2"])),
        (("2", "3"), 0, ([], ["2", "3"])),
    ],
)
def test_numbers(
    numbers: tuple[str, ...], counted: int, expected: tuple[list[str], list[str]]
) -> None:
    assert missing_and_extra(numbers, counted) == expected


def test_message_names_missing_and_extra_numbers() -> None:
    finding = only("trees-counted", on(line(1), line(7, tip_reading=60.0), trees_counted=4))
    assert finding.message == (
        "The crew counted 4 trees. 2 are entered. Missing: trees 2, 3 and 4. Not in the count: "
        "tree 7."
    )
    # no height rests on the count
    assert (finding.lines, finding.plots) == ((), (0,))


def test_an_empty_plot_with_a_count_is_asked_about_once() -> None:
    assert ids_of(on(trees_counted=3) | {"lines": []}) == ["plot-without-lines"]
    assert ids_of(on(status="no trees", trees_counted=3) | {"lines": []}) == ["trees-counted"]
    assert ids_of(on(trees_counted=0) | {"lines": []}) == []
    assert ids_of(on(status="later") | {"lines": []}) == []
