"""Rules of a sheet, conditional formats and data validations, put on the sheet after it.

The areas that they are for, and what their formulas refer to, follow the columns.
"""

from __future__ import annotations

import re

from xlhelpers.package.formulas.follow import Move, follow
from xlhelpers.package.graft.sheet_tree import adopt, holder_of, insert
from xlhelpers.package.parts.xml_text import Element, child, children, descendants, integer, local
from xlhelpers.package.sheet.references import area_name, parse_areas

_RULE_FORMULAS = ("formula", "formula1", "formula2", "f")
_LATER_KINDS = ("conditionalFormatting", "dataValidation")


def _key(kind: str, element: Element) -> tuple[str, ...]:
    """What makes two rules the same, wherever they stand."""
    texts = [item.text or "" for item in element if local(item).startswith("formula")]
    return (
        kind,
        str(element.get("type", "")),
        str(element.get("operator", "")),
        *(re.sub(r"[0-9]+", "#", "".join(text.split())).casefold() for text in texts),
    )


def moved_areas(areas: str, move: Move) -> str:
    """Return areas in their new places; those whose columns are gone or apart are left out."""
    moved = []
    for area in parse_areas([areas]):
        text, followed = follow(f"S!{area_name(area)}", {"s": _as_sheet(move)})
        if followed:
            moved.append(text.partition("!")[2])
    return " ".join(moved)


def _as_sheet(move: Move) -> Move:
    return Move("S", move.columns, move.first, move.down)


def put_rules(frame: Element, old: Element, move: Move) -> None:
    """Own conditional formats, below the program's own in rank."""
    present = _rule_keys(frame)
    rank = max((integer(rule.get("priority")) for rule in descendants(frame, "cfRule")), default=0)
    for holder in children(old, "conditionalFormatting"):
        areas = moved_areas(str(holder.get("sqref", "")), move)
        copy = adopt(holder, frame)
        copy.set("sqref", areas)
        for rule in list(children(copy, "cfRule")):
            if _key("rule", rule) in present or not _move_formulas(rule, move):
                copy.remove(rule)
                continue
            rank += 1
            rule.set("priority", str(rank))
        if areas and child(copy, "cfRule") is not None:
            insert(frame, copy)


def _rule_keys(frame: Element) -> set[tuple[str, ...]]:
    return {_key("rule", rule) for rule in _rules(frame)}


def put_validations(frame: Element, old: Element, move: Move) -> None:
    """Own data validations, beside the program's own."""
    present = _validation_keys(frame)
    for item in _validations(old):
        areas = moved_areas(str(item.get("sqref", "")), move)
        copy = adopt(item, frame)
        if not areas or _key("validation", item) in present or not _move_formulas(copy, move):
            continue
        now = holder_of(frame, "dataValidations")
        copy.set("sqref", areas)
        now.append(copy)
        now.set("count", str(len(now)))


def _validations(frame: Element) -> list[Element]:
    holders = children(frame, "dataValidations")
    return [item for holder in holders for item in children(holder, "dataValidation")]


def _validation_keys(frame: Element) -> set[tuple[str, ...]]:
    return {_key("validation", item) for item in _validations(frame)}


def _move_formulas(item: Element, move: Move) -> bool:
    """Let the formulas of a rule follow their columns; whether all of them could."""
    followed = True
    for formula in item.iter(*(f"{{*}}{name}" for name in _RULE_FORMULAS)):
        if formula.text and formula.text.strip():
            formula.text, whole = follow(formula.text, {move.name.casefold(): move}, move)
            followed &= whole
    return followed


def put_extensions(frame: Element, old: Element, move: Move) -> None:
    """Own rules and lists of the kinds that came later to the format; it has them at the end."""
    for holder in children(old, "extLst"):
        copy = adopt(holder, frame)
        for extension in list(copy):
            for kind in list(extension):
                for item in list(kind):
                    if local(item) not in _LATER_KINDS or not _move_later(item, move):
                        kind.remove(item)
                if len(kind) == 0:
                    extension.remove(kind)
                elif kind.get("count") is not None:
                    kind.set("count", str(len(kind)))
            if len(extension) == 0:
                copy.remove(extension)
        if len(copy):
            insert(frame, copy)


def _move_later(item: Element, move: Move) -> bool:
    """Put a rule or a list in its new place; whether there is one."""
    for place in descendants(item, "sqref"):
        place.text = moved_areas(place.text or "", move)
        if not place.text:
            return False
    return _move_formulas(item, move)


def own_rules(frame: Element, old: Element) -> dict[str, int]:
    """Return how many `rules` and `validations` of an old sheet are not the program's."""
    known = _rule_keys(frame), _validation_keys(frame)
    own = {
        "rules": sum(_key("rule", rule) not in known[0] for rule in _rules(old)),
        "validations": sum(_key("validation", v) not in known[1] for v in _validations(old)),
    }
    return {kind: count + _count_later(old)[kind] for kind, count in own.items()}


def count_rules(frame: Element) -> dict[str, int]:
    """Return how many `rules` and `validations` a sheet has."""
    own = {"rules": len(_rules(frame)), "validations": len(_validations(frame))}
    return {kind: count + _count_later(frame)[kind] for kind, count in own.items()}


def _count_later(frame: Element) -> dict[str, int]:
    kinds = zip(("rules", "validations"), _LATER_KINDS, strict=True)
    return {
        name: sum(1 for holder in children(frame, "extLst") for _ in descendants(holder, kind))
        for name, kind in kinds
    }


def _rules(frame: Element) -> list[Element]:
    holders = children(frame, "conditionalFormatting")
    return [rule for holder in holders for rule in children(holder, "cfRule")]
