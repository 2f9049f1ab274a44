"""The Plots sheet of the template and its native formula that says how far the keying has got."""

from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from xlhelpers.workbook.template_book import Template, write_table
from xlhelpers.workbook.template_layout import FIRST_ROW


def write_plots(template: Template, sheet: Worksheet) -> None:
    """Write the Plots sheet with the formula on every prepared row."""
    layout = template.layouts["plot"]
    write_table(template, sheet, layout)
    look = template.looks["result_wrapped"]
    for row in range(FIRST_ROW, layout.last_row + 1):
        # the stored result is the true one: a row without a plot shows nothing
        formula = progress_formula(template, row)
        sheet.write_formula(row, layout.column("progress"), formula, look, "")


def progress_formula(template: Template, row: int) -> str:
    """Return the formula of one row, in functions that every spreadsheet program knows.

    It counts the plot's lines whose set-up is blank or 1, and those whose "Look at" holds a text.
    """
    plots, lines = template.layouts["plot"], template.layouts["line"]
    plot = xl_rowcol_to_cell(row, plots.column("plot"), col_abs=True)
    counted = xl_rowcol_to_cell(row, plots.column("trees_counted"), col_abs=True)
    # as a text the plot agrees with a number and with the same number kept as a text; a number
    # does not everywhere
    same_plot = f'{lines.column_range("plot")},{plot}&""'
    setups = lines.column_range("setup")
    keyed = f'COUNTIFS({same_plot},{setups},"")+COUNTIFS({same_plot},{setups},"1")'
    look_at = f'COUNTIFS({same_plot},{lines.column_range("live_warning")},"?*")'
    return (
        f'=IF({plot}="","",({keyed})&IF(ISNUMBER({counted})," of "&{counted},"")&" keyed, "'
        f'&{look_at}&" to look at before you leave")'
    )


def progress_text(keyed: int, counted: float | None, look_at: int) -> str:
    """Return what the formula gives for a row that names a plot."""
    of_counted = "" if counted is None else f" of {counted:g}"
    return f"{keyed}{of_counted} keyed, {look_at} to look at before you leave"
