"""What the paper says, entered from To check into the cells it belongs to.

A finding is known by its identity and its readings, so its line is found wherever it is now. An
entry is written only if its cell still holds what the row showed. Whatever is not written stays in
its row, with the reason.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from xlhelpers.package.parts.parts import date1904, sheets
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.cell_writes import CellWrite, Refusal, Written
from xlhelpers.package.sheet.grid_scan import CellError, Value
from xlhelpers.package.time_stamp import now
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.cells import Settings
from xlhelpers.reading.decisions import OfficeEntries, read_decisions
from xlhelpers.reading.finding_cells import CellsOfFindings, FindingCell
from xlhelpers.reading.findings import as_typed
from xlhelpers.reading.outcome import evaluate_entries, with_decisions
from xlhelpers.reading.paper_entries import (
    CellEntry,
    RefusedEntry,
    is_there,
    parts_of,
    understand,
)
from xlhelpers.reading.rules import with_tape
from xlhelpers.survey.decisions.decisions import (
    CORRECTED,
    Decision,
    LogEntry,
    Standing,
    decision_word,
)
from xlhelpers.survey.decisions.identity import finding_ids, fingerprint
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.wording import plural

STILL_FOUND = "corrected, still found"
ANOTHER_CELL = "corrected, another cell of the same finding"
NO_INITIALS = "Not entered yet: type your initials."
LOOK_AGAIN = (
    "Not entered yet: the entries have changed since. Check the paper again, then type your "
    "initials in this row."
)
TWINS = "Not entered: two lines have this number and the same entries. Correct the sheet itself."
TWO_ENTRIES = "Not entered: another row has a different value for {cell}. Keep one of them."
OTHER_DECISION = "Not entered: the decision is “{word}”. Clear it, or clear what the paper says."
PROTECTED = "Not entered: {sheet} is protected. Unprotect it, then fill again."
MERGED = "Not entered: {cell} is inside merged cells. Unmerge them, then fill again."
FORMULA = "Not entered: {cell} has a formula. Replace it on the sheet if the paper is right."
_NAMED = 3
Cell = tuple[str, int, int]


@dataclass(frozen=True)
class CorrectedCell:
    """One cell that got what the paper says, with what it held and who typed it."""

    cell: FindingCell
    before: Value
    after: Written
    initials: str

    @property
    def sentence(self) -> str:
        """Return the cell with both values, such as "Field sheet J12 Tip reading: 7o → 70 (CD)"."""
        return f"{self.cell.text}: {_show(self.before)} → {_show(self.after)} ({self.initials})"

    @property
    def facts(self) -> dict[str, str]:
        """Return the cell for other programs, its values as Log shows them."""
        return {
            "cell": self.cell.address,
            "sheet": self.cell.sheet,
            "column": self.cell.field.label,
            "before": _show(self.before),
            "after": _show(self.after),
            "initials": self.initials,
        }


@dataclass(frozen=True)
class PaperEntries:
    """What one fill entered from To check, and what it has to say about entries."""

    corrected: tuple[CorrectedCell, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def cells(self) -> dict[str, CellSet]:
        """Return the corrected cells by sheet."""
        by_sheet: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for one in self.corrected:
            by_sheet[one.cell.sheet].append((one.cell.row, one.cell.column))
        return {sheet: CellSet.of(places) for sheet, places in by_sheet.items()}


@dataclass
class _Entries:
    """The entries on the way: ready ones and answers, by the position of their finding."""

    ready: dict[int, list[CellEntry]] = field(default_factory=dict)
    answers: dict[int, str] = field(default_factory=dict)
    look_again: set[int] = field(default_factory=set)

    def refuse(self, position: int, answer: str) -> None:
        """Take back what is ready for a finding, and say why."""
        self.ready.pop(position, None)
        self.answers[position] = answer


def enter_paper(package: Package, outcome: Outcome) -> tuple[Outcome, PaperEntries]:
    """Write what the paper says into the opened workbook and compute it again.

    Parameters
    ----------
    package : Package
        The opened workbook; its entered sheets are changed, nothing is saved.
    outcome : Outcome
        What was computed from it, with the rows of To check.

    Returns
    -------
    tuple of Outcome and PaperEntries
        The outcome with the corrected cells and the decisions on them, and what was done. Where
        nothing is to be entered, the outcome is the one given.
    """
    waiting = [i for i, stands in enumerate(outcome.standings) if stands.decision.paper]
    if not waiting:
        return outcome, PaperEntries(notes=_say_gone(package, outcome))
    entries = _prepare(package, outcome, waiting)
    corrected = _write(package, outcome, entries)
    after = _compute_again(package, outcome, entries, corrected) if corrected else outcome
    after = _with_answers(after, outcome, entries)
    notes = (*_say_corrected(corrected), *_say_waiting(after), *_say_gone(package, after))
    return after, PaperEntries(tuple(corrected.values()), notes)


def _prepare(package: Package, outcome: Outcome, waiting: Collection[int]) -> _Entries:
    """Return what can be written, and why the rest cannot."""
    cells = CellsOfFindings(package, outcome)
    settings = Settings(outcome.survey.units, from_1904=date1904(package))
    settings = with_tape(settings, outcome.survey.rules)
    alike = Counter(map(_readings, outcome.findings))
    entries = _Entries()
    for position in waiting:
        finding, decision = outcome.findings[position], outcome.standings[position].decision
        try:
            _refuse_decision(decision)
            if alike[_readings(finding)] > 1:
                raise RefusedEntry(TWINS)
            parts = parts_of(decision.paper, cells.of(finding), decision.cells)
            if not all(cells.is_as_shown(cell, decision.cells) for cell, _ in parts):
                entries.look_again.add(position)
                raise RefusedEntry(LOOK_AGAIN)
            entries.ready[position] = _cell_entries(cells, parts, settings)
        except RefusedEntry as refused:
            entries.answers[position] = str(refused)
    _refuse_contradictions(entries)
    return entries


def _readings(finding: Finding) -> tuple[Any, ...]:
    """Return what two findings have in common that cannot be told apart."""
    return finding.check, finding.subject, finding.fields, finding.evidence


def _refuse_decision(decision: Decision) -> None:
    if decision.word and decision_word(decision.word) != CORRECTED:
        raise RefusedEntry(OTHER_DECISION.format(word=decision.word))
    if not decision.initials:
        raise RefusedEntry(LOOK_AGAIN if decision.earlier else NO_INITIALS)


def _cell_entries(
    cells: CellsOfFindings, parts: Sequence[tuple[FindingCell, str]], settings: Settings
) -> list[CellEntry]:
    """Return the values of one entry, without those that are there already."""
    if len({cell for cell, _ in parts}) < len(parts):
        raise RefusedEntry("Not entered: one cell is named twice.")
    entries = []
    for cell, typed in parts:
        grid = cells.grid(cell.sheet)
        _refuse_place(cells, cell)
        entry = understand(cell, typed, grid, settings)
        if not is_there(entry, grid, settings):
            entries.append(entry)
    if not entries:
        cell = parts[0][0]
        raise RefusedEntry(
            f"Not entered: {cells.shows(cell)} is entered already. If the paper says so, choose a "
            "decision. For another cell, type its name before the value."
        )
    return entries


def _refuse_place(cells: CellsOfFindings, cell: FindingCell) -> None:
    grid = cells.grid(cell.sheet)
    if grid.protected:
        raise RefusedEntry(PROTECTED.format(sheet=cell.sheet))
    if (cell.row, cell.column) in grid.formulas:
        raise RefusedEntry(FORMULA.format(cell=cell.address))
    for top, left, bottom, right in grid.merges:
        if top <= cell.row <= bottom and left <= cell.column <= right:
            raise RefusedEntry(MERGED.format(cell=cell.address))


def _refuse_contradictions(entries: _Entries) -> None:
    """Refuse what several rows want to put into one cell, unless they agree."""
    wanted: dict[Cell, dict[int, CellEntry]] = defaultdict(dict)
    for position, listed in entries.ready.items():
        for entry in listed:
            wanted[_place(entry.cell)][position] = entry
    for rows in wanted.values():
        if len({entry.value for entry in rows.values()}) > 1:
            for position, entry in rows.items():
                entries.refuse(position, TWO_ENTRIES.format(cell=entry.cell.address))


def _place(cell: FindingCell) -> Cell:
    return cell.sheet, cell.row, cell.column


def _write(package: Package, outcome: Outcome, entries: _Entries) -> dict[Cell, CorrectedCell]:
    """Write what is ready; an entry goes in whole or not at all. Return the cells written."""
    cells = CellsOfFindings(package, outcome)
    corrected: dict[Cell, CorrectedCell] = {}
    for position, listed in entries.ready.items():
        initials = outcome.standings[position].decision.initials
        for entry in listed:
            cell = entry.cell
            before = cells.grid(cell.sheet).value(cell.row, cell.column)
            corrected.setdefault(_place(cell), CorrectedCell(cell, before, entry.value, initials))
    refused = _edit(package, {at: one.after for at, one in corrected.items()})
    if refused:
        corrected = _take_back(package, entries, corrected, refused)
    return corrected


def _take_back(
    package: Package,
    entries: _Entries,
    corrected: Mapping[Cell, CorrectedCell],
    refused: Mapping[Cell, Refusal],
) -> dict[Cell, CorrectedCell]:
    """Undo entries with a refused cell; return the cells that stay corrected."""
    for position, listed in list(entries.ready.items()):
        first = next((entry.cell for entry in listed if _place(entry.cell) in refused), None)
        if first is not None:
            reason = refused[_place(first)].reason
            entries.refuse(position, f"Not entered: {first.address} {reason}.")
    still = {_place(entry.cell) for listed in entries.ready.values() for entry in listed}
    undone = set(corrected) - still - set(refused)
    _edit(package, {place: _writable(corrected[place].before) for place in undone})
    return {place: one for place, one in corrected.items() if place in still}


def _edit(package: Package, values: Mapping[Cell, Written]) -> dict[Cell, Refusal]:
    """Write values into cells; return the cells that were refused."""
    refused: dict[Cell, Refusal] = {}
    by_sheet: dict[str, list[CellWrite]] = defaultdict(list)
    for (sheet, row, column), value in values.items():
        by_sheet[sheet].append(CellWrite(row, column, value))
    parts = {part.name: part for part in sheets(package)}
    for sheet, writes in by_sheet.items():
        result = edit_cells(package, parts[sheet], writes)
        refused |= {(sheet, one.row, one.column): one for one in result.refusals}
    return refused


def _writable(value: Value) -> Written:
    return value.code if isinstance(value, CellError) else value


def _compute_again(
    package: Package, outcome: Outcome, entries: _Entries, corrected: Mapping[Cell, CorrectedCell]
) -> Outcome:
    """Return the outcome with the corrected cells; their rows are decided as corrected."""
    decisions = read_decisions(package)
    again = evaluate_entries(package, decisions)
    ids = finding_ids(again.findings)
    now_at = {_place_of_finding(finding): at for at, finding in enumerate(again.findings)}
    rows, log = list(decisions.rows), list(decisions.log)
    today = now().strftime("%Y-%m-%d")
    for position, listed in entries.ready.items():
        decision = outcome.standings[position].decision
        done = replace(decision, word=CORRECTED, date=decision.date or today, answer="")
        at = now_at.get(_place_of_finding(outcome.findings[position]))
        row = _row_of(rows, decision)
        if row is not None:
            rows.pop(row)
        if at is not None:
            own = fingerprint(again.findings[at])
            rows.append(replace(done, finding=ids[at], rests_on=own, paper="", cells=""))
        for number, entry in enumerate(listed):
            became = ANOTHER_CELL if number else CORRECTED if at is None else STILL_FOUND
            before = _show(corrected[_place(entry.cell)].before)
            new = _show(entry.value)
            new += "" if new == entry.typed else f" (typed: {entry.typed})"
            log.append(LogEntry(done, became, today, entry.cell.text, before, new))
    return with_decisions(again, OfficeEntries(tuple(rows), tuple(log), decisions.remarks))


def _place_of_finding(finding: Finding) -> tuple[Any, ...]:
    return finding.check, finding.subject, finding.fields, finding.sheet, finding.row


def _row_of(rows: Sequence[Decision], decision: Decision) -> int | None:
    """Return which row of the tab a decision was read from."""
    for at, row in enumerate(rows):
        if row == replace(decision, finding=row.finding, rests_on=row.rests_on, answer=""):
            return at
    return None


def _with_answers(after: Outcome, before: Outcome, entries: _Entries) -> Outcome:
    """Return the outcome with the reason in each row whose entry was not written."""
    answers = {
        _place_of_finding(before.findings[at]): (answer, at in entries.look_again)
        for at, answer in entries.answers.items()
    }
    standings = []
    for finding, stands in zip(after.findings, after.standings, strict=True):
        answer, again = answers.get(_place_of_finding(finding), ("", False))
        standings.append(_add_answer(stands, answer, again) if stands.decision.paper else stands)
    return replace(after, ledger=replace(after.ledger, standings=tuple(standings)))


def _add_answer(stands: Standing, answer: str, look_again: bool) -> Standing:
    decision = replace(stands.decision, answer=answer or LOOK_AGAIN)
    if look_again and decision.initials:
        # new initials say that somebody has looked again
        earlier = "; ".join(text for text in (decision.earlier, decision.sentence) if text)
        decision = replace(decision, initials="", date="", earlier=earlier)
    return replace(stands, decision=decision)


def _say_corrected(corrected: Mapping[Cell, CorrectedCell]) -> list[str]:
    if not corrected:
        return []
    named = "; ".join(one.sentence for one in list(corrected.values())[:_NAMED])
    more = f"; and {len(corrected) - _NAMED:,} more" if len(corrected) > _NAMED else ""
    return [f"Corrected {plural(len(corrected), 'cell')} from To check: {named}{more}. See Log"]


def _say_waiting(outcome: Outcome) -> list[str]:
    count = sum(bool(stands.decision.paper) for stands in outcome.standings)
    if not count:
        return []
    was, each = ("was", "its row") if count == 1 else ("were", "each row")
    entries = plural(count, "entry", "entries")
    return [
        f"To check: {entries} under Paper says {was} not entered. The status of {each} says why"
    ]


def _say_gone(package: Package, outcome: Outcome) -> tuple[str, ...]:
    """Return that entries were not needed because their finding is gone."""
    today = now().strftime("%Y-%m-%d")
    unused = [
        entry
        for entry in outcome.ledger.log
        if entry.left_on == today and entry.decision.paper and not entry.cell
    ]
    known = set(read_decisions(package).log) if unused else set()
    unused = [entry for entry in unused if entry not in known]
    if not unused:
        return ()
    named = "; ".join(
        f"“{entry.decision.paper}” ({entry.decision.finding})" for entry in unused[:_NAMED]
    )
    were = "was" if len(unused) == 1 else "were"
    return (
        f"To check: {plural(len(unused), 'entry', 'entries')} under Paper says {were} not entered, "
        f"because the finding is gone: {named}. See Log",
    )


def _show(value: Value | Written) -> str:
    return "blank" if value is None or value == "" else as_typed(value)
