"""Draws the tab Plot at a glance: the choice, the plot in numbers, the bars, findings and trees."""

from collections.abc import Sequence
from typing import Any

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.tabs.by_plot import LAYERS
from xlhelpers.jobs.fill.tabs.glance import (
    FACTS,
    FACTS_ROW,
    FINDINGS_ROW,
    HELPER,
    HELPERS,
    LABEL,
    MESSAGE_CELL,
    PLOT_CELL,
    PLOT_FINDINGS,
    TABLE_ROW,
    TREE_CELL,
    TREE_COLUMNS,
    Cell,
    Glance,
    Sources,
    Value,
    fact_label,
    plan_glance,
)
from xlhelpers.package.sheet.references import column_letters, quote_sheet
from xlhelpers.pages.banner import write_banner
from xlhelpers.pages.chosen_cells import FIRST_TREE_NAME, PLOT_NAME
from xlhelpers.pages.columns import SEVERITIES
from xlhelpers.pages.looks import column_format
from xlhelpers.pages.page import set_up_page
from xlhelpers.pages.plan import ChartPlan, Chosen, Column, Series, Span, TabPlan
from xlhelpers.pages.render import Book
from xlhelpers.pages.sheet import Pen, Sheet
from xlhelpers.pages.text_size import ROW_PIXELS

KEY = "glance"
# the plots that are offered: cells of the tab By plot
PLOTS_NAME = "xlh_glance_plots"
_WIDTHS = (9.0, 24.0, 12.0, 8.0, 8.0, 8.0, 8.0, 8.0, 8.0, 9.0, 9.0, 80.0)
_LAST = len(_WIDTHS) - 1
_LAST_HEADING = "What to check, or why there is no height"
# beyond so many trees the page stands upright
_GREATEST_LYING = 24
_START = "Start at tree no. in the list"
_SENTENCE = (
    "Choose a plot to see its trees, findings and numbers. They come from the tabs Trees, By plot "
    "and To check."
)
_DESCRIPTION = (
    "The trees of the chosen plot as bars, from the foot up: the stem below the crown, the living "
    "crown, a dead top; dead trees, and trees with a height only. The table below has the "
    "figures."
)


def draw_glance(book: Book, sources: Sources, chosen: Chosen, *, watched: bool) -> None:
    """Add the tab to the workbook.

    Parameters
    ----------
    book : Book
        Gets the sheet, the chart and the names of the cells that are chosen in.
    sources : Sources
        The tabs that it reads.
    chosen : Chosen
        What was chosen before.
    watched : bool
        Whether the tab says if anything keyed has changed since the fill.
    """
    glance = plan_glance(sources, chosen)
    upright = glance.room > _GREATEST_LYING
    plan = TabPlan(KEY, "Plot at a glance", _SENTENCE, (), widths=_WIDTHS, upright=upright)
    sheet = book.begin(plan)
    pen = sheet.pen
    _name_cells(book, sources, glance)
    _fold_helpers(pen.sheet)
    sheet.write_text(plan.title, "title", 26)
    sheet.write_text(plan.sentence, "purpose")
    if watched:
        write_banner(pen, 2, 0, _LAST)
    _write_choice(pen, glance)
    _write_labels(pen, sources, glance)
    for cell in glance.cells:
        _write_cell(pen, cell)
    _mark_rows(pen, glance)
    if len(sources.blocks["by_plot"].rows):
        _draw_bars(book, sheet, glance)
    sheet.page.last_row = TABLE_ROW + glance.room - 1
    set_up_page(pen.sheet, plan, sources.units, sheet.page, _WIDTHS)
    pen.sheet.fit_to_pages(1, 1)


def _name_cells(book: Book, sources: Sources, glance: Glance) -> None:
    own = quote_sheet(RESULT_TABS[KEY])
    named = {PLOT_NAME: PLOT_CELL}
    if glance.first_tree is not None:
        named[FIRST_TREE_NAME] = TREE_CELL
    for name, (row, at) in named.items():
        book.file.define_name(name, f"={own}!${column_letters(at + 1)}${row + 1}")
    book.file.define_name(PLOTS_NAME, f"={sources.area('by_plot', 'plot')}")


