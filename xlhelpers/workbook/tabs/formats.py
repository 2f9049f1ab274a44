"""The cell formats of our tabs: the roles of `xlhelpers.workbook.looks` with number formats."""

from xlsxwriter import Workbook
from xlsxwriter.format import Format

from xlhelpers.fields.quantities import Units
from xlhelpers.workbook.looks import CONDITIONAL, DATE_FORMAT, ROLES
from xlhelpers.workbook.sheet_plan import Column

_ROLE_OF_LOOK = {
    "number": "cell",
    "identifier": "cell",
    "text": "cell",
    "wrapped": "cell_wrapped",
    "severity": "cell",
    "link": "link_cell",
    "date": "cell",
    "entry": "typed",
    "entry date": "typed",
}
# quantities whose numbers grow long enough to want separators
_GROUPED = frozenset({"crown area", "land area", "volume", "count"})


def number_format(column: Column, units: Units) -> str:
    """Return the number format of a column: decimals as shown, the unit in the heading."""
    if column.look in {"date", "entry date"}:
        return DATE_FORMAT
    if column.look != "number":
        return "General"
    decimals = column.decimals(units)
    whole = "#,##0" if column.quantity in _GROUPED else "0"
    percent = "%" if column.quantity == "percent" else ""
    return whole + ("." + "0" * decimals if decimals else "") + percent


class FormatShelf:
    """Makes each format once."""

    def __init__(self, book: Workbook, units: Units) -> None:
        """Begin with an empty shelf for this workbook."""
        self._book = book
        self._units = units
        self._made: dict[tuple[str, str, str], Format] = {}

    def role(
        self, role: str, number: str = "General", align: str = "", *, wrapped: bool = False
    ) -> Format:
        """Return the format of a role, with a number format and an alignment of its own."""
        key = (role, number, f"{align} wrapped" if wrapped else align)
        if key not in self._made:
            properties = dict(ROLES[role])
            if number != "General":
                properties["num_format"] = number
            if align:
                properties["align"] = align
            if wrapped:
                properties |= {"text_wrap": True, "valign": "top"}
            self._made[key] = self._book.add_format(properties)
        return self._made[key]

    def conditional(self, name: str) -> Format:
        """Return a format that a rule lays over that of a cell."""
        key = ("", name, "")
        if key not in self._made:
            self._made[key] = self._book.add_format(CONDITIONAL[name])
        return self._made[key]

    def cell(self, column: Column, doubtful: bool = False) -> Format:
        """Return the format of a cell of this column; doubtful ones look different."""
        role = _ROLE_OF_LOOK[column.look]
        if column.look == "number":
            role = "doubtful" if doubtful else "cell"
            return self.role(role, number_format(column, self._units), "right")
        return self.role(role, number_format(column, self._units), "left")

    def heading(self, column: Column) -> Format:
        """Return the format of a column's heading; those that are typed under look different."""
        return self.role("heading_needed" if column.look.startswith("entry") else "heading")

    def total(self, column: Column) -> Format:
        """Return the format of a cell of the total row."""
        align = "right" if column.look == "number" else "left"
        return self.role("total", number_format(column, self._units), align)
