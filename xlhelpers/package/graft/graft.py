"""Sheets of one workbook brought into another, with their tables, charts, drawings and pictures.

The tabs come from a scratch workbook made with XlsxWriter. A tab of an earlier run is replaced
in place; other tabs are appended last, so that positions noted elsewhere stay valid.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from lxml import etree

from xlhelpers.errors import SpecificationError, WorkbookError
from xlhelpers.package.formulas.formula_text import rename
from xlhelpers.package.graft.graft_plan import (
    MAX_SHEET_NAME,
    PlannedSheet,
    Renames,
    free_part,
    plan_names,
    plan_sheets,
    private_parts,
    table_names,
)
from xlhelpers.package.graft.looks import (
    Look,
    moved_printed,
    moved_rows,
    put_on,
    put_on_cells,
    put_on_rows,
)
from xlhelpers.package.parts import calc_chain
from xlhelpers.package.parts.cell_looks import MixedFormats
from xlhelpers.package.parts.parts import (
    sheet_named,
    sheets,
    why_not_writable,
    workbook_child,
    workbook_root,
)
from xlhelpers.package.parts.relations import (
    Relation,
    add_relation,
    content_type,
    declare,
    missing_targets,
    related_parts,
    relations_name,
    relations_of,
    replace_tree,
    undeclare,
    write_relations,
)
from xlhelpers.package.parts.styles import StyleMap, merge_styles
from xlhelpers.package.parts.xml_text import (
    RELATIONSHIP,
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
    sibling_name,
)
from xlhelpers.package.sheet.long_rows import LongRows, merge_rows, reach
from xlhelpers.package.sheet.references import area_name
from xlhelpers.package.sheet.sheet_bytes import frame_of, whole_rows
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.zip_entries import QUICK_FROM, Packer

FORMULA_ELEMENTS = (
    "f",
    "formula",
    "formula1",
    "formula2",
    "calculatedColumnFormula",
    "totalsRowFormula",
)
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
    insides = []
    for part in related_parts(scratch, scratch.workbook_part, "sharedStrings"):
        for item in children(parse(scratch.read(part), part), "si"):
            for text in descendants(item, "t"):
                text.set(XML_SPACE, "preserve")
            inside = b"".join(etree.tostring(piece, encoding="UTF-8") for piece in item)
            space = b' xmlns="' + etree.QName(item).namespace.encode() + b'"'
            insides.append(inside.replace(space, b""))
    return insides


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
        self.mixed = MixedFormats(package)
        self.types: dict[str, str] = {}
        self._table_id = table_id
        self._missing = missing
        self._strings = inline_strings(scratch)
        self._copied: dict[str, str] = {}

    def copy_sheet(
        self,
        planned: PlannedSheet,
        *,
        selected: bool,
        longs: Sequence[LongRows] = (),
        look: Look | None = None,
    ) -> None:
        """Copy one worksheet with all that it refers to; `selected` is the tab in front.

        `longs` are rows that the scratch sheet lacks, `look` what is set on the sheet before it.
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
        links = self._put_look(root, look)
        set_rows = {} if look is None else moved_rows(look)
        before, mark, after = serialize(root).partition(b"<sheetData/>")
        out = Packer(quick=bool(longs) or len(content) > QUICK_FROM)
        out.write(before)
        if has_rows:
            out.write(_ROWS_BEGIN)
            for piece in self._rows(content, (start, end), longs):
                cells = piece if look is None else put_on_cells(piece, look.formats, self.mixed)
                out.write(put_on_rows(cells, set_rows))
            out.write(_ROWS_END)
        else:
            out.write(mark)
        out.write(after)
        self.package.replace(planned.part, out.finish())
        self.types[planned.part] = content_type(self.scratch, source)
        self._copy_relations(source, planned.part, links)

    def _put_look(self, root: Element, look: Look | None) -> list[Relation]:
        """Put the look of the old sheet on a new one; return the relations that its links need."""
        relations = []
        for number, (link, target) in enumerate([] if look is None else put_on(root, look), 1):
            identifier = f"rIdKept{number}"
            link.set(f"{{{RELATIONSHIP}}}id", identifier)
            kind = f"{RELATIONSHIP}/hyperlink"
            relations.append(Relation(identifier, kind, target, external=True))
        return relations

    def _rows(
        self, content: bytes, place: tuple[int, int], longs: Sequence[LongRows]
    ) -> Iterator[bytes]:
        if not longs:
            return map(self._data, whole_rows(content, *place))
        rows = merge_rows(content[slice(*place)], longs, self._number, self._map_rows)
        return map(self._rename_in_bytes, rows)

    def _number(self, index: int) -> int:
        return self.styles.cell_formats.get(index, 0)

    def _style(self, index: int) -> str:
        return str(self._number(index))

    def _data(self, data: bytes) -> bytes:
        return self._rename_in_bytes(self._map_rows(data))

    def _map_rows(self, data: bytes) -> bytes:
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
                    b"<c "
                    + match[1]
                    + b' t="inlineStr"><is>'
                    + self._strings[int(match[2])]
                    + b"</is></c>"
                ),
                data,
            )
        return data

    def _rename_in_bytes(self, data: bytes) -> bytes:
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

    def _copy_relations(self, source: str, target: str, more: Iterable[Relation] = ()) -> None:
        relations = [*more]
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


