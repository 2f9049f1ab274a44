"""The tabs of a comparison: the cells to check on paper, and how often two entries differ.

References
----------
PaulsenEtAl2012, BarchardEtAl2019
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.estimates.intervals import wilson
from xlhelpers.fields.places import PLOTS
from xlhelpers.jobs.compare.book import Compared
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.our_tabs import names_of
from xlhelpers.pages.page_code import page_code
from xlhelpers.pages.plan import Block, Column, Link, TabPlan
from xlhelpers.pages.render import render_book
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import plural

OPEN_TAB, RATES_TAB = "Keyed twice", "Keying rates"
_OPEN_COLUMNS = (
    Column("page", "Page code", "text", width=11),
    Column("place", "Line on page", "number", "count", width=8),
    Column("plot", "Plot no.", "identifier", width=9),
    Column("tree", "Tree no.", "identifier", width=8),
    Column("setup", "Set-up", "identifier", width=7),
    Column("label", "Field", "wrapped", width=20),
    Column("first", "First entry", "wrapped", width=22),
    Column("second", "Second entry", "wrapped", width=22),
    Column("third", "Paper says something else", "entry", width=16),
    Column("by", "Resolved by", "entry", width=10),
    Column("link", "Type it in", "link", width=20),
    Column("what", "Row of another list", "wrapped", width=18),
    Column("first_cell", "Cell, first entry", "text", width=20),
    Column("second_cell", "Cell, second entry", "text", width=20),
)
_RATE_COLUMNS = (
    Column("name", "What", "wrapped", width=34),
    Column("cells", "Cells compared", "number", "count", width=12),
    Column("differ", "Differ", "number", "count", width=12),
    Column("rate", "Per 1,000", "number", "number", width=12, more_decimals=-1),
    Column("low", "95 % limits, from", "number", "number", width=12, more_decimals=-1),
    Column("high", "to", "number", "number", width=12, more_decimals=-1),
)
PUBLISHED = (
    "For comparison: entering once left 0.37 errors in 1,000 fields, entering twice 0.046 "
    "(Paulsen, Overgaard & Lauritsen 2012, PLoS ONE 7(4): e35087)."
)
WHY_PAPER = (
    "Check the paper first, then the two values. People who only make two entries match add new "
    "errors (Barchard, Freeman, Ochoa & Stephens 2019, doi 10.3758/s13428-019-01207-3)."
)


def add_tabs(
    package: Package,
    compared: Compared,
    targets: Sequence[tuple[str, int, int] | None],
    names: tuple[str, str],
    rates: tuple[pd.DataFrame, pd.DataFrame],
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
        The blank cells to type in, one for each row of `compared.open`.
    names
        The names of both files.
    rates
        How often the entries differ, by field and by person.
    survey
        The first entry, for its units and the number of paper sheets of each plot.
    """
    plots = zip(survey.plots["plot"], survey.plots["paper_sheets"], strict=True)
    sheets = {identifier_key(plot): float(count) for plot, count in plots}
    tabs = [_open_tab(compared, targets, names, sheets), _rates_tab(rates, names)]
    scratch = render_book(tabs, survey.units)
    defined = names_of(Package.from_bytes(scratch, "comparison.xlsx"))
    graft_sheets(package, scratch, replacing={}, defined=defined)


def _open_tab(
    compared: Compared,
    targets: Sequence[tuple[str, int, int] | None],
    names: tuple[str, str],
    sheets: Mapping[str, float],
) -> TabPlan:
    links: Any = [None if target is None else Link(*target) for target in targets]
    rows = compared.open.assign(
        page=[_page(plot, sheets) for plot in compared.open["plot"]],
        third="",
        by="",
        link=links,
    )
    count = f"{plural(len(rows), 'cell')} {'is' if len(rows) == 1 else 'are'} different"
    block = Block(
        "open",
        _OPEN_COLUMNS,
        rows[[c.key for c in _OPEN_COLUMNS]],
        filtered=True,
        if_empty="No cell differs.",
    )
    return TabPlan(
        "twice",
        "Entered twice: cells to check on paper",
        f"First entry: {names[0]}. Second entry: {names[1]}. {count} and blank in this workbook. "
        "Type what the paper says in the cell behind the link.",
        (block,),
        (
            WHY_PAPER,
            "Page codes are on the sheets that the command paper prints. Other paper has none.",
            "To see how often each person was wrong, compare each entry with this workbook after "
            "all cells are resolved.",
        ),
        frozen_columns=0,
        name=OPEN_TAB,
    )


def _page(plot: str, sheets: Mapping[str, float]) -> str:
    """Return the code of the page; of a plot with several pages, the signs they share."""
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


def _rates_tab(frames: tuple[pd.DataFrame, pd.DataFrame], names: tuple[str, str]) -> TabPlan:
    by_field = Block("by_field", _RATE_COLUMNS, with_limits(frames[0]), title="By field")
    by_person = Block(
        "by_person",
        _RATE_COLUMNS,
        with_limits(frames[1]),
        title="By person",
        sentence=f"Who entered the plot first and second (column {PLOTS['keyed_by'].label} on "
        f"{PLOTS.tab}).",
        if_empty="No lines were compared.",
    )
    return TabPlan(
        "twice_rates",
        "How often the two entries differ",
        f"{names[0]} and {names[1]}: cells filled in at least one entry, on the lines of both.",
        (by_field, by_person),
        (
            "Limits after Wilson, as if cells were independent. Mistakes come in groups, so the "
            "true rate may be a little outside. Each difference is at least one error.",
            PUBLISHED,
        ),
        name=RATES_TAB,
    )
