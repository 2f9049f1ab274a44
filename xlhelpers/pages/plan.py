"""What a page holds, as records: sentences, tables, charts, notes, links into the workbook.

A plan knows no file format and no program: the jobs write the plans, `xlhelpers.pages.render`
draws them all. The rows of a block are in the inner units; the renderer converts.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.package.sheet.references import cell_name, quote_sheet
from xlhelpers.pages.change_watch import KeyedColumn
from xlhelpers.pages.live_differences import DifferingCells

_CALL = re.compile(r"(?<=\w)\(")
# how the cells of a column are written and formatted
Look = Literal[
    "number",
    "identifier",
    "text",
    "wrapped",
    "severity",
    "link",
    "wrapped link",
    "date",
    "entry",
    "entry date",
    "entry text",
]
ChartKind = Literal["bars", "columns", "stacked columns", "points"]
# a block's rows may carry this column: True where the numbers rest on an open finding
DOUBTFUL = "_doubtful"
# how the bars, points or line of one series are drawn, told apart without colour
BarLook = Literal["plain", "stem", "crown", "dead top", "dead tree", "height only"]
PointLook = Literal[
    "line", "dashed line", "circle", "square", "triangle", "diamond", "x", "plus", "star"
]
SeriesLook = BarLook | PointLook


@dataclass(frozen=True)
class Chosen:
    """What was chosen on the tab Plot at a glance: a plot as its cell holds it, a first tree.

    A plot of None stands for no choice yet.
    """

    plot: float | str | None = None
    first_tree: float | str | None = None


@dataclass(frozen=True)
class Link:
    """A cell of the workbook to go to; rows and columns count from 1."""

    sheet: str
    row: int
    column: int

    @property
    def cell(self) -> str:
        """Return the address, such as "J12"."""
        return cell_name(self.row, self.column)

    @property
    def text(self) -> str:
        """Return what the link shows, such as "Field sheet J12"."""
        return f"{self.sheet} {self.cell}"

    @property
    def formula(self) -> str:
        """Return the link as a formula; quotes in the name of the sheet are made harmless."""
        target = f"#{quote_sheet(self.sheet)}!{self.cell}"
        return f"=HYPERLINK({_formula_text(target)},{_formula_text(self.text)})"


def _formula_text(text: str) -> str:
    # a name such as "DROP(1)" is parted, or XlsxWriter would take it for a function to rename
    return _CALL.sub('"&"(', '"' + text.replace('"', '""') + '"')


@dataclass(frozen=True)
class TypedOver:
    """A result that somebody had typed over before a fill put its own there.

    `on` is the day of that fill, `what` says both values.
    """

    where: Link
    plot: str
    tree: str
    label: str
    on: str
    what: str


@dataclass(frozen=True)
class FillFacts:
    """What is said about the fill itself.

    `filled_at` is a date as it is to be shown; `written` says what was written, where known;
    `from_1904` whether the workbook counts its days from 1904. `keyed` are the watched columns
    (none: no banner), `chosen` what was chosen on the tab Plot at a glance. `differing` are live
    cells that differ, `typed_over` what had been typed over results.
    """

    version: str
    template_version: int
    filled_at: str
    book_name: str
    written: str = ""
    from_1904: bool = False
    keyed: tuple[KeyedColumn, ...] = ()
    chosen: Chosen = Chosen()
    differing: tuple[DifferingCells, ...] = ()
    typed_over: tuple[TypedOver, ...] = ()
    cells: tuple[str, ...] = ()
    for_all: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class TypedCell:
    """A cell above the tables that somebody types into, found again by its defined name."""

    label: str
    name: str
    value: float | str
    look: Look = "entry"


@dataclass(frozen=True)
class Column:
    """One column of a block.

    `quantity` names an entry of `xlhelpers.fields.quantities.QUANTITIES`; `more_decimals` are
    added to those that the quantity shows; `unit` replaces its unit in the heading. `choices` are
    the words of its drop-down list, `help` what is shown beside a chosen cell (255 letters). A
    hidden column keeps what only the program reads.
    """

    key: str
    label: str
    look: Look = "number"
    quantity: str | None = None
    width: float = 9.0
    band: str = ""
    unit: str | None = None
    more_decimals: int = 0
    choices: tuple[str, ...] = ()
    hidden: bool = False
    help: str = ""

    def heading(self, units: Units) -> str:
        """Return the heading: label and unit."""
        unit = self.unit
        if unit is None:
            unit = QUANTITIES[self.quantity].unit(units) if self.quantity else ""
        return f"{self.label} ({unit})" if unit else self.label

    def decimals(self, units: Units) -> int:
        """Return the decimals that are shown; the full value stays in the cell."""
        usual_decimals = QUANTITIES[self.quantity].decimals(units) if self.quantity else 0
        return max(usual_decimals + self.more_decimals, 0)

    def factor(self, units: Units) -> float:
        """Return the factor from the number in the cell to the inner unit.

        A share stays a fraction in the cell: its format shows it as a percentage.
        """
        if self.quantity is None or self.quantity == "percent":
            return 1.0
        return QUANTITIES[self.quantity].factor(units)


@dataclass(frozen=True)
class Block:
    """One table of a tab: a row a thing, under headings with units.

    `rows` has the columns' keys as its columns. `sections` are (first row, title): a band with
    this title is written above that row. `total` is a further row below, outside the filter.
    With `stretched` the last column reaches to the right edge of the tab. An unprinted block
    feeds charts and stays off the paper. `named` are the keys of the columns whose headings carry
    a defined name, by which they are found again.
    """

    key: str
    columns: tuple[Column, ...]
    rows: pd.DataFrame
    title: str = ""
    sentence: str = ""
    sections: tuple[tuple[int, str], ...] = ()
    total: Mapping[str, Any] | None = None
    if_empty: str = "Nothing to show."
    filtered: bool = False
    headed: bool = True
    stretched: bool = False
    printed: bool = True
    named: tuple[str, ...] = ()


@dataclass(frozen=True)
class Span:
    """Cells of one column of a block: `count` from the row `first` (0 is its first), 0 for all."""

    block: str
    column: str
    first: int = 0
    count: int = 0


@dataclass(frozen=True)
class Series:
    """One series of a chart; `spread` are the lengths of its error bars, both ways.

    `arms` are lengths that are not the same both ways: those down, and those up.
    """

    name: str
    categories: Span
    values: Span
    look: SeriesLook = "plain"
    spread: Span | None = None
    arms: tuple[Span, Span] | None = None


def points(name: str, block: str, across: str, up: str, look: PointLook = "circle") -> Series:
    """Return the series of all rows of a block, one of its columns over another."""
    return Series(name, Span(block, across), Span(block, up), look)


def bars(
    name: str, rows: int, values: int, margins: int | None = None, look: BarLook = "plain"
) -> Series:
    """Return the series of the first rows of a section's table: values and margins by column."""
    spans = {at: Span("", str(at), 0, rows) for at in (0, values, margins) if at is not None}
    spread = None if margins is None else spans[margins]
    return Series(name, spans[0], spans[values], look, spread)


