"""The workbook of a survey that was put together from several: keyed, checked, with its report."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.package import parts
from xlhelpers.package.cell_edit import CellWrite, write_cells
from xlhelpers.package.container import Package
from xlhelpers.package.graft import graft_sheets
from xlhelpers.survey.merging import SHEETS, Conflict, Merged
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups import compute_setups
from xlhelpers.workbook.crew_tabs import CrewTab, render_crew_tabs
from xlhelpers.workbook.key_in import key_rows
from xlhelpers.workbook.our_tabs import names_of
from xlhelpers.workbook.read_survey import read_survey
from xlhelpers.workbook.sheet_plan import Block, Column, Link, TabPlan
from xlhelpers.workbook.template import MOST_PLOTS, make_template
from xlhelpers.workbook.template_book_lists import clear_species

MERGE_TAB, SOURCES_TAB = "Merge report", "Merged workbooks"
ORIGIN = ("Origin: workbook", "Origin: sheet", "Origin: row")
_HEADING, _FIRST = 5, 6
# rows that are prepared with drop-downs; further ones are keyed all the same
_MOST_PREPARED = 2000
HEIGHTS = ("crown_base", "crown_top", "total_height")


@dataclass(frozen=True)
class SourceFacts:
    """What the report says of one workbook: rows by table, or why it was left out."""

    name: str
    counts: dict[str, int]
    left: tuple[str, ...] = ()
    error: str = ""


def key_merged(merged: Merged) -> Package:
    """Key a merged survey into a blank workbook, with the origin of lines and plots.

    Raises
    ------
    WorkbookError
        There are more plots than a workbook holds.
    """
    lines, plots = merged.rows["lines"], merged.rows["plots"]
    if len(plots) > MOST_PLOTS:
        raise WorkbookError(
            f"{len(plots):,} plots are more than the {MOST_PLOTS:,} that one workbook holds; "
            "merge them in parts."
        )
    units = merged.target.units
    paper: Any = "a4" if units == "metric" else "letter"
    prepared = min(max(len(lines) + 40, 40), _MOST_PREPARED)
    data = make_template(units, paper, max(len(plots), 1), prepared)
    package = Package.from_bytes(data, "merged.xlsx")
    key_rows(package, RULES, [merged.rules])
    clear_species(package)
    for table, sheet in SHEETS.items():
        key_rows(package, sheet, _rows_of(sheet, merged.rows[table]), after_existing=False)
    add_columns(package, PLOTS, _origins(plots))
    own = {f"{name}": merged.own[name].tolist() for name in merged.own.columns}
    add_columns(package, FIELD_SHEET, {**_origins(lines), **own})
    return package


def _rows_of(sheet: Sheet, frame: pd.DataFrame) -> list[dict[str, Any]]:
    names = [item.name for item in sheet.fields if item.kind != "computed"]
    return [dict(zip(names, row, strict=True))
            for row in frame[names].itertuples(index=False, name=None)]  # fmt: skip


def _origins(frame: pd.DataFrame) -> dict[str, list[Any]]:
    columns = ("_file", "_sheet", "_row")
    return {label: frame[name].tolist() for label, name in zip(ORIGIN, columns, strict=True)}


def add_columns(package: Package, sheet: Sheet, columns: dict[str, list[Any]]) -> None:
    """Write further columns right of a template's sheet, under headings of their own."""
    part = parts.sheet_named(package, sheet.tab)
    assert part is not None  # it is the template's
    computed = [item.kind == "computed" for item in sheet.fields]
    like = (_FIRST, len(computed) - computed[::-1].index(False) if False in computed else 1)
    writes = []
    for column, (heading, values) in enumerate(columns.items(), len(sheet.fields) + 1):
        writes.append(CellWrite(_HEADING, column, heading, (_HEADING, 1)))
        writes += [
            CellWrite(row, column, _plain(value), like)
            for row, value in enumerate(values, _FIRST)
            if value is not None
        ]
    write_cells(package, part, writes)


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def check_merged(package: Package, merged: Merged, heights: pd.DataFrame) -> Survey:
    """Read the merged workbook again: every line must be there; changed heights are listed.

    Parameters
    ----------
    package
        As `key_merged` made it.
    merged
        What was keyed; conflicts are added to it.
    heights
        Crown base, crown top and total height of each line in its own workbook, in order.

    Raises
    ------
    WorkbookError
        A line is missing: nothing may then be written.
    """
    survey = read_survey(package)
    wanted = len(merged.rows["lines"])
    if len(survey.lines) != wanted or len(heights) != wanted:
        raise WorkbookError(
            f"{wanted:,} lines went in, but {len(survey.lines):,} came out; nothing was written. "
            "Please report this."
        )
    now = compute_setups(survey)[list(HEIGHTS)].to_numpy(float)
    before = heights[list(HEIGHTS)].to_numpy(float)
    differs = ~(np.isclose(now, before, rtol=1e-6, atol=1e-6) | (np.isnan(now) & np.isnan(before)))
    for at, which in zip(*np.nonzero(differs), strict=True):
        line = merged.rows["lines"].iloc[at]
        merged.conflicts.append(
            Conflict("height", f"plot {line['plot']}, tree {line['tree']}",
                     FIELD_SHEET["live_" + HEIGHTS[which].replace("crown_", "").replace(
                         "_height", "")].label,
                     _metres(now[at, which]), _metres(before[at, which]), line["_file"],
                     line["_sheet"], int(line["_row"]),
                     "the height is another than in its own workbook: see the rows above on its "
                     "plot, instrument and tree")
        )  # fmt: skip
    return survey


