"""Pivot tables that read changed cells are told to fetch them anew when the workbook is opened."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from xlhelpers.package.container import Package
from xlhelpers.package.formula_references import Book, Reading, readings_of
from xlhelpers.package.references import quote_sheet
from xlhelpers.package.relations import related, replace_tree
from xlhelpers.package.xml_text import Element, descendants, parse, relationship_id

SOURCES = ("worksheetSource", "rangeSet")


def _source_texts(root: Element) -> Iterator[str]:
    """What the pivot cache reads, as a formula would name it."""
    for kind in SOURCES:
        for source in descendants(root, kind):
            if relationship_id(source):
                continue  # another workbook
            sheet = source.get("sheet")
            text = source.get("name") or source.get("ref") or ""
            yield f"{quote_sheet(sheet)}!{text}" if sheet else text


def refresh_caches(package: Package, book: Book, meets: Callable[[Reading], bool]) -> int:
    """Set `refreshOnLoad` of each pivot cache that reads a changed cell.

    Parameters
    ----------
    package
        The opened workbook.
    book
        What names in formulas stand for.
    meets
        Whether a changed cell lies in an area.

    Returns
    -------
    int
        How many caches read a changed cell.
    """
    count = 0
    for part in related(package, package.workbook_part, "pivotCacheDefinition"):
        root = parse(package.read(part), part)
        readings = [readings_of(text, 0, book) for text in _source_texts(root)]
        if any(item.everything or any(map(meets, item.readings)) for item in readings):
            root.set("refreshOnLoad", "1")
            replace_tree(package, part, root)
            count += 1
    return count
