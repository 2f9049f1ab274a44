"""Which cells of the field sheets get which result.

Live columns stand on every keyed line; tree columns on the first line of each tree and nowhere
else. A row without plot and tree is never written.
"""

from collections.abc import Collection, Iterator

import numpy as np
import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.record import Field
from xlhelpers.jobs.fill.tabs.trees import BETWEEN, findings_of_trees
from xlhelpers.package.sheet.cell_writes import ColumnWrites
from xlhelpers.survey.outcome import Outcome

# result column of the field sheet -> column of the set-ups table
LIVE_SOURCES = {
    "live_distance": "level_distance",
    "live_base": "crown_base",
    "live_top": "crown_top",
    "live_total": "total_height",
    "live_depth": "crown_depth",
}
# result column of the field sheet -> column of the trees table
TREE_SOURCES = {
    "tree_total": "total_height",
    "tree_top": "crown_top",
    "tree_base": "crown_base",
    "tree_depth": "crown_depth",
    "tree_ratio": "live_crown_ratio",
    "tree_setups": "n_total",
    "tree_u_total": "u_total",
    "tree_u_depth": "u_depth",
}
GREATEST_TEXT = 2000


def result_columns(outcome: Outcome) -> pd.DataFrame:
    """Return every result column of the field sheets, one row a keyed line, in shown units.

    A cell that stays empty is None.
    """
    lines = outcome.survey.lines
    first = np.full(len(lines), -1)
    first[outcome.trees["first_line"].to_numpy(int)] = np.arange(len(outcome.trees))
    columns: dict[str, object] = {}
    for name, source in LIVE_SOURCES.items():
        columns[name] = _in_shown_unit(
            outcome, FIELD_SHEET[name], outcome.setups[source].to_numpy(float)
        )
    columns["live_warning"] = _first_warnings(outcome)
    for name, source in TREE_SOURCES.items():
        of_trees = outcome.trees[source].to_numpy(float)
        on_lines = (
            np.where(first >= 0, of_trees[first], np.nan) if len(of_trees) else first * np.nan
        )
        columns[name] = _in_shown_unit(outcome, FIELD_SHEET[name], on_lines)
    columns["tree_findings"] = _tree_findings(outcome)
    return pd.DataFrame(columns, index=lines.index, dtype=object)


def _in_shown_unit(outcome: Outcome, record: Field, inner: np.ndarray) -> np.ndarray:
    quantity = record.measured_in
    is_share = quantity is None or quantity.name == "percent"  # a share is shown by its format
    factor = 1.0 if quantity is None or is_share else quantity.factor(outcome.survey.units)
    values = (inner / factor).astype(object)
    values[np.isnan(inner)] = None
    return values


def _first_warnings(outcome: Outcome) -> np.ndarray:
    """Return for each line the first thing to look at; what is settled is none."""
    texts = np.full(len(outcome.survey.lines), None, dtype=object)
    # what concerns this line alone comes before what concerns a whole plot
    by_reach = sorted(outcome.doubtful_findings, key=lambda finding: len(finding.lines))
    for finding in reversed(by_reach):
        texts[list(finding.lines)] = finding.message[:GREATEST_TEXT]
    return texts


def _tree_findings(outcome: Outcome) -> np.ndarray:
    """Return what the tab Trees says of the findings of each tree, on its first line."""
    texts = np.full(len(outcome.survey.lines), None, dtype=object)
    by_kind = findings_of_trees(outcome)
    first_lines = outcome.trees["first_line"].to_numpy(int)
    for line, pieces in zip(
        first_lines, zip(by_kind["open"], by_kind["settled"], strict=True), strict=True
    ):
        texts[line] = BETWEEN.join(filter(None, pieces))[:GREATEST_TEXT] or None
    return texts


def field_writes(
    outcome: Outcome, live: Collection[str] = ()
) -> Iterator[tuple[str, ColumnWrites]]:
    """Yield for each field sheet its name and the result cells to write.

    On the sheets in `live` the columns of that block hold formulas and are left out.
    A value of None empties a cell. Lines below the prepared ones take over the formats of the
    first keyed line.
    """
    lines = outcome.survey.lines
    results = result_columns(outcome)
    keyed = ((lines["plot"] != "") & (lines["tree"] != "")).to_numpy()
    for sheet in dict.fromkeys(lines["_sheet"]):
        here = np.flatnonzero((lines["_sheet"] == sheet).to_numpy() & keyed)
        rows = lines["_row"].to_numpy(int)[here]
        columns = {
            outcome.survey.columns[sheet, name]: results[name].to_numpy()[here]
            for name in results.columns
            if (sheet, name) in outcome.survey.columns
            and not (sheet in live and FIELD_SHEET[name].block == "live")
        }
        yield sheet, ColumnWrites(rows, columns, int(rows.min()) if len(rows) else None)


def missing_result_columns(outcome: Outcome) -> list[tuple[str, str]]:
    """Return (sheet, label) of each result column that a field sheet no longer has."""
    records = [f for f in FIELD_SHEET.fields if f.block in ("live", "tree")]
    return [
        (sheet, record.label)
        for sheet in dict.fromkeys(outcome.survey.lines["_sheet"])
        for record in records
        if (sheet, record.name) not in outcome.survey.columns
    ]