NO_ROWS: Mapping[str, Sequence[LongRows]] = MappingProxyType({})
NO_LOOKS: Mapping[str, Look] = MappingProxyType({})
FILTER_NAME = "_xlnm._FilterDatabase"


def graft_sheets(
    package: Package,
    scratch: bytes | Package,
    *,
    replacing: Mapping[str, str],
    defined: Mapping[str, str],
    rows: Mapping[str, Sequence[LongRows]] = NO_ROWS,
    looks: Mapping[str, Look] = NO_LOOKS,
) -> tuple[str, ...]:
    """Make every sheet of a scratch workbook a sheet of the package.

    Parameters
    ----------
    package
        The opened workbook.
    scratch
        A workbook made with XlsxWriter, worksheets only, without notes; its bytes or opened.
    replacing
        Scratch sheet name to the name of the existing worksheet that it replaces in place.
        All others are appended last; where the name is taken they get " (2)" and so on.
    defined
        Further defined names of ours, name to reference; references use the scratch names of
        sheets. A name of the workbook that is spelt like one of these gives way.
    rows
        Part of a scratch sheet to rows that it lacks.
    looks
        Name of a scratch sheet to what was set on the sheet before it.

    Returns
    -------
    tuple of str
        The name that each scratch sheet has in the package, in the scratch order.

    Raises
    ------
    WorkbookError
        The workbook may not be written to.
    SpecificationError
        `replacing` names sheets that are not there.
    """
    reason = why_not_writable(package)
    if reason is not None:
        raise WorkbookError(reason)
    if isinstance(scratch, bytes):
        scratch = Package.from_bytes(scratch, "result tabs.xlsx")
    other = scratch
    planned = plan_sheets(package, other, replacing)
    ours = frozenset(name.casefold() for name in defined)
    renames = plan_names(package, other, planned, ours)
    private = private_parts(package, planned)
    table_id = table_names(package, private)[1]
    missing = missing_targets(package)
    selected = {sheet.part for sheet in planned if sheet.old and is_selected(package, sheet.part)}
    _clear(package, planned, private)
    copier = PartCopier(package, other, renames, merge_styles(package, other), table_id, missing)
    for sheet in planned:
        longs = rows.get(sheet.source.part, ())
        look = looks.get(sheet.source.name)
        copier.copy_sheet(sheet, selected=sheet.part in selected, longs=longs, look=look)
    copier.mixed.save()
    undeclare(package, [part for part in private if package.find(part) is None])
    declare(package, copier.types)
    _list_sheets(package, planned)
    printed = {
        (sheet.source.position, name): text
        for sheet in planned
        if sheet.source.name in looks
        for name, text in moved_printed(looks[sheet.source.name], sheet.name).items()
    }
    _define_names(package, other, planned, renames, defined, printed)
    return tuple(sheet.name for sheet in planned)


def _clear(package: Package, planned: tuple[PlannedSheet, ...], private: frozenset[str]) -> None:
    """Take out what belongs to the replaced sheets alone."""
    for part in private:
        package.remove(part)
        package.remove(relations_name(part))
    for sheet in planned:
        if sheet.old is not None:
            calc_chain.prune_sheet(package, sheet.old)


