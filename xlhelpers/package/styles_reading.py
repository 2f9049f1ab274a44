"""What each cell format (the cellXfs list of the styles part) says: numbers, locks, grounds."""

from __future__ import annotations

from xlhelpers.package import number_formats
from xlhelpers.package.container import Package
from xlhelpers.package.relations import related
from xlhelpers.package.xml_text import Element, child, children, integer, is_true, parse


def styles_root(package: Package) -> tuple[str, Element] | None:
    """Name and root element of the styles part; None where the workbook has none."""
    for part in related(package, package.workbook_part, "styles"):
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
    parts = related(package, package.workbook_part, "styles")
    if not parts:
        return ()
    return package.remembered(parts[0], "codes", lambda data: _codes(parse(data, parts[0])))


def _codes(root: Element) -> tuple[str, ...]:
    own = own_codes(root)
    listed = child(root, "cellXfs")
    return tuple(
        number_formats.code_of(integer(item.get("numFmtId")), own)
        for item in (children(listed, "xf") if listed is not None else ())
    )


def locked_flags(package: Package) -> tuple[bool, ...]:
    """Whether each cell format locks its cell (the default) once the sheet is protected."""
    found = styles_root(package)
    listed = child(found[1], "cellXfs") if found is not None else None
    flags = []
    for item in children(listed, "xf") if listed is not None else ():
        lock = child(item, "protection")
        text = None if lock is None else lock.get("locked")
        flags.append(text is None or is_true(text))
    return tuple(flags)


def grounds(package: Package) -> tuple[str, ...]:
    """Colour of the ground of each cell format: six hexadecimal digits, or else how it is named.

    "" where a cell has no ground of one colour.
    """
    parts = related(package, package.workbook_part, "styles")
    if not parts:
        return ()
    return package.remembered(parts[0], "grounds", lambda data: _grounds(parse(data, parts[0])))


def _grounds(root: Element) -> tuple[str, ...]:
    listed, formats = child(root, "fills"), child(root, "cellXfs")
    fills = [_ground(item) for item in (children(listed, "fill") if listed is not None else ())]
    numbers = [
        integer(item.get("fillId"))
        for item in (children(formats, "xf") if formats is not None else ())
    ]
    return tuple(fills[number] if 0 <= number < len(fills) else "" for number in numbers)


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
