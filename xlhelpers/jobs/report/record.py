"""The figures of the report for other programs: values, ends and verdicts as plain records."""

import math
from collections.abc import Iterator
from typing import Any

import pandas as pd

from xlhelpers.jobs.report.better import half_margins
from xlhelpers.jobs.report.facts import AGE, FAMILY, GENUS, Facts
from xlhelpers.jobs.report.verdicts import FIGURES, RULE_OF_KINDS, relative_margin, rule, verdict

_NUMBERS = (
    *("value", "standard_error", "degrees_of_freedom", "low", "high"),
    *("interval_held", "interval_above", "interval_below"),
)
_COUNTS = ("plots", "plots_with", "trees", "trees_without", "open_trees", "left_out")
_TEXTS = ("scope", "domain_kind", "domain", "quantity", "label", "kind", "unit_quantity", "words")


def report_record(facts: Facts) -> dict[str, Any]:
    """Return the figures as plain values, in inner units (m, cm, m2, fractions), None for none.

    Parameters
    ----------
    facts : Facts
        What the report is made from.
    """
    record: dict[str, Any] = {
        "about": facts.mode,
        "because": facts.because,
        "confidence": facts.confidence,
        "verdict_rule": "",
        "sentences": list(facts.estimates.words),
        "figures": [],
        "half_margins": [],
    }
    if facts.mode == "nothing":
        return record
    record["figures"] = list(_figures(facts))
    if facts.mode in ("sample", "census"):
        record["verdict_rule"] = rule(facts)
        if facts.has_margins:
            record["verdict_rule"] += f" {RULE_OF_KINDS}"
    if facts.has_margins:
        labels = {label: quantity for quantity, _, label in FIGURES}
        record["half_margins"] = [
            {"quantity": labels[label], "margin": margin, "plots": plots}
            for label, margin, plots in half_margins(facts)
        ]
    return record


def _figures(facts: Facts) -> Iterator[dict[str, Any]]:
    labelled = [facts.labelled(kind) for kind in (AGE, GENUS, FAMILY)]
    for row in _rows(pd.concat([facts.estimates.table, *labelled])):
        margin = relative_margin(facts, row)
        yield {
            **{name: str(row[name]) for name in _TEXTS},
            **{name: _number(row[name]) for name in _NUMBERS},
            **{name: int(row[name]) for name in _COUNTS},
            "relative_margin": _number(margin),
            "verdict": verdict(facts, row) or None,
        }


def _rows(table: pd.DataFrame) -> Iterator[pd.Series]:
    return (row for _, row in table.iterrows())


def _number(value: Any) -> float | None:
    number = float(value)
    return number if math.isfinite(number) else None
