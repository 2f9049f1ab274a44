"""The looks of every sheet: named roles, their colours, fonts and borders, and number formats.

A sheet asks for a role, never for a colour. Text stands out from its ground by at least 7 to 1,
and no role differs from another by colour alone: fonts, borders or words differ as well.
"""

from collections.abc import Mapping
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.format import Format

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.pages.plan import Column
from xlhelpers.pages.text_size import USUAL_SIZE

INK = "#1A1A1A"
PAPER = "#FFFFFF"
DEEP = "#17404F"
PALE = "#DDEBEE"
SAND = "#F6EEDC"
STONE = "#E9E9EC"
SLATE = "#3D4048"
GREY_TEXT = "#404349"
LINE = "#A9AEB8"
DATE_FORMAT = "yyyy-mm-dd"
TEXT_FORMAT = "@"
_GRID = {"border": 1, "border_color": LINE}
_HEADING = {
    **_GRID,
    "bold": True,
    "font_size": 10,
    "text_wrap": True,
    "valign": "top",
    "align": "left",
}
_CELL = {**_GRID, "font_color": INK, "bg_color": PAPER, "valign": "top"}
_RESULT = {**_GRID, "font_color": INK, "bg_color": STONE, "italic": True, "valign": "top"}
_WORD = {"font_size": 9, "valign": "bottom", "text_wrap": True}
# role -> properties as the package XlsxWriter names them
ROLES: dict[str, dict[str, Any]] = {
    # above the tables
    "title": {"font_color": DEEP, "bold": True, "font_size": 16, "valign": "vcenter"},
    "purpose": {"font_color": INK, "font_size": 11, "valign": "vcenter"},
    "hint": {"font_color": GREY_TEXT, "font_size": 10, "italic": True, "valign": "vcenter"},
    "section": {"font_color": DEEP, "bold": True, "font_size": 12, "bottom": 2, "valign": "bottom"},
    "block": {"font_color": INK, "bg_color": PALE, "bold": True, "font_size": 9, "top": 2},
    "block_result": {"font_color": INK, "bg_color": STONE, "bold": True, "font_size": 9, "top": 6},
    "word": {**_WORD, "font_color": GREY_TEXT},
    "word_always": {**_WORD, "font_color": INK, "bold": True},
    # headings
    "heading": {**_HEADING, "font_color": PAPER, "bg_color": DEEP},
    "heading_optional": {**_HEADING, "font_color": INK, "bg_color": PALE, "bold": False},
    "heading_needed": {**_HEADING, "font_color": INK, "bg_color": SAND, "bold": False},
    "heading_result": {**_HEADING, "font_color": PAPER, "bg_color": SLATE, "italic": True},
    # cells to be keyed, cells that the program fills, cells of its tables
    "entry": {**_CELL},
    # cells of our tabs that the office types into: the dashes tell them without colour
    "typed": {**_CELL, "bg_color": SAND, "border": 3, "border_color": SLATE, "text_wrap": True},
    "result": {**_RESULT},
    "result_wrapped": {**_RESULT, "text_wrap": True},
    "cell": {**_CELL},
    "cell_wrapped": {**_CELL, "text_wrap": True},
    "cell_bold": {**_CELL, "bold": True},
    "unit": {**_CELL, "indent": 1, "align": "left"},
    "help": {**_GRID, "font_color": INK, "bg_color": STONE, "text_wrap": True, "valign": "top"},
    "total": {**_CELL, "bold": True, "top": 2, "bottom": 2, "bg_color": PALE},
    "doubtful": {**_CELL, "italic": True, "bg_color": "#FFF1CC", "left": 5},
    # findings; the word of the severity always stands beside them
    "error": {**_CELL, "bold": True, "font_color": "#6B0F0F", "bg_color": "#FBE3E0"},
    "warning": {**_CELL, "bold": True, "font_color": "#4F3500", "bg_color": "#FFF1CC"},
    "note": {**_CELL, "font_color": "#1F2F55", "bg_color": "#E8EDF5"},
    # running text
    "text": {"font_color": INK, "valign": "top", "text_wrap": True},
    "text_bold": {"font_color": INK, "valign": "top", "text_wrap": True, "bold": True},
    "plain": {"font_color": INK, "valign": "top", "align": "left"},
    "plain_wrapped": {
        "font_color": INK,
        "font_size": 9,
        "valign": "top",
        "align": "left",
        "text_wrap": True,
    },
    "text_bold_line": {"font_color": INK, "valign": "top", "bold": True},
    "step": {"font_color": DEEP, "valign": "top", "bold": True, "font_size": 14, "align": "center"},
    "caution": {
        "font_color": INK,
        "valign": "top",
        "text_wrap": True,
        "left": 5,
        "indent": 1,
        "align": "left",
    },
    "link": {"font_color": "#0B3D91", "underline": 1, "valign": "top"},
    "link_cell": {**_CELL, "font_color": "#0B3D91", "underline": 1},
    "link_wrapped": {**_CELL, "font_color": "#0B3D91", "underline": 1, "text_wrap": True},
}
_UNDER = {"border": 0, "bottom": 1, "bottom_color": LINE}
_SUM = {"border": 0, "top": 2, "bottom": 2, "bold": True, "bg_color": PALE, "font_size": 11}
# pages for readers: larger type, tables without walls
COUNCIL: dict[str, dict[str, Any]] = {
    "title": {**ROLES["title"], "font_size": 22},
    "purpose": {"font_color": INK, "font_size": 11, "valign": "top"},
    "section": {**ROLES["section"], "font_size": 15, "valign": "vcenter", "bottom_color": DEEP},
    "sentence": {"font_color": INK, "font_size": 13, "valign": "vcenter"},
    "label": {
        "font_color": DEEP,
        "bold": True,
        "font_size": 13,
        "valign": "vcenter",
        "bottom": 1,
        "bottom_color": LINE,
        "text_wrap": True,
    },
    "headline": {
        "font_color": INK,
        "font_size": 13,
        "valign": "vcenter",
        "text_wrap": True,
        "bottom": 1,
        "bottom_color": LINE,
    },
    "note": {"font_color": INK, "font_size": 10, "italic": True, "valign": "top"},
    "heading": {**ROLES["heading"], "align": "right", "valign": "bottom"},
    "heading_text": {**ROLES["heading"], "valign": "bottom"},
    "cell": {**ROLES["cell"], **_UNDER, "font_size": 11},
    "cell_words": {**ROLES["cell_wrapped"], **_UNDER, "font_size": 11},
    "small": {**ROLES["cell"], **_UNDER},
    "small_words": {**ROLES["cell_wrapped"], **_UNDER, "font_size": 9},
    "total": {**ROLES["cell"], **_SUM},
    "total_words": {**ROLES["cell_wrapped"], **_SUM},
}
# what a rule lays over a cell: font, border and ground alone
CONDITIONAL: dict[str, dict[str, Any]] = {
    "changed": {"bold": True, "font_color": "#6B0F0F", "bg_color": "#FBE3E0", "bottom": 1},
    "error": {**_GRID, "bold": True, "font_color": "#6B0F0F", "bg_color": "#FBE3E0"},
    "warning": {**_GRID, "bold": True, "font_color": "#4F3500", "bg_color": "#FFF1CC"},
    "doubtful": {**_GRID, "italic": True, "bg_color": "#FFF1CC"},
    "framed": {**_GRID},
    # a cell that a warning means: a dark frame, and an arrow before what stands in it
    "meant": {
        "border": 1,
        "border_color": "#6B0F0F",
        "bold": True,
        "font_color": "#6B0F0F",
        "bg_color": "#FFF1CC",
        "num_format": '"► "General;"► -"General;"► "General;"► "@',
    },
}
# every colour that a cell of ours has as its ground, six digits each; one that is given up is to be
# added here, because tabs that were filled before have it
GROUNDS: frozenset[str] = frozenset(
    str(look["bg_color"]).lstrip("#").upper()
    for look in (*ROLES.values(), *CONDITIONAL.values())
    if "bg_color" in look
)
# Roles that are also wanted with the number format of each quantity, of a date and of a text.
NUMBER_ROLES: tuple[str, ...] = ("entry", "result", "cell", "cell_bold", "total", "doubtful")


