"""Rarer settings of a sheet that go over to the sheet after it: views, scenarios, marks."""

from __future__ import annotations

from xlhelpers.package.formulas.follow import Move
from xlhelpers.package.graft.sheet_rules import moved_areas
from xlhelpers.package.graft.sheet_tree import adopt, holder_of, insert
from xlhelpers.package.parts.xml_text import Element, child, children, is_true, local

# what holds settings by cells -> the attributes that name the cells
_BY_CELL = {
    "scenarios": ("r", "sqref"),
    "cellWatches": ("r",),
    "ignoredErrors": ("sqref",),
}
_VIEWS = "customSheetViews"
_COUNTED = {
    "views": (_VIEWS, "customSheetView"),
    "scenarios": ("scenarios", "scenario"),
    "watches": ("cellWatches", "cellWatch"),
    "error marks": ("ignoredErrors", "ignoredError"),
}
# pictures and controls of the old kind, which hang on a drawing that stays behind
_DRAWN = {"header pictures": "legacyDrawingHF", "controls": "legacyDrawing"}
_WIDTHS = ("defaultColWidth", "baseColWidth", "zeroHeight")


def put_further(frame: Element, old: Element, move: Move) -> None:
    """Put the rarer settings of the old sheet on the tree of the new one, where they have a place.

    Named views have one where no column and no heading moved. What belongs to cells follows its
    columns.
    """
    _put_code_name(frame, old)
    _put_usual_sizes(frame, old)
    if move.down == 0 and all(was == is_ for was, is_ in move.columns.items()):
        for holder in children(old, _VIEWS):
            insert(frame, adopt(holder, frame))
    for kind, names in _BY_CELL.items():
        for holder in children(old, kind):
            _put_by_cell(frame, holder, names, move)


def _put_code_name(frame: Element, old: Element) -> None:
    """The name by which macros know the sheet."""
    before = child(old, "sheetPr")
    if before is not None and before.get("codeName"):
        holder_of(frame, "sheetPr").set("codeName", str(before.get("codeName")))


def _put_usual_sizes(frame: Element, old: Element) -> None:
    """Width and height of the columns and rows for which none is given."""
    before = child(old, "sheetFormatPr")
    if before is None:
        return
    names: tuple[str, ...] = _WIDTHS
    if is_true(before.get("customHeight")):
        names += ("defaultRowHeight", "customHeight")
    for name in names:
        if before.get(name) is not None:
            holder_of(frame, "sheetFormatPr").set(name, str(before.get(name)))


def _put_by_cell(frame: Element, holder: Element, names: tuple[str, ...], move: Move) -> None:
    copy = adopt(holder, frame)
    copy.attrib.pop("sqref", "")  # where the results of scenarios are; programs find it again
    for item in list(copy):
        places = [(part, name) for part in item.iter() for name in names if part.get(name)]
        moved = [moved_areas(str(part.get(name)), move) for part, name in places]
        if all(moved):
            for (part, name), area in zip(places, moved, strict=True):
                part.set(name, area)
        else:
            copy.remove(item)
    present = child(frame, local(copy))
    if present is not None:
        present.extend(list(copy))
    elif len(copy):
        insert(frame, copy)


def count_further(frame: Element) -> dict[str, int]:
    """Return how many of the rarer settings a sheet has, by kind."""
    counts = {
        kind: sum(len(list(children(holder, item))) for holder in children(frame, holds))
        for kind, (holds, item) in _COUNTED.items()
    }
    return counts | {kind: len(list(children(frame, of))) for kind, of in _DRAWN.items()}
