"""What the office set on our tabs, and where it goes on the tabs of this fill."""

import hashlib
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from xlhelpers.jobs.fill.blank_formats import (
    BlankFormats,
    read_counts,
    say_blank_formats_left,
    seal_counts,
)
from xlhelpers.jobs.fill.hand_formats import (
    FormatComparison,
    aspects_set,
    carry_formats,
    say_formats_left,
)
from xlhelpers.jobs.fill.tab_moves import find_headings, heading_row, move_of
from xlhelpers.package.graft.looks import (
    PRINT_AREA,
    PRINT_TITLES,
    PRINTED,
    Look,
    OldLook,
    breaks_of,
    look_of,
    lost_settings,
    merged_areas,
    moved_printed,
)
from xlhelpers.package.parts.xml_text import descendants
from xlhelpers.package.sheet.long_rows import LongRows
from xlhelpers.package.sheet.sheet_bytes import frame_of
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.wording import list_words, plural

Objects = NDArray[np.object_]
# the headings of the columns that say which row of a tab is which
_KEYS = {
    "trees": ("Plot", "Tree"),
    "by_plot": ("Plot",),
    "by_species": ("Species",),
    "to_check": ("Finding",),
    "again": ("Finding",),
    "log": ("Finding",),
}
_UNKNOWN = "-"
# a workbook of an earlier version has not all of them
_PARTS = ("breaks", "rows", PRINT_AREA, "formats", PRINT_TITLES, "merges", "blanks")
_WITH_ASPECTS = 5
_SHEET_PREFIX = re.compile(r"(?:'(?:[^']|'')*'|[^',!]+)!")
_KINDS = {
    "rules": ("conditional format",),
    "validations": ("data validation",),
    "links": ("link",),
    "breaks": ("page break between columns", "page breaks between columns"),
    "views": ("custom view",),
    "scenarios": ("scenario",),
    "watches": ("watched cell",),
    "error marks": ("error to ignore", "errors to ignore"),
}
# what hangs on a drawing of the old kind
_DRAWN = {
    "header pictures": ("picture in a header or footer", "pictures in a header or footer"),
    "controls": ("drawing with buttons or other controls", "drawings with buttons or controls"),
}
_GONE = ": {its} columns or rows are no longer there. The backup has {it}"
_CANNOT = ", because the program cannot copy {it} to the new tab. The backup has {it}"
PRINTED_LEFT = (
    "The print area or print titles set by hand on “{tab}” could not be kept, because their "
    "columns are no longer together. The program's own are used"
)


FORMATS_UNKNOWN = (
    "This workbook was last filled by an earlier version, which did not record the formats of "
    "cells. Formats set by hand on cells of the result tabs (bold, decimal places and the like) "
    "are not kept this time. If there were any, the backup has them"
)


def seal_look(
    look: OldLook, formats: str, blanks: Counter[str], longs: Sequence[LongRows] = ()
) -> str:
    """Return digests of how a tab is set up, and of the formats of its cells.

    They are: page breaks, rows, print area, formats, print titles, merged cells, and the counts
    `blanks` of formats without content. Rows are their heights, and which are hidden; `formats` is
    that of the tab's `TabDigest`.
    """
    rows = dict(look.rows)
    for long in longs:
        heights = zip(long.rows.tolist(), long.heights.tolist(), strict=True)
        rows |= {row: (height, False, 0) for row, height in heights if height}
    set_: list[tuple[float, ...]] = sorted(
        (row, round(height, 1), hidden) for row, (height, hidden, _) in rows.items()
    )
    set_ += sorted((row, level) for row, (*_, level) in rows.items() if level)
    area, titles = (_areas(look.printed.get(name, "")) for name in PRINTED)
    digests = [_digest(part) for part in (breaks_of(look.frame), set_, area, titles)]
    merges = _digest(sorted(merged_areas(look.frame)))
    words = [*digests[:3], formats or _UNKNOWN, digests[3], merges, seal_counts(blanks)]
    return " ".join(words)


def _digest(part: object) -> str:
    return hashlib.sha256(repr(part).encode()).hexdigest()[:12]


