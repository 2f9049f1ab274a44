"""Findings that a closing word would hide: the word replaces a cell, the doubtful value stays.

A height is unlikely for its diameter, say, and somebody types NOT SAFE over the diameter. No check
can compare the two any more, yet the height is still used. Such a finding stays on the list, until
the value that it names is gone or is another one, or the office accepts it with initials.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.checks.record import Check, field_of
from xlhelpers.survey.checks.table import CHECKS
from xlhelpers.survey.decisions.decisions import ACCEPTED, Decision, decision_word
from xlhelpers.survey.decisions.identity import finding_id, fingerprint
from xlhelpers.survey.doubt.table import CHECKS as DOUBT_CHECKS
from xlhelpers.survey.model import CLOSED, Finding, Survey
from xlhelpers.survey.typed.folding import Positions, fold_column
from xlhelpers.survey.typed.words import identifier_key

CLOSED_SINCE = "A closing word now hides a reading of this, so it cannot be checked again."
ACTION = "Correct what is doubtful on the paper sheet, or accept it with initials."
# quantity -> the values that a finding about it may name: of the lines, of the tree
_NAMED: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "height": (
        ("total_height", "crown_top", "level_distance", "eye_above_foot"),
        ("total_height", "crown_top"),
    ),
    "crown": (("crown_base", "crown_top"), ("crown_base", "crown_top")),
    "width": ((), ("mean_width", "width_widest", "width_across")),
    "diameter": ((), ("diameter", "largest_stem")),
}
_DECIMALS = (0, 1, 2)
_POINTS = ("foot", "base", "top", "tip")
# what follows a message: likely causes, whose numbers are not those that were found
_CAUSES = re.compile(r" (?:Probably|Possibly) ")
_NUMBER = re.compile(r"\d+(?:,\d{3})*(?:\.\d+)?")
Subject = tuple[tuple[str, str], ...]


def keep_doubts(
    survey: Survey,
    setups: pd.DataFrame,
    trees: pd.DataFrame,
    findings: Sequence[Finding],
    rows: Iterable[Decision],
) -> tuple[Finding, ...]:
    """Return the findings of the last fill that only a closing word took away.

    Parameters
    ----------
    survey : Survey
        The tables as entered.
    setups, trees : DataFrame
        As computed.
    findings : sequence of Finding
        What is found now.
    rows : iterable of Decision
        The rows of the tab To check as the office left them.

    Returns
    -------
    tuple of Finding
        Each with the identity that it had, so that its row and its decision stay beside it.
    """
    lines = survey.lines
    if not len(lines):
        return ()
    plots, numbers = (fold_column(lines[name], identifier_key) for name in ("plot", "tree"))
    now = {finding_id(finding) for finding in findings}
    doubts = []
    for row in rows:
        texts = row.texts
        if not row.finding or row.finding in now or not (texts.plot and texts.tree):
            continue
        place = (plots == identifier_key(texts.plot)) & (numbers == identifier_key(texts.tree))
        at = np.flatnonzero(place)
        if texts.setup:
            at = at[setups["setup_number"].to_numpy()[at].astype(str) == texts.setup]
        match = _check_of(row, survey, at) if len(at) else None
        if match is None or not _is_closed_over(survey, setups, trees, row, match[0], at):
            continue
        finding = _finding(survey, row, *match, at)
        # what was accepted before the word came is settled
        accepted = decision_word(row.word) == ACCEPTED and row.is_signed
        if not accepted or row.rests_on == fingerprint(finding):
            doubts.append(finding)
    return tuple(doubts)


def _check_of(row: Decision, survey: Survey, at: Positions) -> tuple[Check, Finding] | None:
    """Return the check whose finding a row shows, and that finding as far as its id tells."""
    line = survey.lines.iloc[int(at[0])]
    place: Subject = (("plot", str(line["plot"])), ("tree", str(line["tree"])))
    subject: Subject = (*place, ("set-up", row.texts.setup)) if row.texts.setup else place
    for check in (*CHECKS, *DOUBT_CHECKS):
        if check.is_missing or check.severity == "note":
            continue
        for fields in _fields_of(check):
            bare = tuple(name.rpartition(".")[2] for name in fields)
            finding = Finding(check.id, check.severity, check.block, subject, "", "", bare)
            if finding_id(finding) == row.finding:
                return check, finding
    return None


def _fields_of(check: Check) -> Iterator[tuple[str, ...]]:
    yield check.compares
    if check.id == "angle-over-limit":  # it names the steepest of the readings
        yield from ((f"{point}_reading", "distance") for point in _POINTS)


def _is_closed_over(
    survey: Survey, setups: pd.DataFrame, trees: pd.DataFrame, row: Decision, check: Check, at: Any
) -> bool:
    """Return whether a compared cell is closed by a word, and a value that the row names is used.

    A value that is no longer the one that the row names was corrected.
    """
    states = survey.states.get("lines")
    if states is None:
        return False
    names = [name for name in check.compares if "." not in name and name in states]
    if not (states[names].to_numpy()[at] == CLOSED).any():
        return False
    # where the height is doubtful the rest is named beside it, and says nothing of it
    about = [one for one in check.quantities if one in _NAMED][:1]
    tree = sorted(set(setups["tree_position"].to_numpy()[at].tolist()))
    used: set[float] = set()
    for quantity in about:
        of_lines, of_trees = _NAMED[quantity]
        used |= _values_in_messages(setups[list(of_lines)].to_numpy()[at], survey, quantity)
        used |= _values_in_messages(trees[list(of_trees)].to_numpy()[tree], survey, quantity)
    named = _numbers(row.texts.message)
    return bool(used) and (not named or not used.isdisjoint(named))


def _numbers(text: str) -> set[float]:
    own = _CAUSES.split(text)[0]
    return {float(number.replace(",", "")) for number in _NUMBER.findall(own)}


def _values_in_messages(values: Any, survey: Survey, quantity: str) -> set[float]:
    """Return values as messages may show them, in the units of the survey."""
    factor = QUANTITIES["diameter" if quantity == "diameter" else "length"].factor(survey.units)
    known = np.abs(np.asarray(values, dtype=float).ravel() / factor)
    known = known[np.isfinite(known)]
    return {round(float(value), places) for value in known for places in _DECIMALS}


def _finding(
    survey: Survey, row: Decision, check: Check, finding: Finding, at: Positions
) -> Finding:
    line = int(at[0])
    sheet = str(survey.lines["_sheet"].iloc[line])
    message = row.texts.message.removesuffix(CLOSED_SINCE).rstrip()
    return Finding(
        check=finding.check,
        severity=finding.severity,
        # a closing word ends the measuring again, never the doubt
        block="paper",
        subject=finding.subject,
        message=f"{message} {CLOSED_SINCE}",
        action=ACTION,
        fields=finding.fields,
        sheet=sheet,
        row=int(survey.lines["_row"].iloc[line]),
        column=survey.columns.get((sheet, finding.fields[0])),
        lines=tuple(map(int, at)),
        evidence=tuple(_evidence(survey, check, at)),
        about=check.about,
    )


def _evidence(survey: Survey, check: Check, at: Positions) -> Iterator[str]:
    """Yield the compared cells as they are now, so that a decision stays until one changes."""
    states = survey.states["lines"]
    for name in check.compares:
        if "." in name or name not in states:
            continue
        cells = [
            "closed" if state == CLOSED else str(value)
            for state, value in zip(
                states[name].to_numpy()[at], survey.lines[name].to_numpy()[at], strict=True
            )
        ]
        yield f"{field_of(name)[1].label} {' | '.join(cells)}"
