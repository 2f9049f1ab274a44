"""Where the columns of our tabs are after a fill, so that formulas of the user's can follow.

A column of the old tab is a column of the new one where both have the same heading.
"""

from collections import Counter
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.formulas.follow import Followed, Move
from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.parts.xml_text import child
from xlhelpers.package.sheet.references import parse_areas
from xlhelpers.package.sheet.sheet_bytes import frame_of
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.locate import heading_key
from xlhelpers.survey.typed.folding import fold
from xlhelpers.wording import list_words, plural

Objects = NDArray[np.object_]
_SEARCHED_ROWS = 60
_NAMED = 3


def heading_row(package: Package, tab: SheetPart) -> int:
    """Return the row of the headings that a tab of ours filters by, 0 where it has no filter."""
    filtered = child(frame_of(package.read(tab.part), tab.part), "autoFilter")
    areas = parse_areas([None if filtered is None else filtered.get("ref")])
    return areas[0][0] if areas else 0


def move_of(old: Objects, new: Objects, row: int, *, name: str, kept_as: str) -> Move:
    """Return where the columns of a tab are now.

    Parameters
    ----------
    old, new : arrays of object
        The cells of both tabs.
    row : int
        The row of the new tab's headings, 0 where it has none.
    name, kept_as : str
        As the new tab and the old one are called; `kept_as` is "" where the old one is gone.
    """
    if row == 0:
        everywhere = {} if kept_as else {at: at for at in range(1, old.shape[1] + 1)}
        return Move(name, everywhere, kept_as=kept_as)
    before = find_headings(old, new, row)
    if before == 0:
        return Move(name, {}, kept_as=kept_as)
    wanted, had = _headings(new[row - 1]), _headings(old[before - 1])
    columns = {at: wanted[key] for key, at in had.items() if key in wanted}
    return Move(name, columns, before, row - before, kept_as)


def find_headings(old: Objects, new: Objects, row: int) -> int:
    """Return the row of the old tab that is most like the headings of the new one, 0 for none."""
    if row == 0:
        return 0
    wanted = set(_headings(new[row - 1]))
    alike = [len(wanted & set(_headings(cells))) for cells in old[:_SEARCHED_ROWS]]
    return int(np.argmax(alike)) + 1 if any(alike) else 0


def _headings(cells: Objects) -> dict[tuple[str, int], int]:
    """Return the column of each heading; of equal ones, with how many came before."""
    columns: dict[tuple[str, int], int] = {}
    seen: Counter[str] = Counter()
    for at, value in enumerate(cells.tolist(), 1):
        key = heading_key(value)
        if key:
            columns[key, seen[key]] = at
            seen[key] += 1
    return columns


def moves_that_matter(moves: Mapping[str, Move]) -> dict[str, Move]:
    """Return the moves, by folded name of the old tab, that can change what points into it."""
    return {
        fold(tab): move
        for tab, move in moves.items()
        if move.kept_as
        or move.down
        or any(old != new for old, new in move.columns.items())
        or move.name != tab
    }


def say_followed(done: Followed) -> list[str]:
    """Return the notes about what followed and what could not."""
    notes = []
    if done.followed:
        one = done.followed == 1
        notes.append(
            f"{plural(done.followed, 'reference')} to the result tabs {'was' if one else 'were'} "
            f"changed, because {'its column' if one else 'their columns'} moved"
        )
    for kept_as, what in done.left.items():
        one = len(what) == 1
        named = list_words(what) if len(what) <= _NAMED else f"{', '.join(what[:_NAMED])} …"
        start = f"{plural(len(what), 'reference')} ({named})"
        if kept_as:
            notes.append(
                f"{start} still {'uses' if one else 'use'} “{kept_as}”. The new tab does not have "
                f"{'its' if one else 'their'} columns in the same order"
            )
        else:
            notes.append(
                f"{start} now {'shows' if one else 'show'} an error, because the result tabs no "
                f"longer have {'its' if one else 'their'} column"
            )
    return notes