@dataclass(frozen=True)
class ChartPlan:
    """A native chart. `description` is what is said to those who cannot see it.

    `least` and `greatest` are the ends of the axis of values, in the unit shown; None leaves one
    open. Only a chart of points has numbers along its other axis, in the `category_format`. Its
    `height` is in pixels; charts of a grid have that of the grid. `data` is a table that its series
    read, which belongs on a hidden tab.
    """

    name: str
    kind: ChartKind
    title: str
    description: str
    category_title: str
    value_title: str
    series: tuple[Series, ...]
    value_format: str = "0"
    greatest: float | None = None
    least: float | None = 0.0
    category_format: str = "0.0"
    height: int = 310
    data: "Table | None" = None


@dataclass(frozen=True)
class ChartGrid:
    """Charts side by side, `across` in a row over the width of the tab, each `height` pixels.

    With 0 across there are as many in a row as the tab has room for.
    """

    charts: tuple[ChartPlan, ...]
    across: int = 0
    title: str = ""
    sentence: str = ""
    height: int = 310


@dataclass(frozen=True)
class Text:
    """A paragraph over the width of the page, or beside its label."""

    text: str
    role: str
    label: str = ""


@dataclass(frozen=True)
class Cell:
    """One cell of a table: a number with its format, or a text."""

    value: float | str
    number: str = "General"
    right: bool = False


@dataclass(frozen=True)
class Table:
    """A small table whose cells have formats of their own; None is merged into the text before it.

    `total` says that the last row is of everything, `small` that it holds long texts.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[Cell | None, ...], ...]
    total: bool = False
    small: bool = False


@dataclass(frozen=True)
class Section:
    """One subject that stays on a page: title, sentences, table, notes, and the chart of the table.

    Spans of the chart name no block: they are columns of the table, by number. A chart without a
    table is that of the section with the same key on another page.
    """

    key: str
    title: str
    sentences: tuple[str, ...]
    table: Table | None = None
    chart: ChartPlan | None = None
    notes: tuple[str, ...] = ()


Part = Block | ChartGrid | Section | Text


@dataclass(frozen=True)
class TabPlan:
    """A whole tab: its title, one sentence, remarks, then its parts from top to bottom.

    The tab is called `name`, or as the result tab of its key is. The defined name
    `xlh_tab_<key>` points at its first cell, and the headings of the blocks' `named` columns get
    `xlh_<key>_<column>`. The headings of the first block are frozen and printed on each page, with
    `frozen_columns` columns at the left; the tab is printed `pages_wide` pages wide, of its columns
    the first `printed_columns` (0: all). `widths` are those of its columns at the least. `changes`
    are the watched columns of a table at the foot, off the paper: what was keyed at the time of a
    fill, against what is keyed now. `typed` are cells above the parts to type into, and `beside`
    what is said beside them.
    """

    key: str
    title: str
    sentence: str
    parts: tuple[Part, ...]
    remarks: tuple[str, ...] = ()
    frozen_columns: int = 0
    pages_wide: int = 1
    printed_columns: int = 0
    frozen_headings: bool = True
    name: str = ""
    hidden: bool = False
    upright: bool = False
    widths: tuple[float, ...] = ()
    footer: str = ""
    changes: tuple[KeyedColumn, ...] = ()
    typed: tuple[TypedCell, ...] = ()
    beside: str = ""

    @property
    def tab(self) -> str:
        """Return what the tab is called."""
        return self.name or RESULT_TABS[self.key]

    @property
    def repeated_columns(self) -> int:
        """Return how many columns at the left are printed again on each page."""
        return self.frozen_columns if self.pages_wide > 1 else 0
