"""Where everything is in a workbook: sheets and columns, found by name, then by heading.

A column is found by the defined name on its heading cell (of the workbook or of one sheet), then
by its exact heading, then by a heading that differs only in full stops, underscores, "no", "#" or
"id", then by a stated synonym; never by its position.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from xlhelpers.fields.record import Field, Sheet
from xlhelpers.fields.workbook import KEYED_SHEETS, RESULT_TABS, tab_name
from xlhelpers.package.parts.parts import DefinedName, SheetPart
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import cell_name, column_letters, parse_target
from xlhelpers.reading.findings import make_finding
from xlhelpers.survey.model import Finding
from xlhelpers.survey.typed.units import TypedUnit, unit_named
from xlhelpers.survey.typed.words import fold_word, tidy

Cell = tuple[int, int]
Claims = dict[str, tuple[Cell, ...]]
_BRACKET = re.compile(r"\s*[(\[]\s*([^()\[\]]*?)\s*[)\]]\s*$")
_SEARCHED_ROWS, _SEARCHED_COLUMNS = 40, 400
# what people put around the name of a column: "Tree_No.", "plot #"
_SIGNS_AROUND = str.maketrans("._#", "   ")
_WORDS_AROUND = {"no", "id"}
_INITIAL = re.compile(r"\b([a-z])\.")  # of an abbreviation such as D.B.H.
# the columns by whose headings a sheet without names is known
_NEEDED: dict[str, frozenset[str]] = {
    "stratum": frozenset(("stratum", "plots_possible")),
    "person": frozenset(("initials", "eye_height")),
    "instrument": frozenset(("instrument", "kind")),
    "check": frozenset(("instrument", "date", "known_height")),
    "plot": frozenset(("plot", "status")),
    "species": frozenset(("botanical", "kind")),
    "line": frozenset(("plot", "tree", "tip_reading")),
}


@dataclass(frozen=True)
class Place:
    """Where one keyed sheet is: the heading row, the column of each field, what does not fit."""

    record: Sheet
    sheet: str
    grid: Grid
    heading_row: int
    columns: Mapping[str, int]
    findings: tuple[Finding, ...] = ()
    by_headings: bool = False


def anchors(
    names: Iterable[DefinedName], parts: Iterable[SheetPart]
) -> dict[str, dict[str, Claims]]:
    """Return the cells that carry our names: sheet name, sheet key, field, cells.

    Names whose cell was deleted, or that point at a sheet that is not there, are left out.
    """
    spelled = {part.name.casefold(): part.name for part in parts}
    known = {
        sheet.defined_name(field.name).casefold(): (sheet.key, field.name)
        for sheet in KEYED_SHEETS
        for field in (*sheet.fields, *sheet.retired)
    }
    sheet_claims: dict[str, dict[str, Claims]] = {}
    for name in names:
        meant = known.get(name.name.casefold())
        target = parse_target(name.text) if meant else None
        if meant is None or target is None or target[0].casefold() not in spelled:
            continue
        claims = sheet_claims.setdefault(spelled[target[0].casefold()], {}).setdefault(meant[0], {})
        cells = (*claims.get(meant[1], ()), (target[1], target[2]))
        claims[meant[1]] = tuple(dict.fromkeys(cells))
    return sheet_claims


def result_sheets(names: Iterable[DefinedName]) -> frozenset[str]:
    """Return the names, folded, of the sheets that hold our results; these are never read."""
    ours = {tab_name(key).casefold() for key in RESULT_TABS}
    targets = [parse_target(name.text) for name in names if name.name.casefold() in ours]
    return frozenset(target[0].casefold() for target in targets if target is not None)


def heading_key(value: object) -> str:
    """Return a heading in the form in which headings are compared: folded, without its unit."""
    if not isinstance(value, str):
        return ""
    text = tidy(value)
    bracket = _BRACKET.search(text)
    if bracket and (not bracket[1] or unit_named(bracket[1])):
        text = text[: bracket.start()]
    return fold_word(text)


def heading_unit(value: object) -> TypedUnit | None:
    """Return the unit that a heading carries in brackets, None where it carries none."""
    bracket = _BRACKET.search(tidy(value)) if isinstance(value, str) else None
    return unit_named(bracket[1]) if bracket else None


def plain_heading(key: str) -> str:
    """Return a heading key without full stops, underscores, "no", "#" and "id" around the name."""
    words = _INITIAL.sub(r"\1", key).translate(_SIGNS_AROUND).split()
    return " ".join(word for word in words if word not in _WORDS_AROUND)


def known_headings(record: Sheet) -> tuple[dict[str, str], dict[str, str]]:
    """Return the folded labels of a sheet and its plain labels and synonyms, each with its field.

    A plain heading that several columns could claim belongs to none.
    """
    labels = {fold_word(word): field.name for field in record.fields for word in field.labels}
    claims: dict[str, set[str]] = {}
    for field in record.fields:
        for word in (*field.labels, *field.synonyms):
            claims.setdefault(plain_heading(fold_word(word)), set()).add(field.name)
    plain = {word: names.pop() for word, names in claims.items() if word and len(names) == 1}
    return labels, plain


def heading_texts(grid: Grid, row: int) -> dict[int, str]:
    """Return the folded headings of one row by column; blanks are left out."""
    if not 1 <= row <= grid.shape[0]:
        return {}
    cells = grid.values[row - 1, : min(grid.shape[1], 16_384)]
    keys = {column: heading_key(value) for column, value in enumerate(cells, 1)}
    return {column: key for column, key in keys.items() if key}


def place_by_names(record: Sheet, sheet: str, grid: Grid, claims: Claims) -> Place:
    """Return the place of a sheet that carries names.

    Parameters
    ----------
    record
        The kind of sheet.
    sheet
        Name of its tab.
    grid
        Its cells.
    claims
        The cells that carry the name of each field.
    """
    rows = Counter(row for cells in claims.values() for row, _ in cells)
    heading_row = rows.most_common(1)[0][0]
    return _place(record, sheet, grid, heading_row, claims)


def place_by_headings(records: Iterable[Sheet], sheet: str, grid: Grid) -> Place | None:
    """Return the place of a sheet without names, None where its headings are not ours.

    The row with the most known headings among the first forty counts. A sheet under its usual
    tab name needs two of them, any other the signs of its kind.
    """
    best: tuple[int, Sheet, int] | None = None
    known = [(record, *known_headings(record)) for record in records]
    for row in range(1, min(grid.shape[0], _SEARCHED_ROWS) + 1):
        keys = [heading_key(value) for value in grid.values[row - 1, :_SEARCHED_COLUMNS]]
        for record, labels, plain in known:
            matched = {labels.get(key) or plain.get(plain_heading(key), "") for key in keys if key}
            matched = {name for name in matched if name and record[name].kind != "computed"}
            is_named = fold_word(sheet) == fold_word(record.tab) and len(matched) >= 2
            enough = is_named or _NEEDED.get(record.key, frozenset(("",))) <= matched
            if enough and (best is None or len(matched) > best[0]):
                best = (len(matched), record, row)
    if best is None:
        return None
    place = _place(best[1], sheet, grid, best[2], {})
    kind = "" if sheet == place.record.tab else f" as “{place.record.tab}”"
    note = make_finding(
        "sheet-by-headings",
        f"“{sheet}” was recognized{kind} by its headings in row {place.heading_row}.",
        "If that is wrong, rename the headings.",
        (("sheet", sheet),),
        sheet=sheet,
        row=place.heading_row,
    )
    return replace(place, by_headings=True, findings=(note, *place.findings))


def _place(record: Sheet, sheet: str, grid: Grid, heading_row: int, claims: Claims) -> Place:
    headings = heading_texts(grid, heading_row)
    named = {column for cells in claims.values() for _, column in cells}
    nameless = {column: key for column, key in headings.items() if column not in named}
    headed = _columns_by_headings(record, nameless)
    columns: dict[str, int] = {}
    findings: list[Finding] = []
    for field in (*record.fields, *record.retired):
        matches = _columns_by_names(field, claims.get(field.name, ()), grid) or headed.get(
            field.name, []
        )
        if len(matches) == 1:
            columns[field.name] = matches[0]
        elif field.kind != "computed" and (matches or field.required == "always"):
            findings.append(_report_lost(field, sheet, heading_row, matches))
    place = Place(record, sheet, grid, heading_row, columns)
    return replace(place, findings=(*findings, *_doubtful_headings(place, headings)))


def _columns_by_names(field: Field, cells: tuple[Cell, ...], grid: Grid) -> list[int]:
    """Return the columns that carry the field's name; of several, the one headed as it should."""
    columns = sorted({column for _, column in cells})
    if len(columns) > 1:
        labels = {fold_word(word) for word in field.labels}
        right = {column for row, column in cells if heading_key(grid.value(row, column)) in labels}
        return list(right) if len(right) == 1 else columns
    return columns


