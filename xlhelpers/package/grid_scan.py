"""The quick way to read a worksheet that is written the way most programs write it.

The rows are searched as bytes. The sheet must consist of known pieces from end to end; where
anything else stands in it, nothing is read here and the XML parser reads the sheet instead.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from xlhelpers.package import tag_scan
from xlhelpers.package.cell_collector import CellCollector
from xlhelpers.package.cell_text import unescape
from xlhelpers.package.sheet_bytes import middle, plain, whole_rows
from xlhelpers.package.tag_scan import Cells, Tags
from xlhelpers.package.xml_text import MAIN, descendants, is_true, parser

Indices = NDArray[np.int64]
_ROW_NUMBER = re.compile(rb'(?:^| )r="([1-9][0-9]{0,6})"')
_HIDDEN = re.compile(rb' hidden="([a-z0-9]+)"')
NOWHERE = (0, 0)
_NEVER_IN_XML = bytes(code for code in range(32) if code not in (9, 10))


def scan(data: bytes, collector: CellCollector) -> bool:
    """Read a whole worksheet into the collector; False where it needs the XML parser.

    What it holds then is of no use. A sheet that was read here is well-formed.
    """
    found = middle(data)
    if found is None:
        return False
    start, end = found
    try:
        root = etree.fromstring(data[:start] + data[end:], parser())
        if root.tag != f"{{{MAIN}}}worksheet":
            return False
        if not all(_take_rows(piece, collector) for piece in whole_rows(data, start, end)):
            return False
    except (ValueError, IndexError, OverflowError, etree.XMLSyntaxError):
        # Some value is not what its type says; the parser tells what there is to be told.
        return False
    collector.merges += [item.get("ref") for item in descendants(root, "mergeCell")]
    collector.protected = any(
        is_true(item.get("sheet")) for item in descendants(root, "sheetProtection")
    )
    collector.filtered = next(descendants(root, "filterColumn"), None) is not None or any(
        is_true(item.get("filterMode")) for item in descendants(root, "sheetPr")
    )
    return True


def _take_rows(rows: bytes, collector: CellCollector) -> bool:
    """Read some rows; False where anything unusual stands among them."""
    rows = rows.strip()
    if not rows:
        return True
    if len(rows.translate(None, _NEVER_IN_XML)) != len(rows):
        return False
    rows.decode()
    tags = tag_scan.find_tags(rows)
    cells = None if tags is None else tag_scan.read_names(rows, tags)
    hidden = None if tags is None else _hidden_rows(rows, tags)
    if tags is None or cells is None or hidden is None:
        return False
    collector.hidden |= hidden
    return _take_cells(_Rows(rows, tags), cells, collector)


def _hidden_rows(rows: bytes, tags: Tags) -> set[int] | None:
    """Numbers of the hidden rows; None where a row has no number."""
    at = (tags.kinds == tag_scan.ROW) | (tags.kinds == tag_scan.ROW_EMPTY)
    hidden = set()
    for start, end in zip(tags.begins[at].tolist(), tags.ends[at].tolist(), strict=True):
        attributes = rows[start + len(b"<row ") : end]
        number = _ROW_NUMBER.search(attributes)
        if number is None:
            return None
        mark = _HIDDEN.search(attributes) if b"hidden" in attributes else None
        if mark is not None and is_true(mark[1].decode()):
            hidden.add(int(number[1]))
    return hidden


class _Rows:
    """Some rows while their cells are taken: the texts of each kind of tag, and their cells."""

    def __init__(self, rows: bytes, tags: Tags) -> None:
        opened = (tags.kinds == tag_scan.CELL) | (tags.kinds == tag_scan.CELL_EMPTY)
        self._rows, self._tags = rows, tags
        self._cell_of_tag = np.cumsum(opened) - 1

    def owners(self, kind: int) -> Indices:
        """For each tag of a kind the cell, counted from 0, in which it stands."""
        found: Indices = self._cell_of_tag[self._tags.kinds == kind]
        return found

    def texts(self, kind: int) -> list[bytes]:
        """For each tag of a kind what follows it up to the next tag."""
        rows = self._rows
        return [rows[start:end] for start, end in self._tags.spans(kind)]


def _take_cells(rows: _Rows, cells: Cells, collector: CellCollector) -> bool:
    values = np.full(len(cells.rows), None, dtype=object)
    owners, texts = rows.owners(tag_scan.VALUE), rows.texts(tag_scan.VALUE)
    inline, blank = rows.owners(tag_scan.TEXT), rows.owners(tag_scan.TEXT_EMPTY)
    written = np.concatenate([inline, blank])
    kinds = cells.kinds[owners]
    if (
        (kinds == tag_scan.INLINE_TEXT).any()
        or (cells.kinds[rows.owners(tag_scan.VALUE_EMPTY)] == tag_scan.PLAIN_TEXT).any()
        or (cells.kinds[written] != tag_scan.INLINE_TEXT).any()
    ):
        return False
    for kind in np.unique(kinds).tolist():
        here = np.flatnonzero(kinds == kind)
        found = _values([texts[k] for k in here.tolist()], kind, collector)
        if found is None:
            return False
        values[owners[here]] = found
    written_texts = rows.texts(tag_scan.TEXT)
    # Many texts stand in many cells: each is understood once and kept once.
    understood = {text: unescape(plain(text)) for text in set(written_texts)}
    values[inline] = _objects([understood[text] for text in written_texts])
    values[blank] = ""
    _take_formulas(rows, cells, values, collector)
    collector.add(cells.rows, cells.columns, cells.styles, values)
    return True


def _objects(items: Sequence[object]) -> NDArray[np.object_]:
    found = np.empty(len(items), dtype=object)
    found[:] = items
    return found


def _values(texts: list[bytes], kind: int, collector: CellCollector) -> NDArray[np.object_] | None:
    """Values of cells of one type; None where the XML parser has to tell what they are."""
    if kind == tag_scan.NUMBER:
        numbers = [float(text) if text else None for text in texts]
        finite = np.isfinite(np.array([n for n in numbers if n is not None]))
        return _objects(numbers) if finite.all() else None
    if kind == tag_scan.SHARED:
        strings = collector.strings
        return _objects([strings[int(text)] if text else None for text in texts])
    name = tag_scan.KINDS[kind].decode().rstrip('"')
    empty = "" if kind == tag_scan.PLAIN_TEXT else None
    return _objects(
        [collector.value_of(name, plain(text), NOWHERE) if text else empty for text in texts]
    )


def _take_formulas(
    rows: _Rows, cells: Cells, values: NDArray[np.object_], collector: CellCollector
) -> None:
    empty = rows.owners(tag_scan.FORMULA_EMPTY)
    formulas = [*rows.texts(tag_scan.FORMULA), *[b""] * len(empty)]
    at = np.concatenate([rows.owners(tag_scan.FORMULA), empty])
    collector.formulas.add(cells.rows[at], cells.columns[at], formulas)
    missing = np.ones(len(values), dtype=bool)
    missing[rows.owners(tag_scan.VALUE)] = False
    missing |= values == None  # noqa: E711 (compared one by one)
    gone = at[missing[at]]
    collector.add_uncalculated(cells.rows[gone], cells.columns[gone])
