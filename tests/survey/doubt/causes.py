"""The causes that are named of each finding about readings, by the ids of the mistakes."""

from collections.abc import Iterator

import pandas as pd

from xlhelpers.survey.doubt.explain import (
    UNLIKELY,
    Cause,
    is_explainable,
    name_causes,
    rows_of,
    weigh_doubts,
)
from xlhelpers.survey.outcome import Outcome


def explain(
    outcome: Outcome, table: pd.DataFrame | None = None
) -> Iterator[tuple[int, tuple[Cause, ...]]]:
    """Go through the findings about readings: the line that each explains, and its causes."""
    doubts = weigh_doubts(outcome, table)
    for finding in filter(is_explainable, outcome.findings):
        for row in rows_of(doubts, finding)[:1]:
            reported = finding.check != UNLIKELY
            yield int(doubts.weighed.lines[row]), name_causes(doubts, row, reported)
