"""The blank workbook, written from the records of the fields.

Nobody has opened the result in Excel here; it follows the file format and was opened in
LibreOffice, openpyxl and calamine.
"""

import datetime as dt
import io
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Literal

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import species_list
from xlhelpers.fields.workbook import GUIDE_TAB
from xlhelpers.live.evaluate import blank_results
from xlhelpers.pages.looks import formats
from xlhelpers.template.book import PAPERS, Template, write_table
from xlhelpers.template.field_sheet import finish_formulas, write_field_sheet
from xlhelpers.template.guide import write_guide
from xlhelpers.template.layout import FIRST_ROW, LISTS_TAB, make_layouts
from xlhelpers.template.sheets import (
    default_value,
    define_names,
    write_lists,
    write_plots,
    write_rules,
)

Paper = Literal["a4", "letter"]
MOST_PLOTS = 20_000
MOST_LINES = 500_000
STORED_PLOTS = 40
STORED: dict[str, tuple[Units, Paper]] = {
    "field_workbook_metric_a4.xlsx": ("metric", "a4"),
    "field_workbook_us_letter.xlsx": ("us", "letter"),
}
_FIXED_DAY = dt.datetime(2000, 1, 1)


def make_template(
    units: Units,
    paper: Paper,
    plots: int,
    lines: int | None = None,
    rows: Mapping[str, int] | None = None,
) -> bytes:
    """Return a blank workbook as the bytes of an .xlsx file.

    Parameters
    ----------
    units : {"metric", "us"}
        System of the headings, of the ranges and of the defaults in the survey rules.
    paper : {"a4", "letter"}
        Size of the printed page.
    plots : int
        Rows that are prepared on Plots, 1 to 20,000.
    lines : int, optional
        Lines that are expected, 1 to 500,000; about 12 a plot where not given. Twice as many are
        prepared, with their formulas.
    rows : mapping, optional
        Rows that are prepared on other sheets at the least, by the keys of the sheets.

    Returns
    -------
    bytes
        Equal arguments give equal bytes; the date inside is that of SOURCE_DATE_EPOCH where set.

    Raises
    ------
    WorkbookError
        If an argument is none of these.
    """
    _refuse_wrong_arguments(units, paper, plots, lines)
    target = io.BytesIO()
    with Workbook(target, {"in_memory": True, "strings_to_urls": False}) as book:
        book.set_properties(
            {"title": "Tree survey", "author": "xlhelpers", "created": _creation_day()}
        )
        layouts = make_layouts(plots, lines, rows)
        rules = {f"xlh_rule_{rule.name}": default_value(rule, units) for rule in RULES.fields}
        results = blank_results(rules, units)
        template = Template(book, formats(book, units), units, paper, layouts, results)
        _write_sheets(template)
        define_names(template)
    return finish_formulas(target.getvalue(), layouts["line"])


def write_templates(folder: Path) -> tuple[Path, ...]:
    """Write the blank workbooks of both unit systems into a folder and return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, (units, paper) in STORED.items():
        (folder / name).write_bytes(make_template(units, paper, STORED_PLOTS))
    return tuple(folder / name for name in STORED)


def _write_sheets(template: Template) -> None:
    special: dict[str, Callable[[Template, Worksheet], None]] = {
        "line": write_field_sheet,
        "plot": write_plots,
        "rule": write_rules,
        "species": _write_species,
    }
    guide = template.book.add_worksheet(GUIDE_TAB)
    write_guide(template, guide)
    for key, layout in template.layouts.items():
        sheet = template.book.add_worksheet(layout.sheet.tab)
        if key in special:
            special[key](template, sheet)
        else:
            write_table(template, sheet, layout)
    lists = template.book.add_worksheet(LISTS_TAB)
    write_lists(template, lists)
    lists.hide()
    guide.activate()


def _write_species(template: Template, sheet: Worksheet) -> None:
    layout = template.layouts["species"]
    write_table(template, sheet, layout)
    for row, entry in enumerate(species_list(), start=FIRST_ROW):
        for name in ("botanical", "common", "kind", "outline"):
            text = getattr(entry, name)
            sheet.write(row, layout.column(name), text or None, template.looks["entry:text"])


def _creation_day() -> dt.datetime:
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not epoch.isdigit():
        return _FIXED_DAY
    return dt.datetime.fromtimestamp(int(epoch), dt.UTC).replace(tzinfo=None)


def _refuse_wrong_arguments(units: str, paper: str, plots: int, lines: int | None) -> None:
    if units not in {"metric", "us"}:
        raise WorkbookError(f"units are metric or us, not {units}")
    if paper not in PAPERS:
        raise WorkbookError(f"paper is {' or '.join(PAPERS)}, not {paper}")
    if not 1 <= plots <= MOST_PLOTS:
        raise WorkbookError(f"a workbook can have 1 to {MOST_PLOTS:,} plots, not {plots}")
    if lines is not None and not 1 <= lines <= MOST_LINES:
        raise WorkbookError(f"a field sheet can have 1 to {MOST_LINES:,} lines, not {lines}")


if __name__ == "__main__":
    for written in write_templates(Path("templates")):
        print(f"Wrote {written}")
