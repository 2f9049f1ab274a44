"""The tabs of a comparison: what waits for a look at the paper, and how often people disagree.

References
----------
PaulsenEtAl2012, BarchardEtAl2019
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.estimates.intervals import wilson
from xlhelpers.jobs.compare.book import Compared
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.crew_tabs import CrewTab, render_crew_tabs
from xlhelpers.pages.our_tabs import names_of
from xlhelpers.pages.page_code import page_code
from xlhelpers.pages.plan import Block, Column, Link, TabPlan
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.words import identifier_key

OPEN_TAB, RATES_TAB = "Keyed twice", "Keying rates"
_OPEN_COLUMNS = (
    Column("page", "Page code", "text", width=11),
    Column("place", "Line on page", "number", "count", width=8),
    Column("plot", "Plot no.", "identifier", width=9),
    Column("tree", "Tree no.", "identifier", width=8),
    Column("setup", "Set-up", "identifier", width=7),
    Column("label", "Field", "wrapped", width=20),
    Column("first", "First keying", "wrapped", width=22),
    Column("second", "Second keying", "wrapped", width=22),
    Column("third", "Paper says neither: what?", "entry", width=16),
    Column("by", "Settled by", "entry", width=10),
    Column("link", "Key it in", "link", width=20),
    Column("what", "Other lists: which", "wrapped", width=18),
    Column("first_cell", "Cell, first keying", "text", width=20),
    Column("second_cell", "Cell, second keying", "text", width=20),
)
_RATE_COLUMNS = (
    Column("name", "What", "wrapped", width=34),
    Column("cells", "Cells compared", "number", "count", width=12),
    Column("differ", "Disagree", "number", "count", width=12),
    Column("rate", "per 1,000", "number", "number", width=12, more_decimals=-1),
    Column("low", "95 % limits, from", "number", "number", width=12, more_decimals=-1),
    Column("high", "to", "number", "number", width=12, more_decimals=-1),
)
PUBLISHED = (
    "For comparison: single keying left 0.37 errors in 1,000 fields and keying twice 0.046 "
    "(Paulsen, Overgaard & Lauritsen 2012, PLoS ONE 7(4): e35087)."
)
WHY_PAPER = (
    "Look at the paper first, then at the two values: people who only make two entries match bring "
    "in new errors (Barchard, Freeman, Ochoa & Stephens 2019, doi 10.3758/s13428-019-01207-3)."
)


def add_tabs(
    package: Package,
    compared: Compared,
    targets: Sequence[tuple[str, int, int] | None],
    said: tuple[tuple[str, str], tuple[pd.DataFrame, pd.DataFrame]],
    survey: Survey,
) -> None:
    """Graft both tabs into the merged workbook.

    Parameters
    ----------
    package
        The merged workbook; changed in memory.
    compared
        The comparison.
    targets
        The cells that wait, a row of `compared.open` each.
    said
        The names of both files, and the rates by field and by person.
    survey
        The first keying, for its units and the number of paper sheets of each plot.
    """
    names, frames = said
    plots = zip(survey.plots["plot"], survey.plots["paper_sheets"], strict=True)
    sheets = {identifier_key(plot): float(count) for plot, count in plots}
    tabs = [_open_tab(compared, targets, names, sheets), _rates_tab(frames, names)]
    scratch = render_crew_tabs(tabs, "us" if survey.units == "us" else "metric")
    defined = names_of(Package.from_bytes(scratch, "comparison.xlsx"))
    graft_sheets(package, scratch, replacing={}, defined=defined)


def _open_tab(
    compared: Compared,
    targets: Sequence[tuple[str, int, int] | None],
    names: tuple[str, str],
    sheets: Mapping[str, float],
) -> CrewTab:
    links: Any = [None if target is None else Link(*target) for target in targets]
    rows = compared.open.assign(
        page=[_page(plot, sheets) for plot in compared.open["plot"]],
        third="",
        by="",
        link=links,
    )
    block = Block(
        "open",
        _OPEN_COLUMNS,
        rows[[c.key for c in _OPEN_COLUMNS]],
        filtered=True,
        if_empty="Both keyings agree in every cell.",
    )
    plan = TabPlan(
        "twice",
        "Keyed twice: what waits for a look at the paper",
        f"First keying: {names[0]}. Second keying: {names[1]}. {len(rows):,} cells disagree; they "
        "are blank in this workbook. Key what the paper says into the cell behind the link.",
        (block,),
        (
            WHY_PAPER,
            "The page codes are those of the sheets that the command paper prints; other paper has "
            "none.",
            "To see afterwards who erred how often, compare each keying with this workbook when "
            "all is settled.",
        ),
        frozen_columns=0,
    )
    return CrewTab(OPEN_TAB, plan)


def _page(plot: str, sheets: Mapping[str, float]) -> str:
    """Return the code of the page; of a plot with several, the signs that all its pages share."""
    if not plot:
        return ""
    code = page_code(plot, 1)
    return code if sheets.get(identifier_key(plot)) == 1 else f"{code.partition('-')[0]}-…"


def with_limits(frame: pd.DataFrame) -> pd.DataFrame:
    """Return counts with their rate per 1,000 cells and its confidence limits."""
    counts = zip(frame["differ"].tolist(), frame["cells"].tolist(), strict=True)
    limits = np.array([wilson(int(k), int(n)) for k, n in counts]).reshape(-1, 2) * 1000
    rate = frame["differ"] / frame["cells"].where(frame["cells"] > 0) * 1000
    return frame.assign(rate=rate, low=limits[:, 0], high=limits[:, 1])


def _rates_tab(frames: tuple[pd.DataFrame, pd.DataFrame], names: tuple[str, str]) -> CrewTab:
    by_field = Block("by_field", _RATE_COLUMNS, with_limits(frames[0]), title="By field")
    by_person = Block(
        "by_person",
        _RATE_COLUMNS,
        with_limits(frames[1]),
        title="By person",
        sentence="Who keyed the plot, first and second keying (column Entered by of "
        "the sheet Plots).",
        if_empty="No lines were compared.",
    )
    plan = TabPlan(
        "twice_rates",
        "How often the two keyings disagree",
        f"{names[0]} and {names[1]}: cells that at least one keying fills, on lines of both.",
        (by_field, by_person),
        (
            "Limits after Wilson, as if each cell stood by itself; mistakes come in groups, so the "
            "truth may lie somewhat further off. A disagreement is one error at least.",
            PUBLISHED,
        ),
    )
    return CrewTab(RATES_TAB, plan)