def _metres(height: float) -> str:
    return "no height" if np.isnan(height) else f"{height:.2f} m"


def add_report(package: Package, merged: Merged, sources: Sequence[SourceFacts]) -> None:
    """Graft the tabs with the conflicts and the workbooks into the merged workbook."""
    scratch = render_crew_tabs(
        [_conflicts_tab(merged, sources), _sources_tab(merged, sources)], merged.target.units
    )
    names = names_of(Package.from_bytes(scratch, "report.xlsx"))
    graft_sheets(package, scratch, replacing={}, defined=names)


_CONFLICT_COLUMNS = (
    Column("kind", "About", "text", width=13),
    Column("what", "What", "wrapped", width=24),
    Column("label", "Column", "text", width=20),
    Column("stands", "Stands in this workbook", "wrapped", width=24),
    Column("other", "The other says", "wrapped", width=24),
    Column("file", "Other workbook", "wrapped", width=24),
    Column("sheet", "Its sheet", "text", width=16),
    Column("row", "Its row", "number", "count", width=8),
    Column("done", "What was done", "wrapped", width=44),
    Column("link", "Go to", "link", width=20),
)


def _conflicts_tab(merged: Merged, sources: Sequence[SourceFacts]) -> CrewTab:
    rows = pd.DataFrame([vars(conflict) for conflict in merged.conflicts],
                        columns=[c.key for c in _CONFLICT_COLUMNS if c.key != "link"])  # fmt: skip
    rows["row"] = rows["row"].where(rows["row"] > 0).astype(float)
    links: Any = _links(merged)
    rows["link"] = links
    block = Block("conflicts", _CONFLICT_COLUMNS, rows, filtered=True,
                  if_empty="No contradictions were found.")  # fmt: skip
    used = sum(not source.error for source in sources)
    plan = TabPlan(
        "merge",
        "Merge report",
        f"{used} workbooks, {len(merged.rows['lines']):,} lines in and "
        f"{len(merged.rows['lines']):,} lines out; {len(rows):,} contradictions are listed.",
        (block,),
        ("Nothing was dropped: what does not stand in this workbook stands on this tab. The "
         "origin of each line and plot is in the last columns of its sheet.",),
    )  # fmt: skip
    return CrewTab(MERGE_TAB, plan)


def _links(merged: Merged) -> list[Link | None]:
    """Return for each conflict about one line or plot the cell where that row stands now."""
    places: dict[tuple[str, str, int], Link] = {}
    for table, tab in (("plots", PLOTS.tab), ("lines", FIELD_SHEET.tab)):
        frame = merged.rows[table]
        origins = zip(frame["_file"], frame["_sheet"], frame["_row"], strict=True)
        for row, origin in enumerate(origins, _FIRST):
            places[origin] = Link(tab, row, 2 if table == "lines" else 1)
    return [places.get((c.file, c.sheet, c.row)) for c in merged.conflicts]


def _sources_tab(merged: Merged, sources: Sequence[SourceFacts]) -> CrewTab:
    columns = (
        Column("name", "Workbook", "wrapped", width=34),
        *(Column(table, sheet.tab, "number", "count", width=11) for table, sheet in SHEETS.items()),
        Column("left", "Tabs not carried over", "wrapped", width=30),
        Column("error", "Left out because", "wrapped", width=50),
    )
    rows = pd.DataFrame(
        [{"name": s.name, "left": ", ".join(s.left), "error": s.error, **s.counts}
         for s in sources], columns=[column.key for column in columns],
    )  # fmt: skip
    out = {"name": "in this workbook", **{t: float(len(merged.rows[t])) for t in SHEETS}}
    rows = pd.concat([rows, pd.DataFrame([out])], ignore_index=True)
    block = Block("sources", columns, rows)
    sentence = "Rows by sheet. Lists of names become shorter where workbooks share entries."
    remark = ("Decisions on the tab To check of a workbook stay there: settle what is open here "
              "after the first fill.")  # fmt: skip
    return CrewTab(
        SOURCES_TAB, TabPlan("merged", "Merged workbooks", sentence, (block,), (remark,))
    )
