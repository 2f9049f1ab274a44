"""What one fill did: as a record, in sentences, and as facts for other programs.

All sentences of the job are here.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.enter_paper import CorrectedCell
from xlhelpers.package.sheet.cell_writes import Refusal
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.pages.live_differences import DifferingCells
from xlhelpers.pages.plan import TypedOver
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.outcome_words import outcome_facts, say_outcome
from xlhelpers.wording import list_words, plural

_NAMED = 3
PROTECTED = "{sheet} is protected. Only its result cells were filled."
NO_COLUMN = "{sheet} has no column “{label}” any more. Its results are only on the tab Trees."
KEPT_TAB = (
    "Something was added to the tab “{tab}” (words, a note, a chart or shading). It is kept as "
    "“{kept_as}”. The new results are on “{tab}”."
)
_FORMULAS = {
    "left": "Something was typed over {formulas} on {sheet} ({where}). It was kept. To get the "
    "formulas back, fill with --restore-formulas.",
    "another": "Another formula, yours or of another version of the program, is in {cells} on "
    "{sheet} ({where}). It was kept. To get this version's formulas, fill with --restore-formulas.",
    "restored": "The program's formulas are back in {cells} on {sheet} ({where}).",
}


@dataclass(frozen=True)
class Filled:
    """What one fill did: where the result is, what was written and what was not.

    `typed_over` are the results that had been typed over, `corrected` the cells that got what the
    paper says; `replaced` says whether anything that
    was typed over results or formulas gave way to them.
    """

    outcome: Outcome
    written_to: Path | None
    backup: Path | None
    cells_changed: int = 0
    tabs_written: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    typed_over: tuple[TypedOver, ...] = ()
    replaced: bool = False
    corrected: tuple[CorrectedCell, ...] = ()

    @property
    def wrote(self) -> bool:
        """Return whether a file was written."""
        return self.written_to is not None


def say_filled(filled: Filled) -> list[str]:
    """Return the sentences about one fill."""
    sentences = say_outcome(filled.outcome)
    if filled.wrote:
        unchanged = "" if filled.replaced else " What you typed is unchanged."
        sentences.append(
            f"Saved {filled.written_to}. {len(RESULT_TABS)} result tabs are up to date.{unchanged}"
        )
    else:
        sentences.append("Nothing has changed since the last fill. Nothing was written.")
    if filled.backup is not None:
        sentences.append(
            f"The previous version is kept as {filled.backup.name}. The job restore brings it back."
        )
    if filled.outcome.open_findings:
        sentences.append("Next: open the tab To check and start at the top.")
    return sentences + [say_note(note) for note in filled.notes]


def say_note(note: str) -> str:
    """Return the sentence of a note."""
    return f"Note: {note}{'' if note.endswith(('.', '?', '…')) else '.'}"


def note_refusals(sheet: str, what: str, refusals: Iterable[Refusal]) -> list[str]:
    """Return a note for each reason why cells were not written."""
    by_reason: dict[str, list[str]] = defaultdict(list)
    for refusal in refusals:
        by_reason[refusal.reason].append(cell_name(refusal.row, refusal.column))
    notes = []
    for reason, cells in by_reason.items():
        were, which = ("was", "It") if len(cells) == 1 else ("were", cells[0])
        places = ", ".join(cells[:_NAMED]) + (" …" if len(cells) > _NAMED else "")
        notes.append(
            f"{plural(len(cells), what)} on {sheet} {were} not written ({places}). {which} {reason}"
        )
    return notes


def note_formulas(cells: Sequence[DifferingCells]) -> list[str]:
    """Return a note for each sheet and kind of formula cells that are not as the program has them.

    Formulas that show nothing and formulas that show something else are one kind.
    """
    groups: dict[tuple[str, str], list[DifferingCells]] = defaultdict(list)
    for one in cells:
        groups[one.sheet, "" if one.kind in ("less", "other") else one.kind].append(one)
    return [
        _note_formulas(sheet, kind, group) if kind else _note_differing(sheet, group)
        for (sheet, kind), group in groups.items()
    ]


def _note_formulas(sheet: str, kind: str, cells: Sequence[DifferingCells]) -> str:
    count = sum(len(one.rows) for one in cells)
    places = [f"{one.label}: {one.first_ranges}" for one in cells[:_NAMED]]
    return _FORMULAS[kind].format(
        formulas=plural(count, "formula"),
        cells=plural(count, "cell"),
        sheet=sheet,
        where="; ".join(places) + (" …" if len(cells) > _NAMED else ""),
    )


def _note_differing(sheet: str, cells: Sequence[DifferingCells]) -> str:
    by_row = Counter(row for one in cells for row in one.rows.tolist())
    total, rows = by_row.total(), sorted(by_row)
    if len(rows) > _NAMED:
        where = f"{plural(total, 'formula')} in {len(rows):,} rows"
        more = f" (rows {', '.join(map(str, rows[:_NAMED]))} …)"
    else:
        where = list_words([f"{plural(by_row[row], 'formula')} in row {row}" for row in rows])
        more = ""
    verb, s = ("differs", "") if total == 1 else ("differ", "s")
    return (
        f"{where} of {sheet} {verb} from the computed result{s}{more}. Use the values on the tab "
        "Trees. The cells are listed on the tab About this fill."
    )


def fill_facts(book: Path, filled: Filled) -> dict[str, Any]:
    """Return the facts of one fill for other programs, in the inner units."""
    return (
        {"book": str(book)}
        | outcome_facts(filled.outcome)
        | {
            "written_to": str(filled.written_to) if filled.wrote else None,
            "typed_over": [
                {
                    "cell": cell.where.cell,
                    "sheet": cell.where.sheet,
                    "plot": cell.plot,
                    "tree": cell.tree,
                    "column": cell.label,
                    "what": cell.what,
                }
                for cell in filled.typed_over
            ],
            "corrected": [cell.facts for cell in filled.corrected],
        }
    )
