"""What a page of the council's report holds, as records: sentences, a small table, one chart."""

from dataclasses import dataclass

from xlhelpers.pages.plan import SeriesLook


@dataclass(frozen=True)
class Cell:
    """One cell: a number with its format, or a text."""

    value: float | str
    number: str = "General"
    right: bool = False


@dataclass(frozen=True)
class Bars:
    """One series of bars: column of the table with the lengths, column with the margins."""

    name: str
    values: int
    margins: int | None = None
    look: SeriesLook = "plain"


@dataclass(frozen=True)
class BarChart:
    """The chart of a table: its first `count` rows, a bar a row and series, from 0 on."""

    title: str
    description: str
    axis: str
    series: tuple[Bars, ...]
    count: int
    number: str
    height: int = 250
    greatest: float | None = None


@dataclass(frozen=True)
class Table:
    """A small table; a cell of None is merged into the text at its left.

    `total` says that the last row is of everything, `small` that it holds long texts.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[Cell | None, ...], ...]
    total: bool = False
    small: bool = False


@dataclass(frozen=True)
class Section:
    """One subject: title, the sentence that says it, remarks, then table and chart."""

    key: str
    title: str
    sentences: tuple[str, ...]
    table: Table | None = None
    chart: BarChart | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReportPage:
    """One tab: headlines (what, sentence), subjects, a chart of a subject elsewhere, notes."""

    name: str
    title: str
    sections: tuple[Section, ...] = ()
    subtitle: str = ""
    headlines: tuple[tuple[str, str], ...] = ()
    shown: tuple[str, BarChart] | None = None
    notes: tuple[str, ...] = ()
