"""Cell formats of one workbook added to those of another, each kind of format once only."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass

from lxml import etree

from xlhelpers.errors import WorkbookError
from xlhelpers.package.container import Package
from xlhelpers.package.relations import add_relation, declare
from xlhelpers.package.styles_reading import own_codes, styles_root
from xlhelpers.package.xml_text import (
    RELATIONSHIP,
    Element,
    child,
    descendants,
    integer,
    local,
    serialize,
    sibling_name,
)

STYLES_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"
FIRST_OWN_FORMAT = 164
MAX_FORMATS = 64_000
# Order of the lists in the styles part (ECMA-376 part 1, 18.8.39).
KEPT_AT_START = {
    "numFmts": 0, "fonts": 1, "fills": 2, "borders": 1, "cellStyleXfs": 1, "cellXfs": 1, "dxfs": 0,
}  # fmt: skip
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
    found = child(root, listed)
    return [] if found is None else [item for item in found if local(item)]


def _key(element: Element) -> Key:
    """The element in one normal form, whatever its prefixes and the order of its attributes."""
    attributes = tuple(sorted((str(name), str(value)) for name, value in element.items()))
    parts = tuple(_key(item) for item in element if local(item))
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
                keys.setdefault(_key(element), index)
            self._keys[listed] = keys
        keys = self._keys[listed]
        key = _key(item)
        if key in keys:
            return keys[key]
        index = len(_items(self.ours, listed))
        if index >= MAX_FORMATS:
            raise WorkbookError(
                "The workbook holds as many cell formats as a workbook can; copy its sheets "
                "into a new workbook, save that and try again."
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
