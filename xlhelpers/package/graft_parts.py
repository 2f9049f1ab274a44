"""Parts of grafted sheets copied over: worksheets, tables, charts, drawings, pictures."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from lxml import etree

from xlhelpers.package.container import Package
from xlhelpers.package.formula_text import rename
from xlhelpers.package.graft_plan import PlannedSheet, Renames, free_part
from xlhelpers.package.long_rows import LongRows, merged, reach
from xlhelpers.package.references import area_name
from xlhelpers.package.relations import (
    content_type,
    related,
    relations_name,
    relations_of,
    write_relations,
)
from xlhelpers.package.sheet_bytes import frame_of, whole_rows
from xlhelpers.package.styles_merge import StyleMap
from xlhelpers.package.xml_text import (
    XML_SPACE,
    Element,
    child,
    children,
    descendants,
    integer,
    is_true,
    local,
    parse,
    serialize,
)
from xlhelpers.package.zip_entries import QUICK_FROM, Packer

FORMULA_ELEMENTS = (
    "f", "formula", "formula1", "formula2", "calculatedColumnFormula", "totalsRowFormula",
)  # fmt: skip
XML_KINDS = ("table", "chart", "drawing")

_ROWS_BEGIN, _ROWS_END = b"<sheetData>", b"</sheetData>"
# The names of cells come first, as XlsxWriter and our own rows have them.
_CELL_STYLE = re.compile(rb'(<c r="[A-Z]+[0-9]+" s=")([0-9]+)')
_ROW_STYLE = re.compile(rb'(<row [^>]*? s=")([0-9]+)')
_STRING = re.compile(rb'<c ([^>]*?) t="s"><v>(\d+)</v></c>')
_FORMULA = re.compile(rb"(<f(?: [^>]*)?>)([^<]*)(?=</f>)")
_METADATA = re.compile(rb'(<c [^>]*?) cm="\d+"')


def inline_strings(scratch: Package) -> list[bytes]:
    """Each shared string as the inside of an inline string, runs and all."""
    found = []
    for part in related(scratch, scratch.workbook_part, "sharedStrings"):
        for item in children(parse(scratch.read(part), part), "si"):
            for text in descendants(item, "t"):
                text.set(XML_SPACE, "preserve")
            inside = b"".join(etree.tostring(piece, encoding="UTF-8") for piece in item)
            space = b' xmlns="' + etree.QName(item).namespace.encode() + b'"'
            found.append(inside.replace(space, b""))
    return found


class PartCopier:
    """Copies the parts of one scratch workbook under free names, and remembers each."""

    def __init__(
        self,
        package: Package,
        scratch: Package,
        renames: Renames,
        styles: StyleMap,
        table_id: int,
        missing: frozenset[str],
    ) -> None:
        """Start with no part copied.

        `table_id` is the greatest number that a table of the workbook has; `missing` are part
        names that no new part may take (see `missing_targets`).
        """
        self.package = package
        self.scratch = scratch
        self.renames = renames
        self.styles = styles
        self.types: dict[str, str] = {}
        self._table_id = table_id
        self._missing = missing
        self._strings = inline_strings(scratch)
        self._copied: dict[str, str] = {}

    def copy_sheet(
        self, planned: PlannedSheet, *, selected: bool, longs: Sequence[LongRows] = ()
    ) -> None:
        """Copy one worksheet with all that it refers to; `selected` is the tab in front.

        `longs` are rows that the scratch sheet lacks.
        """
        source = planned.source.part
        content = self.scratch.read(source)
        start, end = content.find(_ROWS_BEGIN) + len(_ROWS_BEGIN), content.find(_ROWS_END)
        has_rows = len(_ROWS_BEGIN) <= start <= end
        frame = content[: start - len(_ROWS_BEGIN)] + b"<sheetData/>" if has_rows else content
        if has_rows:
            frame += content[end + len(_ROWS_END) :]
        root = parse(frame, source)
        for view in descendants(root, "sheetView"):
            view.attrib.pop("tabSelected", "")
            if selected:
                view.set("tabSelected", "1")
        for column in descendants(root, "col"):
            if column.get("style") is not None:
                column.set("style", self._style(integer(column.get("style"))))
        for dimension in descendants(root, "dimension") if longs else ():
            dimension.set("ref", area_name(reach(content[start:end], longs)))
        self._adapt(root)
        before, mark, after = serialize(root).partition(b"<sheetData/>")
        out = Packer(quick=bool(longs) or len(content) > QUICK_FROM)
        out.write(before)
        if has_rows:
            out.write(_ROWS_BEGIN)
            for piece in self._rows(content, (start, end), longs):
                out.write(piece)
            out.write(_ROWS_END)
        else:
            out.write(mark)
        out.write(after)
        self.package.replace(planned.part, out.finish())
        self.types[planned.part] = content_type(self.scratch, source)
        self._copy_relations(source, planned.part)

    def _rows(
        self, content: bytes, place: tuple[int, int], longs: Sequence[LongRows]
    ) -> Iterator[bytes]:
        if not longs:
            return map(self._data, whole_rows(content, *place))
        found = merged(content[slice(*place)], longs, self._number, self._mapped)
        return map(self._renamed, found)

    def _number(self, index: int) -> int:
        return self.styles.cell_formats.get(index, 0)

    def _style(self, index: int) -> str:
        return str(self._number(index))

    def _data(self, data: bytes) -> bytes:
        return self._renamed(self._mapped(data))

    def _mapped(self, data: bytes) -> bytes:
        """Rows of a sheet: formats mapped, shared strings put into their cells."""
        if b' cm="' in data:
            data = _METADATA.sub(rb"\1", data)
        table = self.styles.cell_formats
        if any(old != new for old, new in table.items()):
            texts = {str(old).encode(): str(new).encode() for old, new in table.items()}
            for pattern in (_ROW_STYLE, _CELL_STYLE):
                data = pattern.sub(lambda match: match[1] + texts.get(match[2], b"0"), data)
        if b' t="s"' in data:
            data = _STRING.sub(
                lambda match: (
                    b"<c " + match[1] + b' t="inlineStr"><is>' + self._strings[int(match[2])]
                    + b"</is></c>"
                ),
                data,
            )  # fmt: skip
        return data

    def _renamed(self, data: bytes) -> bytes:
        if not self.renames.needed:
            return data
        return _FORMULA.sub(self._renamed_cell_formula, data)

    def _renamed_cell_formula(self, match: re.Match[bytes]) -> bytes:
        holder = etree.fromstring(b"<f>" + match[2] + b"</f>")
        holder.text = self._rename(holder.text or "")
        return match[1] + etree.tostring(holder, encoding="UTF-8")[len(b"<f>") : -len(b"</f>")]

    def _rename(self, formula: str) -> str:
        return rename(formula, self.renames.sheets, self.renames.names)

    def _adapt(self, root: Element) -> None:
        """Map conditional formats and rename sheets, tables and names throughout a tree."""
        for element in root.iter():
            kind = local(element)
            for name in list(element.attrib):
                if str(name).lower().endswith("dxfid"):
                    old = integer(element.get(name))
                    element.set(name, str(self.styles.conditional.get(old, old)))
            if not self.renames.needed:
                continue
            if kind in FORMULA_ELEMENTS and element.text:
                element.text = self._rename(element.text)
            for name in ("location", "textlink"):
                if element.get(name):
                    element.set(name, self._rename(str(element.get(name))))

    def _copy_relations(self, source: str, target: str) -> None:
        relations = []
        for relation in relations_of(self.scratch, source):
            if relation.target.startswith("#"):
                link = "#" + self._rename(relation.target[1:])
                relations.append(replace(relation, target=link))
            elif relation.external:
                relations.append(relation)
            else:
                copied = self._copy_part(relation.target, relation.kind)
                relations.append(replace(relation, target=copied))
        if relations:
            write_relations(self.package, target, relations)
        else:
            self.package.remove(relations_name(target))

    def _copy_part(self, source: str, kind: str) -> str:
        if source in self._copied:
            return self._copied[source]
        pattern = re.sub(r"\d*(\.[^./]+)$", r"{}\1", source)
        target = free_part(
            pattern, lambda name: self.package.find(name) or name.casefold() in self._missing
        )
        self._copied[source] = target
        content = self.scratch.read(source)
        if kind in XML_KINDS:
            root = parse(content, source)
            self._adapt(root)
            if kind == "table":
                self._name_table(root)
            content = serialize(root)
        self.package.replace(target, content)
        self.types[target] = content_type(self.scratch, source)
        self._copy_relations(source, target)
        return target

    def _name_table(self, root: Element) -> None:
        self._table_id += 1
        root.set("id", str(self._table_id))
        for attribute in ("name", "displayName"):
            old = root.get(attribute)
            if old is not None:
                root.set(attribute, self.renames.names.get(old.casefold(), old))


def is_selected(package: Package, part: str) -> bool:
    """Whether the sheet is (one of) the selected tabs."""
    views = child(frame_of(package.read(part), part), "sheetViews")
    return views is not None and any(is_true(view.get("tabSelected")) for view in views)
