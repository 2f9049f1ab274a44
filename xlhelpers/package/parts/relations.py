"""Which part refers to which: the .rels parts, and the list of content types."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from urllib.parse import unquote

from lxml import etree

from xlhelpers.package.parts.xml_text import children, descendants, parse, serialize, sibling_name
from xlhelpers.package.zip.container import Package

CONTENT_TYPES = "[Content_Types].xml"
RELATIONS_NAMESPACE = "http://schemas.openxmlformats.org/package/2006/relationships"


@dataclass(frozen=True)
class Relation:
    """One relationship: `target` is a part name, or the raw text where it points outside."""

    id: str
    type: str
    target: str
    external: bool

    @property
    def kind(self) -> str:
        """Last word of the type: worksheet, drawing, chart, table, ..."""
        return self.type.rpartition("/")[2]


def relations_name(part: str) -> str:
    """Name of the part that lists the relationships of `part` ("" is the package itself)."""
    folder, _, name = part.rpartition("/")
    return posixpath.join(folder, "_rels", f"{name}.rels")


def resolve(part: str, target: str) -> str:
    """Part name that a relationship target of `part` stands for."""
    target = target.replace("\\", "/")
    if target.startswith("/"):
        return posixpath.normpath(target).lstrip("/")
    return posixpath.normpath(posixpath.join(posixpath.dirname(part), target))


def relations_of(package: Package, part: str) -> tuple[Relation, ...]:
    """Relationships of a part, in their order; empty where it has none."""
    name = package.find(relations_name(part))
    if name is None:
        return ()
    listed = package.remember(name, "relations", lambda data: _list_relations(parse(data, name)))
    relations = []
    for identifier, kind, target, external in listed:
        if not external:
            resolved = resolve(part, target)
            target = package.find(resolved) or package.find(unquote(resolved)) or resolved
        relations.append(Relation(identifier, kind, target, external))
    return tuple(relations)


def _list_relations(root: etree._Element) -> list[tuple[str, str, str, bool]]:
    """Identifier, type, target as written, and whether it lies outside, of each relation."""
    return [
        (
            str(element.get("Id", "")),
            str(element.get("Type", "")),
            str(element.get("Target", "")),
            element.get("TargetMode") == "External" or str(element.get("Target")).startswith("#"),
        )
        for element in descendants(root, "Relationship")
    ]


def related_parts(package: Package, part: str, kind: str) -> tuple[str, ...]:
    """Existing parts that `part` refers to by relationships of one kind."""
    return tuple(
        relation.target
        for relation in relations_of(package, part)
        if relation.kind == kind and not relation.external and package.find(relation.target)
    )


def missing_targets(package: Package) -> frozenset[str]:
    """Casefolded names of parts that are referred to and are not there.

    A new part must not take such a name: it would turn up where the lost one was.
    """
    missing = set()
    for name in package.names():
        folder, separator, owner = name.rpartition("_rels/")
        if not separator or not owner.casefold().endswith(".rels"):
            continue
        part = folder + owner[: -len(".rels")]
        for relation in relations_of(package, part):
            if not relation.external and package.find(relation.target) is None:
                missing.add(relation.target.casefold())
    return frozenset(missing)


def write_relations(package: Package, part: str, relations: Iterable[Relation]) -> None:
    """Replace all relationships of a part; targets are written relative to it."""
    root = etree.fromstring(f'<Relationships xmlns="{RELATIONS_NAMESPACE}"/>')
    for relation in relations:
        add_relation_element(root, part, relation)
    package.replace(relations_name(part), serialize(root))


def add_relation_element(root: etree._Element, part: str, relation: Relation) -> None:
    """Append one relationship to the root of a .rels part."""
    target = relation.target
    if not relation.external:
        target = posixpath.relpath(target, posixpath.dirname(part) or ".")
    element = etree.SubElement(
        root,
        sibling_name(root, "Relationship"),
        Id=relation.id,
        Type=relation.type,
        Target=target,
    )
    if relation.external and not target.startswith("#"):
        element.set("TargetMode", "External")


def free_id(package: Package, part: str) -> str:
    """A relationship identifier that the part does not use yet."""
    used = {relation.id.casefold() for relation in relations_of(package, part)}
    number = 1
    while f"rid{number}" in used:
        number += 1
    return f"rId{number}"


def add_relation(package: Package, part: str, kind_uri: str, target: str) -> str:
    """Add a relationship to a part and return its identifier."""
    identifier = free_id(package, part)
    name = package.find(relations_name(part))
    relation = Relation(identifier, kind_uri, target, external=False)
    if name is None:
        write_relations(package, part, [relation])
        return identifier
    root = parse(package.read(name), name)
    add_relation_element(root, part, relation)
    package.replace(name, serialize(root))
    return identifier


def remove_relations_to(package: Package, part: str, target: str) -> None:
    """Take out the relationships by which `part` refers to `target`."""
    name = package.find(relations_name(part))
    if name is None:
        return
    gone = {
        relation.id
        for relation in relations_of(package, part)
        if not relation.external and relation.target.casefold() == target.casefold()
    }
    root = parse(package.read(name), name)
    for element in list(descendants(root, "Relationship")):
        if element.get("Id") in gone:
            root.remove(element)
    package.replace(name, serialize(root))


def reachable(package: Package, start: Iterable[str], without: frozenset[str]) -> set[str]:
    """Parts that can be reached from `start` by relationships, not going through `without`."""
    parts: set[str] = set()
    waiting = list(start)
    while waiting:
        part = waiting.pop()
        if part in parts or part in without:
            continue
        parts.add(part)
        waiting += [
            relation.target
            for relation in relations_of(package, part)
            if not relation.external and package.find(relation.target)
        ]
    return parts


def content_type(package: Package, part: str) -> str:
    """Content type of a part; "" where none is declared."""
    overrides, defaults = package.remember(
        CONTENT_TYPES, "types", lambda data: _types(parse(data, CONTENT_TYPES))
    )
    ending = part.rpartition(".")[2].casefold()
    return overrides.get("/" + part.casefold()) or defaults.get(ending, "")


def _types(root: etree._Element) -> tuple[dict[str, str], dict[str, str]]:
    """Content types by part name and by ending, all casefolded; the first of each holds."""
    overrides: dict[str, str] = {}
    defaults: dict[str, str] = {}
    for element in children(root, "Override"):
        name = str(element.get("PartName", "")).replace("\\", "/").casefold()
        overrides.setdefault(name, str(element.get("ContentType", "")))
    for element in children(root, "Default"):
        ending = str(element.get("Extension", "")).casefold()
        defaults.setdefault(ending, str(element.get("ContentType", "")))
    return overrides, defaults


def _overrides(root: etree._Element, part: str) -> Iterator[etree._Element]:
    wanted = "/" + part.casefold()
    return (
        element
        for element in list(children(root, "Override"))
        if str(element.get("PartName", "")).replace("\\", "/").casefold() == wanted
    )


def declare(package: Package, types: dict[str, str]) -> None:
    """Declare the content types of parts; a type that already holds is not repeated."""
    root = parse(package.read(CONTENT_TYPES), CONTENT_TYPES)
    for part, kind in types.items():
        if content_type(package, part) == kind:
            continue
        for element in _overrides(root, part):
            root.remove(element)
        ending = part.rpartition(".")[2].casefold()
        endings = {str(item.get("Extension", "")).casefold() for item in children(root, "Default")}
        if ending not in {*endings, "xml", "rels"}:
            default = etree.Element(sibling_name(root, "Default"), Extension=ending)
            default.set("ContentType", kind)
            root.insert(0, default)
            continue
        override = etree.SubElement(root, sibling_name(root, "Override"), PartName="/" + part)
        override.set("ContentType", kind)
    replace_tree(package, CONTENT_TYPES, root)


def undeclare(package: Package, parts: Iterable[str]) -> None:
    """Take the parts out of the list of content types."""
    root = parse(package.read(CONTENT_TYPES), CONTENT_TYPES)
    for part in parts:
        for element in _overrides(root, part):
            root.remove(element)
    replace_tree(package, CONTENT_TYPES, root)


def replace_tree(package: Package, part: str, root: etree._Element) -> None:
    """Replace a part by a tree, but only where the tree says something else than the part."""
    old = parse(package.read(part), part)
    if etree.tostring(old) != etree.tostring(root):
        package.replace(part, serialize(root))


def remove_parts(package: Package, parts: Iterable[str]) -> None:
    """Remove parts with their relationship parts and content types."""
    gone = list(parts)
    for part in gone:
        package.remove(part)
        package.remove(relations_name(part))
    undeclare(package, gone)