def _areas(text: str) -> str:
    """What is printed, without the name of the sheet: programs write it with or without quotes."""
    return ",".join(sorted(_SHEET_PREFIX.sub("", text).split(",")))


def plan_looks(
    package: Package,
    olds: Mapping[str, OldLook],
    before: Mapping[str, our_tabs.TabDigest],
    rendered: Package,
    new_digests: Mapping[str, our_tabs.TabDigest],
) -> tuple[dict[str, Look], dict[str, list[str]]]:
    """Return what goes over to each tab of this fill, by its rendered name; notes on the rest.

    Parameters
    ----------
    package, rendered : Package
        The workbook, with its tabs as they are, and the tabs of this fill.
    olds : mapping of str to OldLook
        What is set on the tabs that the workbook has, by key.
    before, new_digests : mapping of str to TabDigest
        What the old tabs and the new ones show, by key.

    Returns
    -------
    tuple of dict
        The looks, and by key what to say where the old tab is not kept.
    """
    looks: dict[str, Look] = {}
    notes: dict[str, list[str]] = {}
    # a program that saves without a window loses the view of every sheet
    present = our_tabs.find_tabs(package)
    has_view = any(True for old in olds.values() for _ in descendants(old.frame, "pane"))
    for key, tab in our_tabs.find_tabs(rendered).items():
        if key not in olds:
            continue
        old, values = olds[key], (before[key].values, new_digests[key].values)
        row = heading_row(rendered, tab)
        # a tab without headings near its top has its columns where they were
        was = find_headings(*values, row)
        row = row if was else 0
        blanks = BlankFormats(package, present[key], before[key].grid, old)
        seal = seal_look(old, before[key].formats, blanks.counts)
        own = _set_by_hand(package, key, seal.split())
        frame = frame_of(rendered.read(tab.part), tab.part)
        placed = merged_areas(old.frame) - merged_areas(frame) or any(
            True for _ in descendants(old.frame, "hyperlink")
        )
        aspects = _aspects(package, key, before[key])
        needed = placed or aspects or own & {"breaks", "rows", "merges", "blanks"}
        same = same_rows(*values) if needed else {}
        rows = same | _rows_of_keys(*values, (was, row), _KEYS.get(key, ()), same) if same else {}
        look = Look(
            old=old if "rows" in own else replace(old, rows={}),
            move=move_of(*values, row, name=tab.name, kept_as=""),
            headings=(was, row),
            rows=rows,
            own_breaks="breaks" in own,
            own_merges="merges" in own,
            own_printed=frozenset(PRINTED) & own,
            has_view=has_view,
        )
        notes[key] = _say_lost(tab.name, lost_settings(frame, look))
        if len(moved_printed(look, tab.name)) < len(look.own_printed):
            notes[key].append(PRINTED_LEFT.format(tab=tab.name))
        if aspects:
            grids = before[key].grid, new_digests[key].grid
            compared = FormatComparison(package, grids[0], rendered, grids[1], aspects)
            formats, cells = carry_formats(compared, look.move, rows, same)
            look = replace(look, formats=formats)
            notes[key] += [say_formats_left(tab.name, cells)] if cells else []
        if "blanks" in own:
            sealed = read_counts(_sealed(package, key)[_PARTS.index("blanks")])
            new = new_digests[key].grid
            left = blanks.left_behind(sealed or blanks.counts, new, look.move, rows)
            notes[key] += say_blank_formats_left(tab.name, left)
        looks[tab.name] = look
    return looks, notes


def _sealed(package: Package, key: str) -> list[str]:
    """The parts of the look of a tab as the last fill left it."""
    return our_tabs.stored_text(package, our_tabs.look_name(key)).split()


def say_formats_unknown(package: Package, keys: Iterable[str]) -> list[str]:
    """Return the note for tabs of an earlier version, which did not record the formats of cells."""
    unknown = any(len(_sealed(package, key)) < _WITH_ASPECTS for key in keys)
    return [FORMATS_UNKNOWN] if unknown else []