def number_format(quantity: str, units: Units, decimals: int | None = None) -> str:
    """Return the number format of one quantity; the unit stands in the heading, not in the cell.

    Parameters
    ----------
    quantity : str
        A name of `xlhelpers.fields.quantities.QUANTITIES`.
    units : {"metric", "us"}
        The system of the workbook.
    decimals : int, optional
        Other decimals than those of the quantity, such as 0 for whole feet.

    Returns
    -------
    str
        A format without literals, such as "0.0"; "General" for a reading, shown as it was typed.
    """
    record = QUANTITIES[quantity]
    if quantity == "reading" and decimals is None:
        return "General"
    places = record.decimals(units) if decimals is None else decimals
    whole = "#,##0" if quantity in {"crown area", "land area", "volume"} else "0"
    return whole + ("." + "0" * places if places else "")


# behind a number; the sign is not quoted, so that the cell shows a hundred times its value
PERCENT = " %"


def with_unit(number: str, unit: str) -> str:
    """Return a number format that shows the unit too, quoted: `0.0` and `m` give `0.0" m"`."""
    return f'{number}" {unit}"' if unit else number


def formats(book: Workbook, units: Units = "metric") -> dict[str, Format]:
    """Make the formats of a workbook.

    Returns
    -------
    dict
        One format a role, under the role's name; for `NUMBER_ROLES` also "role:quantity" for
        every quantity, "role:date" and "role:text". XlsxWriter writes only those in use.
    """
    made = {role: book.add_format(properties) for role, properties in ROLES.items()}
    kinds = {name: number_format(name, units) for name in QUANTITIES}
    kinds |= {"date": DATE_FORMAT, "text": TEXT_FORMAT}
    for role in NUMBER_ROLES:
        for kind, format_code in kinds.items():
            side = "left" if kind in {"date", "text"} else "right"
            properties = {**ROLES[role], "num_format": format_code, "align": side}
            if role == "result" and kind in QUANTITIES:
                properties["shrink"] = True  # words in the place of a number stay whole
            made[f"{role}:{kind}"] = book.add_format(properties)
    return made


