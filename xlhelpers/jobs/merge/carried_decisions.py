"""Decisions of several workbooks, carried to the combined workbook.

They are on its tabs To check and Log, where the next fill looks for them. It puts each beside its
finding if the readings are the same, and opens the finding again if they are not.
"""

from collections.abc import Sequence

import pandas as pd

from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.merge import words
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.pages.decision_columns import CELLS_LABEL, CORRECTED_LABELS, LABELS, LEFT_LABELS
from xlhelpers.pages.finding_rows import LOG_COLUMNS, decision_columns
from xlhelpers.pages.plan import Block, Column, TabPlan
from xlhelpers.reading.decisions import OfficeEntries
from xlhelpers.survey.decisions.decisions import Decision

_SHAPES: dict[str, Column] = {column.key: column for column in LOG_COLUMNS}
_SHAPES["cells"] = Column("cells", CELLS_LABEL["cells"], "wrapped", width=28)


def carried_tabs(office_entries: Sequence[OfficeEntries]) -> tuple[TabPlan, ...]:
    """Return the tabs with the decisions of several workbooks; none without decisions."""
    rows = [row for one in office_entries for row in one.rows if row.is_taken or row.earlier]
    log = [entry for one in office_entries for entry in one.log]
    left = pd.DataFrame(
        {key: [getattr(e, key) for e in log] for key in LEFT_LABELS | CORRECTED_LABELS},
        dtype=object,
    )
    tabs = []
    if rows:
        tabs.append(_tab("to_check", rows, pd.DataFrame()))
    if log:
        tabs.append(_tab("log", [entry.decision for entry in log], left))
    return tuple(tabs)


def _tab(key: str, decisions: Sequence[Decision], further: pd.DataFrame) -> TabPlan:
    findings = pd.DataFrame(
        [
            {"id": one.finding, **vars(one.texts), "found": one.texts.message, "cells": one.cells}
            for one in decisions
        ],
        dtype=object,
    )
    rows = pd.concat(
        [
            pd.DataFrame(findings, dtype=object),
            decision_columns(decisions, from_1904=False),
            further,
        ],
        axis=1,
    )
    columns = tuple(_SHAPES[name] for name in LABELS[key])
    block = Block(key, columns, rows[list(LABELS[key])], filtered=True, named=tuple(LABELS[key]))
    return TabPlan(key, RESULT_TABS[key], words.DECISIONS_PURPOSE, (block,))


def seals_of(rendered: Package) -> dict[str, str]:
    """Return the names that tell the next fill that nobody has added to these tabs."""
    tabs = our_tabs.find_tabs(rendered)
    digests = {key: our_tabs.digest_tab(rendered, sheet, key).digest for key, sheet in tabs.items()}
    return our_tabs.seals(digests, "")
