"""The annex for the office alone: dead trees and dead tops with their plots and numbers.

It is a file of its own, since the council's report names no plot.
"""

from collections.abc import Iterator
from pathlib import Path

from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import write_value
from xlhelpers.jobs.report.seen import DEAD, DEAD_TOP, NO_RATING
from xlhelpers.jobs.report.words import capital
from xlhelpers.pages.looks import COUNCIL
from xlhelpers.pages.plan import Cell, Section, Table, TabPlan
from xlhelpers.pages.render import render_book
from xlhelpers.wording import plural

_SEEN = {DEAD: "dead", DEAD_TOP: "dead top"}
_TITLE = "Dead trees and dead tops: for the office only"
_WIDTHS = (22.0, 14.0, 10.0, 14.0, 34.0, 14.0)


def annex_place(report: Path) -> Path:
    """Return where the annex of a report goes: beside it, with "_office" at the end of its name."""
    return report.with_name(f"{report.stem}_office.xlsx")


def render_annex(facts: Facts) -> bytes:
    """Return the annex as a workbook: a row for each dead tree and each dead top.

    Parameters
    ----------
    facts : Facts
        What the report is made from.
    """
    rows = tuple(_rows(facts))
    dead, tops = (sum(row[3].value == word for row in rows) for word in _SEEN.values())
    sentences = (
        f"The crews saw {plural(dead, 'dead tree')} and {plural(tops, 'dead top')}. All are "
        "listed, including those on plots that the council's report does not use."
        if rows
        else _nothing_listed(facts),
        "This list names plots and trees. Keep it in the office. It is not in the council's file.",
    )
    headings = ("Part of the town", "Plot", "Tree", "What the crew saw", "Species", "Diameter")
    table = Table(headings, rows) if rows else None
    part = Section("annex", "", sentences, table, notes=(NO_RATING,))
    name = str(facts.outcome.survey.rules.get("survey_name") or "Tree survey")
    plan = TabPlan(
        "",
        _TITLE,
        name,
        (part,),
        frozen_headings=False,
        name="For the office",
        upright=True,
        widths=_WIDTHS,
        footer="&LFor the office only&R&A, page &P of &N",
    )
    return render_book((plan,), facts.units, COUNCIL, _TITLE)


def _nothing_listed(facts: Facts) -> str:
    if len(facts.outcome.trees) == 0:
        return "No tree is entered yet, so nothing is listed."
    return "The crews saw no dead tree and no dead top, so nothing is listed."


def _rows(facts: Facts) -> Iterator[tuple[Cell, ...]]:
    trees = facts.outcome.trees
    for tree in trees[trees["condition"].isin(tuple(_SEEN))].to_dict("records"):
        diameter = float(tree["diameter"])
        diameter_text = write_value(diameter, "diameter", facts.units) if diameter > 0 else "—"
        species = str(tree["common"] or tree["botanical"] or tree["species"] or "not stated")
        yield (
            Cell(str(tree["stratum"])),
            Cell(str(tree["plot"])),
            Cell(str(tree["tree"])),
            Cell(_SEEN[tree["condition"]]),
            Cell(capital(species)),
            Cell(diameter_text, right=True),
        )
