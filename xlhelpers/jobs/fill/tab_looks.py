"""What the office set on our tabs, and where it goes on the tabs of this fill."""

import hashlib
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from xlhelpers.jobs.fill.tab_moves import find_headings, heading_row, move_of
from xlhelpers.package.graft.looks import Look, OldLook, breaks_of, look_of
from xlhelpers.package.parts.xml_text import descendants
from xlhelpers.package.sheet.long_rows import LongRows
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs

Objects = NDArray[np.object_]


FORMATS_SET = (
    "Cells of “{tab}” had formats set by hand (bold, decimal places and the like). The new tab has "
    "the program's own. The backup has yours"
)
_UNKNOWN = "-"


def seal_look(look: OldLook, formats: str, longs: Sequence[LongRows] = ()) -> str:
    """Return digests of how a tab is set up: page breaks, rows, print area, formats of cells.

    Rows are their heights, and which are hidden; `formats` is that of the tab's `TabDigest`.
    """
    rows = dict(look.rows)
    for long in longs:
        heights = zip(long.rows.tolist(), long.heights.tolist(), strict=True)
        rows |= {row: (height, False) for row, height in heights if height}
    set_ = sorted((row, round(height, 1), hidden) for row, (height, hidden) in rows.items())
    # programs write the name of a sheet with or without quotes
    area = look.print_area.rpartition("!")[2]
    parts = (breaks_of(look.frame), set_, area)
    digests = [hashlib.sha256(repr(part).encode()).hexdigest()[:12] for part in parts]
    return " ".join([*digests, formats or _UNKNOWN])


def plan_looks(
    package: Package,
    olds: Mapping[str, OldLook],
    before: Mapping[str, our_tabs.TabDigest],
    rendered: Package,
    shown: Mapping[str, our_tabs.TabDigest],
    kept: Collection[str],
) -> tuple[dict[str, Look], list[str]]:
    """Return what goes over to each tab of this fill, by its rendered name; and notes on the rest.

    Parameters
    ----------
    package, rendered : Package
        The workbook, with its tabs as they are, and the tabs of this fill.
    olds : mapping of str to OldLook
        What is set on the tabs that the workbook has, by key.
    before, shown : mapping of str to TabDigest
        What the old tabs and the new ones show, by key.
    kept : collection of str
        Keys of the old tabs that are kept beside the new ones.
    """
    looks, notes = {}, []
    # a program that saves without a window loses the view of every sheet
    has_view = any(True for old in olds.values() for _ in descendants(old.frame, "pane"))
    for key, tab in our_tabs.find_tabs(rendered).items():
        if key not in olds:
            continue
        old, values = olds[key], (before[key].values, shown[key].values)
        row = heading_row(rendered, tab)
        # a tab without headings near its top has its columns where they were
        was = find_headings(*values, row)
        row = row if was else 0
        sealed = our_tabs.stored_text(package, our_tabs.look_name(key))
        # a workbook that was filled before looks were sealed has those of the program
        now = seal_look(old, before[key].formats)
        pairs = list(zip((sealed or now).split(), now.split(), strict=True))
        breaks, heights, area, formats = (one != other for one, other in pairs)
        if formats and _UNKNOWN not in pairs[-1] and key not in kept:
            notes.append(FORMATS_SET.format(tab=tab.name))
        linked = any(True for _ in descendants(old.frame, "hyperlink"))
        looks[tab.name] = Look(
            old=old if heights else replace(old, rows={}),
            move=move_of(*values, row, name=tab.name, kept_as=""),
            headings=(was, row),
            rows=same_rows(*values) if breaks or heights or linked else {},
            own_breaks=breaks,
            own_area=area,
            has_view=has_view,
        )
    return looks, notes


def same_rows(old: Objects, new: Objects) -> dict[int, int]:
    """Return the new row of each old row that has the same content; equal rows in their order."""
    places: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for row, cells in enumerate(new.tolist(), 1):
        places[_content(cells)].append(row)
    found, seen = {}, defaultdict[tuple[object, ...], int](int)
    for row, cells in enumerate(old.tolist(), 1):
        content = _content(cells)
        at = seen[content]
        if at < len(places[content]):
            found[row] = places[content][at]
            seen[content] += 1
    return found


def _content(cells: list[object]) -> tuple[object, ...]:
    """What a row shows, to its last filled cell; numbers as far as every program keeps them."""
    kept = [np.float32(cell) if isinstance(cell, float) else cell for cell in cells]
    while kept and kept[-1] in (None, ""):
        kept.pop()
    return tuple(kept)


def seals_of_looks(
    rendered: Package,
    shown: Mapping[str, our_tabs.TabDigest],
    rows: Mapping[str, Sequence[LongRows]],
) -> dict[str, str]:
    """Return the constant defined names that say how the tabs of this fill are set up."""
    found = {}
    for key, tab in our_tabs.find_tabs(rendered).items():
        longs = rows.get(tab.part, ())
        seal = seal_look(look_of(rendered, tab), shown[key].formats, longs)
        found[our_tabs.look_name(key)] = f'"{seal}"'
    return found