def _list_sheets(package: Package, planned: tuple[PlannedSheet, ...]) -> None:
    for sheet in planned:
        if sheet.old is not None:
            continue
        kind = f"{RELATIONSHIP}/worksheet"
        identifier = add_relation(package, package.workbook_part, kind, sheet.part)
        root = workbook_root(package)
        listed = child(root, "sheets")
        if listed is None:
            raise SpecificationError("the workbook part lists no sheets")
        used = [integer(item.get("sheetId")) for item in children(listed, "sheet")]
        element = etree.SubElement(listed, sibling_name(listed, "sheet"), name=sheet.name)
        element.set("sheetId", str(max(used, default=0) + 1))
        if sheet.source.state != "visible":
            element.set("state", sheet.source.state)
        element.set(f"{{{RELATIONSHIP}}}id", identifier)
        replace_tree(package, package.workbook_part, root)


def _define_names(
    package: Package,
    other: Package,
    planned: tuple[PlannedSheet, ...],
    renames: Renames,
    defined: Mapping[str, str],
    printed: Mapping[tuple[int, str], str],
) -> None:
    """Merge the defined names of the scratch workbook, and those of `defined`, into ours.

    `printed` are print areas and titles that somebody set, by position of the scratch sheet and
    name.
    """
    now = {sheet.part: sheet.position for sheet in sheets(package)}
    positions = {sheet.source.position: now[sheet.part] for sheet in planned}
    replaced = {str(now[sheet.part]) for sheet in planned if sheet.old is not None}
    root = workbook_root(package)
    theirs = child(workbook_root(other), "definedNames")
    wanted: dict[tuple[str, str | None], tuple[dict[str, str], str]] = {}
    for item in theirs if theirs is not None else ():
        attributes = {str(name): str(value) for name, value in item.items()}
        text = rename(item.text or "", renames.sheets, renames.names)
        if "localSheetId" in attributes:
            if (int(attributes["localSheetId"]), attributes["name"]) in printed:
                continue
            attributes["localSheetId"] = str(positions[int(attributes["localSheetId"])])
        else:
            old = attributes["name"]
            attributes["name"] = renames.names.get(old.casefold(), old)
        key = (attributes["name"].casefold(), attributes.get("localSheetId"))
        wanted[key] = (attributes, text)
    for (position, name), text in printed.items():
        if text:
            local_sheet = str(positions[position])
            attributes = {"name": name, "localSheetId": local_sheet}
            wanted[name.casefold(), local_sheet] = (attributes, text)
    for name, text in defined.items():
        text = rename(text.removeprefix("="), renames.sheets, renames.names)
        wanted[name.casefold(), None] = ({"name": name}, text)
    _merge_names(root, wanted, replaced)
    replace_tree(package, package.workbook_part, root)


def _merge_names(
    root: Element,
    wanted: dict[tuple[str, str | None], tuple[dict[str, str], str]],
    replaced: set[str],
) -> None:
    """Old names of the same key are changed in place, new ones follow, stale filters go."""
    existing = child(root, "definedNames")
    if not wanted and existing is None:
        return
    holder = workbook_child(root, "definedNames")
    waiting = dict(wanted)
    for item in list(children(holder, "definedName")):
        local_sheet = item.get("localSheetId")
        key = (str(item.get("name", "")).casefold(), local_sheet)
        if key in wanted:
            if key not in waiting:
                holder.remove(item)
                continue
            attributes, text = waiting.pop(key)
            item.attrib.clear()
            for name, value in attributes.items():
                item.set(name, value)
            item.text = text
        elif local_sheet in replaced and item.get("name") == FILTER_NAME:
            holder.remove(item)
    for attributes, text in waiting.values():
        etree.SubElement(holder, sibling_name(holder, "definedName"), attributes).text = text
    if len(holder) == 0:
        root.remove(holder)


def rename_sheet(package: Package, old: str, new: str) -> None:
    """Give a sheet another name; the defined names that belong to it follow, nothing else.

    Raises
    ------
    SpecificationError
        There is no such sheet, or the new name is taken or too long.
    """
    sheet = sheet_named(package, old)
    taken = sheet_named(package, new)
    if sheet is None or len(new) > MAX_SHEET_NAME or (taken is not None and taken != sheet):
        raise SpecificationError(f"the sheet {old!r} cannot be renamed {new!r}")
    root = workbook_root(package)
    listed = child(root, "sheets")
    for position, element in enumerate(children(listed, "sheet") if listed is not None else ()):
        if position == sheet.position:
            element.set("name", new)
    names = child(root, "definedNames")
    for element in children(names, "definedName") if names is not None else ():
        if element.get("localSheetId") == str(sheet.position):
            element.text = rename(element.text or "", {sheet.name.casefold(): new}, {})
    replace_tree(package, package.workbook_part, root)
