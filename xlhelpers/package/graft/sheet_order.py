"""The order of the tabs: one tab moved to the front, with everything that counts tabs."""

from __future__ import annotations

import re

from xlhelpers.package.parts.parts import sheet_named, sheets, workbook_root
from xlhelpers.package.parts.relations import replace_tree
from xlhelpers.package.parts.xml_text import child, children, integer
from xlhelpers.package.zip.container import Package

_SELECTED = re.compile(rb'\s+tabSelected="(?:1|true)"')
_VIEW = re.compile(rb"<((?:\w+:)?sheetView)\b")


def move_to_front(package: Package, name: str) -> None:
    """Make a tab the first one, and the one that is shown when the workbook opens.

    Names that belong to one tab, and the list of windows, count tabs by their place; they are
    counted again.

    Parameters
    ----------
    package
        The opened workbook; it is changed in memory.
    name
        The name of the tab. Where there is no such tab, nothing changes.
    """
    moved = sheet_named(package, name)
    if moved is None:
        return
    root = workbook_root(package)
    listed = child(root, "sheets")
    assert listed is not None  # a package without sheets does not open
    items = list(children(listed, "sheet"))
    at = next(place for place, item in enumerate(items) if item.get("name") == moved.name)
    listed.insert(0, items[at])
    names = child(root, "definedNames")
    for item in children(names, "definedName") if names is not None else ():
        if item.get("localSheetId") is not None:
            place = integer(item.get("localSheetId"))
            item.set("localSheetId", str(0 if place == at else place + (place < at)))
    views = child(root, "bookViews")
    for view in children(views, "workbookView") if views is not None else ():
        for attribute in ("activeTab", "firstSheet"):
            if attribute in view.attrib:
                del view.attrib[attribute]
    replace_tree(package, package.workbook_part, root)
    for sheet in sheets(package):
        if sheet.part:
            _select(package, sheet.part, selected=sheet.name == moved.name)


def _select(package: Package, part: str, *, selected: bool) -> None:
    """Mark one tab as the one that is shown, and no other: marked tabs are typed into together."""
    data = package.read(part)
    changed = _SELECTED.sub(b"", data)
    if selected:
        changed = _VIEW.sub(rb'<\1 tabSelected="1"', changed, count=1)
    if changed != data:
        package.replace(part, changed)
