"""What a fill is going to write, planned before anything is written.

Two writers render one plan: that of closed workbooks (`fill`), and that of a workbook that is open
in a spreadsheet program.
"""

from collections.abc import Collection
from dataclasses import dataclass, field

from xlhelpers import __version__
from xlhelpers.fields.workbook import TEMPLATE_VERSION
from xlhelpers.jobs.fill.enter_paper import PaperEntries
from xlhelpers.jobs.fill.field_writes import field_writes
from xlhelpers.jobs.fill.formulas import plan_formulas
from xlhelpers.jobs.fill.tabs.about import read_typed_over
from xlhelpers.jobs.fill.tabs.result_tabs import make_tabs
from xlhelpers.jobs.fill.typed_over import TypedResults, find_typed_over
from xlhelpers.live.fill import BookPlan
from xlhelpers.package.parts.parts import date1904, sheets
from xlhelpers.package.sheet.cell_writes import ColumnWrites
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.time_stamp import now
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.pages.change_watch import keyed_columns
from xlhelpers.pages.chosen_cells import read_choices
from xlhelpers.pages.plan import FillFacts
from xlhelpers.pages.render import RenderedTabs
from xlhelpers.reading.decisions import read_for_all
from xlhelpers.reading.finding_cells import CellsOfFindings
from xlhelpers.survey.outcome import Outcome


@dataclass(frozen=True)
class FillPlan:
    """Everything that one fill writes.

    `field_sheets` are the result cells of each field sheet, `formulas` its live formulas, `tabs`
    our result tabs as a workbook of their own, with the fingerprint of what they show; `typed` are
    the results that had been typed over; `locked` are the field sheets that are protected. `paper`
    is what was entered from To check before.
    """

    outcome: Outcome
    formulas: BookPlan
    field_sheets: tuple[tuple[str, ColumnWrites], ...]
    tabs: RenderedTabs
    fingerprint: str
    typed: TypedResults = field(default_factory=TypedResults)
    locked: frozenset[str] = frozenset()
    paper: PaperEntries = field(default_factory=PaperEntries)


def plan_fill(
    package: Package,
    outcome: Outcome,
    book_name: str,
    *,
    restore: bool = False,
    paper: PaperEntries | None = None,
) -> FillPlan:
    """Plan what a fill writes into a workbook that has been computed.

    Parameters
    ----------
    package : Package
        The opened workbook; it is not changed.
    outcome : Outcome
        What `compute` gave for it.
    book_name : str
        The name of the workbook, for the tab about the fill.
    restore : bool
        Whether formulas of the live columns replace what was typed over them.
    paper : PaperEntries, optional
        What `enter_paper` entered.
    """
    formulas = plan_formulas(package, outcome, restore=restore)
    writes = tuple(field_writes(outcome, formulas.live))
    filled_at = now().strftime("%Y-%m-%d %H:%M")
    typed = find_typed_over(package, outcome, writes, filled_at[:10])
    cells = CellsOfFindings(package, outcome)
    facts = FillFacts(
        version=__version__,
        template_version=TEMPLATE_VERSION,
        filled_at=filled_at,
        book_name=book_name,
        from_1904=date1904(package),
        keyed=keyed_columns(package, outcome.survey),
        chosen=read_choices(package),
        differing=tuple(cells for cells in formulas.differences if cells.kind != "restored"),
        typed_over=(*typed.cells, *read_typed_over(package)),
        cells=tuple(cells.text(finding) for finding in outcome.findings),
        for_all=read_for_all(package),
    )
    tabs = make_tabs(outcome, facts)
    volatile = {"time": facts.filled_at, "book": facts.book_name}
    return FillPlan(
        outcome,
        formulas,
        writes,
        tabs,
        our_tabs.fingerprint(tabs.scratch, volatile, tabs.rows),
        typed,
        _locked_sheets(package, [name for name, _ in writes]),
        paper or PaperEntries(),
    )


def _locked_sheets(package: Package, field_sheets: Collection[str]) -> frozenset[str]:
    parts = (part for part in sheets(package) if part.name in field_sheets)
    return frozenset(part.name for part in parts if read_grid(package, part, keep=True).protected)
