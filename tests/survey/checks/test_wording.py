"""Values in messages: what differs looks different, and what is equal does not."""

import pytest

from tests.survey.checks.cases import line
from tests.survey.checks.support import only
from xlhelpers.survey.checks.wording import fill_template, write_apart


@pytest.mark.parametrize(
    ("kind", "values", "texts"),
    [
        ("percent", (0.498, 0.5), ("49.8 %", "50.0 %")),
        ("percent", (0.4, 0.5), ("40 %", "50 %")),
        ("length", (4.96, 5.0), ("4.96 m", "5.00 m")),
        ("length", (4.9996, 5.0), ("4.9996 m", "5.0000 m")),
        ("length", (5.0, 5.0), ("5.0 m", "5.0 m")),
        ("length", (5.0, 5.0 + 1e-12), ("5.0 m", "5.0 m")),
        ("diameter", (5.02, 4.98), ("5.02 cm", "4.98 cm")),
        ("angle", (60.02, 60.0), ("60.02°", "60.00°")),
        ("length", (float("nan"), 5.0), ("not known", "5.0 m")),
        ("reading", (4.96, 5.0), ("4.96", "5")),
    ],
)
def test_values_that_differ_look_different(
    kind: str, values: tuple[float, ...], texts: tuple[str, ...]
) -> None:
    assert write_apart(kind, values, "metric") == texts


def test_a_template_writes_its_numbers_apart() -> None:
    values = {"a": 4.97, "b": 5.0, "c": 0.3}
    text = fill_template("{a:length} of {b:length}, {c:percent}", values.__getitem__, "metric")
    assert text == "4.97 m of 5.00 m, 30 %"


def test_a_check_never_says_that_a_value_is_beyond_itself() -> None:
    """Definition: a diameter of 4.96 cm is below the smallest of 5.0 cm."""
    message = only("diameter-under-smallest", {"lines": [line(1, diameter=4.96)]}).message
    assert "4.96 cm" in message
    assert "5.00 cm" in message
