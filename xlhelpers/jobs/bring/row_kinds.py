"""Which rows below the headings are trees, and which are totals, repeated headings or texts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from xlhelpers.jobs.bring.columns import INCHES, Column
from xlhelpers.jobs.bring.foreign import is_blank, text_of
from xlhelpers.jobs.bring.headings import fold_text
from xlhelpers.jobs.bring.tables import Table, number_like, plot_named
from xlhelpers.jobs.bring.vocabulary import BY_NAME, TOTAL_WORDS

RowKind = Literal["blank", "heading", "total", "text", "band", "numbers", "plot", "tree"]
_LONG_TEXT = 4  # words
_TOTALS = frozenset(word for text in TOTAL_WORDS for word in fold_text(text).split()) - {"sous"}
_NUMBERS = ("plot", "tree", "setup", "year", "stratum", "street")
_NAMES_A_TREE = ("tree", "species", "common", "condition")


def kind_of_row(table: Table, columns: Sequence[Column], row: int) -> RowKind:
    """Return what a row below the headings is.

    A row is a total where its first text begins with such a word and it names no tree. It is a
    text where one cell or two have words and none has a number or a species; a band where its one
    cell names the plot of the lines below it; and it is numbers where a line was prepared with the
    numbers of plot and tree and never filled in.
    """
    filled = [c for c in columns if not is_blank(table.sheet.rows[row][c.at])]
    if not filled:
        covered = any((row, column.at) in table.covered for column in columns)
        return "tree" if covered and _measures(table, columns, row) else "blank"
    texts = {column.at: text_of(table.sheet.rows[row][column.at]) for column in filled}
    repeated = sum(_is_in_heading(table, at, text) for at, text in texts.items())
    if repeated >= max(2, 0.6 * len(filled)):
        return "heading"
    first = filled[0]
    if len(filled) == 1 and plot_named(texts[first.at]) and first.role != "plot":
        return "band"
    if number_like(table.sheet.rows[row][first.at]) is None:
        words = fold_text(texts[first.at]).split()
        # a number under Tree is their count here
        names_tree = any(c.role in ("species", "common") for c in filled if c is not first)
        if words and words[0] in _TOTALS and not names_tree:
            return "total"
    if _is_text(table, filled, row, texts):
        return "text"
    if any(c.role == "tree" for c in filled) and all(c.role in _NUMBERS for c in filled):
        return "numbers"
    return "tree" if _measures(table, columns, row) else "plot"


def _is_in_heading(table: Table, at: int, text: str) -> bool:
    folded = fold_text(text)
    return bool(folded) and any(
        folded == fold_text(text_of(table.sheet.rows[row][at])) for row in table.heading_rows
    )


def _measures(table: Table, columns: Sequence[Column], row: int) -> bool:
    """Return whether a row says anything of a tree."""
    return any(
        not is_blank(table.value(row, column.at))
        for column in columns
        if column.role in _NAMES_A_TREE or BY_NAME[column.role.removesuffix(INCHES)].quantity
    )


def _is_text(table: Table, filled: Sequence[Column], row: int, texts: dict[int, str]) -> bool:
    if len(filled) > 2 or any(
        number_like(table.sheet.rows[row][column.at]) is not None for column in filled
    ):
        return False
    first = filled[0]
    words = texts[first.at].split()
    marked = texts[first.at].startswith(("*", "†", "(", "¹", "NB", "Note", "Nota", "Hinweis"))
    long = len(words) >= _LONG_TEXT or (len(words) > 1 and texts[first.at].endswith((".", ":")))
    return (marked or long) and first.role not in ("note", "condition")
