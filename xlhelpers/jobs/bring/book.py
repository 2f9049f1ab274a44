"""The new workbook: made as `new` makes it, entered as a clerk would, with the tab in front."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.bring import words
from xlhelpers.jobs.bring.columns import INCHES, of_role
from xlhelpers.jobs.bring.lines import RECORDED_HEIGHTS, UNNAMED_CREW, Brought
from xlhelpers.jobs.bring.questions import Kind
from xlhelpers.jobs.bring.vocabulary import KEEP, LASER_WORDS, role_label
from xlhelpers.measure.instruments import HEIGHT_SCALE, KINDS
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.graft.sheet_order import move_to_front
from xlhelpers.package.sheet.references import cell_name, column_letters
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.our_tabs import names_of
from xlhelpers.pages.plan import Block, TabPlan
from xlhelpers.pages.render import render_book
from xlhelpers.survey.typed.words import identifier_key, initials_in
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import MOST_PLOTS, make_template

_SPARE = 40
_DISPLAY = "display that shows heights"
_FIELDS = {field.name for field in FIELD_SHEET.fields}
_PLOT_FACTS = ("date", "crew", "stratum")


def make_book(brought: Brought, kinds: Sequence[Kind], name: str) -> Package:
    """Make a workbook with everything that was brought in.

    Raises
    ------
    WorkbookError
        There are more plots than a workbook holds.
    """
    if len(brought.plots) > MOST_PLOTS:
        raise WorkbookError(words.TOO_MANY_PLOTS.format(plots=len(brought.plots), most=MOST_PLOTS))
    units = brought.units
    count = max(len(brought.lines) + _SPARE, _SPARE)
    instruments = list(_instruments(brought))
    people = list(_people(brought, kinds))
    strata = _strata(brought)
    rows = {"instrument": len(instruments), "person": len(people), "stratum": len(strata)}
    paper = "a4" if units == "metric" else "letter"
    data = make_template(units, paper, max(len(brought.plots), 1), count, rows)  # type: ignore[arg-type]
    package = Package.from_bytes(data, "brought.xlsx")
    key_rows(package, RULES, [_rules(brought, kinds, name)])
    key_rows(package, STRATA, strata)
    key_rows(package, PEOPLE, people)
    key_rows(package, INSTRUMENTS, instruments)
    key_rows(package, PLOTS, list(_plots(brought)))
    lines = [
        {field: value for field, value in line.items() if field in _FIELDS and value != ""}
        for line in brought.lines
    ]
    key_rows(package, FIELD_SHEET, lines)
    return package


def _rules(brought: Brought, kinds: Sequence[Kind], name: str) -> dict[str, Any]:
    rules: dict[str, Any] = {"survey_name": name}
    if any(of_role(kind.columns, "girth") for kind in kinds):
        rules["diameter_typed_as"] = "girth"
    if all(not of_role(kind.columns, "plot") for kind in kinds) and any(
        of_role(kind.columns, "street") for kind in kinds
    ):
        rules["survey_kind"] = "every tree"
    if has_few_heights(brought):
        rules["heights_on"] = "some trees"
    return rules


def has_few_heights(brought: Brought) -> bool:
    """Return whether fewer than half of the lines have a reading to the tip."""
    tips = sum("tip_reading" in line for line in brought.lines)
    return tips < 0.5 * len(brought.lines)


def _strata(brought: Brought) -> list[dict[str, Any]]:
    strata = {plot.fact("stratum") for plot in brought.plots.values()} - {None}
    return [{"stratum": name} for name in sorted(strata)]


def _people(brought: Brought, kinds: Sequence[Kind]) -> Iterator[dict[str, Any]]:
    """Yield the people of the crews; the first of each with the eye height, if it is needed."""
    answers = [k.knowledge.eye_height for k in kinds if k.knowledge.eye_height is not None]
    seen: dict[str, dict[str, Any]] = {}
    for plot in brought.plots.values():
        eye = plot.fact("eye_height") or next(iter(answers), None)
        crew = initials_in(str(plot.fact("crew") or ""))
        if not crew and eye is not None:
            crew = (UNNAMED_CREW,)
        for place, initials in enumerate(crew):
            row = seen.setdefault(identifier_key(initials), {"initials": initials})
            if place == 0 and eye is not None:
                row.setdefault("eye_height", eye)
    yield from seen.values()


def _plots(brought: Brought) -> Iterator[dict[str, Any]]:
    needs_eye = any("missing_because" in line for line in brought.lines)
    for plot in brought.plots.values():
        if plot.name == "":
            continue
        instrument, scale, kind = plot.way
        row = {"plot": plot.name, "status": plot.status}
        row |= {name: plot.fact(name) for name in _PLOT_FACTS if plot.fact(name) is not None}
        if needs_eye and "crew" not in row:
            row["crew"] = UNNAMED_CREW
        row |= {"instrument": instrument, "scale": scale, "distance_kind": kind}
        if plot.notes:
            row["note"] = "; ".join(dict.fromkeys(plot.notes))
        yield {name: value for name, value in row.items() if value != ""}


def _instruments(brought: Brought) -> Iterator[dict[str, Any]]:
    """Yield each instrument once, with its kind where its name says it."""
    scales: dict[str, tuple[str, set[str]]] = {}
    for line in brought.lines:
        plot = brought.plots[identifier_key(_text(line["plot"]))]
        name = str(line.get("instrument") or plot.way[0])
        scale = str(line.get("scale") or plot.way[1])
        if name:
            scales.setdefault(identifier_key(name), (name, set()))[1].add(scale)
    for name, used in scales.values():
        used.discard("")
        kind = _kind(name, used)
        row: dict[str, Any] = {"instrument": name}
        if kind:
            row["kind"] = kind
        known = {scale.name for scale in KINDS[kind].scales} if kind in KINDS else set()
        if used - known:
            row |= {f"scale_{n}": scale for n, scale in enumerate(sorted(used)[:2], 1)}
        yield row


def _text(value: float | str) -> str:
    return f"{value:g}" if isinstance(value, float) else value


def _kind(name: str, scales: set[str]) -> str:
    """Return the kind of an instrument by its name and scales, "" where it is not clear."""
    folded = name.casefold()
    if scales == {HEIGHT_SCALE}:
        for part, kind in LASER_WORDS:
            if part in folded:
                return kind
        if "laser" in folded:
            return "laser that shows heights"
        return _DISPLAY if name == RECORDED_HEIGHTS else ""
    if "laser" in folded:
        return "laser with angles"
    if re.search(r"[ck]lino", folded):
        return f"clinometer, percent and {'topographic' if 'topographic' in scales else 'degrees'}"
    return ""


def column_rows(brought: Brought, kinds: Sequence[Kind]) -> list[dict[str, Any]]:
    """Return one row a column: where it is, what it was read as and why, and its cells."""
    rows = []
    for kind in kinds:
        names = [table.sheet.name for table in kind.tables]
        for column in kind.columns:
            if not column.filled and not column.heading.text:
                continue
            counts = brought.ledger.by_column(set(names), column.at)
            label = role_label(column.plain_role)
            if column.role.endswith(INCHES):
                label += ", inches"
            elif column.number > 1:
                label += f", set-up {column.number}"
            rows.append(
                {
                    "sheet": ", ".join(names),
                    "place": column_letters(column.at + 1),
                    "heading": column.heading.text,
                    "label": label,
                    "unit": column.unit.sign if column.unit and column.role != KEEP else "",
                    "because": column.because,
                    "cells": sum(counts.values()),
                    **{fate: counts[fate] for fate in ("understood", "note", "left")},
                }
            )
    return rows


def known_rows(kinds: Sequence[Kind]) -> list[dict[str, str]]:
    """Return one row for each thing that was found out or answered."""
    rows = []
    for kind in kinds:
        known = kind.knowledge
        findings = {
            "units": known.units,
            "scale": known.scale,
            "distance_kind": known.distance_kind,
        }
        for name, finding in findings.items():
            if finding is not None:
                label = words.KNOWN_LABELS[name]
                word = words.UNITS.get(finding.word, finding.word)
                rows.append({"what": label, "answer": word, "because": finding.because})
        if known.eye_height is not None:
            eye = f"{known.eye_height:g}"
            label = words.KNOWN_LABELS["eye_height"]
            rows.append({"what": label, "answer": eye, "because": words.YOUR_ANSWER})
    return [row for at, row in enumerate(rows) if row not in rows[:at]]


def cell_rows(brought: Brought, kinds: Sequence[Kind]) -> list[dict[str, str]]:
    """Return one row for each cell in a note or left, but for columns that are notes as a whole."""
    whole = {
        (table.sheet.name, column.at, column.because)
        for kind in kinds
        for column in kind.columns
        if column.role in (KEEP, "note")
        for table in kind.tables
    }
    rows = []
    for (sheet, row, column), entry in sorted(brought.ledger.entries.items()):
        if entry.fate in words.FATES and (sheet, column, entry.why) not in whole:
            rows.append(
                {
                    "sheet": sheet,
                    "cell": cell_name(row + 1, column + 1),
                    "heading": entry.heading,
                    "text": entry.text,
                    "fate": words.FATES[entry.fate],
                    "because": entry.why,
                }
            )
    return rows


def add_tabs(
    package: Package, brought: Brought, kinds: Sequence[Kind], counts: Sequence[str]
) -> None:
    """Add the tab that says how the sheet was read, in front, and the list of odd cells, last."""
    columns = pd.DataFrame(
        column_rows(brought, kinds), columns=[c.key for c in words.COLUMN_COLUMNS]
    )
    known = pd.DataFrame(known_rows(kinds), columns=[c.key for c in words.KNOWN_COLUMNS])
    cells = pd.DataFrame(cell_rows(brought, kinds), columns=[c.key for c in words.CELL_COLUMNS])
    first = TabPlan(
        "brought",
        words.TAB,
        words.TAB_SENTENCE,
        (
            Block("columns", words.COLUMN_COLUMNS, columns),
            Block("known", words.KNOWN_COLUMNS, known, title="Units and readings", stretched=True),
        ),
        tuple(counts),
        name=words.TAB,
    )
    last = TabPlan(
        "brought_cells",
        words.CELLS_TAB,
        words.CELLS_SENTENCE,
        (Block("cells", words.CELL_COLUMNS, cells, filtered=True, if_empty=words.NO_CELLS),),
        name=words.CELLS_TAB,
    )
    scratch = render_book([first, last], brought.units)
    rendered = Package.from_bytes(scratch, "tabs.xlsx")
    placed = graft_sheets(package, scratch, replacing={}, defined=names_of(rendered))
    move_to_front(package, placed[0])
