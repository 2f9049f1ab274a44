"""Says how far out each instrument was at its checks and which trees that touches."""

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.instruments.history_book import history_book
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.pages.values import natural_key
from xlhelpers.reading.outcome import check
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.instrument_history import (
    IN_ORDER,
    Spell,
    check_history,
    spells,
    touched_lines,
)
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import plural

ALL_IN_ORDER, OUT, FAILED = 0, 1, 2
Touched = list[tuple[Spell, pd.DataFrame]]


def run(options: argparse.Namespace) -> int:
    """Print the history of the instruments; write it where asked; return the exit code.

    Parameters
    ----------
    options : Namespace
        `book`, and `out` (None: nothing is written).

    Returns
    -------
    int
        0 no check found an instrument out of order, 1 one did, 2 not read or written.
    """
    try:
        refuse_unreadable(options.book)
        refuse_out(options.out, options.book)
        outcome = check(options.book)
        survey = outcome.survey
        history = check_history(survey)
        touched = [(s, touched_lines(survey, outcome.setups, s)) for s in spells(history)]
        for paragraph in say_history(survey, history, touched):
            print(paragraph)
        if options.out is not None:
            data = history_book(history, touched, survey.units)
            write_book(options.out, data, backup=False)
            print(f"Wrote {options.out}.")
    except (WorkbookError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    return OUT if touched else ALL_IN_ORDER


def refuse_out(out: Path | None, book: Path) -> None:
    """Refuse a place that is the workbook itself or is no .xlsx file.

    Raises
    ------
    WorkbookError
        If `out` is one of these.
    """
    if out is None:
        return
    if out.suffix.lower() != ".xlsx":
        raise WorkbookError(f"--out {out.name}: the new workbook needs a name that ends in .xlsx")
    if out.exists() and out.samefile(book):
        raise WorkbookError(f"--out {out} is the workbook itself; give another name")


def say_history(survey: Survey, history: pd.DataFrame, touched: Touched) -> list[str]:
    """Return a paragraph for each instrument, and one for each time that one was out of order."""
    units = survey.units
    said = []
    keys = history["instrument"].map(identifier_key)
    names = [str(name) for name in survey.instruments["instrument"] if name]
    known = {identifier_key(name) for name in names}
    names += [str(n) for n in history.loc[~keys.isin(known), "instrument"].drop_duplicates()]
    for name in sorted(names, key=natural_key):
        rows = history[keys == identifier_key(name)]
        said.append(_of_instrument(name, rows, units))
        said += [
            _of_spell(spell, lines, units)
            for spell, lines in touched
            if identifier_key(spell.instrument) == identifier_key(name)
        ]
    if not names:
        return [
            "The sheet Instruments lists none, so there is no history yet. Key each instrument "
            "there once, and its checks into Instrument checks."
        ]
    ends = "what stands here is proposed." if touched else "no check asks for it."
    said.append(f"Nothing was corrected: {ends}")
    return said


def _of_instrument(name: str, rows: pd.DataFrame, units: Units) -> str:
    if rows.empty:
        return f"{name}\n  never checked, or no check that can be read"
    lines = [f"  {row.date:%Y-%m-%d}  {_of_check(row, units)}" for row in rows.itertuples()]
    good = rows.loc[rows["verdict"] == IN_ORDER, "date"]
    last = "never found in order" if good.empty else f"last in order {good.max():%Y-%m-%d}"
    return "\n".join([name, *lines, f"  {last}"])


def _of_check(row: object, units: Units) -> str:
    way, verdict = row.way, row.verdict  # type: ignore[attr-defined]
    read, known = row.read_height, row.known_height  # type: ignore[attr-defined]
    error, u = row.error, row.u_error  # type: ignore[attr-defined]
    heights = (
        f"{_length(read, units)} read, {_length(known, units)} known" if known == known else ""
    )
    angle = f"error {_signed(error)}° ± {u:.1f}°" if error == error else ""
    what = ", ".join(text for text in (heights, angle) if text)
    advice = " (the aim is too level to show an angle)" if verdict == "cannot tell" else ""
    return f"{way}: {what}: {verdict}{advice}"


def _of_spell(spell: Spell, lines: pd.DataFrame, units: Units) -> str:
    counts = lines["when"].value_counts()
    between, after, undated = (int(counts.get(w, 0)) for w in ("between", "after", "undated"))
    since = (
        "no check before found it in order"
        if spell.last_good is None
        else f"last in order {spell.last_good:%Y-%m-%d}"
    )
    until = "" if spell.next_good is None else f", in order again {spell.next_good:%Y-%m-%d}"
    said = [
        f"OUT OF ORDER  {spell.instrument}, found {spell.first_bad:%Y-%m-%d} ({since}{until})",
        f"  read with it: {plural(between, 'line')} from the last good to the first bad check, "
        f"{after:,} after it, {undated:,} on plots without a date",
        f"  on plots {_plots(lines)}" if len(lines) else "  no line is touched",
    ]
    return "\n".join([*said, *_proposal(spell, lines, units)])


def _proposal(spell: Spell, lines: pd.DataFrame, units: Units) -> list[str]:
    if not np.isfinite(spell.error):
        return ["  no angle follows from a shown height: have it set right, and measure again"]
    what = "take" if spell.error > 0 else "add"
    where = "off" if spell.error > 0 else "to"
    said = [
        f"  proposed, not applied: {what} {abs(spell.error):.1f}° ± {spell.u_error:.1f}° {where} "
        "each reading"
    ]
    change = (lines["corrected"] - lines["total_height"]).dropna()
    if len(change):
        said.append(
            f"  total heights would change by {_signed_length(change.min(), units)} to "
            f"{_signed_length(change.max(), units)}"
        )
    return said


def _plots(lines: pd.DataFrame) -> str:
    return ", ".join(sorted(map(str, lines["plot"].drop_duplicates()), key=natural_key))


def _length(metres: float, units: Units, sign: str = "") -> str:
    length = QUANTITIES["length"]
    return f"{sign}{abs(metres) / length.factor(units):.2f} {length.unit(units)}"


def _signed_length(metres: float, units: Units) -> str:
    return _length(metres, units, "−" if metres < 0 else "+")


def _signed(number: float) -> str:
    shown = round(number, 1)
    sign = "−" if shown < 0 else "+" if shown > 0 else ""
    return f"{sign}{abs(shown):.1f}"
