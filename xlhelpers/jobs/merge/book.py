"""The workbook of a survey combined from several: entered, checked, with its report."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.merge import words
from xlhelpers.jobs.merge.carried_decisions import carried_tabs, seals_of
from xlhelpers.package.formulas.stale_results import ask_for_calculation
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.cell_writes import CellWrite, ColumnWrites
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.our_tabs import names_of
from xlhelpers.pages.plan import Block, Link, TabPlan
from xlhelpers.pages.render import render_book
from xlhelpers.reading.decisions import OfficeEntries
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.columns import SHEETS
from xlhelpers.survey.merging.merging import Merged
from xlhelpers.survey.merging.values import Conflict
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.template.keyed_rows import clear_species, stored_cells
from xlhelpers.template.layout import RULE_VALUE, rule_rows
from xlhelpers.template.make import MOST_PLOTS, make_template

_HEADING, _FIRST = 5, 6
_SPARE = 40  # rows that are prepared below the lines
Cells = NDArray[np.object_]
HEIGHTS = ("crown_base", "crown_top", "total_height")


@dataclass(frozen=True)
class SourceFacts:
    """What the report shows of one workbook: rows by table, or why it was left out."""

    name: str
    counts: dict[str, int]
    left: tuple[str, ...] = ()
    error: str = ""
    entries: OfficeEntries = field(default_factory=OfficeEntries)


def key_merged(merged: Merged) -> Package:
    """Key a merged survey into a blank workbook, with the origin of lines and plots.

    Raises
    ------
    WorkbookError
        There are more plots than a workbook holds.
    """
    lines, plots = merged.rows["lines"], merged.rows["plots"]
    if len(plots) > MOST_PLOTS:
        raise WorkbookError(words.TOO_MANY_PLOTS.format(plots=len(plots), most=MOST_PLOTS))
    units = merged.target.units
    paper: Any = "a4" if units == "metric" else "letter"
    needed = {sheet.key: len(merged.rows[table]) for table, sheet in SHEETS.items()}
    count = max(len(lines) + _SPARE, _SPARE)
    data = make_template(units, paper, max(len(plots), 1), count, needed)
    package = Package.from_bytes(data, "merged.xlsx")
    del data
    _key_rules(package, merged.rules)
    clear_species(package)
    own = {name: merged.own[name].to_numpy(dtype=object) for name in merged.own.columns}
    for table, sheet in SHEETS.items():
        further = _origins(merged.rows[table]) if table in ("plots", "lines") else {}
        further |= own if table == "lines" else {}
        _key_table(package, sheet, merged.rows[table], further)
    ask_for_calculation(package)
    return package


def _key_rules(package: Package, rules: Mapping[str, Any]) -> None:
    part = parts.sheet_named(package, RULES.tab)
    assert part is not None  # it is the template's
    rows = rule_rows()
    values = stored_cells(rules.values())
    writes = [
        CellWrite(rows[name] + 1, RULE_VALUE + 1, value)
        for name, value in zip(rules, values, strict=True)
    ]
    write_cells(package, part, writes)


def _key_table(
    package: Package, sheet: Sheet, frame: pd.DataFrame, further: dict[str, Cells]
) -> None:
    """Key a table into the template's sheet, further columns to the right of it."""
    part = parts.sheet_named(package, sheet.tab)
    assert part is not None  # it is the template's
    if further:
        columns = range(len(sheet.fields) + 1, len(sheet.fields) + 1 + len(further))
        headings = [
            CellWrite(_HEADING, column, name, (_HEADING, 1))
            for column, name in zip(columns, further, strict=True)
        ]
        write_cells(package, part, headings)
    cells = {
        column: stored_cells(frame[item.name])
        for column, item in enumerate(sheet.fields, 1)
        if item.kind != "computed"
    }
    cells |= dict(enumerate(further.values(), len(sheet.fields) + 1))
    filled = {column: values for column, values in cells.items() if is_filled(values).any()}
    if len(frame) and filled:
        rows = np.arange(_FIRST, _FIRST + len(frame))
        _, refusals = write_cells(package, part, ColumnWrites(rows, filled, _FIRST))
        assert not refusals  # the template refuses nothing


