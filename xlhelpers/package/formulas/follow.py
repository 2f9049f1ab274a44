"""What points into a sheet whose cells moved follows them: formulas, defined names, charts.

A sheet is given anew with its columns in other places, and perhaps the old one is kept under a
new name. A reference to columns that the new sheet has in the same order goes on to it. Any
other goes to the sheet that was kept, or becomes an error where none was: never to other columns.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from xlhelpers.package.formulas.formula_text import Token, points_into, sheet_names, tokens
from xlhelpers.package.parts.parts import sheets, workbook_root
from xlhelpers.package.parts.relations import content_type, replace_tree
from xlhelpers.package.parts.xml_text import Element, child, children, descendants, local, parse
from xlhelpers.package.sheet.references import (
    MAX_ROW,
    column_letters,
    column_number,
    parse_areas,
    sheet_prefix,
)
from xlhelpers.package.zip.container import Package

FORMULAS = ("f", "formula", "formula1", "formula2")
_CORNER = re.compile(r"(\$?)([A-Za-z]{1,3})?(\$?)([0-9]{1,7})?")
_LOST = "#REF!"
UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True)
class Move:
    """Where the cells of one sheet are now.

    `columns` gives the new place of each old column that is still there; cells from row `first`
    on lie `down` rows lower. `name` is what the new sheet is called, `kept_as` what the old one
    is called, "" where it is gone.
    """

    name: str
    columns: Mapping[int, int]
    first: int = 1
    down: int = 0
    kept_as: str = ""


@dataclass
class Followed:
    """What was changed: cells by sheet, and how many references in all.

    `left` says what could not follow, by the name of the sheet that it uses now, "" for none.
    """

    cells: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    followed: int = 0
    left: dict[str, list[str]] = field(default_factory=dict)


def follow(formula: str, moves: Mapping[str, Move], home: Move | None = None) -> tuple[str, bool]:
    """Return a formula whose references into moved sheets follow.

    Parameters
    ----------
    formula
        Without its equals sign.
    moves
        By casefolded name of a sheet.
    home
        Where the cells of the formula's own sheet are now, where that moved.

    Returns
    -------
    tuple of str and bool
        The formula, and whether every reference could follow.
    """
    pieces: list[str] = []
    followed = True
    scope: Token | None = None
    for token in tokens(formula):
        move = None if scope is None else moves.get(_one_sheet(scope.text))
        if scope is not None and move is not None and token.kind in ("area", "columns", "rows"):
            moved = _move(token.text, move)
            if moved is not None:
                pieces[-1:] = [f"{sheet_prefix(move.name)}!", moved]
            elif move.kept_as:
                pieces[-1:] = [f"{sheet_prefix(move.kept_as)}!", token.text]
            else:
                pieces[-1:] = [_LOST]
            followed &= moved is not None
        elif scope is None and home is not None and token.kind in ("area", "columns", "rows"):
            moved = _move(token.text, home)
            pieces.append(moved or _LOST)
            followed &= moved is not None
        else:
            pieces.append(token.text)
        scope = token if token.kind == "sheet" else None
    return "".join(pieces), followed


def _one_sheet(text: str) -> str:
    names = sheet_names(text)
    return names[0].casefold() if len(names) == 1 else ""


def _move(text: str, move: Move) -> str | None:
    """Return an area in its new place, None where its columns are no longer together."""
    first, colon, last = text.partition(":")
    start = _corner(first, move)
    end = _corner(last, move) if colon else start
    if start is None or end is None:
        return None
    if colon:
        low, high = (column_number(corner[2] or "") for corner in map(_parts, (first, last)))
        places = [move.columns.get(column, 0) for column in range(low, high + 1) if column]
        if any(place != places[0] + at for at, place in enumerate(places)):
            return None
    return start + colon + (end if colon else "")


def _parts(corner: str) -> re.Match[str]:
    match = _CORNER.fullmatch(corner)
    assert match is not None  # every part of the pattern may be missing
    return match


def _corner(text: str, move: Move) -> str | None:
    match = _parts(text)
    column, row = "", match[4] or ""
    if match[2]:
        new = move.columns.get(column_number(match[2]))
        if new is None:
            return None
        column = column_letters(new)
    if row and int(row) >= move.first:
        moved = int(row) + move.down
        if not 1 <= moved <= MAX_ROW:
            return None
        row = str(moved)
    return f"{match[1]}{column}{match[3]}{row}"


def follow_everywhere(
    package: Package,
    moves: Mapping[str, Move],
    *,
    without: Collection[str],
    ours: Collection[str],
) -> Followed:
    """Let all that points into moved sheets follow.

    Parameters
    ----------
    package
        The opened workbook.
    moves
        By casefolded name of a sheet.
    without
        Names of the sheets whose own formulas stay as they are.
    ours
        Casefolded defined names that stay as they are.

    Returns
    -------
    Followed
        A formula that changed has no stored result any more.
    """
    done = Followed()
    if not moves:
        return done
    _follow_names(package, moves, ours, done)
    stay = {name.casefold() for name in without}
    for sheet in sheets(package):
        if sheet.kind == "worksheet" and sheet.part and sheet.name.casefold() not in stay:
            _follow_in_part(package, sheet.part, sheet.name, moves, done)
    for part in package.names():
        if content_type(package, part).endswith("drawingml.chart+xml"):
            _follow_in_part(package, part, "", moves, done)
    return done


def _follow_names(
    package: Package, moves: Mapping[str, Move], ours: Collection[str], done: Followed
) -> None:
    root = workbook_root(package)
    names = child(root, "definedNames")
    changed = False
    for element in children(names, "definedName") if names is not None else ():
        name, text = str(element.get("name", "")), element.text or ""
        own = element.get("localSheetId") is not None or name.casefold() in ours
        if own or not points_into(text, moves):
            continue
        changed |= _follow_one(element, moves, f"the name {name}", done)
    if changed:
        replace_tree(package, package.workbook_part, root)


def _follow_one(element: Element, moves: Mapping[str, Move], what: str, done: Followed) -> bool:
    """Change the text of one element; whether it is another one now."""
    old = element.text or ""
    element.text, followed = follow(old, moves)
    if not followed:
        used = [move.kept_as for name, move in moves.items() if points_into(old, {name})]
        done.left.setdefault(used[0], []).append(what)
    elif element.text != old:
        done.followed += 1
    return element.text != old


def _follow_in_part(
    package: Package, part: str, sheet: str, moves: Mapping[str, Move], done: Followed
) -> None:
    content = package.read(part)
    if not _may_name(content, moves):
        return
    root = parse(content, part)
    dropped: list[Element] = []
    changed = False
    for element in list(root.iter()):
        if local(element) not in FORMULAS or not points_into(element.text or "", moves):
            continue
        cell = element.getparent()
        name = cell.get("r", "") if cell is not None and local(cell) == "c" else ""
        where = f"{sheet}!{name}" if name else f"a rule on {sheet}"
        if _follow_one(element, _usable(element, moves), where if sheet else "a chart", done):
            changed = True
            dropped += _same_formula(root, element) if name else []
    for cell in dropped:
        for result in [item for item in cell if local(item) in ("v", "is")]:
            cell.remove(result)
        cell.attrib.pop("t", "")
    if changed:
        replace_tree(package, part, root)
        places = parse_areas(cell.get("r") for cell in dropped)
        done.cells.setdefault(sheet, []).extend((area[0], area[1]) for area in places)


def _may_name(content: bytes, names: Collection[str]) -> bool:
    """Whether a part may name one of the sheets; one that is spelled in another way counts."""
    if content[:2] in UTF_16 or b"&#" in content:
        return True
    if not all(name.isascii() and name.replace(" ", "").isalnum() for name in names):
        return True
    small = content.lower()
    return any(re.search(rb"%b(?:'|&apos;)?[!:]" % name.encode(), small) for name in names)


def _usable(element: Element, moves: Mapping[str, Move]) -> Mapping[str, Move]:
    """Return the moves for one formula: cells of several columns that share it do not move."""
    areas = parse_areas([element.get("ref")]) if element.get("t") == "shared" else ()
    if all(area[1] == area[3] for area in areas):
        return moves
    if follow(element.text or "", moves)[0] == element.text:
        return moves
    return {name: replace(move, columns={}) for name, move in moves.items()}


def _same_formula(root: Element, element: Element) -> list[Element]:
    """Return the cells that show results of a formula: its own, and those that share it."""
    cell = element.getparent()
    assert cell is not None  # a formula stands in a cell
    if element.get("t") == "shared":
        group = element.get("si")
        return [
            other
            for formula in descendants(root, "f")
            if formula.get("si") == group and (other := formula.getparent()) is not None
        ]
    areas = parse_areas([element.get("ref")])
    if not areas:
        return [cell]
    top, left, bottom, right = areas[0]
    return [
        other
        for other in descendants(root, "c")
        for row, column, *_ in parse_areas([other.get("r")])
        if top <= row <= bottom and left <= column <= right
    ]
