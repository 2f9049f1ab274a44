"""The findings about single cells, in words: what was found, what is allowed, what to do."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pandas as pd

from xlhelpers.fields.choices import CLOSING_WORDS, choice
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.reading.cells import FEET_TAPE, Refusal, Settings
from xlhelpers.reading.findings import About, Spot, Subject, as_typed, make_finding
from xlhelpers.reading.locate import Place
from xlhelpers.reading.rows import keys_of
from xlhelpers.survey.model import Finding, Severity
from xlhelpers.survey.typed import units as typed_units
from xlhelpers.survey.typed.words import number_as_text

_CLOSES = f"If it was not taken, key one of {', '.join(CLOSING_WORDS)} or ? instead."
# quantities of the field sheet that may not have been taken
_TAKEN = ("reading", "length")
# sheets whose rows come from a paper sheet of the field
_FROM_PAPER = ("line", "plot")


def allowed(field: Field, units: Units) -> str:
    """Return what a cell of this field may hold, in words and in the units that are shown."""
    if field.choices is not None:
        words = [word for word in choice(field.choices) if word]
        return f"{', '.join(words[:-1])} or {words[-1]}"
    if field.kind == "stems":
        return "diameters with spaces between, such as 24 18 9"
    if field.kind == "number":
        return _allowed_number(field, units)
    return {
        "tick": "x, or blank",
        "date": "a date such as 2026-05-04",
        "identifier": "a number or a name",
    }.get(field.kind, "a text")


def _allowed_number(field: Field, units: Units) -> str:
    quantity = field.measured_in
    unit = "" if quantity is None else quantity.unit(units)
    factor = 1.0 if quantity is None else quantity.factor(units)
    word = "a whole number" if field.quantity == "count" else "a number"
    words = f"{word} in {typed_units.in_words(unit)}" if unit else word
    if field.low is not None and field.high is not None:
        return f"{words} from {_shown(field.low / factor)} to {_shown(field.high / factor)}"
    return words if field.low is None else f"{words}, {_shown(field.low / factor)} or more"


def _shown(value: float) -> str:
    return number_as_text(round(value, 2)).replace("-", "−")


def value_at(frame: pd.DataFrame, name: str, position: int) -> Any:
    """Return one value of a table."""
    return frame[name].iat[position]


def subject_of(place: Place, frame: pd.DataFrame, position: int) -> Subject:
    """Return the subject of a row: plot, tree and set-up of a line, the name of any other row."""
    if place.record.key == "line":
        setup = value_at(frame, "setup", position)
        number = "1" if pd.isna(setup) else number_as_text(float(setup))
        plot, tree = str(value_at(frame, "plot", position)), str(value_at(frame, "tree", position))
        return (("plot", plot), ("tree", tree), ("set-up", number))
    name = keys_of(place.record)[0]
    subject: Subject = ((place.record.row_word, str(value_at(frame, name, position))),)
    if place.record.key == "check":
        day = value_at(frame, "date", position)
        subject = (*subject, ("date", "" if pd.isna(day) else str(day.date())))
    return subject


@dataclass(frozen=True)
class RowSpot:
    """A row of a table: its place, the table as read, the row's position and sheet row."""

    place: Place
    frame: pd.DataFrame
    position: int

    @property
    def row(self) -> int:
        """Return the row in the sheet."""
        return int(value_at(self.frame, "_row", self.position))

    def about(self, fields: tuple[str, ...], evidence: tuple[str, ...] = ()) -> About:
        """Return what a finding on this row is about."""
        key = self.place.record.key
        at = (self.position,)
        return About(
            subject_of(self.place, self.frame, self.position),
            fields,
            lines=at if key == "line" else (),
            plots=at if key == "plot" else (),
            evidence=evidence,
        )


def refused_cell(spot: RowSpot, field: Field, refusal: Refusal, settings: Settings) -> Finding:
    """Return the finding on a cell that was not read."""
    place, row = spot.place, spot.row
    column = place.columns[field.name]
    typed = as_typed(place.grid.value(row, column))
    about = spot.about((field.name,), (typed,))
    message = (
        f"{field.label} holds “{typed}”, {_joined(refusal.because)}. "
        f"Allowed: {allowed(field, settings.units)}."
    )
    return make_finding(
        refusal.check,
        Spot(place.sheet, row, column),
        about,
        message,
        _what_to_do(place.record, field, refusal, settings, typed),
        _severity(field, refusal.check),
    )


def _joined(because: str) -> str:
    """Return a reason so that it reads on behind the value that was found."""
    if because.startswith(("it ", "“", "the ", "its ", "a foot", "TRUE", "%", "°", "what ")):
        return f"but {because}" if not because.startswith("the error") else because
    return because


def _severity(field: Field, check: str) -> Severity | None:
    weighty = field.required != "no" or field.kind in ("number", "stems", "tick", "choice")
    return None if weighty else "warning"


def _what_to_do(
    record: Sheet, field: Field, refusal: Refusal, settings: Settings, typed: str
) -> str:
    """Return the advice on a refused cell, which no paper sheet backs on the office's sheets."""
    advice = _advice(field, refusal.check, settings, typed)
    if record.key not in _FROM_PAPER:
        return f"{advice[0].upper()}{advice[1:]}"
    told = "perhaps" in refusal.because or advice.endswith("are meant.")
    if record.key == "line" and field.quantity in _TAKEN and not told:
        return f"Look at the paper sheet and {advice} {_CLOSES}"
    return f"Look at the paper sheet and {advice}"


def _advice(field: Field, check: str, settings: Settings, typed: str) -> str:
    if field.kind == "date":
        return "key it as year-month-day such as 2026-05-04."
    if check == "number-is-date":
        return "format the cell as a number (not as a date), then key the value again."
    if check == "cell-error":
        return "key the value in place of the formula."
    if check == "number-ambiguous" and field.quantity == "length" and settings.tape == FEET_TAPE:
        return _advice_on_feet(typed)
    if check == "number-ambiguous" and field.kind == "number":
        return "key the number with a decimal point, without a unit."
    if check == "word-unknown" and field.kind == "choice":
        return "choose one of these words from the list of the cell, or leave the cell blank."
    return "key it again as allowed."


def _advice_on_feet(typed: str) -> str:
    """Return how to key feet and inches, with the numbers found where they can be such."""
    found = re.fullmatch(r"([0-9]+)[ .-]+([0-9]+)", typed.strip())
    feet, inches = (int(found[1]), int(found[2])) if found else (40, 6)
    if inches >= 12:
        feet, inches = 40, 6
        found = None
    key = f"{feet}'{inches}\" (or {number_as_text(round(feet + inches / 12, 2))})"
    if found is None:
        return f"key it with its signs, such as {key}."
    return f"key it as {key}, if {feet} feet {inches} inches are meant."


def missing_name(spot: RowSpot, field: Field) -> Finding:
    """Return the finding on a row with keyed cells but without its plot, tree or other name."""
    place, row = spot.place, spot.row
    check = {"plot": "plot-missing", "tree": "tree-missing"}.get(field.name, "name-missing")
    check = check if place.record.key == "line" else "name-missing"
    column = place.columns.get(field.name)
    about = spot.about((field.name,))
    label = field.label.lower()
    message = (
        f"This {place.record.row_word} has keyed cells but no {label}. A blank is never taken as "
        "“as above”."
    )
    action = f"key the {label} on this row, or clear the row."
    if place.record.key in _FROM_PAPER:
        action = f"Look at the paper sheet and {action}"
    else:
        action = f"K{action[1:]}"
    return make_finding(check, Spot(place.sheet, row, column), about, message, action)