_ROLE_OF_LOOK = {
    "number": "cell",
    "identifier": "cell",
    "text": "cell",
    "wrapped": "cell_wrapped",
    "severity": "cell",
    "link": "link_cell",
    "wrapped link": "link_wrapped",
    "date": "cell",
    "entry": "typed",
    "entry date": "typed",
    "entry text": "typed",
}
# quantities whose numbers grow long enough to want separators
_GROUPED = frozenset({"crown area", "land area", "volume", "count"})


def column_format(column: Column, units: Units) -> str:
    """Return the number format of a column: decimals as shown, the unit in the heading."""
    if column.look in {"date", "entry date"}:
        return DATE_FORMAT
    if column.look == "entry text":
        return TEXT_FORMAT  # 01, 3-4 and 12,5 stay as they are typed
    if column.look != "number":
        return "General"
    decimals = column.decimals(units)
    whole = "#,##0" if column.quantity in _GROUPED else "0"
    percent = PERCENT if column.quantity == "percent" else ""
    return whole + ("." + "0" * decimals if decimals else "") + percent


class FormatShelf:
    """Makes each format once."""

    def __init__(
        self, book: Workbook, units: Units, looks: Mapping[str, dict[str, Any]] = ROLES
    ) -> None:
        """Begin with an empty shelf for this workbook, and the looks of its roles."""
        self._book = book
        self._units = units
        self._looks = looks
        self._made: dict[tuple[str, str, str], Format] = {}

    def size(self, role: str) -> float:
        """Return the points of the type of a role."""
        return float(self._looks[role].get("font_size", USUAL_SIZE))

    def is_bold(self, role: str) -> bool:
        """Return whether the type of a role is bold."""
        return bool(self._looks[role].get("bold"))

    def role(
        self,
        role: str,
        number: str = "General",
        align: str = "",
        *,
        wrapped: bool = False,
        indented: bool = False,
    ) -> Format:
        """Return the format of a role, with a number format and an alignment of its own."""
        key = (role, number, f"{align}{' wrapped' * wrapped}{' indented' * indented}")
        if key not in self._made:
            properties = dict(self._looks[role])
            if number != "General":
                properties["num_format"] = number
            if align:
                properties["align"] = align
            if wrapped:
                properties |= {"text_wrap": True, "valign": "top"}
            if indented:
                properties["indent"] = 1
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
            return self.role(role, column_format(column, self._units), "right")
        # a word does not run into the number before it
        is_word = column.look == "text"
        return self.role(role, column_format(column, self._units), "left", indented=is_word)

    def heading(self, column: Column) -> Format:
        """Return the format of a column's heading; those that are typed under look different."""
        return self.role("heading_needed" if column.look.startswith("entry") else "heading")

    def total(self, column: Column) -> Format:
        """Return the format of a cell of the total row."""
        align = "right" if column.look == "number" else "left"
        number, is_word = column_format(column, self._units), column.look == "text"
        return self.role("total", number, align, indented=is_word)
