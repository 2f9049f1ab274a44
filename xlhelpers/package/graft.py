"""Whole sheets grafted into a workbook: result tabs with their tables, charts and formats.

The tabs come from a scratch workbook made with XlsxWriter. A tab of an earlier run is replaced
in place; other tabs are appended last, so that positions noted elsewhere stay valid.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from lxml import etree

from xlhelpers.errors import SpecificationError, WorkbookError
from xlhelpers.package import calc_chain
from xlhelpers.package.container import Package
from xlhelpers.package.formula_text import rename
from xlhelpers.package.graft_parts import PartCopier, is_selected
from xlhelpers.package.graft_plan import (
    MAX_SHEET_NAME,
    PlannedSheet,
    Renames,
    plan_names,
    plan_sheets,
    private_parts,
    table_names,
)
from xlhelpers.package.long_rows import LongRows
from xlhelpers.package.parts import sheet_named, sheets, why_not_writable, workbook_root
from xlhelpers.package.relations import (
    add_relation,
    declare,
    missing_targets,
    relations_name,
    replace_tree,
    undeclare,
)
from xlhelpers.package.styles_merge import merge_styles
from xlhelpers.package.xml_text import (
    RELATIONSHIP,
    Element,
    child,
    children,
    integer,
    local,
    sibling_name,
)

BEFORE_NAMES = (
    "fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets",
    "functionGroups", "externalReferences",
)  # fmt: skip
NO_ROWS: Mapping[str, Sequence[LongRows]] = MappingProxyType({})
FILTER_NAME = "_xlnm._FilterDatabase"


def graft_sheets(
    package: Package,
    scratch: bytes | Package,
    *,
    replacing: Mapping[str, str],
    defined: Mapping[str, str],
    rows: Mapping[str, Sequence[LongRows]] = NO_ROWS,
) -> tuple[str, ...]:
    """Make every sheet of a scratch workbook a sheet of the package.

    Parameters
    ----------
    package
        The opened workbook.
    scratch
        A workbook made with XlsxWriter, worksheets only, without notes; its bytes or opened.
    replacing
        Scratch sheet name to the name of the existing worksheet that it replaces in place.
        All others are appended last; where the name is taken they get " (2)" and so on.
    defined
        Further defined names of ours, name to reference; references use the scratch names of
        sheets. A name of the workbook that is spelt like one of these gives way.
    rows
        Part of a scratch sheet to rows that it lacks.

    Returns
    -------
    tuple of str
        The name that each scratch sheet has in the package, in the scratch order.

    Raises
    ------
    WorkbookError
        The workbook may not be written to.
    SpecificationError
        `replacing` names sheets that are not there.
    """
    reason = why_not_writable(package)
    if reason is not None:
        raise WorkbookError(reason)
    if isinstance(scratch, bytes):
        scratch = Package.from_bytes(scratch, "result tabs.xlsx")
    other = scratch
    planned = plan_sheets(package, other, replacing)
    ours = frozenset(name.casefold() for name in defined)
    renames = plan_names(package, other, planned, ours)
    private = private_parts(package, planned)
    table_id = table_names(package, private)[1]
    missing = missing_targets(package)
    selected = {sheet.part for sheet in planned if sheet.old and is_selected(package, sheet.part)}
    _clear(package, planned, private)
    copier = PartCopier(package, other, renames, merge_styles(package, other), table_id, missing)
    for sheet in planned:
        longs = rows.get(sheet.source.part, ())
        copier.copy_sheet(sheet, selected=sheet.part in selected, longs=longs)
    undeclare(package, [part for part in private if package.find(part) is None])
    declare(package, copier.types)
    _list_sheets(package, planned)
    _define_names(package, other, planned, renames, defined)
    return tuple(sheet.name for sheet in planned)


def _clear(package: Package, planned: tuple[PlannedSheet, ...], private: frozenset[str]) -> None:
    """Take out what belongs to the replaced sheets alone."""
    for part in private:
        package.remove(part)
        package.remove(relations_name(part))
    for sheet in planned:
        if sheet.old is not None:
            calc_chain.prune_sheet(package, sheet.old)


def _list_sheets(package: Package, planned: tuple[PlannedSheet, ...]) -> None:
    for sheet in planned:
        if sheet.old is not None:
            continue
        kind = f"{RELATIONSHIP}/worksheet"
        identifier = add_relation(package, package.workbook_part, kind, sheet.part)
        root = workbook_root(package)
        listed = child(root, "sheets")
        if listed is None:
            raise SpecificationError("the workbook part lists no sheets")
        used = [integer(item.get("sheetId")) for item in children(listed, "sheet")]
        element = etree.SubElement(listed, sibling_name(listed, "sheet"), name=sheet.name)
        element.set("sheetId", str(max(used, default=0) + 1))
        if sheet.source.state != "visible":
            element.set("state", sheet.source.state)
        element.set(f"{{{RELATIONSHIP}}}id", identifier)
        replace_tree(package, package.workbook_part, root)


def _names_holder(root: Element) -> Element:
    holder = child(root, "definedNames")
    if holder is None:
        holder = etree.SubElement(root, sibling_name(root, "definedNames"))
        known = [index for index, item in enumerate(root) if local(item) in BEFORE_NAMES]
        root.insert(max(known, default=-1) + 1, holder)
    return holder


def _define_names(
    package: Package,
    other: Package,
    planned: tuple[PlannedSheet, ...],
    renames: Renames,
    defined: Mapping[str, str],
) -> None:
    """Merge the defined names of the scratch workbook, and those of `defined`, into ours."""
    now = {sheet.part: sheet.position for sheet in sheets(package)}
    positions = {sheet.source.position: now[sheet.part] for sheet in planned}
    replaced = {str(now[sheet.part]) for sheet in planned if sheet.old is not None}
    root = workbook_root(package)
    theirs = child(workbook_root(other), "definedNames")
    wanted: dict[tuple[str, str | None], tuple[dict[str, str], str]] = {}
    for item in theirs if theirs is not None else ():
        attributes = {str(name): str(value) for name, value in item.items()}
        if "localSheetId" in attributes:
            attributes["localSheetId"] = str(positions[int(attributes["localSheetId"])])
        else:
            old = attributes["name"]
            attributes["name"] = renames.names.get(old.casefold(), old)
        text = rename(item.text or "", renames.sheets, renames.names)
        key = (attributes["name"].casefold(), attributes.get("localSheetId"))
        wanted[key] = (attributes, text)
    for name, text in defined.items():
        text = rename(text.removeprefix("="), renames.sheets, renames.names)
        wanted[name.casefold(), None] = ({"name": name}, text)
    _merge_names(root, wanted, replaced)
    replace_tree(package, package.workbook_part, root)


def _merge_names(
    root: Element,
    wanted: dict[tuple[str, str | None], tuple[dict[str, str], str]],
    replaced: set[str],
) -> None:
    """Old names of the same key are changed in place, new ones follow, stale filters go."""
    existing = child(root, "definedNames")
    if not wanted and existing is None:
        return
    holder = _names_holder(root)
    waiting = dict(wanted)
    for item in list(children(holder, "definedName")):
        local_sheet = item.get("localSheetId")
        key = (str(item.get("name", "")).casefold(), local_sheet)
        if key in wanted:
            if key not in waiting:
                holder.remove(item)
                continue
            attributes, text = waiting.pop(key)
            item.attrib.clear()
            for name, value in attributes.items():
                item.set(name, value)
            item.text = text
        elif local_sheet in replaced and item.get("name") == FILTER_NAME:
            holder.remove(item)
    for attributes, text in waiting.values():
        etree.SubElement(holder, sibling_name(holder, "definedName"), attributes).text = text
    if len(holder) == 0:
        root.remove(holder)


def rename_sheet(package: Package, old: str, new: str) -> None:
    """Give a sheet another name; the defined names of the workbook follow, nothing else.

    Raises
    ------
    SpecificationError
        There is no such sheet, or the new name is taken or too long.
    """
    sheet = sheet_named(package, old)
    taken = sheet_named(package, new)
    if sheet is None or len(new) > MAX_SHEET_NAME or (taken is not None and taken != sheet):
        raise SpecificationError(f"the sheet {old!r} cannot be renamed {new!r}")
    root = workbook_root(package)
    listed = child(root, "sheets")
    for position, element in enumerate(children(listed, "sheet") if listed is not None else ()):
        if position == sheet.position:
            element.set("name", new)
    names = child(root, "definedNames")
    for element in children(names, "definedName") if names is not None else ():
        element.text = rename(element.text or "", {sheet.name.casefold(): new}, {})
    replace_tree(package, package.workbook_part, root)
