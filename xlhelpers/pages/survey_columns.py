"""Columns of a page that show columns of the survey's tables: their quantities, declared once."""

from collections.abc import Collection, Iterable
from dataclasses import replace

from xlhelpers.errors import SpecificationError
from xlhelpers.pages.plan import Column
from xlhelpers.survey import columns as survey


def take_quantities(
    table: survey.Table, columns: Iterable[Column], added: Collection[str] = ()
) -> tuple[Column, ...]:
    """Return the columns of a page, each with the quantity that its table declares.

    Parameters
    ----------
    table
        The table of the survey whose rows the page shows, such as `TREES`.
    columns
        The columns of the page, those of the table without a quantity.
    added
        The keys of the columns that the page adds to the table; they stay as they are.

    Raises
    ------
    SpecificationError
        If a column is neither in the table nor added, or in both; if a column of the table states
        a quantity of its own; or if the page shows numbers as text, or text as numbers.
    """
    if twice := set(added) & set(table.names):
        raise SpecificationError(f"columns {sorted(twice)} are in the table already")
    return tuple(
        column if column.key in added else _take(table[column.key], column) for column in columns
    )


def _take(declared: survey.Column, column: Column) -> Column:
    is_number = declared.kind in ("number", "count")
    if column.quantity is not None or is_number != (column.look == "number"):
        raise SpecificationError(f"the page and the table contradict: {column.key}")
    if not is_number:
        return column
    quantity = "count" if declared.kind == "count" else declared.quantity or "number"
    return replace(column, quantity=quantity)
