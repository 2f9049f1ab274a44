"""The workbook for a second measurement without the first values, and the objectives.

Nothing that was measured the first time is in the file, not even hidden: it is made from a blank
workbook and gets only what is needed to find the trees and to read the instruments.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.estimates.remeasured import DEFAULTS, Objective
from xlhelpers.fields.cautions import CAUTIONS
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES
from xlhelpers.jobs.recheck import words
from xlhelpers.jobs.recheck.words import PlanFacts
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.our_tabs import names_of
from xlhelpers.pages.plan import Block, TabPlan
from xlhelpers.pages.render import render_book
from xlhelpers.reading.crew_book import CrewBook
from xlhelpers.reading.objectives import OBJECTIVE_KEYS
from xlhelpers.survey.merging.values import keyed_frame, target_of
from xlhelpers.template.keyed_rows import clear_species, key_rows
from xlhelpers.template.make import make_template

_PLACES = ("bearing", "centre_distance", "tag", "latitude", "longitude")


def plan_book(book: CrewBook, trees: pd.DataFrame, facts: PlanFacts) -> Package:
    """Return the workbook for the second measurement.

    Parameters
    ----------
    book
        The survey; only names, rules, people, instruments and species are used.
    trees
        The selected trees.
    facts
        How they were selected.
    """
    target = target_of([book])
    plots = list(dict.fromkeys(trees["plot_position"].tolist()))
    paper: Any = "a4" if target.units == "metric" else "letter"
    package = Package.from_bytes(
        make_template(target.units, paper, max(len(plots), 1), max(len(trees) + 20, 40)),
        "recheck.xlsx",
    )
    clear_species(package)
    rules = {**_rules(book, target.units), "diameter_typed_as": "diameter"}
    rules["tape_reads_in"] = target.tape
    key_rows(package, RULES, [rules])
    for sheet, table in (
        (STRATA, "strata"),
        (PEOPLE, "people"),
        (INSTRUMENTS, "instruments"),
        (SPECIES, "species"),
    ):
        frame = keyed_frame(book, table, sheet, target)
        rows: Any = frame.drop(columns=["note"], errors="ignore").to_dict("records")
        key_rows(package, sheet, rows, after_existing=False)
    own = book.survey.plots.iloc[[at for at in plots if at >= 0]]
    key_rows(
        package,
        PLOTS,
        [
            {"plot": _as_number(plot), "stratum": stratum, "status": "later"}
            for plot, stratum in zip(own["plot"], own["stratum"], strict=True)
        ],
    )
    key_rows(package, FIELD_SHEET, _lines(book, trees, target, facts.with_places))
    _add_tabs(package, target.units, facts)
    return package


def _as_number(text: Any) -> Any:
    """Return a plain number as such, so that it sorts; other names as they are."""
    return float(text) if text.isdecimal() and str(int(text)) == text else text


def _rules(book: CrewBook, units: Units) -> dict[str, Any]:
    rules: dict[str, Any] = {}
    for item in RULES.fields:
        value, quantity = book.survey.rules[item.name], item.measured_in
        if isinstance(value, float) and quantity is not None and np.isfinite(value):
            value = float(f"{value / quantity.factor(units):.10g}")
        rules[item.name] = value
    return rules


def _lines(
    book: CrewBook, trees: pd.DataFrame, target: Any, with_places: bool
) -> list[dict[str, Any]]:
    keyed = keyed_frame(book, "lines", FIELD_SHEET, target)
    rows = []
    for row in trees[["plot", "tree", "first_line"]].to_dict("records"):
        line: dict[str, Any] = {name: _as_number(row[name]) for name in ("plot", "tree")}
        if with_places:
            line |= {name: keyed[name].iloc[int(row["first_line"])] for name in _PLACES}
        rows.append(line)
    return rows


def objectives_tab(objectives: Sequence[Objective], units: Units) -> TabPlan:
    """Return the tab on which the office edits the objectives."""
    rows = []
    for objective in objectives:
        quantity = QUANTITIES[objective.quantity]
        rows.append(
            {
                "key": objective.label,
                "tolerance": objective.tolerance / quantity.factor(units),
                "unit": words.SAME_WORD if objective.words else quantity.unit(units),
                "share": objective.share,
                "source": objective.source,
            }
        )
    block = Block("objectives", words.OBJECTIVE_COLUMNS, pd.DataFrame(rows), named=OBJECTIVE_KEYS)
    return TabPlan(
        "objectives",
        words.OBJECTIVES_TAB,
        words.OBJECTIVES_PURPOSE,
        (block,),
        (words.OBJECTIVES_REMARK,),
        name=words.OBJECTIVES_TAB,
    )


def _plan_tab(facts: PlanFacts) -> TabPlan:
    table = pd.DataFrame(words.describe_plan(facts).items(), columns=["what", "text"])
    return TabPlan(
        "recheck",
        words.PLAN_TITLE,
        words.PLAN_PURPOSE,
        (Block("plan", words.PLAN_COLUMNS, table, headed=False),),
        CAUTIONS,
        frozen_headings=False,
        name=words.PLAN_TAB,
    )


def _add_tabs(package: Package, units: Units, facts: PlanFacts) -> None:
    scratch = render_book([_plan_tab(facts), objectives_tab(DEFAULTS, units)], units)
    names = names_of(Package.from_bytes(scratch, "recheck.xlsx"))
    graft_sheets(package, scratch, replacing={}, defined=names)
