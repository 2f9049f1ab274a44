"""Our result tabs in a user's workbook: found by name, sealed, and compared before replacing.

A seal is a digest of what a tab showed when we wrote it. A tab whose seal no longer fits holds
something that a user added; it is kept under a new name instead of being replaced.
"""

import hashlib
import io
import zipfile
from array import array
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.workbook import RESULT_TABS, tab_name
from xlhelpers.package.formulas.formula_map import FormulaMap
from xlhelpers.package.graft.graft_plan import BUILT_IN_NAME
from xlhelpers.package.parts.cell_looks import ASPECTS, cell_looks
from xlhelpers.package.parts.parts import SheetPart, defined_names, sheets
from xlhelpers.package.parts.relations import related_parts, relations_of
from xlhelpers.package.parts.styles import grounds
from xlhelpers.package.parts.xml_text import parse
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.sheet.long_rows import (
    LongRows,
    add_to_digest,
    formulas_of,
    looks_of,
    values_of,
)
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.decision_columns import cells_of_ours, cells_to_compare
from xlhelpers.pages.looks import GROUNDS

FINGERPRINT_NAME = "xlh_fill_fingerprint"
# drawings are counted; the others come and go with the program that saves the workbook
_OF_NO_MATTER = {"drawing", "vmlDrawing", "hyperlink", "printerSettings"}


def seal_name(key: str) -> str:
    """Return the defined name that holds the seal of the tab with this key."""
    return f"xlh_seal_{key}"


def look_name(key: str) -> str:
    """Return the defined name that holds how the tab with this key was set up."""
    return f"xlh_look_{key}"


def find_tabs(package: Package) -> dict[str, SheetPart]:
    """Return our result tabs that the workbook holds, by key, whatever they are called now."""
    by_name = {sheet.name: sheet for sheet in sheets(package)}
    tabs: dict[str, SheetPart] = {}
    for name in defined_names(package):
        for key in RESULT_TABS:
            if name.name == tab_name(key) and name.local_sheet is None:
                target = parse_target(name.text)
                if target is not None and target[0] in by_name:
                    tabs[key] = by_name[target[0]]
    return tabs


def stored_text(package: Package, name: str) -> str:
    """Return the text kept in a constant defined name, "" where there is none."""
    for known in defined_names(package):
        if known.name == name and known.local_sheet is None:
            return known.text.strip('"')
    return ""


@dataclass(frozen=True)
class TabDigest:
    """What a tab shows: its cells, and a digest of them, of what is drawn, and of marked cells.

    `unmarked` is the digest without marks: cells with a ground that none of ours has. `formats`
    is a digest of how the cells of ours look for each aspect of a look, "" where there are none:
    it says whether somebody set another look by hand.

    The spelling of the XML is left out, so that saving the workbook with another program does not
    change the digests.
    """

    grid: Grid
    digest: str
    unmarked: str
    formats: str = ""

    @property
    def values(self) -> NDArray[np.object_]:
        """The value of each cell."""
        return self.grid.values


def digest_tab(
    package: Package, sheet: SheetPart, key: str, rows: Sequence[LongRows] = ()
) -> TabDigest:
    """Return what the tab of a key shows, with its digest: the seal of a tab that we wrote.

    What the office types into its own columns leaves the digest as it is. `rows` are rows of the
    tab that are still to be written.
    """
    grid = read_grid(package, sheet)
    for long in rows:
        grid = _with(grid, long)
    seen = cells_to_compare(package, sheet, grid, key)
    at = np.nonzero(is_filled(seen) & (seen != ""))
    filled = seen[at]
    is_number = np.array([type(value) is float for value in filled.tolist()], dtype=bool)
    digest = hashlib.sha256()
    for of_kind in (is_number, ~is_number):
        for places in at:
            digest.update(places[of_kind].astype("<i4").tobytes())
    # Seven digits: programs may write the sixteenth of a number in another way.
    with np.errstate(over="ignore"):
        digest.update(filled[is_number].astype("<f4").tobytes())
    texts = [v.code if isinstance(v, CellError) else str(v) for v in filled[~is_number]]
    digest.update("\0".join(texts).encode())
    digest.update(repr(_count_additions(package, sheet)).encode())
    unmarked = digest.hexdigest()[:32]
    if marked := _count_marked_cells(package, grid):
        digest.update(repr(marked).encode())
    formats = _digest_formats(package, grid.styles[cells_of_ours(package, sheet, grid, key)])
    return TabDigest(grid, digest.hexdigest()[:32], unmarked, formats)


def digest_present_tab(package: Package, sheet: SheetPart, key: str) -> TabDigest:
    """Return what a tab that is in the workbook shows; kept, for several ask."""
    return package.remember(sheet.part, "shown", lambda _: digest_tab(package, sheet, key))


