"""An old sheet of any office made into a workbook of this program; the sheet stays as it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PEOPLE
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.bring import words
from xlhelpers.jobs.bring.book import (
    add_tabs,
    cell_rows,
    column_rows,
    has_few_heights,
    known_rows,
    make_book,
)
from xlhelpers.jobs.bring.columns import Column, decide_roles, of_role, read_columns
from xlhelpers.jobs.bring.foreign import ForeignSheet, is_blank, read_foreign, text_of
from xlhelpers.jobs.bring.ledger import Entry
from xlhelpers.jobs.bring.lines import Brought, bring_lines, fields_not_asked
from xlhelpers.jobs.bring.mapping import (
    Answers,
    Key,
    MappingFile,
    find_mapping,
    keys_of,
    mapping_place,
    role_named,
    write_mapping,
)
from xlhelpers.jobs.bring.plots import PlotNames
from xlhelpers.jobs.bring.questions import Kind, Question, find_out
from xlhelpers.jobs.bring.tables import Table, find_table
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.places import refuse_facts, refuse_new_book, write_facts
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.wording import list_words, plural


@dataclass
class Proposal:
    """What is known of a foreign file before anything is written: its tables and their columns.

    `without` are the tabs that have no table.
    """

    kinds: list[Kind]
    without: list[ForeignSheet]
    questions: list[Question] = field(default_factory=list)

    @property
    def units(self) -> Units:
        """Return the units of the new workbook."""
        systems = [k.knowledge.units.word for k in self.kinds if k.knowledge.units]
        return "us" if systems and systems.count("us") * 2 > len(systems) else "metric"

    @property
    def columns(self) -> list[Column]:
        """Return the columns of all tables, those with the same headings once."""
        return [column for kind in self.kinds for column in kind.columns]

    @property
    def answers(self) -> Answers:
        """Return what is known, for the mapping file."""
        known = Answers()
        for kind in self.kinds:
            known = known.or_else(kind.knowledge.answers)
        return known


def run(
    sheet: Path,
    out: Path | None,
    units: Units | None,
    scale: str | None,
    distance_kind: str | None,
    eye_height: float | None,
    column: Sequence[str],
    mapping: Path | None,
    json: Path | None,
    progress: Progress,
) -> Done:
    """Bring a sheet in, or ask what it does not say; the exit code is 1 if there is something."""
    refuse_facts(json)
    out = words.default_out(sheet) if out is None else out
    answers = Answers(units or "", scale or "", distance_kind or "", eye_height)
    progress("Reading the sheet")
    proposal, known = propose(sheet, answers, column, mapping)
    done = _bring(sheet, out, proposal, known, progress)
    if json is not None and done.facts is not None:
        write_facts(json, [dict(done.facts())])
    return done


def propose(
    sheet: Path, answers: Answers, corrections: Sequence[str] = (), mapping: Path | None = None
) -> tuple[Proposal, MappingFile]:
    """Read a file and find out what its columns are.

    Parameters
    ----------
    sheet : Path
        The file; it stays as it is.
    answers : Answers
        What was answered now; it goes before the mapping file.
    corrections : sequence of str
        "Heading=Field" for columns that were read wrongly.
    mapping : Path, optional
        A mapping file to use.

    Returns
    -------
    tuple
        The proposal with its open questions, and the mapping file that was used.

    Raises
    ------
    WorkbookError
        The file cannot be read, has no table of trees, or a correction names no heading or field.
    """
    foreign = read_foreign(sheet)
    tabs_and_tables = [(tab, find_table(tab)) for tab in foreign]
    tables = [table for _, table in tabs_and_tables if table is not None]
    if not tables:
        raise WorkbookError(words.NO_TABLE.format(name=sheet.name))
    kinds = _kinds(tables)
    headings = [heading for kind in kinds for heading in kind.tables[0].signature]
    known = find_mapping(sheet, mapping, headings)
    corrected = _corrections(corrections, headings)
    proposal = Proposal(kinds, [tab for tab, table in tabs_and_tables if table is None])
    for kind in kinds:
        keys = keys_of(kind.tables[0].signature)
        agreed = {
            at: role
            for at, key in enumerate(keys)
            if (role := corrected.get(key) or known.roles.get(key)) and key[0]
        }
        decide_roles(kind.columns, agreed)
        kind.knowledge = find_out(kind.columns, answers.or_else(known.answers))
        proposal.questions += [
            one for one in kind.knowledge.questions if one not in proposal.questions
        ]
    _refuse_eye_height(answers.eye_height, proposal.units)
    return proposal, known


def _kinds(tables: Sequence[Table]) -> list[Kind]:
    """Gather the tables with the same headings."""
    by_headings: dict[tuple[str, ...], list[Table]] = {}
    for table in tables:
        by_headings.setdefault(table.signature, []).append(table)
    return [Kind(same, read_columns(same)) for same in by_headings.values()]


def _corrections(given: Sequence[str], headings: Sequence[str]) -> dict[Key, str]:
    role_by_key: dict[Key, str] = {}
    keys = dict(zip(keys_of(headings), headings, strict=True))
    for text in given:
        heading, _, name = text.rpartition("=")
        role = role_named(name.strip())
        if not heading or not role:
            raise WorkbookError(words.NO_COLUMN.format(given=text))
        key = keys_of([heading.strip()])[0]
        if key not in keys:
            listing = ", ".join(f"“{one}”" for one in dict.fromkeys(headings) if one)
            raise WorkbookError(
                words.NO_HEADING.format(given=text, heading=heading.strip(), headings=listing)
            )
        role_by_key[key] = role
    return role_by_key


def _refuse_eye_height(given: float | None, units: Units) -> None:
    low, high = PEOPLE["eye_height"].shown_bounds(units)
    assert low is not None
    assert high is not None
    if given is not None and not low <= given <= high:
        unit = "m" if units == "metric" else "ft"
        raise WorkbookError(
            words.EYE_OUTSIDE.format(
                given=f"{given:g}", unit=unit, low=round(low, 1), high=round(high, 1)
            )
        )


def _bring(
    sheet: Path, out: Path, proposal: Proposal, known: MappingFile, progress: Progress
) -> Done:
    if proposal.questions:
        return _ask(sheet, proposal, known)
    refuse_new_book(out)
    progress("Making the lines")
    names = PlotNames(proposal.kinds)
    brought = bring_lines(proposal.kinds, names, proposal.units)
    if not brought.lines:
        raise WorkbookError(words.NO_LINES.format(name=sheet.name))
    _leave_other_tabs(brought, proposal.without)
    progress("Writing the workbook")
    package = make_book(brought, proposal.kinds, sheet.stem)
    counts = [*_counts(brought), *names.remarks, *_remarks(brought, proposal)]
    add_tabs(package, brought, proposal.kinds, counts)
    place = mapping_place(sheet)
    saved = write_mapping(place, proposal.columns, proposal.answers)
    write_book(out, package.to_bytes(), backup=False)
    rows = column_rows(brought, proposal.kinds)
    left = brought.ledger.count("left")
    return Done(
        (
            *counts,
            words.SAVED.format(path=out, tab=words.TAB),
            *_say_mapping(known, place if saved else None),
            words.NEXT,
            words.COLUMNS_READ,
            *words.say_columns(rows),
        ),
        TO_CHECK if left else NOTHING_TO_CHECK,
        (out, place) if saved else (out,),
        facts=partial(_facts, sheet, out, proposal, brought, counts),
    )


def _ask(sheet: Path, proposal: Proposal, known: MappingFile) -> Done:
    """Show the proposal and the questions; only the mapping file is written."""
    place, nothing = mapping_place(sheet), Brought(proposal.units)
    saved = write_mapping(place, proposal.columns, proposal.answers)
    rows = column_rows(nothing, proposal.kinds)
    sentences = [words.ASKED, *(f"  {one.sentence}" for one in proposal.questions)]
    sentences += _say_mapping(known, place if saved else None)
    sentences += [words.COLUMNS_READ, *words.say_columns(rows)]
    facts = partial(_facts, sheet, None, proposal, nothing, [])
    return Done(sentences, TO_CHECK, (place,) if saved else (), facts=facts)


def _say_mapping(known: MappingFile, saved: Path | None) -> list[str]:
    sentences = [words.USED_MAPPING.format(path=known.path)] if known.path else []
    return sentences + ([words.SAVED_MAPPING.format(path=saved)] if saved else [])


def _leave_other_tabs(brought: Brought, tabs: Sequence[ForeignSheet]) -> None:
    for tab in tabs:
        for row, cells in enumerate(tab.rows):
            for column, cell in enumerate(cells):
                if not is_blank(cell):
                    entry = Entry("left", "", text_of(cell), words.NO_TABLE_HERE)
                    brought.ledger.entries[tab.name, row, column] = entry


def _counts(brought: Brought) -> list[str]:
    ledger, trees, other = brought.ledger, brought.lines_in, brought.other_rows
    understood, notes, left = (ledger.count(fate) for fate in ("understood", "note", "left"))
    sentences = [
        f"Lines in: {trees + other:,}"
        + (f" ({trees:,} of trees, {other:,} of totals, texts or headings)" if other else "")
        + f". Lines out: {len(brought.lines):,}, on {plural(len(brought.plots), 'plot')}.",
        f"Filled cells: {understood + notes + left:,}. Understood: {understood:,}. "
        f"In notes: {notes:,}. Left out: {left:,}.",
    ]
    if notes or left:
        sentences.append(
            f"The tab “{words.CELLS_TAB}” shows where those in notes and those left out were."
        )
    return sentences


def _remarks(brought: Brought, proposal: Proposal) -> list[str]:
    remarks = [
        words.HIDDEN.format(rows=plural(len(table.sheet.hidden), "row"), tab=table.sheet.name)
        for kind in proposal.kinds
        for table in kind.tables
        if table.sheet.hidden
    ]
    if not any(of_role(kind.columns, "tree") for kind in proposal.kinds):
        remarks.append(words.NUMBERED)
    fields = [name for kind in proposal.kinds for name in fields_not_asked(kind)]
    if fields:
        labels = [f"“{FIELD_SHEET[name].label}”" for name in dict.fromkeys(fields)]
        remarks.append(words.NOT_ASKED.format(fields=list_words(labels)))
    if has_few_heights(brought):
        remarks.append(words.SOME_HEIGHTS)
    return remarks


def _facts(
    sheet: Path,
    out: Path | None,
    proposal: Proposal,
    brought: Brought,
    sentences: Sequence[str],
) -> Mapping[str, Any]:
    """Return what another program may read: columns, answers, questions, counts and odd cells."""
    ledger = brought.ledger
    return {
        "sheet": str(sheet),
        "out": None if out is None else str(out),
        "columns": column_rows(brought, proposal.kinds),
        "known": known_rows(proposal.kinds),
        "questions": [one._asdict() for one in proposal.questions],
        "counts": {
            "lines in": brought.lines_in,
            "other rows": brought.other_rows,
            "lines out": len(brought.lines),
            **{fate: ledger.count(fate) for fate in ("understood", "note", "left", "heading")},
        },
        "cells": cell_rows(brought, proposal.kinds),
        "sentences": list(sentences),
    }
