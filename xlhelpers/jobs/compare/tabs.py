"""The tabs of a comparison: the cells to check on paper, and how often two entries differ."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.estimates.intervals import wilson
from xlhelpers.jobs.compare import words
from xlhelpers.jobs.compare.book import Compared
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.our_tabs import names_of
from xlhelpers.pages.page_code import page_code
from xlhelpers.pages.plan import Block, Link, TabPlan
from xlhelpers.pages.render import render_book
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.words import identifier_key


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
    block = Block(
        "open",
        words.OPEN_COLUMNS,
        rows[[c.key for c in words.OPEN_COLUMNS]],
        filtered=True,
        if_empty=f"{words.NO_DIFFERENCE}.",
    )
    return TabPlan(
        "twice",
        words.OPEN_TITLE,
        words.say_open(names, len(rows)),
        (block,),
        (*_rules_remark(compared), *words.OPEN_REMARKS),
        frozen_columns=0,
        name=words.OPEN_TAB,
    )


def _rules_remark(compared: Compared) -> tuple[str, ...]:
    return (words.WIDTHS_DIFFER.format(*compared.widths),) if compared.widths else ()


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
    by_field = Block("by_field", words.RATE_COLUMNS, with_limits(frames[0]), title=words.BY_FIELD)
    by_person = Block(
        "by_person",
        words.RATE_COLUMNS,
        with_limits(frames[1]),
        title=words.BY_PERSON,
        sentence=words.WHO_ENTERED,
        if_empty=words.NO_LINES_COMPARED,
    )
    return TabPlan(
        "twice_rates",
        words.RATES_TITLE,
        words.RATES_PURPOSE.format(*names),
        (by_field, by_person),
        words.RATES_REMARKS,
        name=words.RATES_TAB,
    )