def _with(grid: Grid, long: LongRows) -> Grid:
    """Return the cells of a tab as they are once some rows are written."""
    height, width = np.maximum(grid.shape, long.corner).tolist()
    values = np.full((height, width), None, dtype=object)
    values[: grid.shape[0], : grid.shape[1]] = grid.values
    values[long.rows - 1, : len(long.columns)] = values_of(long)
    styles = np.full((height, width), -1, dtype=np.int32)
    styles[: grid.shape[0], : grid.shape[1]] = grid.styles
    styles[long.rows - 1, : len(long.columns)] = looks_of(long)
    formulas = dict(grid.formulas) | {(row, at): text for row, at, text in formulas_of(long)}
    return replace(grid, values=values, styles=styles, formulas=FormulaMap.of(formulas))


def changes(old: TabDigest | None, new: TabDigest) -> CellSet:
    """Return the cells, 1-based, whose values differ between two states of a tab."""
    before = new.values[:0, :0] if old is None else old.values
    shape = tuple(np.maximum(before.shape, new.values.shape).tolist())
    states = []
    for values in (before, new.values):
        state = np.full(shape, None, dtype=object)
        state[: values.shape[0], : values.shape[1]] = values
        states.append(state)
    differs = states[0] != states[1]
    rows_by_column = {}
    for column in np.flatnonzero(differs.any(axis=0)).tolist():
        rows = np.flatnonzero(differs[:, column]) + 1
        rows_by_column[column + 1] = array("i", rows.astype("i").tobytes())
    return CellSet(rows_by_column)


def _count_additions(package: Package, sheet: SheetPart) -> tuple[int, tuple[str, ...]]:
    """Return the number of drawings, and what else hangs on a tab: notes, pivot tables, ..."""
    anchors = 0
    for part in related_parts(package, sheet.part, "drawing"):
        root = parse(package.read(part), part)
        anchors += sum(str(child.tag).endswith("Anchor") for child in root)
    kinds = {relation.kind for relation in relations_of(package, sheet.part)}
    if tags := package.read(sheet.part).count(b"sparkline>"):
        kinds.add(f"{tags // 2} small charts in cells")
    return anchors, tuple(sorted(kinds - _OF_NO_MATTER))


def _count_marked_cells(package: Package, grid: Grid) -> dict[str, int]:
    """Return how many cells have each ground that none of ours has: somebody marked them."""
    colours, marks = grounds(package), mark_formats(package)
    used = np.bincount(grid.styles[grid.styles >= 0].ravel(), minlength=len(colours))
    counts: Counter[str] = Counter()
    for look in marks:
        if used[look]:
            counts[colours[look]] += int(used[look])
    return dict(sorted(counts.items()))


def mark_formats(package: Package) -> list[int]:
    """Return the numbers of the cell formats with a ground that none of ours has."""
    return [at for at, ground in enumerate(grounds(package)) if ground and ground not in GROUNDS]


def _digest_formats(package: Package, styles: NDArray[np.int32]) -> str:
    """Return a digest for each aspect of a look: what it is, and on how many cells."""
    looks = cell_looks(package)
    used = np.bincount(styles[styles >= 0], minlength=1).tolist()
    counters: list[Counter[str]] = [Counter() for _ in ASPECTS]
    for number, count in enumerate(used):
        # the plain format is that of the workbook, not of ours
        if count and 0 < number < len(looks):
            for counted, word in zip(counters, looks[number], strict=True):
                counted[word] += count
    digests = [hashlib.sha256(repr(sorted(counted.items())).encode()) for counted in counters]
    return "-".join(digest.hexdigest()[:6] for digest in digests) if any(used) else ""


def fingerprint(
    scratch: bytes, volatile: Mapping[str, str], rows: Mapping[str, Sequence[LongRows]]
) -> str:
    """Return a digest of rendered tabs with the texts that change every time left out.

    `rows` holds by part the rows that are still to be written.
    """
    digest = hashlib.sha256()
    with zipfile.ZipFile(io.BytesIO(scratch)) as archive:
        for name in sorted(archive.namelist()):
            if name.startswith("docProps/"):
                continue
            content = archive.read(name)
            for text in volatile.values():
                if text:
                    content = content.replace(text.encode(), b"")
            digest.update(name.encode())
            digest.update(content)
    for part, longs in sorted(rows.items()):
        digest.update(part.encode())
        for long in longs:
            add_to_digest(digest, long)
    return digest.hexdigest()[:32]


def seals(digests: Mapping[str, str], fingerprint: str) -> dict[str, str]:
    """Return the constant defined names that go into the workbook with rendered tabs.

    Parameters
    ----------
    digests : mapping of str to str
        Digest of what each rendered tab shows, by key.
    fingerprint : str
        What `fingerprint` gave for them.
    """
    texts = {FINGERPRINT_NAME: f'"{fingerprint}"'}
    for key, digest in digests.items():
        texts[seal_name(key)] = f'"{digest}"'
    return texts


def names_of(rendered: Package) -> dict[str, str]:
    """Return the defined names of the rendered tabs: ours, wherever they point now."""
    return {
        name.name: name.text
        for name in defined_names(rendered)
        if name.local_sheet is None and not name.name.startswith(BUILT_IN_NAME)
    }
