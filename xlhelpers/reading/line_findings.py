"""What only a whole line shows: units against its scale, readings too small, reasons for blanks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.choices import CLOSING_WORDS, EYE_HEIGHT_WORDS
from xlhelpers.fields.field_sheet import FIELD_SHEET, MAIN_READINGS
from xlhelpers.reading.cell_findings import RowSpot, value_at
from xlhelpers.reading.cells import by_unique
from xlhelpers.reading.findings import shown_number
from xlhelpers.reading.locate import Place
from xlhelpers.reading.table import TableRead
from xlhelpers.survey.model import BLANK, CLOSED, VALUE, Finding
from xlhelpers.survey.typed.folding import fold, positions_in
from xlhelpers.survey.typed.words import closing_word, number_as_text

_NEVER_CLOSED = ("plot", "tree", "setup", "condition")
# a sighting of any tree from any distance has a reading beyond this, in percent
_SMALLEST_PERCENT = 2.0


@dataclass(frozen=True)
class Lines:
    """The lines as read, and the place of each of their sheets by its name."""

    table: TableRead
    places: Mapping[str, Place]

    def spot(self, position: int) -> RowSpot:
        """Return the row of one line."""
        sheet = str(value_at(self.table.frame, "_sheet", position))
        return RowSpot(self.places[sheet], self.table.frame, position)


def scales_of_lines(
    lines: pd.DataFrame, plots: pd.DataFrame, instruments: pd.DataFrame
) -> NDArray[np.object_]:
    """Return the scale of each line: its own, else the plot's, else its instrument's only one.

    A line with another instrument than the plot's does not take the plot's scale. "" where the
    scale is not stated.
    """
    if not len(lines):
        return np.empty(0, dtype=object)
    plot = positions_in(lines["plot"], plots["plot"])
    own = lines["scale"].to_numpy(dtype=object)
    used = lines["instrument"].to_numpy(dtype=object)
    of_plot = np.where(used == "", _pick(plots["scale"], plot), "")
    used = np.where(used == "", _pick(plots["instrument"], plot), used)
    first = instruments["scale_1"].to_numpy(dtype=object)
    only = np.where(instruments["scale_2"].to_numpy(dtype=object) == "", first, "")
    of_kind = _pick(only, positions_in(used, instruments["instrument"]))
    scale = np.where(own != "", own, np.where(of_plot != "", of_plot, of_kind))
    return np.asarray(scale, dtype=object)


def _pick(column: object, positions: NDArray[np.int64]) -> NDArray[np.object_]:
    listed = np.append(np.asarray(column, dtype=object), "")
    return np.asarray(listed[positions], dtype=object)


def unit_findings(lines: Lines, scales: NDArray[np.object_]) -> list[Finding]:
    """Return the findings on readings whose typed unit is not that of the scale that was read."""
    findings = []
    for name, typed in lines.table.scales.items():
        for position, scale in typed.items():
            stated = str(scales[position])
            heights = {"height", "fixed distance"}
            if not stated or stated == scale or {stated, scale} <= heights:
                continue
            spot = lines.spot(position)
            value = number_as_text(float(value_at(lines.table.frame, name, position)))
            message = (
                f"{FIELD_SHEET[name].label} is marked as {scale}, but the scale for this line is "
                f"{stated}."
            )
            action = "Check the paper sheet. Correct the unit, or the scale."
            evidence = (value, scale, stated)
            findings.append(
                spot.finding("reading-unit", message, action, (name, "scale"), evidence)
            )
    return findings


def hundredth_findings(lines: Lines, scales: NDArray[np.object_]) -> list[Finding]:
    """Return the findings on lines whose percent readings are probably 100 times too small.

    All readings of the line lie within 2 %, and at least one is no whole number: a tree seen so
    would be lower than a twenty-fifth of the distance.
    """
    frame = lines.table.frame
    readings = frame[list(MAIN_READINGS)].to_numpy(dtype=float)
    given = ~np.isnan(readings)
    small = np.where(given, np.abs(readings) < _SMALLEST_PERCENT, True).all(axis=1)
    broken = (given & (np.abs(readings - np.round(readings)) > 1e-9)).any(axis=1)
    suspect = small & broken & (given.sum(axis=1) >= 2) & (scales == "percent")
    findings = []
    for position in np.flatnonzero(suspect.astype(bool)):
        values = tuple(number_as_text(value) for value in readings[position][given[position]])
        largest = float(max(readings[position][given[position]], key=abs))
        typed, meant = shown_number(largest), shown_number(round(100.0 * largest, 6))
        listed = ", ".join(values).replace("-", "−")
        message = (
            f"The readings ({listed}) are probably 100 times too small: {typed} should be {meant}. "
            "The cells may be formatted as %."
        )
        action = (
            "Check the paper sheet. Format the cells as numbers and type the readings again: "
            f"{meant} for {typed}."
        )
        findings.append(
            lines.spot(int(position)).finding(
                "reading-hundredth", message, action, MAIN_READINGS, values, points_to="tip_reading"
            )
        )
    return findings


def close_blanks(lines: Lines) -> TableRead:
    """Return the lines with every blank of the main run closed where the line gives the reason.

    Plot, tree, set-up and condition are never closed. A reason in other words closes no blank
    and is a finding.
    """
    table = lines.table
    if "missing_because" not in table.frame or not len(table.frame):
        return table
    reasons = table.frame["missing_because"].to_numpy(dtype=object)
    words = by_unique(reasons, closing_word)
    states, closed = table.states.copy(), table.closed.copy()
    closes = words != ""
    for item in FIELD_SHEET.fields:
        if item.block == "main" and item.name not in _NEVER_CLOSED:
            state = states[item.name].to_numpy()
            states[item.name] = np.where(closes & (state == BLANK), CLOSED, state).astype(np.int8)
    closed.update(str(word) for word in words[closes])
    findings = [*table.findings, *_unknown_reasons(lines, reasons, words)]
    return replace(table, states=states, closed=closed, findings=tuple(findings))


def _unknown_reasons(
    lines: Lines, reasons: NDArray[np.object_], words: NDArray[np.object_]
) -> list[Finding]:
    findings = []
    item = FIELD_SHEET["missing_because"]
    given = lines.table.states[item.name].to_numpy() == VALUE
    declared = by_unique(reasons, lambda text: fold(EYE_HEIGHT_WORDS) in fold(text))
    for position in np.flatnonzero(given & (words == "") & ~declared.astype(bool)):
        reason = str(reasons[position])
        message = f"“{reason}” is not a listed reason, so the blank still counts as missing."
        action = (
            f"Type the nearest reason: {', '.join(CLOSING_WORDS)} or ? ({EYE_HEIGHT_WORDS} on "
            "level ground). Your own words can follow it: “NOT SEEN: fog”."
        )
        spot = lines.spot(int(position))
        findings.append(spot.finding("reason-unknown", message, action, (item.name,), (reason,)))
    return findings