def _columns_by_headings(record: Sheet, headings: Mapping[int, str]) -> dict[str, list[int]]:
    """Return the columns with each field's exact heading, or else with one that means the same."""
    labels, plain = known_headings(record)
    exact: dict[str, list[int]] = {}
    alike: dict[str, list[int]] = {}
    for column, key in headings.items():
        if key in labels:
            exact.setdefault(labels[key], []).append(column)
        elif name := plain.get(plain_heading(key)):
            alike.setdefault(name, []).append(column)
    return {**alike, **exact}


def _report_lost(field: Field, sheet: str, row: int, columns: list[int]) -> Finding:
    """Return the finding on a field that no column claims, or several."""
    if columns:
        letters = " and ".join(column_letters(column) for column in columns)
        two, none = ("two", "Neither") if len(columns) == 2 else (str(len(columns)), "None")
        message = (
            f"“{sheet}” has {two} columns called “{field.label}” ({letters}). {none} was read."
        )
        action = "Rename one of them and fill again."
    else:
        message = f"“{sheet}” has no column “{field.label}”."
        action = f"Type “{field.label}” as the heading in row {row} and fill again."
    return make_finding(
        "column-twice" if columns else "column-missing",
        message,
        action,
        (("sheet", sheet), ("column", field.label)),
        sheet=sheet,
        row=row,
        column=columns[0] if columns else None,
        fields=(field.name,),
    )


