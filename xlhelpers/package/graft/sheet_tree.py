"""Elements of a worksheet's tree: copied from another tree, and put where the format wants them."""

from __future__ import annotations

from copy import deepcopy

from lxml import etree

from xlhelpers.package.parts.xml_text import (
    RELATIONSHIP,
    STRICT_RELATIONSHIP,
    Element,
    child,
    children,
    local,
    sibling_name,
)

# the order that the format wants
ORDER = (
    *("sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "sheetCalcPr"),
    *("sheetProtection", "protectedRanges", "scenarios", "autoFilter", "sortState"),
    *("dataConsolidate", "customSheetViews", "mergeCells", "phoneticPr"),
    *("conditionalFormatting", "dataValidations", "hyperlinks", "printOptions", "pageMargins"),
    *("pageSetup", "headerFooter", "rowBreaks", "colBreaks", "customProperties", "cellWatches"),
    *("ignoredErrors", "smartTags", "drawing", "legacyDrawing", "legacyDrawingHF", "picture"),
    *("oleObjects", "controls", "webPublishItems", "tableParts", "extLst"),
)


def adopt(element: Element, like: Element) -> Element:
    """Return a copy of an element in the namespace of another tree."""
    copy = deepcopy(element)
    ours, theirs = etree.QName(like).namespace, etree.QName(element).namespace
    for item in copy.iter(etree.Element):
        if ours != theirs and etree.QName(item).namespace == theirs:
            item.tag = f"{{{ours}}}{local(item)}"
        for name in list(item.attrib):
            if etree.QName(name).namespace in (RELATIONSHIP, STRICT_RELATIONSHIP):
                del item.attrib[name]  # the relation stays behind
    copy.tail = None
    etree.cleanup_namespaces(copy)
    return copy


def insert(frame: Element, element: Element) -> None:
    """Put an element among the children of a worksheet, where the format wants it."""
    place = ORDER.index(local(element))
    for index, item in enumerate(frame):
        if local(item) in ORDER and ORDER.index(local(item)) > place:
            frame.insert(index, element)
            return
    frame.append(element)


def replace_kind(frame: Element, old: Element, kind: str) -> None:
    """Put the elements of one kind as they are on the old sheet."""
    for item in list(children(frame, kind)):
        frame.remove(item)
    for item in children(old, kind):
        insert(frame, adopt(item, frame))


def holder_of(frame: Element, kind: str) -> Element:
    """Return the element of a kind, made where there is none."""
    holder = child(frame, kind)
    if holder is None:
        holder = etree.Element(sibling_name(frame[0], kind))
        insert(frame, holder)
    return holder
