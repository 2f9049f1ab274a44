"""Text in cells: escapes read and written, what no cell can hold taken out."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.parts.relations import related_parts
from xlhelpers.package.parts.xml_text import Element, descendants, local, parse
from xlhelpers.package.zip.container import Package

MAX_LENGTH = 32_767
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def is_filled(values: NDArray[Any]) -> NDArray[np.bool_]:
    """Return which of these cells hold anything; a blank cell is None."""
    return np.asarray(values != None, dtype=bool)  # noqa: E711 (each cell by itself)


def unescape(text: str) -> str:
    """Text as a spreadsheet shows it: _x000D_ and its like become the character they name."""
    if "_x" not in text:
        return text
    return _ESCAPE.sub(lambda match: chr(int(match[1], 16)), text)


def escape(text: str) -> str:
    """Text as it must stand in the file, so that what looks like an escape stays as typed."""
    return _ESCAPE.sub(lambda match: "_x005F" + match[0], text)


def clean_text(text: str) -> str:
    """Text that a cell can hold: no control characters, at most 32,767 characters.

    Lengths count as the spreadsheet counts them, in UTF-16 units. Line ends become line feeds.
    """
    text = _NOT_IN_XML.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
    if len(text) * 2 <= MAX_LENGTH:
        return text
    return text.encode("utf-16-le")[: MAX_LENGTH * 2].decode("utf-16-le", "ignore")


def text_of(element: Element) -> str:
    """Text of a shared or inline string: its runs joined, phonetic hints left out."""
    pieces = []
    for item in element:
        kind = local(item)
        if kind == "t":
            pieces.append(item.text or "")
        elif kind == "r":
            pieces += [run.text or "" for run in descendants(item, "t")]
    return unescape("".join(pieces))


def shared_strings(package: Package) -> list[str]:
    """Texts of the workbook's shared strings, in order; empty where it has none."""
    parts = related_parts(package, package.workbook_part, "sharedStrings")
    if not parts:
        return []
    return package.remember(parts[0], "strings", lambda data: _strings_of(parse(data, parts[0])))


def _strings_of(root: Element) -> list[str]:
    return [_whole_text(element) for element in root if local(element) == "si"]


def _whole_text(item: Element) -> str:
    """Text of a shared string; most are of one piece."""
    if len(item) == 1 and local(item[0]) == "t":
        return unescape(item[0].text or "")
    return text_of(item)
