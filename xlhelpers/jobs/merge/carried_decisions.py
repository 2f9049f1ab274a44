"""Decisions of several workbooks, carried to the workbook that they became.

They stand on its tabs To check and Log as the next fill looks for them: it puts each beside its
finding where the readings are still the same, and asks again where they are not.
"""

from collections.abc import Sequence

import pandas as pd

from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.pages.decision_columns import LABELS
from xlhelpers.pages.finding_rows import LOG_COLUMNS, decision_columns
from xlhelpers.pages.plan import Block, Column, TabPlan
from xlhelpers.reading.decisions import Kept
from xlhelpers.survey.decisions.decisions import Decision

_SHAPES: dict[str, Column] = {column.key: column for column in LOG_COLUMNS}
_SAY = (
    "Decisions from the workbooks that were put together. The next fill puts each beside its "
    "finding where the readings are the same, and asks again where they are not."
)


def carried_tabs(kept: Sequence[Kept]) -> tuple[TabPlan, ...]:
    """Return the tabs with what the office decided in several workbooks; none where it did not."""
    rows = [row for one in kept for row in one.rows if row.is_taken or row.earlier]
    log = [entry for one in kept for entry in one.log]
    left = pd.DataFrame(
        {"became": [e.became for e in log], "left_on": [e.left_on for e in log]}, dtype=object
    )
    tabs = []
    if rows:
        tabs.append(_tab("to_check", rows, pd.DataFrame()))
    if log:
        tabs.append(_tab("log", [entry.decision for entry in log], left))
    return tuple(tabs)


def _tab(key: str, decisions: Sequence[Decision], further: pd.DataFrame) -> TabPlan:
    told = pd.DataFrame([{"id": one.finding, **vars(one.told)} for one in decisions], dtype=object)
    rows = pd.concat([told, decision_columns(decisions, from_1904=False), further], axis=1)
    columns = tuple(_SHAPES[name] for name in LABELS[key])
    block = Block(key, columns, rows[list(LABELS[key])], filtered=True, named=tuple(LABELS[key]))
    return TabPlan(key, RESULT_TABS[key], _SAY, (block,))


def seals_of(rendered: Package) -> dict[str, str]:
    """Return the names that tell the next fill that nobody has added to these tabs."""
    found = our_tabs.find_tabs(rendered)
    digests = {key: our_tabs.shown(rendered, sheet, key).digest for key, sheet in found.items()}
    return our_tabs.seals(digests, "")
