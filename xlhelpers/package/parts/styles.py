"""Cell styles: number formats, fonts and fills read, and those of other workbooks merged in."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from lxml import etree

from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts.relations import add_relation, declare, related_parts
from xlhelpers.package.parts.xml_text import (
    RELATIONSHIP,
    Element,
    child,
    children,
    descendants,
    integer,
    local,
    parse,
    serialize,
    sibling_name,
)
from xlhelpers.package.zip.container import Package

GENERAL = "General"
# Codes that files name by number only (ECMA-376 part 1, 18.8.30, numFmt).
BUILT_IN = {
    0: GENERAL,
    1: "0",
    2: "0.00",
    3: "#,##0",
    4: "#,##0.00",
    9: "0%",
    10: "0.00%",
    11: "0.00E+00",
    12: "# ?/?",
    13: "# ??/??",
    14: "mm-dd-yy",
    15: "d-mmm-yy",
    16: "d-mmm",
    17: "mmm-yy",
    18: "h:mm AM/PM",
    19: "h:mm:ss AM/PM",
    20: "h:mm",
    21: "h:mm:ss",
    22: "m/d/yy h:mm",
    37: "#,##0 ;(#,##0)",
    38: "#,##0 ;[Red](#,##0)",
    39: "#,##0.00;(#,##0.00)",
    40: "#,##0.00;[Red](#,##0.00)",
    45: "mm:ss",
    46: "[h]:mm:ss",
    47: "mmss.0",
    48: "##0.0E+0",
    49: "@",
}
# Numbers that stand for dates in one language or another.
LOCAL_DATES = frozenset(
    (*range(27, 37), *range(50, 59), 71, 72, 73, 74, 75, 76, 77, 78, 79, 80, 81)
)
_LITERAL = re.compile(r'"[^"]*"|\\.|_.|\*.')
_BRACKET = re.compile(r"\[(?!(?:h+|m+|s+)\])[^\]]*\]", re.IGNORECASE)


def code_of(number: int, own: dict[int, str]) -> str:
    """Format code of a format number; `own` are those that the workbook defines itself."""
    if number in own:
        return own[number]
    if number in LOCAL_DATES:
        return "yyyy-mm-dd"
    return BUILT_IN.get(number, GENERAL)


@lru_cache(maxsize=4096)
def is_percent(code: str) -> bool:
    """Whether numbers are shown times a hundred with a percent sign."""
    return "%" in _LITERAL.sub("", code)


@lru_cache(maxsize=4096)
def is_date(code: str) -> bool:
    """Whether numbers are shown as a date or a time of day."""
    bare = _BRACKET.sub("", _LITERAL.sub("", code)).lower()
    if bare in ("", "general", "@"):
        return False
    return re.search(r"[dmyhs]", bare.replace("general", "")) is not None


def styles_root(package: Package) -> tuple[str, Element] | None:
    """Name and root element of the styles part; None where the workbook has none."""
    for part in related_parts(package, package.workbook_part, "styles"):
        return part, parse(package.read(part), part)
    return None


def own_codes(root: Element) -> dict[int, str]:
    """Number formats that the workbook defines itself, code by number."""
    listed = child(root, "numFmts")
    return {
        integer(item.get("numFmtId"), -1): str(item.get("formatCode", ""))
        for item in (children(listed, "numFmt") if listed is not None else ())
    }


def number_format_codes(package: Package) -> tuple[str, ...]:
    """Number format code per cell format index."""
    parts = related_parts(package, package.workbook_part, "styles")
    if not parts:
        return ()
    return package.remember(parts[0], "codes", lambda data: _codes(parse(data, parts[0])))


def _codes(root: Element) -> tuple[str, ...]:
    own = own_codes(root)
    listed = child(root, "cellXfs")
    return tuple(
        code_of(integer(item.get("numFmtId")), own)
        for item in (children(listed, "xf") if listed is not None else ())
    )


def grounds(package: Package) -> tuple[str, ...]:
    """Colour of the ground of each cell format: six hexadecimal digits, or else how it is named.

    "" where a cell has no ground of one colour.
    """
    parts = related_parts(package, package.workbook_part, "styles")
    if not parts:
        return ()
    return package.remember(parts[0], "grounds", lambda data: _grounds(parse(data, parts[0])))


def _grounds(root: Element) -> tuple[str, ...]:
    listed, formats = child(root, "fills"), child(root, "cellXfs")
    fills = [_ground(item) for item in (children(listed, "fill") if listed is not None else ())]
    numbers = [
        integer(item.get("fillId"))
        for item in (children(formats, "xf") if formats is not None else ())
    ]
    return tuple(fills[number] if 0 <= number < len(fills) else "" for number in numbers)


def letterings(package: Package) -> tuple[str, ...]:
    """How the letters of each cell format look: any of b(old), i(talic), u(nderlined), s(truck)."""
    parts = related_parts(package, package.workbook_part, "styles")
    if not parts:
        return ()
    return package.remember(parts[0], "letterings", lambda data: _letterings(parse(data, parts[0])))


def _letterings(root: Element) -> tuple[str, ...]:
    listed, formats = child(root, "fonts"), child(root, "cellXfs")
    fonts = [_lettering(item) for item in (children(listed, "font") if listed is not None else ())]
    numbers = [
        integer(item.get("fontId"))
        for item in (children(formats, "xf") if formats is not None else ())
    ]
    return tuple(fonts[number] if 0 <= number < len(fonts) else "" for number in numbers)


def _lettering(font: Element) -> str:
    set_ = {
        local(item)
        for item in font
        if item.get("val") not in ("0", "false", "none") and local(item) in _LETTERING
    }
    return "".join(sign for name, sign in _LETTERING.items() if name in set_)


_LETTERING = {"b": "b", "i": "i", "u": "u", "strike": "s"}


def _ground(fill: Element) -> str:
    pattern = child(fill, "patternFill")
    if pattern is None or pattern.get("patternType") != "solid":
        return ""
    colour = child(pattern, "fgColor")
    if colour is None:
        return ""
    if colour.get("rgb") is not None:
        return str(colour.get("rgb"))[-6:].upper()
    named = ((name, colour.get(name)) for name in ("theme", "indexed", "tint"))
    return " ".join(f"{name} {value}" for name, value in named if value is not None)


STYLES_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"
FIRST_OWN_FORMAT = 164
MAX_FORMATS = 64_000
# Order of the lists in the styles part (ECMA-376 part 1, 18.8.39).
KEPT_AT_START = {
    "numFmts": 0,
    "fonts": 1,
    "fills": 2,
    "borders": 1,
    "cellStyleXfs": 1,
    "cellXfs": 1,
    "dxfs": 0,
}
LISTS = ("numFmts", "fonts", "fills", "borders", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs")
Key = tuple[str, tuple[tuple[str, str], ...], "tuple[Key, ...]"]


@dataclass(frozen=True)
class StyleMap:
    """Where the formats of the other workbook are found now: index to index."""

    cell_formats: dict[int, int]
    conditional: dict[int, int]


def merge_styles(package: Package, other: Package) -> StyleMap:
    """Add the formats of `other` to `package`; what is there already is used again."""
    theirs = styles_root(other)
    if theirs is None:
        return StyleMap({0: 0}, {})
    ours = styles_root(package) or _start(package, theirs[1])
    merger = _Merger(ours[1], theirs[1])
    result = StyleMap(merger.cell_formats(), merger.conditional())
    if merger.grown:
        package.replace(ours[0], serialize(ours[1]))
    return result


def _start(package: Package, theirs: Element) -> tuple[str, Element]:
    """A styles part for a workbook that has none: the plain format of theirs alone."""
    folder = package.workbook_part.rpartition("/")[0]
    part = f"{folder}/styles.xml" if folder else "styles.xml"
    root = copy.deepcopy(theirs)
    for holder in root:
        for item in list(holder)[KEPT_AT_START.get(local(holder), len(holder)) :]:
            holder.remove(item)
        if local(holder) == "cellStyles":
            for item in [item for item in holder if item.get("xfId") != "0"]:
                holder.remove(item)
        if holder.get("count") is not None:
            holder.set("count", str(len(holder)))
    for empty in [item for item in root if local(item) in KEPT_AT_START and len(item) == 0]:
        root.remove(empty)
    package.replace(part, serialize(root))
    declare(package, {part: STYLES_TYPE})
    add_relation(package, package.workbook_part, f"{RELATIONSHIP}/styles", part)
    return part, root


def _items(root: Element, listed: str) -> list[Element]:
    holder = child(root, listed)
    return [] if holder is None else [item for item in holder if local(item)]


def normal_form(element: Element) -> Key:
    """The element in one normal form, whatever its prefixes and the order of its attributes."""
    attributes = tuple(sorted((str(name), str(value)) for name, value in element.items()))
    parts = tuple(normal_form(item) for item in element if local(item))
    return local(element), attributes, parts


class _Merger:
    """Both style parts while the formats of one are added to the other."""

    def __init__(self, ours: Element, theirs: Element) -> None:
        self.ours = ours
        self.theirs = theirs
        self.grown = False
        self._keys: dict[str, dict[Key, int]] = {}
        self._codes = {code: number for number, code in own_codes(ours).items()}
        self._their_codes = own_codes(theirs)

    def cell_formats(self) -> dict[int, int]:
        """Map of cell formats; the plain format of theirs is the plain format of ours."""
        fonts = self._map("fonts", keep_first=1)
        fills = self._map("fills", keep_first=2)
        borders = self._map("borders", keep_first=1)

        def adapt(item: Element) -> None:
            for name, table in (("fontId", fonts), ("fillId", fills), ("borderId", borders)):
                if item.get(name) is not None:
                    item.set(name, str(table.get(integer(item.get(name)), 0)))
            if item.get("numFmtId") is not None:
                item.set("numFmtId", str(self._number_format(integer(item.get("numFmtId")))))
            if item.get("xfId") is not None:
                item.set("xfId", "0")

        return self._map("cellXfs", keep_first=1, adapt=adapt)

    def conditional(self) -> dict[int, int]:
        """Map of the formats that conditions and tables use."""

        def adapt(item: Element) -> None:
            for number in descendants(item, "numFmt"):
                code = str(number.get("formatCode", ""))
                number.set("numFmtId", str(self._number_of(code)))

        return self._map("dxfs", keep_first=0, adapt=adapt)

    def _map(
        self, listed: str, *, keep_first: int, adapt: Callable[[Element], None] | None = None
    ) -> dict[int, int]:
        result = {}
        available = len(_items(self.ours, listed))
        for index, item in enumerate(_items(self.theirs, listed)):
            if index < min(keep_first, available):
                result[index] = index
                continue
            new = copy.deepcopy(item)
            if adapt is not None:
                adapt(new)
            result[index] = self._place(listed, new)
        return result

    def _place(self, listed: str, item: Element) -> int:
        """Index of an equal element of ours; the element is added where there is none."""
        holder = self._holder(listed)
        if listed not in self._keys:
            keys: dict[Key, int] = {}
            for index, element in enumerate(_items(self.ours, listed)):
                keys.setdefault(normal_form(element), index)
            self._keys[listed] = keys
        keys = self._keys[listed]
        key = normal_form(item)
        if key in keys:
            return keys[key]
        index = len(_items(self.ours, listed))
        if index >= MAX_FORMATS:
            raise WorkbookError(
                "The workbook already has the largest possible number of cell formats. Copy its "
                "sheets into a new workbook, save that, and try again."
            )
        # A format that the result carries stays as it was: only the prefix may differ.
        holder.append(item)
        holder.set("count", str(index + 1))
        keys[key] = index
        self.grown = True
        return index

    def _holder(self, listed: str) -> Element:
        holder = child(self.ours, listed)
        if holder is not None:
            return holder
        holder = etree.SubElement(self.ours, sibling_name(self.ours, listed))
        before = set(LISTS[: LISTS.index(listed)])
        position = sum(1 for item in self.ours if local(item) in before)
        self.ours.insert(position, holder)
        return holder

    def _number_format(self, number: int) -> int:
        """Number under which a number format of theirs is known in ours."""
        code = self._their_codes.get(number)
        return number if code is None else self._number_of(code)

    def _number_of(self, code: str) -> int:
        if code not in self._codes:
            used = [*own_codes(self.ours), FIRST_OWN_FORMAT - 1]
            new = max(used) + 1
            item = etree.Element(sibling_name(self.ours, "numFmt"), numFmtId=str(new))
            item.set("formatCode", code)
            self._place("numFmts", item)
            self._codes[code] = new
        return self._codes[code]