def _origins(frame: pd.DataFrame) -> dict[str, Cells]:
    columns = ("_file", "_sheet", "_row")
    return {
        label: frame[name].to_numpy(dtype=object)
        for label, name in zip(words.ORIGIN, columns, strict=True)
    }


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
        raise WorkbookError(words.LINES_LOST.format(wanted=wanted, read=len(survey.lines)))
    now = compute_setups(survey)[list(HEIGHTS)].to_numpy(float)
    before = heights[list(HEIGHTS)].to_numpy(float)
    differs = ~(np.isclose(now, before, rtol=1e-6, atol=1e-6) | (np.isnan(now) & np.isnan(before)))
    for at, which in zip(*np.nonzero(differs), strict=True):
        line = merged.rows["lines"].iloc[at]
        merged.conflicts.append(
            Conflict(
                "height",
                f"plot {line['plot']}, tree {line['tree']}",
                FIELD_SHEET[
                    "live_" + HEIGHTS[which].replace("crown_", "").replace("_height", "")
                ].label,
                words.show_height(now[at, which]),
                words.show_height(before[at, which]),
                line["_file"],
                line["_sheet"],
                int(line["_row"]),
                words.HEIGHT_DIFFERS,
            )
        )
    return survey


def add_report(package: Package, merged: Merged, sources: Sequence[SourceFacts]) -> None:
    """Graft the tabs with conflicts, workbooks and decisions into the merged workbook."""
    decided = carried_tabs([source.entries for source in sources])
    scratch = render_book(
        [_conflicts_tab(merged, sources), _sources_tab(merged, sources), *decided],
        merged.target.units,
    )
    rendered = Package.from_bytes(scratch, "report.xlsx")
    names = names_of(rendered) | (seals_of(rendered) if decided else {})
    graft_sheets(package, scratch, replacing={}, defined=names)


def _conflicts_tab(merged: Merged, sources: Sequence[SourceFacts]) -> TabPlan:
    rows = pd.DataFrame(
        [vars(conflict) for conflict in merged.conflicts],
        columns=[c.key for c in words.CONFLICT_COLUMNS if c.key != "link"],
    )
    rows["row"] = rows["row"].where(rows["row"] > 0).astype(float)
    links: Any = _links(merged)
    rows["link"] = links
    block = Block(
        "conflicts",
        words.CONFLICT_COLUMNS,
        rows,
        filtered=True,
        if_empty=words.NO_CONFLICT,
    )
    return TabPlan(
        "merge",
        words.MERGE_TAB,
        words.say_conflicts(merged, sum(not one.error for one in sources)),
        (block,),
        (words.MERGE_REMARK,),
        name=words.MERGE_TAB,
    )


def _links(merged: Merged) -> list[Link | None]:
    """Return for each conflict about one line or plot the cell where that row is now."""
    places: dict[tuple[str, str, int], Link] = {}
    for table, tab in (("plots", PLOTS.tab), ("lines", FIELD_SHEET.tab)):
        frame = merged.rows[table]
        origins = zip(frame["_file"], frame["_sheet"], frame["_row"], strict=True)
        for row, origin in enumerate(origins, _FIRST):
            places[origin] = Link(tab, row, 2 if table == "lines" else 1)
    return [places.get((c.file, c.sheet, c.row)) for c in merged.conflicts]


def _sources_tab(merged: Merged, sources: Sequence[SourceFacts]) -> TabPlan:
    rows = pd.DataFrame(
        [
            {"name": s.name, "left": ", ".join(s.left), "error": s.error, **s.counts}
            for s in sources
        ],
        columns=[column.key for column in words.SOURCE_COLUMNS],
    )
    out = {"name": words.THIS_WORKBOOK, **{t: float(len(merged.rows[t])) for t in SHEETS}}
    rows = pd.concat([rows, pd.DataFrame([out])], ignore_index=True)
    return TabPlan(
        "merged",
        words.SOURCES_TAB,
        words.SOURCES_PURPOSE,
        (Block("sources", words.SOURCE_COLUMNS, rows),),
        (words.SOURCES_REMARK,),
        name=words.SOURCES_TAB,
    )
