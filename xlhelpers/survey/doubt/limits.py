"""The figures that the likelihoods rest on: rows of the survey rules, each with its basis.

A survey that lacks the row, such as one keyed into an older workbook, has the usual value.
"""

from collections.abc import Mapping
from typing import Any

from xlhelpers.fields.doubt_rules import DOUBT

USUAL: dict[str, float] = {
    limit.name: limit.default for limit in DOUBT if isinstance(limit.default, float)
}


def limits_of(rules: Mapping[str, Any]) -> dict[str, float]:
    """Return all limits by name; what stands in the survey rules goes before the usual value."""
    return {name: float(rules.get(name, value)) for name, value in USUAL.items()}
