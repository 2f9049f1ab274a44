"""XML of a workbook's parts: parsed without entities or network, written back unchanged.

Elements are found by their local name, so that prefixed and strict namespaces read alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from lxml import etree

from xlhelpers.errors import DamagedError, WorkbookError

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRICT_MAIN = "http://purl.oclc.org/ooxml/spreadsheetml/main"
RELATIONSHIP = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
STRICT_RELATIONSHIP = "http://purl.oclc.org/ooxml/officeDocument/relationships"
XML_SPACE = "{http://www.w3.org/XML/1998/namespace}space"
_PROLOG = re.compile(rb"(?:\s+|<\?.*?\?>|<!--.*?-->)*", re.DOTALL)
Element = etree._Element


def _plain_start(data: bytes) -> bytes:
    """The text as UTF-8 without a byte order mark."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or data[:4] in (b"<\x00?\x00", b"\x00<\x00?"):
        encoding = "utf-16" if data[:1] in (b"\xff", b"\xfe") else "utf-16-be"
        if data[:2] == b"<\x00":
            encoding = "utf-16-le"
        data = data.decode(encoding, "replace").encode("utf-8", "replace")
    return data.removeprefix(b"\xef\xbb\xbf")


def declares_document_type(data: bytes) -> bool:
    """Whether a document type stands before the root element: only there can entities be made."""
    data = _plain_start(data)
    match = _PROLOG.match(data)
    after = match.end() if match else 0
    return data[after : after + 2] == b"<!"


def prolog_is_all(head: bytes) -> bool:
    """Whether the root element is not yet to be seen in the beginning of a part."""
    data = _plain_start(head)
    match = _PROLOG.match(data)
    after = match.end() if match else 0
    return data[after : after + 4] in (b"", b"<", b"<!", b"<!-", b"<!--") or (
        data[after : after + 2] == b"<?"
    )


def parser() -> etree.XMLParser:
    """A parser that resolves no entity, loads no document type and keeps the usual limits."""
    return etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        strip_cdata=False,
        remove_blank_text=False,
    )


def parse(data: bytes, part: str) -> Element:
    """Root element of a part.

    Raises
    ------
    WorkbookError
        The part is not well-formed XML, or declares entities.
    """
    try:
        root = etree.fromstring(data, parser())
    except (etree.XMLSyntaxError, ValueError) as error:
        raise damage_error(part) from error
    if root.getroottree().docinfo.internalDTD is not None:
        raise WorkbookError(
            f"The workbook is not safe to open ({part} declares entities). "
            "Ask the sender for a new copy."
        )
    return root


def damage_error(part: str) -> DamagedError:
    """The error for a part that cannot be understood."""
    return DamagedError(
        f"The workbook is damaged ({part} cannot be read). Open it in your spreadsheet program, "
        "let it repair the file, and save it under a new name."
    )


def serialize(root: Element) -> bytes:
    """The part as bytes, UTF-8, with every namespace that the root declares."""
    return etree.tostring(
        root.getroottree(), xml_declaration=True, encoding="UTF-8", standalone=True
    )


def local(element: Element) -> str:
    """Name of an element without its namespace; "" for a comment or instruction."""
    tag = element.tag
    if not isinstance(tag, str):
        return ""
    return tag.rpartition("}")[2]


def namespace(element: Element) -> str:
    """Namespace of an element; "" where it has none."""
    tag = str(element.tag)
    return tag[1:].partition("}")[0] if tag.startswith("{") else ""


def sibling_name(element: Element, name: str) -> str:
    """`name` in the namespace of `element`, for a new element beside or within it."""
    space = namespace(element)
    return f"{{{space}}}{name}" if space else name


def children(element: Element, name: str) -> Iterator[Element]:
    """Children of that local name."""
    return (child for child in element if local(child) == name)


def child(element: Element, name: str) -> Element | None:
    """First child of that local name."""
    return next(children(element, name), None)


def descendants(element: Element, name: str) -> Iterator[Element]:
    """Descendants of that local name, in any namespace."""
    return element.iter(f"{{*}}{name}")


def relationship_id(element: Element, name: str = "id") -> str | None:
    """The relationship attribute (r:id) of an element, ordinary or strict."""
    return element.get(f"{{{RELATIONSHIP}}}{name}") or element.get(
        f"{{{STRICT_RELATIONSHIP}}}{name}"
    )


def is_true(text: str | None) -> bool:
    """Value of an XML boolean attribute; absent is False."""
    return text in ("1", "true", "on")


def integer(text: str | None, otherwise: int = 0) -> int:
    """Value of an attribute that should be a whole number."""
    try:
        return int(text) if text is not None else otherwise
    except ValueError:
        return otherwise
