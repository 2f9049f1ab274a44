"""A workbook for formulas of ours, which spell their functions as a file holds them.

XlsxWriter looks through each formula once for every newer function, in order to spell it in the
way of the file. None of ours has one, and the search is a seventh of a small fill.
"""

from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet


class _Sheet(Worksheet):  # type: ignore[misc]  # the library is not fully typed
    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


class KnownFormulas(Workbook):  # type: ignore[misc]
    """As the workbook of the library, for formulas without braces and without newer functions."""

    def add_worksheet(self, name: str | None = None, worksheet_class: Any = _Sheet) -> Any:
        """Add a worksheet."""
        return super().add_worksheet(name, worksheet_class)
