"""The workbook for a blind second measurement: the sheet without first values, and the objectives.

Nothing that was measured the first time is in the file, not even hidden: it is made anew from a
blank workbook and gets only what it takes to find the trees and to read the instruments.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES
from xlhelpers.package.container import Package
from xlhelpers.package.graft import graft_sheets
from xlhelpers.package.grid import read_grid
from xlhelpers.package.parts import defined_names, sheet_named
from xlhelpers.package.references import parse_target
from xlhelpers.survey.merging_values import keyed_frame, target_of
from xlhelpers.survey.quality.objectives import DEFAULTS, Objective
from xlhelpers.workbook.crew_book import CrewBook
from xlhelpers.workbook.crew_tabs import CrewTab, render_crew_tabs
from xlhelpers.workbook.key_in import key_rows
from xlhelpers.workbook.our_tabs import names_of
from xlhelpers.workbook.sheet_plan import Block, Column, TabPlan
from xlhelpers.workbook.template import make_template
from xlhelpers.workbook.template_book_lists import clear_species

OBJECTIVES_TAB, PLAN_TAB = "Quality objectives", "Recheck plan"
_PLACES = ("bearing", "centre_distance")
_OBJECTIVE_KEYS = ("key", "tolerance", "share", "source")


@dataclass(frozen=True)
class PlanFacts:
    """What is said of the draw: share, seed, and of how many trees by how many crews."""

    share: float
    seed: int
    drawn: int
    of: int
    crews: int
    with_places: bool


def plan_book(book: CrewBook, trees: pd.DataFrame, facts: PlanFacts) -> Package:
    """Return the workbook for the second measurement.

    Parameters
    ----------
    book
        The survey; only names, rules, people, instruments and species are taken from it.
    trees
        The drawn trees.
    facts
        What is said of the draw.
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
    for sheet, table in ((STRATA, "strata"), (PEOPLE, "people"), (INSTRUMENTS, "instruments"),
                         (SPECIES, "species")):  # fmt: skip
        frame = keyed_frame(book, table, sheet, target)
        rows: Any = frame.drop(columns=["note"], errors="ignore").to_dict("records")
        key_rows(package, sheet, rows, after_existing=False)
    own = book.survey.plots.iloc[[at for at in plots if at >= 0]]
    key_rows(package, PLOTS, [
        {"plot": _as_number(plot), "stratum": stratum, "status": "later"}
        for plot, stratum in zip(own["plot"], own["stratum"], strict=True)
    ])  # fmt: skip
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


_OBJECTIVE_COLUMNS = (
    Column("key", "Quantity", "text", width=18),
    Column("tolerance", "Tolerance", "number", "number", width=11),
    Column("unit", "Unit", "text", width=12),
    Column("share", "Share wanted", "number", "percent", width=11),
    Column("source", "Where both numbers come from", "entry", width=80),
)


def objectives_tab(objectives: Sequence[Objective], units: Units) -> CrewTab:
    """Return the tab on which the office edits the objectives."""
    rows = pd.DataFrame([
        {
            "key": objective.label,
            "tolerance": objective.tolerance / QUANTITIES[objective.quantity].factor(units),
            "unit": "same word" if objective.words else QUANTITIES[objective.quantity].unit(units),
            "share": objective.share,
            "source": objective.source,
        }
        for objective in objectives
    ])  # fmt: skip
    block = Block("objectives", _OBJECTIVE_COLUMNS, rows, named=_OBJECTIVE_KEYS)
    plan = TabPlan(
        "objectives",
        "Quality objectives",
        "How near the two measurements must come, and in what share of the trees. Edit the "
        "numbers as your survey agreed and say where yours come from; a blank leaves a quantity "
        "without an objective.",
        (block,),
        ("The report reads this tab.",),
    )
    return CrewTab(OBJECTIVES_TAB, plan)


_CAUTIONS = (
    "Before you set up: one person watches the traffic; never step back while aiming; no tape "
    "across a carriageway. Keep poles and tapes at least 3 m (10 ft) from wires unless local "
    "rules say more, and treat every wire as live.",
    "Nobody walks under a dead, split or hung top for a diameter or a width; no laser at people, "
    "vehicles or the sun; mind wind, slopes and private ground. No safe place to stand: write NOT "
    "SAFE, the office accepts it.",
)


def _plan_tab(facts: PlanFacts) -> CrewTab:
    columns = (
        Column("what", "What", "text", width=30),
        Column("said", "Said", "wrapped", width=90),
    )
    found = "bearing and distance from the plot centre are given" if facts.with_places else (
        "by plot and tree number alone (take the plot map along)"
    )  # fmt: skip
    rows = pd.DataFrame(
        [
            ("Drawn", f"{facts.drawn} of {facts.of} trees, at least one of each of the "
             f"{facts.crews} crews"),
            ("Share of each crew's trees", f"{facts.share:.1%}"),
            ("Seed", f"{facts.seed}: the same seed and share draw the same trees again"),
            ("How to find the trees", found),
            ("How to measure", "As the survey rules say, with no look at the first values. Fill in "
             "the plot's crew, instrument and scale, then one line a tree; a second set-up where "
             "the first crew would make one."),
            ("Then", "xlhelpers recheck report SURVEY.xlsx THIS.xlsx --out REPORT.xlsx"),
        ],
        columns=["what", "said"],
    )  # fmt: skip
    plan = TabPlan(
        "recheck",
        "Trees to measure again, blind",
        "This workbook holds none of the first values. Key the second measurement here.",
        (Block("plan", columns, rows, headed=False),),
        _CAUTIONS,
        frozen_headings=False,
    )
    return CrewTab(PLAN_TAB, plan)


def _add_tabs(package: Package, units: Units, facts: PlanFacts) -> None:
    scratch = render_crew_tabs([_plan_tab(facts), objectives_tab(DEFAULTS, units)], units)
    names = names_of(Package.from_bytes(scratch, "recheck.xlsx"))
    graft_sheets(package, scratch, replacing={}, defined=names)


def read_objectives(package: Package, units: Units) -> tuple[Objective, ...] | None:
    """Return the objectives as they stand on their tab, None where the workbook has no such tab.

    A quantity whose numbers are blank or no numbers has no objective.
    """
    places = {}
    for name in defined_names(package):
        if name.name.startswith("xlh_objectives_"):
            target = parse_target(name.text)
            if target is not None:
                places[name.name.removeprefix("xlh_objectives_")] = target
    if not set(_OBJECTIVE_KEYS) <= set(places):
        return None
    tab, heading, _ = places["key"][:3]
    part = sheet_named(package, tab)
    if part is None:
        return None
    grid = read_grid(package, part)
    by_label = {objective.label: objective for objective in DEFAULTS}
    found = []
    for row in range(heading + 1, grid.shape[0] + 1):
        cells = {key: grid.value(row, places[key][2]) for key in _OBJECTIVE_KEYS}
        usual = by_label.get(str(cells["key"]))
        if usual is not None:
            factor = QUANTITIES[usual.quantity].factor(units)
            found.append(
                Objective(usual.key, usual.label, usual.quantity,
                          _number(cells["tolerance"]) * factor, _share(cells["share"]),
                          str(cells["source"] or "not stated"), usual.words)
            )  # fmt: skip
    return tuple(found)


def _number(value: Any) -> float:
    return abs(value) if isinstance(value, float) else float("nan")


def _share(value: Any) -> float:
    """Return a share: 0.9 and 90 both mean 90 %."""
    number = _number(value)
    return number / 100 if number > 1 else number
