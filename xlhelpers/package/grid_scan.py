"""The quick way to read a worksheet that is written the way most programs write it.

The rows are searched as bytes. The sheet must consist of known pieces from end to end; where
anything else stands in it, nothing is read here and the XML parser reads the sheet instead.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from lxml import etree

from xlhelpers.package.cell_collector import CellCollector, Value
from xlhelpers.package.cell_text import text_of
from xlhelpers.package.references import column_number
from xlhelpers.package.xml_text import MAIN, descendants, is_true, parser

_CELL = re.compile(
    rb'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"(?: s="([0-9]{1,6})")?(?: t="([a-zA-Z]+)")?(?:/>|>'
    rb"(<f(?: [^<>]*)?(?:/>|>[^<]*</f>))?(?:<v>([^<]*)</v>|<v/>)?(<is>(?:(?!</?is>).)*</is>)?</c>)",
    re.DOTALL,
)
_ROWS = re.compile(rb"(?:<row [^<>]*(?:/>|>\s*</row>)|\s+)*")
_ROW = re.compile(rb"<row ([^<>]*)>")
_ROW_NUMBER = re.compile(rb'(?:^| )r="([1-9][0-9]{0,6})"')
_HIDDEN = re.compile(rb' hidden="([a-z0-9]+)"')
_NOT_FINITE = re.compile(rb"<v>\s*[-+]?(?:nan|inf|infinity)\s*</v>", re.IGNORECASE)
ROW_END = b"</row>"
PIECE = 500_000
_UNUSUAL = (b"<!", b"<sheetData/>")
_ENCODING = re.compile(rb"<\?xml[^>]*?encoding=[\"']([^\"']+)")


def _middle(data: bytes) -> tuple[bytes, bytes] | None:
    """The sheet around its rows, and the rows; None where the sheet is written unusually."""
    declared = _ENCODING.match(data[:200].removeprefix(b"\xef\xbb\xbf"))
    usual = declared is None or declared[1].upper() == b"UTF-8"
    if not usual or any(mark in data for mark in _UNUSUAL) or data.count(b"<?") > 1:
        return None
    before, opening, rest = data.partition(b"<sheetData>")
    rows, closing, after = rest.partition(b"</sheetData>")
    if not opening or not closing or b"<sheetData" in after:
        return None
    return before + b"<sheetData/>" + after, rows


def scan(data: bytes, collector: CellCollector) -> bool:
    """Read a whole worksheet into the collector; False where it needs the XML parser.

    What it holds then is of no use.
    """
    found = _middle(data)
    if found is None:
        return False
    frame, rows = found
    root = etree.fromstring(frame, parser())
    if root.tag != f"{{{MAIN}}}worksheet":
        return False
    try:
        if not all(_take_rows(piece, collector) for piece in _pieces(rows)):
            return False
    except (ValueError, IndexError, OverflowError, etree.XMLSyntaxError):
        # Some value is not what its type says; the parser tells what there is to be told.
        return False
    collector.merges += [item.get("ref") for item in descendants(root, "mergeCell")]
    collector.filtered = next(descendants(root, "filterColumn"), None) is not None or any(
        is_true(item.get("filterMode")) for item in descendants(root, "sheetPr")
    )
    return True


def _pieces(rows: bytes) -> Iterator[bytes]:
    """The rows in pieces of whole rows, so that their cells need little memory at a time."""
    start = 0
    while start < len(rows):
        end = rows.find(ROW_END, start + PIECE)
        end = len(rows) if end < 0 else end + len(ROW_END)
        yield rows[start:end]
        start = end


def _take_rows(rows: bytes, collector: CellCollector) -> bool:
    """Read some rows; False where anything unusual stands among them."""
    hidden = _row_marks(_CELL.sub(b"", rows))
    if hidden is None or _NOT_FINITE.search(rows):
        return False
    collector.hidden |= hidden
    _take_cells(_CELL.findall(rows), collector)
    return True


def _row_marks(rest: bytes) -> set[int] | None:
    """Numbers of the hidden rows, from the rows without their cells; None if unusual."""
    if _ROWS.fullmatch(rest) is None:
        return None
    hidden = set()
    for attributes in _ROW.findall(rest):
        number = _ROW_NUMBER.search(attributes)
        if number is None:
            return None
        mark = _HIDDEN.search(attributes)
        if mark is not None and is_true(mark[1].decode()):
            hidden.add(int(number[1]))
    return hidden


def _take_cells(cells: list[tuple[bytes, ...]], collector: CellCollector) -> None:
    if not cells:
        return
    letters, rows, styles, kinds, formulas, texts, inline = zip(*cells, strict=True)
    columns = {item: column_number(item.decode()) for item in set(letters)}
    start = len(collector.rows)
    collector.columns += [columns[item] for item in letters]
    collector.rows += [int(item) for item in rows]
    numbers = {item: int(item or b"0") for item in set(styles)}
    collector.styles += [numbers[item] for item in styles]
    collector.values += [
        (float(text) if text else None) if kind in (b"", b"n")
        else _value(collector, start + index, kind, text, inline[index])
        for index, (kind, text) in enumerate(zip(kinds, texts, strict=True))
    ]  # fmt: skip
    for index, formula in enumerate(formulas):
        if formula:
            place = (collector.rows[start + index], collector.columns[start + index])
            collector.formulas[place] = _plain(formula.partition(b">")[2].partition(b"<")[0])
            if not texts[index] and kinds[index] != b"str":
                collector.uncalculated.add(place)


def _value(collector: CellCollector, index: int, kind: bytes, text: bytes, inline: bytes) -> Value:
    """Value of a cell that is not a plain number."""
    if kind == b"inlineStr" and inline:
        return text_of(etree.fromstring(inline, parser()))
    if not text and kind != b"str":
        return None
    place = (collector.rows[index], collector.columns[index])
    return collector.value_of(kind.decode() or "n", _plain(text), place)


def _plain(text: bytes) -> str:
    """Text with its entities resolved."""
    if b"&" in text:
        return etree.fromstring(b"<v>" + text + b"</v>", parser()).text or ""
    return text.decode()
