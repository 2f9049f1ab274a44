"""The findings about single cells, in words: what was typed, what is possible, what to do."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pandas as pd

from xlhelpers.fields.choices import CLOSING_WORDS, choice
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field
from xlhelpers.reading.cells import FEET_TAPE, Refusal, Settings, range_in_words
from xlhelpers.reading.findings import Subject, as_typed, make_finding
from xlhelpers.reading.locate import Place
from xlhelpers.reading.rows import KEYS
from xlhelpers.survey.model import Finding, Severity
from xlhelpers.survey.typed import units as typed_units
from xlhelpers.survey.typed.words import number_as_text

_REASONS = (
    f"If it was not measured, type the reason: {', '.join(CLOSING_WORDS[:-1])} or "
    f"{CLOSING_WORDS[-1]}."
)
# quantities of the field sheet that may not have been measured
_MEASURED = ("reading", "length")
# sheets whose rows come from a paper sheet of the field
_FROM_PAPER = ("line", "plot")
# what a blank means where it is not just missing
_BLANK_MEANS = {"condition": "for living"}


def describe_allowed(field: Field, units: Units) -> str:
    """Return what a cell of this field may hold, in words and in the units that are shown."""
    if field.choices is not None:
        *words, last = (word for word in choice(field.choices) if word)
        return f"{', '.join(words)} or {last}"
    if field.kind == "stems":
        return "diameters with spaces between, such as 24 18 9"
    if field.kind == "number":
        unit = "" if field.measured_in is None else field.measured_in.unit(units)
        word = "a whole number" if field.quantity == "count" else "a number"
        # the unit in words where the range does not name it
        bounds = range_in_words(field, units)
        word += "," if bounds.endswith("or more") else ""
        return f"{word} {bounds or (unit and f'in {typed_units.in_words(unit)}')}".strip()
    return {
        "tick": "x, or blank",
        "date": "a date such as 2026-05-04",
        "identifier": "a number or a name",
    }.get(field.kind, "a text")


def sentence(because: str) -> str:
    """Return a clause that says why a cell was refused as a sentence of its own."""
    words = f"this is {because}" if because.startswith("not ") else because
    return f"{words[0].upper()}{words[1:]}."


def value_at(frame: pd.DataFrame, name: str, position: int) -> Any:
    """Return one value of a table."""
    return frame[name].iat[position]


@dataclass(frozen=True)
class RowSpot:
    """A row of a table: its place, the table as read, and the row's position in the table."""

    place: Place
    frame: pd.DataFrame
    position: int

    @property
    def row(self) -> int:
        """Return the row in the sheet."""
        return int(value_at(self.frame, "_row", self.position))

    @property
    def subject(self) -> Subject:
        """Return plot, tree and set-up of a line, the name of any other row."""
        record, frame, position = self.place.record, self.frame, self.position
        if record.key == "line":
            setup = value_at(frame, "setup", position)
            return (
                ("plot", str(value_at(frame, "plot", position))),
                ("tree", str(value_at(frame, "tree", position))),
                ("set-up", "1" if pd.isna(setup) else number_as_text(float(setup))),
            )
        name = str(value_at(frame, KEYS[record.key][0], position))
        if record.key == "check":
            day = value_at(frame, "date", position)
            return (record.row_word, name), ("date", "" if pd.isna(day) else str(day.date()))
        return ((record.row_word, name),)

    def finding(
        self,
        check: str,
        message: str,
        action: str,
        fields: tuple[str, ...],
        evidence: tuple[str, ...] = (),
        *,
        points_to: str | None = None,
        severity: Severity | None = None,
    ) -> Finding:
        """Return a finding on this row; it points to the cell of the first field if not told."""
        key, at = self.place.record.key, (self.position,)
        return make_finding(
            check,
            message,
            action,
            self.subject,
            sheet=self.place.sheet,
            row=self.row,
            column=self.place.columns.get(points_to or fields[0]),
            fields=fields,
            lines=at if key == "line" else (),
            plots=at if key == "plot" else (),
            evidence=evidence,
            severity=severity,
        )