def _doubtful_headings(place: Place, headings: Mapping[int, str]) -> list[Finding]:
    """Return the findings on headings of another field, and on columns headed alike."""
    record = place.record
    labels, _ = known_headings(record)
    taken = {column: name for name, column in place.columns.items()}
    findings = []
    fields: tuple[str, ...]
    for column, key in headings.items():
        meant, used = labels.get(key), taken.get(column)
        if meant is None or meant == used or record[meant].kind == "computed":
            continue
        if used is not None and record[used].kind != "computed":
            was_read = record[used].label
            check, fields = "heading-contradicts", (used, meant)
            cell = cell_name(place.heading_row, column)
            message = (
                f"On “{place.sheet}”, the column of “{was_read}” has the heading "
                f"“{record[meant].label}” ({cell}). It was read as “{was_read}”."
            )
            action = f"Check what the column contains. If it is “{was_read}”, restore that heading."
        elif used is None and meant in place.columns:
            check, fields = "column-twin", (meant,)
            message = (
                f"On “{place.sheet}”, two columns are called “{record[meant].label}”. Column "
                f"{column_letters(place.columns[meant])} was read, not {column_letters(column)}."
            )
            action = "If that is wrong, rename one of them and fill again."
        else:
            continue
        findings.append(
            make_finding(
                check,
                message,
                action,
                (("sheet", place.sheet), ("column", record[meant].label)),
                sheet=place.sheet,
                row=place.heading_row,
                column=column,
                fields=fields,
            )
        )
    return findings
