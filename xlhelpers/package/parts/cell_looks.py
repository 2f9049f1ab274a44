"""How each cell format looks, aspect by aspect, however a program spells it; and mixed formats."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable

from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts.relations import related_parts
from xlhelpers.package.parts.styles import (
    MAX_FORMATS,
    Key,
    grounds,
    letterings,
    normal_form,
    number_format_codes,
    styles_root,
)
from xlhelpers.package.parts.xml_text import (
    Element,
    child,
    children,
    integer,
    is_true,
    local,
    parse,
    serialize,
)
from xlhelpers.package.zip.container import Package

ASPECTS = ("lettering", "code", "colour", "font", "ground", "borders", "alignment")
CellLook = tuple[str, ...]
# aspect -> what a cell format names its part by, and the word that says that it counts
_PARTS = {
    "lettering": ("fontId", "applyFont"),
    "colour": ("fontId", "applyFont"),
    "font": ("fontId", "applyFont"),
    "code": ("numFmtId", "applyNumberFormat"),
    "ground": ("fillId", "applyFill"),
    "borders": ("borderId", "applyBorder"),
}
_USUAL_INK = frozenset({"theme 1", "indexed 64", "indexed 8", "000000"})
_USUAL_PLACE = {"horizontal": "general", "vertical": "bottom", "indent": "0", "textRotation": "0"}


def cell_looks(package: Package) -> tuple[CellLook, ...]:
    """Return how each cell format looks: one word for each of `ASPECTS`, "" for the usual."""
    parts = related_parts(package, package.workbook_part, "styles")
    if not parts:
        return ()
    return package.remember(parts[0], "looks", lambda data: _looks(package, parse(data, parts[0])))


def _looks(package: Package, root: Element) -> tuple[CellLook, ...]:
    fonts = [(_colour(child(font, "color")), _face(font)) for font in _items(root, "fonts")]
    borders = [_borders(border) for border in _items(root, "borders")]
    listed = child(root, "cellXfs")
    known = zip(
        [] if listed is None else children(listed, "xf"),
        letterings(package),
        number_format_codes(package),
        grounds(package),
        strict=True,
    )
    looks = []
    for item, letters, code, ground in known:
        font, border = integer(item.get("fontId")), integer(item.get("borderId"))
        colour, face = fonts[font] if 0 <= font < len(fonts) else ("", "")
        edges = borders[border] if 0 <= border < len(borders) else ""
        # programs write a sign of a format with or without a backslash or quotes
        plain = re.sub(r"""[\\"]""", "", code).casefold()
        looks.append((letters, plain, colour, face, ground, edges, _alignment(item)))
    return tuple(looks)


def _items(root: Element, listed: str) -> list[Element]:
    holder = child(root, listed)
    return [] if holder is None else [item for item in holder if local(item)]


def _colour(colour: Element | None) -> str:
    """A colour as six digits or by its name, "" for the usual one."""
    if colour is None or is_true(colour.get("auto")):
        return ""
    named = ((name, colour.get(name)) for name in ("theme", "indexed", "tint"))
    words = [f"{name} {value}" for name, value in named if value not in (None, "0")]
    word = str(colour.get("rgb"))[-6:].upper() if colour.get("rgb") else " ".join(words)
    return "" if word in _USUAL_INK else word


def _face(font: Element) -> str:
    """Name and size of a font, and whether it is raised or lowered."""
    values = [child(font, kind) for kind in ("name", "sz", "vertAlign")]
    name, size, raised = ("" if item is None else str(item.get("val", "")) for item in values)
    size = size.removesuffix(".0")
    return f"{name.casefold()} {size} {raised.replace('baseline', '')}".strip()


def _borders(border: Element) -> str:
    """The lines around a cell, with their colours."""
    sides = {"start": "left", "end": "right"}
    lines = [
        f"{sides.get(local(side), local(side))} {side.get('style')} {_colour(child(side, 'color'))}"
        for side in border
        if local(side) and side.get("style", "none") != "none"
    ]
    return ", ".join(sorted(line.strip() for line in lines))


def _alignment(item: Element) -> str:
    place = child(item, "alignment")
    if place is None:
        return ""
    words = [
        f"{name} {place.get(name)}"
        for name, usual in _USUAL_PLACE.items()
        if place.get(name, usual) != usual
    ]
    words += [name for name in ("wrapText", "shrinkToFit") if is_true(place.get(name))]
    return ", ".join(words)


class MixedFormats:
    """Cell formats made of one format and some aspects of another; those that exist are reused."""

    def __init__(self, package: Package) -> None:
        """Start with the formats that the workbook has; they are read once one is asked for."""
        self._package = package
        self._made: dict[tuple[int, int, frozenset[str]], int] = {}
        self._styles: tuple[str, Element] | None = None
        self._formats: list[Element] = []
        self._numbers: dict[Key, int] = {}
        self._grown = False

    def _read(self) -> None:
        self._styles = styles_root(self._package)
        self._formats = [] if self._styles is None else _items(self._styles[1], "cellXfs")
        numbered = reversed([*enumerate(self._formats)])
        self._numbers = {normal_form(item): at for at, item in numbered}

    def number(self, base: int, other: int, aspects: Iterable[str]) -> int:
        """Return the number of the format `base` with some aspects of the format `other`."""
        if self._styles is None:
            self._read()
        key = base, other, frozenset(aspects)
        if key not in self._made:
            self._made[key] = self._mix(*key)
        return self._made[key]

    def _mix(self, base: int, other: int, aspects: frozenset[str]) -> int:
        if not (0 <= base < len(self._formats) and 0 <= other < len(self._formats)):
            return base
        new, theirs = copy.deepcopy(self._formats[base]), self._formats[other]
        for aspect in sorted(aspects):
            if aspect == "alignment":
                _take_alignment(new, theirs)
                continue
            part, counts = _PARTS[aspect]
            new.set(part, str(theirs.get(part, "0")))
            new.set(counts, "1")
        return self._place(new)

    def _place(self, item: Element) -> int:
        form = normal_form(item)
        if form in self._numbers:
            return self._numbers[form]
        if len(self._formats) >= MAX_FORMATS:
            raise WorkbookError(
                "The workbook already has the largest possible number of cell formats. Copy its "
                "sheets into a new workbook, save that, and try again."
            )
        holder = self._formats[0].getparent()
        assert holder is not None  # a format stands in the list of formats
        holder.append(item)
        self._formats.append(item)
        holder.set("count", str(len(self._formats)))
        self._numbers[form] = len(self._formats) - 1
        self._grown = True
        return self._numbers[form]

    def save(self) -> None:
        """Put the new formats into the workbook."""
        if self._grown and self._styles is not None:
            self._package.replace(self._styles[0], serialize(self._styles[1]))


def _take_alignment(new: Element, theirs: Element) -> None:
    for item in list(children(new, "alignment")):
        new.remove(item)
    place = child(theirs, "alignment")
    if place is not None:
        new.insert(0, copy.deepcopy(place))
    new.set("applyAlignment", "1")