def refused_cell(spot: RowSpot, field: Field, refusal: Refusal, settings: Settings) -> Finding:
    """Return the finding on a cell that was not read."""
    typed = as_typed(spot.place.grid.value(spot.row, spot.place.columns[field.name]))
    action = _action(field, refusal.check, settings, typed)
    if spot.place.record.key in _FROM_PAPER:
        action = f"Check the paper sheet{action if action[0] == ':' else f' and {action}'}"
        is_measured = spot.place.record.key == "line" and field.quantity in _MEASURED
        # a text without a digit may be a reason
        if is_measured and refusal.check == "number-unread" and not re.search(r"\d", typed):
            action += f" {_REASONS}"
    else:
        action = action.lstrip(": ")
        action = action[0].upper() + action[1:]
    weighty = field.required != "no" or field.kind in ("number", "stems", "tick", "choice")
    return spot.finding(
        refusal.check,
        refusal_message(field, refusal, settings, typed),
        action,
        (field.name,),
        (typed,),
        severity=None if weighty else "warning",
    )


def refusal_message(field: Field, refusal: Refusal, settings: Settings, typed: str) -> str:
    """Return what is wrong with a cell that was not read, in sentences.

    Parameters
    ----------
    field
        The field of its column.
    refusal
        Why it was not read.
    settings
        Units and rules of the survey.
    typed
        What is in the cell, as a person sees it.
    """
    if refusal.check == "cell-error":
        return f"{field.label} shows a formula error ({typed})."
    if refusal.check == "word-unknown" and field.kind == "choice":
        return f"{field.label} is “{typed}”, which is not on the list."
    message = f"{field.label} is “{typed}”{refusal.meaning}. {sentence(refusal.because)}"
    if refusal.check == "number-unread":
        message += f" It should be {describe_allowed(field, settings.units)}."
    return message


def _action(field: Field, check: str, settings: Settings, typed: str) -> str:
    """Return what to do about a refused cell, so that it goes on behind "Check the paper sheet"."""
    if check == "cell-error":
        return "type the value instead of the formula."
    if field.kind == "date":
        return "type the date as year-month-day, for example 2026-05-04."
    if check == "number-is-date":
        return "format the cell as text, then type it again."
    if field.kind == "stems":
        how = "type the diameters with spaces between: 24 18 9."
        return f"format the cell as text, then {how}" if check == "value-impossible" else how
    if check == "number-ambiguous" and field.quantity == "length" and settings.tape == FEET_TAPE:
        return _action_on_feet(typed)
    if check == "number-ambiguous":
        return "type the number with a decimal point and no unit."
    if check == "value-impossible":
        return ": is the decimal point or the unit wrong? Type the value again."
    if check == "word-unknown" and field.kind == "choice":
        other = (
            "if it is the same as the plot's" if field.block == "needed" else "if it is not known"
        )
        means = _BLANK_MEANS.get(field.name, other)
        return f"choose {describe_allowed(field, settings.units)}. Leave it blank {means}."
    if check == "word-unknown":
        return "type x, or leave the cell blank."
    return "type a whole number." if check == "number-not-whole" else "type the number."


def _action_on_feet(typed: str) -> str:
    """Return how to type feet and inches, with the numbers found where they can be such."""
    match = re.fullmatch(r"([0-9]+)[ .-]+([0-9]+)", typed.strip())
    if match is None or int(match[2]) >= 12:
        return "type it with its signs, for example 40'6\" (or 40.5)."
    feet, inches = int(match[1]), int(match[2])
    key = f"{feet}'{inches}\" (or {number_as_text(round(feet + inches / 12, 2))})"
    return f"type it again. If it is {feet} ft {inches} in, type {key}."


def missing_name(spot: RowSpot, field: Field) -> Finding:
    """Return the finding on a row with entries but without its plot, tree or other name."""
    record = spot.place.record
    is_line = record.key == "line" and field.name in ("plot", "tree")
    label = "tree number" if field.name == "tree" else field.label.lower()
    row = "line" if record.key == "line" else "row"
    message = f"This {row} has entries but no {label}. A blank does not mean “same as above”."
    action = f"ype the {label}, or clear the row."
    from_paper = record.key in _FROM_PAPER
    action = f"Check the paper sheet and t{action}" if from_paper else f"T{action}"
    return spot.finding(
        f"{field.name if is_line else 'name'}-missing", message, action, (field.name,)
    )
