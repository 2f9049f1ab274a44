"""The workbook part: its sheets, defined names, date system, and what forbids writing."""

from __future__ import annotations

from dataclasses import dataclass

from lxml import etree

from xlhelpers.errors import DamagedError
from xlhelpers.package.parts.relations import relations_of
from xlhelpers.package.parts.xml_text import (
    STRICT_MAIN,
    Element,
    child,
    children,
    integer,
    is_true,
    local,
    namespace,
    parse,
    relationship_id,
    sibling_name,
)
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.sniffing import REPAIR

# how the workbook part begins (ECMA-376 part 1, 18.2.27)
_ORDER = (
    "fileVersion",
    "fileSharing",
    "workbookPr",
    "workbookProtection",
    "bookViews",
    "sheets",
    "functionGroups",
    "externalReferences",
    "definedNames",
    "calcPr",
)


@dataclass(frozen=True)
class SheetPart:
    """One sheet of the workbook; `kind` is worksheet, chartsheet, dialogsheet, ..."""

    name: str
    sheet_id: int
    part: str
    state: str
    position: int
    kind: str


@dataclass(frozen=True)
class DefinedName:
    """One defined name; `local_sheet` is the position of the sheet that it belongs to."""

    name: str
    text: str
    local_sheet: int | None
    hidden: bool


def workbook_root(package: Package) -> Element:
    """Root element of the workbook part."""
    return parse(package.read(package.workbook_part), package.workbook_part)


def workbook_child(root: Element, name: str) -> Element:
    """The element of that name in the workbook part; made at its place where it is absent."""
    element = child(root, name)
    if element is None:
        element = etree.SubElement(root, sibling_name(root, name))
        before = _ORDER[: _ORDER.index(name)]
        known = [index for index, item in enumerate(root) if local(item) in before]
        root.insert(max(known, default=-1) + 1, element)
    return element


def sheets(package: Package) -> tuple[SheetPart, ...]:
    """All sheets in the order of their tabs; a sheet whose part is missing has part ""."""
    part = package.workbook_part
    targets = {relation.id: relation for relation in relations_of(package, part)}
    listed = package.remember(part, "sheets", lambda data: _list_sheets(parse(data, part)))
    sheet_parts = []
    for position, (name, sheet_id, state, identifier) in enumerate(listed):
        relation = targets.get(identifier)
        target = package.find(relation.target) if relation else None
        kind = relation.kind if relation else ""
        sheet_parts.append(SheetPart(name, sheet_id, target or "", state, position, kind))
    _refuse_twice(package, [sheet.part for sheet in sheet_parts if sheet.part])
    _refuse_twice(package, [sheet.name.casefold() for sheet in sheet_parts])
    return tuple(sheet_parts)


def _refuse_twice(package: Package, items: list[str]) -> None:
    if len(set(items)) < len(items):
        raise DamagedError(f"{package.path.name} is damaged (one sheet is listed twice). {REPAIR}.")


def _list_sheets(root: Element) -> list[tuple[str, int, str, str]]:
    """Name, number, state and relationship of each sheet."""
    holder = child(root, "sheets")
    return [
        (
            str(item.get("name", "")),
            integer(item.get("sheetId")),
            str(item.get("state", "visible")),
            relationship_id(item) or "",
        )
        for item in (children(holder, "sheet") if holder is not None else ())
    ]


def sheet_named(package: Package, name: str) -> SheetPart | None:
    """The sheet of that name; names ignore case."""
    wanted = name.casefold()
    return next((item for item in sheets(package) if item.name.casefold() == wanted), None)


def defined_names(package: Package) -> tuple[DefinedName, ...]:
    """All defined names in the order of the file."""
    part = package.workbook_part
    return package.remember(part, "names", lambda data: _names(parse(data, part)))


def _names(root: Element) -> tuple[DefinedName, ...]:
    listed = child(root, "definedNames")
    if listed is None:
        return ()
    return tuple(
        DefinedName(
            name=str(element.get("name", "")),
            text=element.text or "",
            local_sheet=(
                integer(element.get("localSheetId"))
                if element.get("localSheetId") is not None
                else None
            ),
            hidden=is_true(element.get("hidden")),
        )
        for element in children(listed, "definedName")
    )


def date1904(package: Package) -> bool:
    """Whether day numbers count from 1904 instead of 1900."""
    settings = child(workbook_root(package), "workbookPr")
    return settings is not None and is_true(settings.get("date1904"))


def is_strict(package: Package) -> bool:
    """Whether the workbook uses the strict namespaces of the standard."""
    return namespace(workbook_root(package)) == STRICT_MAIN


def is_signed(package: Package) -> bool:
    """Whether the workbook carries a digital signature, which any change breaks."""
    return any(relation.kind == "origin" for relation in relations_of(package, "")) or any(
        name.casefold().startswith("_xmlsignatures/") for name in package.names()
    )


def is_structure_locked(package: Package) -> bool:
    """Whether adding, removing or renaming sheets is locked."""
    lock = child(workbook_root(package), "workbookProtection")
    return lock is not None and is_true(lock.get("lockStructure"))


def is_shared(package: Package) -> bool:
    """Whether the workbook keeps a log of changes for several editors (a shared workbook)."""
    return any(
        relation.kind in ("revisionHeaders", "usernames") and package.find(relation.target)
        for relation in relations_of(package, package.workbook_part)
    )


def why_not_writable(package: Package) -> str | None:
    """Return the message that says why this workbook cannot be changed, None if it can."""
    name = package.path.name
    if is_signed(package):
        return (
            f"{name} is signed, and any change would break the signature. Save a copy without "
            "the signature and use that."
        )
    if is_shared(package):
        return (
            f"{name} is a shared workbook. Stop sharing it in your spreadsheet program, save it, "
            "and try again."
        )
    if is_structure_locked(package):
        return (
            f"{name} is protected, so no sheet can be added. Unprotect the workbook in your "
            "spreadsheet program, save it, and try again."
        )
    if is_strict(package):
        return (
            f"{name} is saved as “Strict Open XML”. Save it as an ordinary Excel workbook "
            "(.xlsx) and try again."
        )
    return None
