"""Which sheet a grafted sheet becomes, and under which names; nothing is changed here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from xlhelpers.errors import SpecificationError
from xlhelpers.package.formulas.formula_text import points_into
from xlhelpers.package.parts.parts import DefinedName, SheetPart, defined_names, sheets
from xlhelpers.package.parts.relations import content_type, missing_targets, reachable
from xlhelpers.package.parts.xml_text import integer, parse
from xlhelpers.package.zip.container import Package

MAX_SHEET_NAME = 31
BUILT_IN_NAME = "_xlnm."


@dataclass(frozen=True)
class PlannedSheet:
    """One sheet to graft: where it comes from, what it replaces, its name and its part."""

    source: SheetPart
    old: SheetPart | None
    name: str
    part: str


@dataclass(frozen=True)
class Renames:
    """New spellings by casefolded old ones: of sheets, and of defined names and tables."""

    sheets: Mapping[str, str]
    names: Mapping[str, str]

    @cached_property
    def needed(self) -> bool:
        """Whether anything changes its name at all."""
        return any(
            old != new.casefold()
            for table in (self.sheets, self.names)
            for old, new in table.items()
        )


def free_part(pattern: str, taken: Callable[[str], object]) -> str:
    """Lowest numbered part name that is free; `pattern` holds {} for the number."""
    number = 1
    while taken(pattern.format(number)):
        number += 1
    return pattern.format(number)


def free_sheet_name(name: str, taken: set[str]) -> str:
    """The name, or the name with " (2)" and so on; never over 31 characters."""
    candidate, number = name[:MAX_SHEET_NAME], 1
    while candidate.casefold() in taken:
        number += 1
        ending = f" ({number})"
        candidate = name[: MAX_SHEET_NAME - len(ending)] + ending
    return candidate


def _free_name(name: str, taken: set[str]) -> str:
    candidate, number = name, 1
    while candidate.casefold() in taken:
        number += 1
        candidate = f"{name}_{number}"
    return candidate


def plan_sheets(
    package: Package, scratch: Package, replacing: Mapping[str, str]
) -> tuple[PlannedSheet, ...]:
    """Plan every sheet of the scratch workbook, in its order.

    Raises
    ------
    SpecificationError
        `replacing` names a sheet that is not there, or a sheet that is no worksheet.
    """
    present = {sheet.name.casefold(): sheet for sheet in sheets(package)}
    olds = {new.casefold(): old.casefold() for new, old in replacing.items()}
    taken_names = set(present)
    taken_parts = set(missing_targets(package))
    planned = []
    for source in sheets(scratch):
        wanted = olds.get(source.name.casefold())
        old = present.get(wanted) if wanted is not None else None
        if wanted is not None and (old is None or old.kind != "worksheet"):
            raise SpecificationError(f"there is no worksheet {wanted!r} to replace")
        if old is not None:
            planned.append(PlannedSheet(source, old, old.name, old.part))
            continue
        name = free_sheet_name(source.name, taken_names)
        part = free_part(
            "xl/worksheets/sheet{}.xml",
            lambda item: package.find(item) or item.casefold() in taken_parts,
        )
        taken_names.add(name.casefold())
        taken_parts.add(part.casefold())
        planned.append(PlannedSheet(source, None, name, part))
    return tuple(planned)


def private_parts(package: Package, planned: tuple[PlannedSheet, ...]) -> frozenset[str]:
    """Parts that only the sheets to be replaced refer to: their drawings, charts, tables."""
    olds = frozenset(sheet.old.part for sheet in planned if sheet.old is not None)
    parts_in_use = reachable(package, [""], olds)
    return frozenset(reachable(package, olds, frozenset()) - parts_in_use - olds)


def table_parts(package: Package) -> tuple[str, ...]:
    """All table parts of the workbook."""
    return tuple(
        name for name in package.names() if content_type(package, name).endswith(".table+xml")
    )


def table_names(package: Package, without: frozenset[str]) -> tuple[dict[str, str], int]:
    """Names of tables (casefolded to spelling) and the greatest table number, some left out."""
    names: dict[str, str] = {}
    greatest = 0
    for part in table_parts(package):
        if part in without:
            continue
        root = parse(package.read(part), part)
        for attribute in ("name", "displayName"):
            if root.get(attribute):
                names[str(root.get(attribute)).casefold()] = str(root.get(attribute))
        greatest = max(greatest, integer(root.get("id")))
    return names, greatest


def plan_names(
    package: Package,
    scratch: Package,
    planned: tuple[PlannedSheet, ...],
    ours: frozenset[str],
) -> Renames:
    """New names for sheets, tables and defined names of the scratch workbook.

    A defined name of the user's keeps its meaning: ours makes way, unless it is one of `ours`
    (casefolded) or stands for a cell of a sheet that is being replaced.
    """
    replaced = {sheet.old.name.casefold() for sheet in planned if sheet.old is not None}
    taken = {
        item.name.casefold()
        for item in defined_names(package)
        if item.local_sheet is None and not points_into(item.text, replaced)
    } - ours
    taken |= set(table_names(package, private_parts(package, planned))[0])
    names: dict[str, str] = {}
    for name in [*table_names(scratch, frozenset())[0].values(), *_global_names(scratch)]:
        if name.casefold() not in names:
            names[name.casefold()] = _free_name(name, taken)
            taken.add(names[name.casefold()].casefold())
    return Renames({sheet.source.name.casefold(): sheet.name for sheet in planned}, names)


def _global_names(scratch: Package) -> list[str]:
    names: list[DefinedName] = [
        item
        for item in defined_names(scratch)
        if item.local_sheet is None and not item.name.startswith(BUILT_IN_NAME)
    ]
    return [item.name for item in names]
