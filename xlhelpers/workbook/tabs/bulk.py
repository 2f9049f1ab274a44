"""Writes the rows of long blocks straight into the finished parts, many times faster.

The block's first rows hold one empty cell of each look; from these the numbers of the formats are
read, then they give way to the rows themselves. Texts become inline strings.
"""

import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import Units
from xlhelpers.package.references import column_letters
from xlhelpers.workbook.sheet_plan import Block, Column, Link
from xlhelpers.workbook.tabs.columns import SEVERITIES, Pen
from xlhelpers.workbook.tabs.values import clean_text, identifier_value

# blocks shorter than this are left to XlsxWriter
BULK_FROM = 200

_ROW = re.compile(r'<row r="(\d+)"[^>]*?(?:/>|>.*?</row>)', re.DOTALL)
_DATA = re.compile(r"<sheetData>(.*)</sheetData>", re.DOTALL)
_STYLE = re.compile(r'<c r="([A-Z]+)(\d+)" s="(\d+)"')
_DIMENSION = re.compile(r'<dimension ref="[^"]*"/>')
_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")


@dataclass(frozen=True)
class Bulk:
    """Rows still to be written: the block, the sheet row of each of its rows, their heights."""

    sheet: int
    block: Block
    places: Sequence[int]
    heights: np.ndarray
    doubtful: np.ndarray
    units: Units


def show_looks(pen: Pen, block: Block, places: Sequence[int]) -> None:
    """Write an empty cell of each look that the columns have into the block's first rows."""
    for at, column in enumerate(block.columns):
        looks = [pen.shelf.cell(column), pen.shelf.cell(column, doubtful=True)]
        if column.look == "severity":
            looks = [looks[0], *(pen.shelf.role(severity) for severity in SEVERITIES)]
        for place, look in zip(places, looks, strict=False):
            pen.sheet.write_blank(place, at, None, look)


def insert_rows(book: bytes, bulks: Sequence[Bulk]) -> bytes:
    """Return the workbook with the rows of the bulks in their sheets.

    Parameters
    ----------
    book : bytes
        As XlsxWriter made it.
    bulks : sequence of Bulk
        What is missing.
    """
    if not bulks:
        return book
    parts = {f"xl/worksheets/sheet{bulk.sheet + 1}.xml" for bulk in bulks}
    result = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(book)) as old,
        # quick rather than small: the parts are packed again with the user's workbook
        zipfile.ZipFile(result, "w") as new,
    ):
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename in parts:
                own = [b for b in bulks if entry.filename.endswith(f"sheet{b.sheet + 1}.xml")]
                content = _with_rows(content.decode(), own).encode()
            new.writestr(entry, content, zipfile.ZIP_DEFLATED, compresslevel=1)
    return result.getvalue()


def _with_rows(sheet: str, bulks: Sequence[Bulk]) -> str:
    data = _DATA.search(sheet)
    assert data is not None  # the looks were written
    rows = {int(match[1]): match[0] for match in _ROW.finditer(data[1])}
    for bulk in bulks:
        first = "".join(rows.get(place + 1, "") for place in bulk.places[: len(SEVERITIES) + 1])
        styles = {(letters, int(row)): style for letters, row, style in _STYLE.findall(first)}
        rows.update(_rows(bulk, styles))
    ordered = "".join(rows[number] for number in sorted(rows))
    sheet = sheet[: data.start(1)] + ordered + sheet[data.end(1) :]
    width = max(len(bulk.block.columns) for bulk in bulks)
    corner = f"{column_letters(width)}{max(rows)}"
    return _DIMENSION.sub(f'<dimension ref="A1:{corner}"/>', sheet, count=1)


def _rows(bulk: Bulk, styles: dict[tuple[str, int], str]) -> Iterator[tuple[int, str]]:
    numbers = [place + 1 for place in bulk.places]
    columns = []
    for at, column in enumerate(bulk.block.columns, 1):
        letters = column_letters(at)
        looks = [styles.get((letters, row), "0") for row in numbers[: len(SEVERITIES) + 1]]
        values = bulk.block.rows[column.key]
        insides = _insides(column, values, looks, bulk)
        cells = zip(numbers, insides, strict=True)
        columns.append([f'<c r="{letters}{number}"{inside}' for number, inside in cells])
    for number, height, *row in zip(numbers, bulk.heights.tolist(), *columns, strict=True):
        high = f' ht="{height:g}" customHeight="1"' if height > 0 else ""
        yield number, f'<row r="{number}"{high}>{"".join(row)}</row>'


def _insides(column: Column, values: pd.Series, looks: Sequence[str], bulk: Bulk) -> list[str]:
    """Return for each value what follows the name of its cell."""
    if column.look == "number":
        numbers = values.to_numpy(float) / column.factor(bulk.units)
        blank = [f' s="{look}"/>' for look in looks[:2]]
        full = [f' s="{look}"><v>%.16g</v></c>' for look in looks[:2]]
        known = np.isfinite(numbers).tolist()
        triples = zip(numbers.tolist(), known, bulk.doubtful.tolist(), strict=True)
        return [full[d] % v if k else blank[d] for v, k, d in triples]
    codes, unique = pd.factorize(values)
    texts = [_word(value, column, looks) for value in unique] + [f' s="{looks[0]}"/>']
    return [texts[code] for code in codes.tolist()]


def _word(value: Any, column: Column, looks: Sequence[str]) -> str:
    look = looks[0]
    if isinstance(value, Link):
        formula = _escaped(value.formula.removeprefix("="))
        return f' s="{look}" t="str"><f>{formula}</f><v>{_escaped(clean_text(value.text))}</v></c>'
    if column.look == "severity" and value in SEVERITIES:
        look = looks[1 + SEVERITIES.index(value)]
    kept = identifier_value(value) if column.look == "identifier" else value
    kept = kept if isinstance(kept, float) else clean_text(kept)
    if isinstance(kept, float):
        return f' s="{look}"><v>{kept:.16g}</v></c>'
    if not kept:
        return f' s="{look}"/>'
    text = _ESCAPE.sub("_x005F_", _escaped(kept))
    return f' s="{look}" t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