def _fold_helpers(sheet: Any) -> None:
    folded = {"hidden": True, "level": 1}
    sheet.set_column(HELPER, HELPER + 1 + len(LAYERS), 12, None, folded)
    after = HELPER + 2 + len(LAYERS)
    sheet.set_column(after, after, 12, None, {"collapsed": True})
    sheet.set_column(_LAST + 1, _LAST + 1, 2)


def _write_choice(pen: Pen, glance: Glance) -> None:
    sheet, typed = pen.sheet, pen.shelf.role("typed", align="left")
    sheet.write_string(PLOT_CELL[0], 0, "Plot, from the list", pen.shelf.role("text_bold_line"))
    _write(sheet, PLOT_CELL, glance.plot, typed)
    rule: dict[str, Any] = {
        "validate": "list",
        "source": f"={PLOTS_NAME}",
        "error_title": "Plot",
        "error_message": "Choose a plot from the list.",
    }
    sheet.data_validation(*PLOT_CELL, *PLOT_CELL, rule)
    if glance.first_tree is None:
        return
    sheet.write_string(TREE_CELL[0], 0, _START, pen.shelf.role("text_bold_line"))
    _write(sheet, TREE_CELL, glance.first_tree, typed)
    rule = {
        "validate": "integer",
        "criteria": ">=",
        "value": 1,
        "error_title": _START,
        "error_message": "Type a whole number, 1 for the first tree of the plot.",
    }
    sheet.data_validation(*TREE_CELL, *TREE_CELL, rule)


def _write(sheet: Any, place: tuple[int, int], value: Value, look: Any) -> None:
    if value == "":
        sheet.write_blank(*place, None, look)
    elif isinstance(value, str):
        sheet.write_string(*place, value, look)
    else:
        sheet.write_number(*place, value, look)


def _write_labels(pen: Pen, sources: Sources, glance: Glance) -> None:
    sheet, shelf, units = pen.sheet, pen.shelf, pen.units
    for at in range(3):
        sheet.write_blank(FACTS_ROW - 1, at, None, shelf.role("section"))
    sheet.write_string(FACTS_ROW - 1, 0, "The plot in numbers", shelf.role("section"))
    look = shelf.role("cell", align="left")
    for down, (key, mean_of) in enumerate(FACTS.items()):
        label = fact_label(sources.column("by_plot", key), mean_of, units)
        sheet.merge_range(FACTS_ROW + down, 0, FACTS_ROW + down, 1, label, look)
    for at in range(1, _LAST + 1):
        sheet.write_blank(FINDINGS_ROW, at, None, shelf.role("section"))
    sheet.set_row(FINDINGS_ROW, 22)
    wrapped = shelf.role("plain_wrapped")
    for row in range(FINDINGS_ROW + 1, FINDINGS_ROW + 1 + PLOT_FINDINGS):
        sheet.set_row(row, 26)
        sheet.merge_range(row, 1, row, _LAST, "", wrapped)
    sheet.set_row(TABLE_ROW - 1, 46)
    for at, key in enumerate(TREE_COLUMNS):
        heading = sources.column("trees", key).heading(units)
        heading = {"open": _LAST_HEADING, "dead_top_length": heading.replace(", length", "")}.get(
            key, heading
        )
        sheet.write_string(TABLE_ROW - 1, at, heading, shelf.role("heading"))
    for row in range(TABLE_ROW, TABLE_ROW + glance.room):
        sheet.set_row(row, 26)
    _write_helper_labels(pen)


def _write_helper_labels(pen: Pen) -> None:
    sheet, look = pen.sheet, pen.shelf.role("hint")
    sheet.write_string(3, HELPER, "Behind this page", look)
    for at, name in enumerate(HELPERS):
        sheet.write_string(4 + at, HELPER + 1, name, look)
    sheet.write_string(TABLE_ROW - 1, HELPER, "row in Trees", look)
    sheet.write_string(TABLE_ROW - 1, HELPER + 1, "Tree", look)
    for at, (name, _) in enumerate(LAYERS.values(), HELPER + 2):
        sheet.write_string(TABLE_ROW - 1, at, name, look)


