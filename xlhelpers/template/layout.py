"""Where everything is in the template: rows, columns, prepared lines and named lists."""

from collections.abc import Mapping
from dataclasses import dataclass

from xlsxwriter.utility import quote_sheetname, xl_rowcol_to_cell

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES, species_list
from xlhelpers.fields.workbook import KEYED_SHEETS

# rows counted from 0: title, purpose, blocks, "needed or not", headings, data
TITLE_ROW, PURPOSE_ROW, BLOCK_ROW, WORD_ROW, HEADING_ROW, FIRST_ROW = range(6)
SHEET_ORDER = ("line", "plot", "rule", "stratum", "person", "instrument", "check", "species")
LINES_A_PLOT = 12
# of the lines that are expected, because crews find more trees than that
SPARE_LINES = 2
# rows that lists, counts and the tables behind the formulas reach at the least
LINES_REACHED, ROWS_REACHED = 2000, 400
ROWS_WRITTEN = 500
LISTS_TAB = "Lists"
RULE_LABEL, RULE_VALUE, RULE_UNIT, RULE_HELP, RULE_SOURCE = range(5)
# Drop-downs that offer what another sheet holds: list -> sheet and field that feed it.
SHEET_LISTS: dict[str, tuple[str, str]] = {
    "species": ("species", "botanical"),
    "instrument": ("instrument", "instrument"),
    "stratum": ("stratum", "stratum"),
    "person": ("person", "initials"),
}
# sheet and field -> list that is offered there; any other entry is kept as well
SUGGESTIONS: dict[tuple[str, str], str] = {
    ("line", "species"): "species",
    ("line", "instrument"): "instrument",
    ("plot", "instrument"): "instrument",
    ("plot", "stratum"): "stratum",
    ("plot", "keyed_by"): "person",
    ("check", "instrument"): "instrument",
    ("check", "person"): "person",
}
KIND_LIST = "instrument_kind"


@dataclass(frozen=True)
class Layout:
    """One sheet with its prepared rows; rows and columns count from 0, the last included."""

    sheet: Sheet
    prepared: int

    @property
    def last_row(self) -> int:
        """Return the last prepared row."""
        return FIRST_ROW + max(self.prepared, 1) - 1

    @property
    def written_row(self) -> int:
        """Return the last prepared row that is written cell by cell; the rest are copies of it."""
        most = ROWS_WRITTEN if self.sheet is FIELD_SHEET else self.last_row
        return min(self.last_row, FIRST_ROW + most - 1)

    @property
    def reach_row(self) -> int:
        """Return the row down to which drop-downs, lists and counts reach."""
        least = LINES_REACHED if self.sheet is FIELD_SHEET else ROWS_REACHED
        spare = 1 if self.sheet is FIELD_SHEET else 2  # lines have theirs already
        return FIRST_ROW + max(spare * self.prepared, least) - 1

    def column(self, name: str) -> int:
        """Return the column of a field."""
        return self.sheet.fields.index(self.sheet[name])

    def anchor(self, name: str) -> tuple[int, int]:
        """Return the cell that carries the field's defined name: heading, or value of a rule."""
        if self.sheet is RULES:
            return rule_rows()[name], RULE_VALUE
        return HEADING_ROW, self.column(name)

    def address(self, name: str) -> str:
        """Return the absolute address of that cell, with its sheet."""
        row, column = self.anchor(name)
        cell = xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)
        return f"{quote_sheetname(self.sheet.tab)}!{cell}"

    def column_range(self, name: str) -> str:
        """Return the absolute address of a column's cells, down to where counts reach."""
        return cell_range(
            self.sheet.tab, (FIRST_ROW, self.column(name)), (self.reach_row, self.column(name))
        )


def open_list(layout: Layout, field: str) -> str:
    """Return the formula of a column's cells down to the last one that is filled.

    A drop-down then ends with the last name, and grows with each that is added. No function in it
    is volatile: those would make a workbook that was only looked at ask to be saved.
    """
    cells, column = layout.column_range(field), layout.column(field)
    tab = quote_sheetname(layout.sheet.tab)
    first = xl_rowcol_to_cell(FIRST_ROW, column, row_abs=True, col_abs=True)
    heading = xl_rowcol_to_cell(HEADING_ROW, column, row_abs=True, col_abs=True)
    last = f'SUMPRODUCT(MAX(({cells}<>"")*(ROW({cells})-ROW({tab}!{heading}))))'
    return f"{tab}!{first}:INDEX({cells},MAX(1,{last}))"


def cell_range(tab: str, first: tuple[int, int], last: tuple[int, int]) -> str:
    """Return an absolute range with its sheet, such as 'Field sheet'!$A$6:$A$20."""
    start = xl_rowcol_to_cell(*first, row_abs=True, col_abs=True)
    end = xl_rowcol_to_cell(*last, row_abs=True, col_abs=True)
    return f"{quote_sheetname(tab)}!{start}:{end}"


def make_layouts(
    plots: int, lines: int | None, rows: Mapping[str, int] | None = None
) -> dict[str, Layout]:
    """Return the layout of every keyed sheet by its key, in the order of the tabs.

    The field sheet gets twice the lines that are expected: the formulas are there for all.
    `rows` are the rows that other sheets need at the least, by their keys.
    """
    counts = {
        FIELD_SHEET.key: SPARE_LINES * (LINES_A_PLOT * plots if lines is None else lines),
        PLOTS.key: plots,
        SPECIES.key: len(species_list()) + SPECIES.prepared_rows,
    }
    by_key = {sheet.key: sheet for sheet in KEYED_SHEETS}
    for key, least in (rows or {}).items():
        counts[key] = max(counts.get(key, by_key[key].prepared_rows), least)
    return {
        key: Layout(by_key[key], counts.get(key, by_key[key].prepared_rows)) for key in SHEET_ORDER
    }


def rule_rows() -> dict[str, int]:
    """Return the row of each survey rule; each block begins with a row for its name."""
    rows: dict[str, int] = {}
    row, block = FIRST_ROW, ""
    for field in RULES.fields:
        if field.block != block:
            row, block = row + 1, field.block
        rows[field.name] = row
        row += 1
    return rows


def list_name(source: str) -> str:
    """Return the defined name of a list, such as xlh_list_plot_status."""
    return "xlh_list_" + source.replace(" ", "_")


def list_of(sheet: Sheet, field: Field) -> str | None:
    """Return the name of the list that is offered in a field, None where there is none."""
    if field.choices is not None:
        return list_name(field.choices)
    if (sheet.key, field.name) == ("instrument", "kind"):
        return list_name(KIND_LIST)
    suggested = SUGGESTIONS.get((sheet.key, field.name))
    return None if suggested is None else list_name(suggested)
