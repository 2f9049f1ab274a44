"""The findings about single cells, in words: what was found, what is allowed, what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from xlhelpers.fields.choices import CLOSING_WORDS, choice
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field
from xlhelpers.package.references import cell_name
from xlhelpers.survey.model import Finding, Severity
from xlhelpers.survey.words import number_as_text
from xlhelpers.workbook.locate import Place
from xlhelpers.workbook.read_cells import Refusal
from xlhelpers.workbook.read_rows import keys_of
from xlhelpers.workbook.reading_checks import About, Spot, Subject, as_typed, make_finding

_CLOSES = f"Leave a blank closed with {', '.join(CLOSING_WORDS)} or ?."


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
        "date": "a date such as 2026-05-31",
        "identifier": "a number or a name",
    }.get(field.kind, "a text")


def _allowed_number(field: Field, units: Units) -> str:
    quantity = field.measured_in
    unit = "" if quantity is None else quantity.unit(units)
    factor = 1.0 if quantity is None else quantity.factor(units)
    word = "a whole number" if field.quantity == "count" else "a number"
    words = f"{word} in {unit}" if unit else word
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


def subject_words(subject: Subject) -> str:
    """Return a subject in words: "plot 7, tree 12, set-up 1"."""
    return ", ".join(f"{word} {value or '(blank)'}" for word, value in subject)


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


def refused_cell(spot: RowSpot, field: Field, refusal: Refusal, units: Units) -> Finding:
    """Return the finding on a cell that was not read."""
    place, row = spot.place, spot.row
    column = place.columns[field.name]
    typed = as_typed(place.grid.value(row, column))
    about = spot.about((field.name,), (typed,))
    message = (
        f"{place.sheet} {cell_name(row, column)} ({subject_words(about.subject)}): {field.label} "
        f"holds “{typed}”, {_joined(refusal.because)}. Allowed: {allowed(field, units)}."
    )
    return make_finding(
        refusal.check,
        Spot(place.sheet, row, column),
        about,
        message,
        _what_to_do(field, refusal.check),
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


def _what_to_do(field: Field, check: str) -> str:
    if check == "number-is-date":
        return (
            "Look at the paper sheet, format the cell as a number (not as a date) and key the "
            "value again."
        )
    if check == "cell-error":
        return "Look at the paper sheet and key the value in place of the formula."
    if check == "number-ambiguous":
        return "Look at the paper sheet and key the number with a decimal point, without a unit."
    if check == "value-impossible":
        return "Look at the paper sheet; key what it says, or a word that closes the blank."
    if check == "word-unknown" and field.kind == "choice":
        return "Choose one of these words from the list of the cell, or leave the cell blank."
    return f"Look at the paper sheet and key it again as allowed. {_CLOSES}"


def missing_name(spot: RowSpot, field: Field) -> Finding:
    """Return the finding on a row with keyed cells but without its plot, tree or other name."""
    place, row = spot.place, spot.row
    check = {"plot": "plot-missing", "tree": "tree-missing"}.get(field.name, "name-missing")
    check = check if place.record.key == "line" else "name-missing"
    column = place.columns.get(field.name)
    about = spot.about((field.name,))
    where = f"row {row}" if column is None else cell_name(row, column)
    message = (
        f"{place.sheet} {where}: this {place.record.row_word} has keyed cells but no "
        f"{field.label.lower()}. A blank is never taken as “as above”."
    )
    action = f"Look at the paper sheet and key the {field.label.lower()} on this row, or clear it."
    return make_finding(check, Spot(place.sheet, row, column), about, message, action)
