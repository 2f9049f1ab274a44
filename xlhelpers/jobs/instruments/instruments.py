"""Shows the error of each instrument at its checks, and the trees affected."""

from pathlib import Path

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.instruments.history_book import history_book
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.places import refuse_out
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.pages.values import natural_key
from xlhelpers.reading.outcome import check
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.instrument_history import (
    CANNOT_TELL,
    IN_ORDER,
    Spell,
    check_history,
    spells,
    touched_lines,
)
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import list_words, plural

Touched = list[tuple[Spell, pd.DataFrame]]


def run(book: Path, out: Path | None, progress: Progress) -> Done:
    """Tell the history of the instruments; the exit code is 1 where one was out of order."""
    refuse_unreadable(book)
    if out is not None:
        refuse_out(out, book)
    outcome = check(book)
    survey = outcome.survey
    history = check_history(survey)
    touched = [(s, touched_lines(survey, outcome.setups, s)) for s in spells(history)]
    sentences = say_history(survey, history, touched)
    code = TO_CHECK if touched else NOTHING_TO_CHECK
    if out is None:
        return Done(sentences, code)
    write_book(out, history_book(history, touched, survey.units), backup=False)
    return Done((*sentences, f"Saved {out}."), code, (out,))


def say_history(survey: Survey, history: pd.DataFrame, touched: Touched) -> list[str]:
    """Return a paragraph for each instrument, and one for each time that one was out of order."""
    units = survey.units
    keys = history["instrument"].map(identifier_key)
    names = [str(name) for name in survey.instruments["instrument"] if name]
    known = {identifier_key(name) for name in names}
    names += [str(n) for n in history.loc[~keys.isin(known), "instrument"].drop_duplicates()]
    if not names:
        return [
            "The sheet Instruments is empty, so there is no history yet. Enter each instrument "
            "there, and its checks on Instrument checks."
        ]
    paragraphs = []
    for name in sorted(names, key=natural_key):
        paragraphs.append(_of_instrument(name, history[keys == identifier_key(name)], units))
        paragraphs += [
            _of_spell(spell, lines, units)
            for spell, lines in touched
            if identifier_key(spell.instrument) == identifier_key(name)
        ]
    proposals = "These are proposals. Nothing was corrected."
    return [*paragraphs, proposals if touched else "By these checks, no correction is needed."]


def _of_instrument(name: str, rows: pd.DataFrame, units: Units) -> str:
    if rows.empty:
        return f"{name}\n  No check with usable readings is entered."
    lines = [f"  {row.date:%Y-%m-%d}  {_of_check(row, units)}" for row in rows.itertuples()]
    good = rows.loc[rows["verdict"] == IN_ORDER, "date"]
    last = (
        "Never found in order." if good.empty else f"Last found in order on {good.max():%Y-%m-%d}."
    )
    return "\n".join([name, *lines, f"  {last}"])


def _of_check(row: object, units: Units) -> str:
    way, verdict = row.way, row.verdict  # type: ignore[attr-defined]
    read, known = row.read_height, row.known_height  # type: ignore[attr-defined]
    error, u = row.error, row.u_error  # type: ignore[attr-defined]
    parts = []
    if known == known:
        parts.append(f"{_length(read, units)} read, {_length(known, units)} known")
    if error == error:
        parts.append(f"error {_write_signed(error)}° ± {u:.1f}°")
    if verdict == CANNOT_TELL:
        verdict = "cannot be told, because the aim was nearly level"
    return f"{way}: {', '.join(parts)}: {verdict}"


def _of_spell(spell: Spell, lines: pd.DataFrame, units: Units) -> str:
    since = (
        "no earlier check in order"
        if spell.last_good is None
        else f"last in order on {spell.last_good:%Y-%m-%d}"
    )
    until = "" if spell.next_good is None else f", in order again on {spell.next_good:%Y-%m-%d}"
    sentences = [
        f"OUT OF ORDER  {spell.instrument}, found on {spell.first_bad:%Y-%m-%d} ({since}{until})",
        _count_affected(lines["when"]),
    ]
    if len(lines):
        plots = sorted(map(str, lines["plot"].drop_duplicates()), key=natural_key)
        sentences.append(f"  On plots: {', '.join(plots)}.")
    return "\n".join([*sentences, *_proposal(spell, lines, units)])


_WHEN = {
    "between": "between the last good check and this one",
    "after": "after this check",
    "undated": "on plots without a date",
}


def _count_affected(when: pd.Series) -> str:
    counts = when.value_counts()
    parts = [
        f"{plural(int(counts[key]), 'line')} {words}"
        for key, words in _WHEN.items()
        if key in counts
    ]
    return f"  Measured with it: {list_words(parts)}." if parts else "  No readings affected."


def _proposal(spell: Spell, lines: pd.DataFrame, units: Units) -> list[str]:
    if not np.isfinite(spell.error):
        return ["  The error in degrees cannot be told. Have it adjusted, then measure again."]
    what, where = ("Subtract", "from") if spell.error > 0 else ("Add", "to")
    sentences = [
        f"  Proposal (not applied): {what} {abs(spell.error):.1f}° (± {spell.u_error:.1f}°) "
        f"{where} each reading."
    ]
    change = (lines["corrected"] - lines["total_height"]).dropna()
    if len(change):
        sentences.append(
            f"  Heights would change by {_signed_length(change.min(), units)} to "
            f"{_signed_length(change.max(), units)}."
        )
    return sentences


def _length(metres: float, units: Units, sign: str = "") -> str:
    length = QUANTITIES["length"]
    return f"{sign}{abs(metres) / length.factor(units):.2f} {length.unit(units)}"


def _signed_length(metres: float, units: Units) -> str:
    return _length(metres, units, "−" if metres < 0 else "+")


def _write_signed(number: float) -> str:
    rounded = round(number, 1)
    sign = "−" if rounded < 0 else "+" if rounded > 0 else ""
    return f"{sign}{abs(rounded):.1f}"
