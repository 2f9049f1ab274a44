"""What people set on a sheet goes over to the sheet that takes its place.

Widths, hidden columns, freeze, zoom, colour of the tab, filter, print set-up, protection, rules and
links of the old sheet are put on the new one; only its content is new. A column is the one that a
`Move` names, a row the one with the same content.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from lxml import etree

from xlhelpers.package.formulas.follow import Move, follow
from xlhelpers.package.formulas.formula_text import sheet_names, tokens
from xlhelpers.package.graft.further_settings import count_further, put_further
from xlhelpers.package.graft.sheet_rules import (
    count_rules,
    own_rules,
    put_extensions,
    put_rules,
    put_validations,
)
from xlhelpers.package.graft.sheet_tree import adopt, holder_of, replace_kind
from xlhelpers.package.parts.cell_looks import MixedFormats
from xlhelpers.package.parts.parts import SheetPart, defined_names
from xlhelpers.package.parts.relations import relations_of
from xlhelpers.package.parts.xml_text import (
    Element,
    child,
    children,
    descendants,
    integer,
    local,
    relationship_id,
    sibling_name,
)
from xlhelpers.package.sheet.references import Area, area_name, column_number, parse_areas
from xlhelpers.package.sheet.sheet_bytes import frame_of
from xlhelpers.package.zip.container import Package

PRINT_AREA = "_xlnm.Print_Area"
PRINT_TITLES = "_xlnm.Print_Titles"
PRINTED = (PRINT_AREA, PRINT_TITLES)
# as they are on the old sheet, also where they were taken away
WHOLE = ("sheetProtection", "printOptions", "pageSetup", "headerFooter")
_TAB_PARTS = ("tabColor", "outlinePr", "pageSetUpPr")
_VIEW = (
    *("zoomScale", "zoomScaleNormal", "zoomScalePageLayoutView", "zoomScaleSheetLayoutView"),
    *("showRuler", "showWhiteSpace", "showOutlineSymbols", "defaultGridColor", "colorId"),
    *("view", "showGridLines", "showRowColHeaders", "showZeros", "showFormulas", "rightToLeft"),
)
_ROW = re.compile(rb"<(?:\w+:)?row\b([^>]*?)/?>")
_ROW_START = re.compile(rb'<row r="([0-9]+)"([^>]*?)(/?)>')
_NUMBER = re.compile(rb'\br="([0-9]+)"')
_HEIGHT = re.compile(rb'\bht="([0-9.]+)"')
_BY_HAND = re.compile(rb'\bcustomHeight="(?:1|true)"')
_HIDDEN = re.compile(rb'\bhidden="(?:1|true)"')
_CELL_START = re.compile(rb'<c r="([A-Z]+)([0-9]+)"(?: s="([0-9]+)")?')
_LEVEL = re.compile(rb'\boutlineLevel="([1-7])"')
_ROW_LOOKS = re.compile(rb' (?:ht|customHeight|hidden)="[^"]*"')
# height (0 for the usual one), whether hidden, and level of the outline
RowLooks = dict[int, tuple[float, bool, int]]
# row and column of a cell -> format of a cell of the old sheet, and the aspects that it gives
CellFormats = Mapping[tuple[int, int], tuple[int, frozenset[str]]]


@dataclass(frozen=True)
class OldLook:
    """What is set on a sheet: its tree without rows, rows by number, targets of its links.

    `printed` holds the texts of the names that say what is printed, by name: the print area, and
    the rows and columns that are printed on every page.
    """

    frame: Element
    rows: RowLooks
    links: Mapping[str, str]
    printed: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Look:
    """What goes over to a new sheet.

    `headings` is the row of the headings on the old sheet and on the new one; `rows` the new row
    of each old row that is still there; `own_breaks` whether somebody set other page breaks,
    `own_merges` whether somebody merged cells or took a merge apart, and
    `own_printed` which of the names in `PRINTED` somebody set; `has_view` whether zoom, freeze and
    the like are known; `formats` the formats of cells that somebody set, by new place.
    """

    old: OldLook
    move: Move
    headings: tuple[int, int]
    rows: Mapping[int, int]
    own_breaks: bool = False
    own_merges: bool = False
    own_printed: frozenset[str] = frozenset()
    has_view: bool = True
    formats: CellFormats = field(default_factory=dict)


def look_of(package: Package, sheet: SheetPart) -> OldLook:
    """Return what is set on a worksheet."""
    content = package.read(sheet.part)
    links = {link.id: link.target for link in relations_of(package, sheet.part) if link.external}
    printed = {
        name.name: name.text
        for name in defined_names(package)
        if name.local_sheet == sheet.position and name.name in PRINTED
    }
    return OldLook(frame_of(content, sheet.part), row_looks(content), links, printed)


def row_looks(content: bytes) -> RowLooks:
    """Return what was set on rows, for those where anything was."""
    looks: RowLooks = {}
    for match in _ROW.finditer(content):
        attributes = match[1]
        number, hidden = _NUMBER.search(attributes), bool(_HIDDEN.search(attributes))
        height = _HEIGHT.search(attributes) if _BY_HAND.search(attributes) else None
        level = _LEVEL.search(attributes)
        if number is not None and (hidden or height is not None or level is not None):
            looks[int(number[1])] = (
                float(height[1]) if height else 0.0,
                hidden,
                int(level[1]) if level else 0,
            )
    return looks


def moved_printed(look: Look, sheet: str) -> dict[str, str]:
    """Return the print area and titles that somebody set, by name, in a sheet of this name.

    "" where somebody took them away. What cannot go over is left out: the program's own counts.
    """
    ranges = {}
    for name in look.own_printed:
        text = look.old.printed.get(name, "")
        scopes = [token.text for token in tokens(text) if token.kind == "sheet"]
        before = next((one for scope in scopes for one in sheet_names(scope)), "")
        moved, followed = follow(text, {before.casefold(): replace(look.move, name=sheet)})
        if followed:
            ranges[name] = moved
    return ranges


def breaks_of(frame: Element) -> tuple[int, ...]:
    """Return the rows after which a page ends."""
    return tuple(
        sorted(
            integer(item.get("id"))
            for holder in children(frame, "rowBreaks")
            for item in children(holder, "brk")
        )
    )


def put_on(frame: Element, look: Look) -> list[tuple[Element, str]]:
    """Put what is set on the old sheet on the tree of the new one.

    Returns
    -------
    list of Element and str
        Links to places outside the workbook with their targets, which still need a relation.
    """
    old = look.old.frame
    _put_tab(frame, old)
    if look.has_view:
        _put_view(frame, old, look)
    _put_columns(frame, old, look.move)
    for kind in WHOLE:
        replace_kind(frame, old, kind)
    for kind in ("protectedRanges", "pageMargins", *_if_still(look.move, "colBreaks")):
        if child(old, kind) is not None:
            replace_kind(frame, old, kind)
    if look.own_breaks:
        _put_breaks(frame, look)
    _put_merges(frame, look)
    _put_filter(frame, old, look.move)
    put_rules(frame, old, look.move)
    put_validations(frame, old, look.move)
    put_extensions(frame, old, look.move)
    put_further(frame, old, look.move)
    return _put_links(frame, look)


def put_on_rows(data: bytes, looks: RowLooks) -> bytes:
    """Return rows with the heights and the hidden state that they had on the old sheet."""

    def change(match: re.Match[bytes]) -> bytes:
        look = looks.get(int(match[1]))
        if look is None:
            return match[0]
        height, hidden, level = look
        rest = _ROW_LOOKS.sub(b"", match[2]) if height else match[2]
        more = b' ht="%s" customHeight="1"' % f"{height:g}".encode() if height else b""
        more += b' hidden="1"' if hidden and b' hidden="' not in rest else b""
        more += b' outlineLevel="%d"' % level if level else b""
        return b'<row r="%s"%s%s%s>' % (match[1], rest, more, match[3])

    return _ROW_START.sub(change, data) if looks else data


def put_on_cells(data: bytes, formats: CellFormats, mixed: MixedFormats) -> bytes:
    """Return rows with the formats of cells that somebody set on the old sheet."""
    columns: dict[bytes, int] = {}

    def change(match: re.Match[bytes]) -> bytes:
        letters = match[1]
        if letters not in columns:
            columns[letters] = column_number(letters.decode())
        set_ = formats.get((int(match[2]), columns[letters]))
        if set_ is None:
            return match[0]
        number = mixed.number(int(match[3] or 0), *set_)
        return b'<c r="%s%s" s="%d"' % (letters, match[2], number)

    return _CELL_START.sub(change, data) if formats else data


def moved_rows(look: Look) -> RowLooks:
    """Return what is set on rows of the old sheet, by the number of the new row."""
    return {look.rows[row]: set_ for row, set_ in look.old.rows.items() if row in look.rows}


def _if_still(move: Move, *kinds: str) -> tuple[str, ...]:
    return kinds if all(old == new for old, new in move.columns.items()) else ()


def _put_tab(frame: Element, old: Element) -> None:
    """The colour of the tab, whether it is printed to fit the page, and its outline."""
    levels = child(old, "sheetFormatPr")
    for name in ("outlineLevelRow", "outlineLevelCol"):
        if levels is not None and levels.get(name) is not None:
            holder_of(frame, "sheetFormatPr").set(name, str(levels.get(name)))
    before = child(old, "sheetPr")
    if before is None:
        return
    now = holder_of(frame, "sheetPr")
    for item in [item for item in now if local(item) in _TAB_PARTS]:
        now.remove(item)
    now.extend(adopt(item, frame) for kind in _TAB_PARTS for item in children(before, kind))


def _put_view(frame: Element, old: Element, look: Look) -> None:
    before = next(descendants(old, "sheetView"), None)
    now = next(descendants(frame, "sheetView"), None)
    if before is None or now is None:
        return
    for name in _VIEW:
        value = before.get(name)
        if value is not None:
            now.set(name, value)
        elif name in now.attrib and not name.startswith("zoom"):
            del now.attrib[name]
    was, is_ = child(before, "pane"), child(now, "pane")
    if _split(was) == (_split(is_)[0], look.headings[0]) and is_ is not None:
        # as the program froze it: under the headings, wherever these are now
        if look.headings[0] == look.headings[1]:
            _put_selection(now, before)
        return
    for item in [item for item in now if local(item) in ("pane", "selection")]:
        now.remove(item)
    for index, item in enumerate(i for i in before if local(i) in ("pane", "selection")):
        now.insert(index, adopt(item, frame))


def _put_selection(now: Element, before: Element) -> None:
    """The cells that are selected."""
    for item in list(children(now, "selection")):
        now.remove(item)
    for index, item in enumerate(children(before, "selection"), 1):
        now.insert(index, adopt(item, now))


def _split(pane: Element | None) -> tuple[int, int]:
    """Columns and rows that are frozen."""
    if pane is None or pane.get("state") not in ("frozen", "frozenSplit"):
        return 0, 0
    return integer(pane.get("xSplit")), integer(pane.get("ySplit"))


def _columns(frame: Element) -> dict[int, Element]:
    columns: dict[int, Element] = {}
    for holder in children(frame, "cols"):
        for item in children(holder, "col"):
            # a program may state one width up to the last column of all
            for column in range(integer(item.get("min")), min(integer(item.get("max")), 1000) + 1):
                columns[column] = item
    return columns


def columns_with_format(frame: Element) -> dict[int, int]:
    """Return the number of the format of each column that has one of its own."""
    styles = {at: integer(item.get("style")) for at, item in _columns(frame).items()}
    return {at: style for at, style in styles.items() if style}


def _put_columns(frame: Element, old: Element, move: Move) -> None:
    before, now = _columns(old), _columns(frame)
    wanted: dict[int, dict[str, str]] = {}
    for column, item in now.items():
        wanted[column] = {str(name): str(value) for name, value in item.items()}
    for column, item in before.items():
        new = move.columns.get(column)
        if new is None:
            continue
        style = wanted.get(new, {}).get("style")
        # a format of the whole column is somebody's own where the program gives none
        wanted[new] = {str(name): str(value) for name, value in item.items()}
        if style is not None:
            wanted[new]["style"] = style
    if not wanted:
        return
    holder = holder_of(frame, "cols")
    for item in list(holder):
        holder.remove(item)
    for column in sorted(wanted):
        attributes = wanted[column] | {"min": str(column), "max": str(column)}
        last = holder[-1] if len(holder) else None
        if last is not None and integer(last.get("max")) == column - 1:
            same = {str(k): str(v) for k, v in last.items()} | {"min": "", "max": ""}
            if same == attributes | {"min": "", "max": ""}:
                last.set("max", str(column))
                continue
        etree.SubElement(holder, sibling_name(holder, "col"), attributes)


def _put_breaks(frame: Element, look: Look) -> None:
    for item in list(children(frame, "rowBreaks")):
        frame.remove(item)
    # the row after the break is the one that begins a page
    rows = sorted(
        {look.rows[at + 1] - 1 for at in breaks_of(look.old.frame) if at + 1 in look.rows}
    )
    if not rows:
        return
    holder = holder_of(frame, "rowBreaks")
    holder.set("count", str(len(rows)))
    holder.set("manualBreakCount", str(len(rows)))
    for row in rows:
        name = sibling_name(holder, "brk")
        etree.SubElement(holder, name, {"id": str(row), "max": "16383", "man": "1"})


def _put_merges(frame: Element, look: Look) -> None:
    """Own merged cells of one row; those of the program stay, unless somebody took them apart."""
    if look.own_merges:
        _take_apart(frame, look)
    present = merged_areas(frame)
    for area in sorted(merged_areas(look.old.frame) - present):
        moved = _same_cells(area, look)
        if moved is None or any(_overlap(moved, other) for other in present):
            continue
        present |= {moved}
        holder = holder_of(frame, "mergeCells")
        etree.SubElement(holder, sibling_name(holder, "mergeCell"), {"ref": area_name(moved)})
        holder.set("count", str(len(holder)))


def _take_apart(frame: Element, look: Look) -> None:
    """Take away the merges of rows that are still there and have none at that place any more."""
    columns = look.move.columns
    still = {
        (look.rows.get(top), columns.get(left, left))
        for top, left, *_ in merged_areas(look.old.frame)
    }
    rows = set(look.rows.values())
    for holder in list(children(frame, "mergeCells")):
        for item in list(holder):
            areas = parse_areas([item.get("ref")])
            if areas and areas[0][0] == areas[0][2] in rows and areas[0][:2] not in still:
                holder.remove(item)
        holder.set("count", str(len(holder)))
        if len(holder) == 0:
            frame.remove(holder)


def merged_areas(frame: Element) -> set[Area]:
    """Return the areas of merged cells."""
    return set(parse_areas(item.get("ref") for item in descendants(frame, "mergeCell")))


def _overlap(one: Area, other: Area) -> bool:
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def _put_filter(frame: Element, old: Element, move: Move) -> None:
    before, now = child(old, "autoFilter"), child(frame, "autoFilter")
    if now is None or before is None:
        return
    first = parse_areas([before.get("ref")])
    offset = first[0][1] if first else 1
    for item in children(before, "filterColumn"):
        new = move.columns.get(integer(item.get("colId")) + offset)
        if new is not None:
            copy = adopt(item, frame)
            copy.set("colId", str(new - 1))
            now.append(copy)


def lost_settings(frame: Element, look: Look) -> dict[str, int]:
    """Return what somebody set on the old sheet that has no place on the new one, with counts.

    Kinds are `rules`, `validations`, `links`, `breaks` between columns, and those of
    `count_further`. `frame` is the tree of the new sheet before anything is put on it; it is
    changed.
    """
    wanted = own_rules(frame, look.old.frame) | _count_settings(look.old.frame)
    before = count_rules(frame)
    put_on(frame, look)
    after = count_rules(frame)
    there = {kind: after[kind] - before[kind] for kind in after} | _count_settings(frame)
    lost = {kind: count - there[kind] for kind, count in wanted.items()}
    return {kind: count for kind, count in lost.items() if count > 0}


def _count_settings(frame: Element) -> dict[str, int]:
    """How many links lead out of the workbook, and how many pages begin at a column."""
    links = descendants(frame, "hyperlink")
    return {
        "links": sum(link.get("location") is None for link in links),
        "breaks": sum(1 for holder in children(frame, "colBreaks") for _ in holder),
    } | count_further(frame)


def _put_links(frame: Element, look: Look) -> list[tuple[Element, str]]:
    taken = {
        area for item in descendants(frame, "hyperlink") for area in parse_areas([item.get("ref")])
    }
    outside = []
    for item in descendants(look.old.frame, "hyperlink"):
        areas = parse_areas([item.get("ref")])
        area = _same_cells(areas[0], look) if areas else None
        if area is None or area in taken:
            continue
        identifier = relationship_id(item)
        target = look.old.links.get(identifier or "")
        if identifier and target is None:
            continue
        copy = adopt(item, frame)
        copy.set("ref", area_name(area))
        holder_of(frame, "hyperlinks").append(copy)
        if target is not None:
            outside.append((copy, target))
    return outside


def _same_cells(area: Area, look: Look) -> Area | None:
    """Return where cells of one row are now, None where they are gone or apart."""
    top, left, bottom, right = area
    row, first, last = look.rows.get(top), look.move.columns.get(left), look.move.columns.get(right)
    if not row or not first or not last or top != bottom or last - first != right - left:
        return None
    return (row, first, row, last)