def _write_cell(pen: Pen, cell: Cell) -> None:
    pen.sheet.write_formula(cell.row, cell.at, f"={cell.formula}", _look(pen, cell), cell.value)


def _look(pen: Pen, cell: Cell) -> Any:
    role, number = pen.shelf.role, _number(pen, cell.column)
    if cell.at >= HELPER:
        return role("plain", number)
    if (cell.row, cell.at) == MESSAGE_CELL:
        return role("purpose")
    if cell.row < FINDINGS_ROW:
        return role("cell", number, "right")
    if cell.row == FINDINGS_ROW:
        return role("section")
    if cell.row < TABLE_ROW:
        return role("plain_wrapped")
    if cell.column is None:
        return role("plain_wrapped" if cell.at == _LAST else "plain")
    return role("plain", number, "right")


def _number(pen: Pen, column: Column | None) -> str:
    return "General" if column is None else column_format(column, pen.units)


def _mark_rows(pen: Pen, glance: Glance) -> None:
    """Frame the rows in use, and mark the numbers of trees that rest on an open finding."""
    # Every cell lies in one area of rules only, for programs that heed no more than the first.
    last = TABLE_ROW + glance.room - 1
    numbers, gravest = TREE_COLUMNS.index("total_height"), TREE_COLUMNS.index("gravest")
    end = FINDINGS_ROW + PLOT_FINDINGS
    _lay_rules(pen, (FINDINGS_ROW + 1, 0, end, 0), SEVERITIES[:2])
    _lay_rules(pen, (FINDINGS_ROW + 1, 1, end, _LAST))
    _lay_rules(pen, (TABLE_ROW, 0, last, numbers - 1))
    _lay_rules(pen, (TABLE_ROW, numbers, last, gravest - 1), ("doubtful",))
    _lay_rules(pen, (TABLE_ROW, gravest, last, gravest), SEVERITIES[:2])
    _lay_rules(pen, (TABLE_ROW, gravest + 1, last, _LAST))


def _lay_rules(pen: Pen, area: tuple[int, int, int, int], special: Sequence[str] = ()) -> None:
    first, left = area[:2]
    gravest = f"${column_letters(TREE_COLUMNS.index('gravest') + 1)}{first + 1}"
    word = f"${column_letters(left + 1)}{first + 1}"
    for name in special:
        when = f'={gravest}<>""' if name == "doubtful" else f'={word}="{name}"'
        rule = {"type": "formula", "criteria": when, "format": pen.shelf.conditional(name)}
        pen.sheet.conditional_format(*area, rule)
    when = f'=${column_letters(HELPER + 1)}{first + 1}<>""'
    rule = {"type": "formula", "criteria": when, "format": pen.shelf.conditional("framed")}
    pen.sheet.conditional_format(*area, rule)


def _draw_bars(book: Book, sheet: Sheet, glance: Glance) -> None:
    last = TABLE_ROW + glance.room - 1
    for at, key in enumerate((LABEL, *LAYERS), HELPER + 1):
        book.places[KEY, key] = [RESULT_TABS[KEY], TABLE_ROW, at, last, at]
    unit = QUANTITIES["length"].unit(book.units)
    plan = ChartPlan(
        "xlh_chart_glance",
        "stacked columns",
        "The trees of the plot, side by side (?: an open finding)",
        _DESCRIPTION,
        "Tree",
        f"Height above the foot ({unit})",
        tuple(
            Series(name, Span(KEY, LABEL), Span(KEY, key), look)
            for key, (name, look) in LAYERS.items()
        ),
    )
    width, height = sheet.pixels(3) - 20, (len(FACTS) + 1) * ROW_PIXELS
    book.keep_chart(sheet, plan, FACTS_ROW - 1, width, height, sheet.pixels(0, 2) + 20, "")