def _set_by_hand(package: Package, key: str, now: Sequence[str]) -> frozenset[str]:
    """Which parts of the look of a tab somebody set since the last fill."""
    sealed = _sealed(package, key)
    # a workbook that was filled before these looks were sealed has those of the program
    parts = zip(_PARTS, sealed, now, strict=False)
    return frozenset(part for part, one, other in parts if one != other)


def _aspects(package: Package, key: str, tab: our_tabs.TabDigest) -> frozenset[str]:
    """Which aspects of the looks of cells somebody set since the last fill."""
    sealed = _sealed(package, key)
    formats = sealed[_PARTS.index("formats")] if len(sealed) >= _WITH_ASPECTS else ""
    is_marked = formats and tab.digest != tab.unmarked
    return aspects_set(formats, tab.formats) | ({"ground"} if is_marked else frozenset())


def _say_lost(tab: str, lost: Mapping[str, int]) -> list[str]:
    """The notes about settings that have no place on the new tab, none where all have one."""
    notes = []
    for words, why in ((_KINDS, _GONE), (_DRAWN, _CANNOT)):
        counts = {kind: count for kind, count in lost.items() if kind in words}
        kinds = list_words([plural(count, *words[kind]) for kind, count in counts.items()])
        its, it = ("its", "it") if sum(counts.values()) == 1 else ("their", "them")
        if counts:
            notes.append(f"{kinds} of “{tab}” could not be kept{why.format(its=its, it=it)}")
    return notes


def _rows_of_keys(
    old: Objects,
    new: Objects,
    headings: tuple[int, int],
    keys: Sequence[str],
    same: Mapping[int, int],
) -> dict[int, int]:
    """Return the new row of each old row that changed but has the same key as just one other."""
    places: list[dict[tuple[str, ...], list[int]]] = []
    for cells, heading, known in zip((old, new), headings, (same, same.values()), strict=True):
        at = [column for key in keys for column in _columns_of(cells, heading, key)]
        rows_of_key: dict[tuple[str, ...], list[int]] = defaultdict(list)
        known = set(known)
        for row, values in enumerate(cells[heading:, at].tolist() if at else [], heading + 1):
            key = tuple("" if value is None else str(value) for value in values)
            if any(key) and row not in known:
                rows_of_key[key].append(row)
        places.append(rows_of_key)
    before, after = places
    return {
        rows[0]: after[key][0]
        for key, rows in before.items()
        if len(rows) == 1 and len(after.get(key, ())) == 1
    }


def _columns_of(cells: Objects, heading: int, label: str) -> list[int]:
    """Positions of the columns with a heading, none where the tab has no headings."""
    return [at for at, cell in enumerate(cells[heading - 1]) if cell == label] if heading else []


def same_rows(old: Objects, new: Objects) -> dict[int, int]:
    """Return the new row of each old row that has the same content; equal rows in their order."""
    places: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for row, cells in enumerate(new.tolist(), 1):
        places[_content(cells)].append(row)
    new_rows, seen = {}, defaultdict[tuple[object, ...], int](int)
    for row, cells in enumerate(old.tolist(), 1):
        content = _content(cells)
        at = seen[content]
        if at < len(places[content]):
            new_rows[row] = places[content][at]
            seen[content] += 1
    return new_rows


def _content(cells: list[object]) -> tuple[object, ...]:
    """What a row shows, to its last filled cell; numbers as far as every program keeps them."""
    values = [np.float32(cell) if isinstance(cell, float) else cell for cell in cells]
    while values and values[-1] in (None, ""):
        values.pop()
    return tuple(values)


def seals_of_looks(
    rendered: Package,
    digests: Mapping[str, our_tabs.TabDigest],
    rows: Mapping[str, Sequence[LongRows]],
) -> dict[str, str]:
    """Return the constant defined names that say how the tabs of this fill are set up."""
    seals = {}
    for key, tab in our_tabs.find_tabs(rendered).items():
        longs = rows.get(tab.part, ())
        look = look_of(rendered, tab)
        blanks = BlankFormats(rendered, tab, digests[key].grid, look).counts
        seal = seal_look(look, digests[key].formats, blanks, longs)
        seals[our_tabs.look_name(key)] = f'"{seal}"'
    return seals
