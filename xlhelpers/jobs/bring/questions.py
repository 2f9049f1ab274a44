"""What a sheet cannot say itself: units, scale, kind of distance, eye height."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.bring import words
from xlhelpers.jobs.bring.columns import READINGS, Column, of_role
from xlhelpers.jobs.bring.mapping import Answers
from xlhelpers.jobs.bring.tables import Table
from xlhelpers.jobs.bring.trials import Finding, find_scale, settle_units

_SCALE_OF = {"share": "percent", "angle": "degrees", "topographic": "topographic"}
_KINDS = (
    ("along slope", r"slope|inclinad|inclin[eé]|pente|schr[aä]g|ground dist"),
    ("straight to the foot", r"slant|straight|line of sight|directe?\b"),
    ("level", r"horiz|level|hz\b"),
)


class Question(NamedTuple):
    """One question: the option that answers it, and its sentence."""

    option: str
    sentence: str


class Knowledge(NamedTuple):
    """What is known of a whole table, with the reasons; "" for what is not needed or not known."""

    units: Finding | None = None
    scale: Finding | None = None
    distance_kind: Finding | None = None
    eye_height: float | None = None
    questions: tuple[Question, ...] = ()

    @property
    def answers(self) -> Answers:
        """Return it as answers that a mapping file keeps."""
        return Answers(
            self.units.word if self.units else "",
            self.scale.word if self.scale else "",
            self.distance_kind.word if self.distance_kind else "",
            self.eye_height,
        )


@dataclass
class Kind:
    """Tables with the same headings, what their columns are, and what is known of them."""

    tables: list[Table]
    columns: list[Column]
    knowledge: Knowledge = field(default_factory=Knowledge)


def find_out(columns: Sequence[Column], answers: Answers) -> Knowledge:
    """Find out what a table says of its units and readings, and what has to be asked.

    Parameters
    ----------
    columns : sequence of Column
        The columns with their roles; columns without a unit get theirs.
    answers : Answers
        What people said, now or in the mapping file; it goes before what is found.
    """
    stated = _find(answers.scale, _scale_of_headings(columns), None)
    units = settle_units(columns, _units(answers.units), stated.word if stated else "")
    questions = [] if units else [Question("units", words.ASK_UNITS)]
    scale = kind = None
    eye = None
    filled = [column for column in columns if column.filled]
    if of_role(filled, *READINGS):
        trial = find_scale(filled)
        scale = _find(answers.scale, _scale_of_headings(filled), trial and trial[0])
        kind = _find(answers.distance_kind, _kind_of_headings(filled), trial and trial[1])
        if scale is None and not of_role(filled, "scale"):
            questions.append(Question("scale", words.ASK_SCALE))
        needs_kind = of_role(filled, "distance") and not of_role(filled, "distance_kind")
        if kind is None and needs_kind:
            questions.append(Question("distance_kind", words.ASK_KIND))
        if of_role(filled, "tip_reading") and not of_role(filled, "foot_reading"):
            eye = answers.eye_height
            if eye is None and not of_role(filled, "eye_height"):
                unit = "ft" if units and units.word == "us" else "m"
                unit = unit if units else "m or ft"
                questions.append(Question("eye_height", words.ASK_EYE.format(unit=unit)))
    return Knowledge(units, scale, kind, eye, tuple(questions))


def _units(word: str) -> Units | None:
    return "metric" if word == "metric" else "us" if word == "us" else None


def _find(answer: str, stated: Finding | None, trial: Finding | None) -> Finding | None:
    if answer:
        return Finding(answer, words.YOUR_ANSWER)
    if stated is not None:
        return stated
    return trial if trial is not None and trial.because else None


def _scale_of_headings(columns: Sequence[Column]) -> Finding | None:
    """Return the scale that headings or cells of readings say; None where they differ."""
    stated = set()
    for column in of_role(columns, *READINGS):
        measures = column.unit.measures if column.unit else _typed_measure(column)
        if measures in _SCALE_OF:
            stated.add(_SCALE_OF[measures])
    return Finding(stated.pop(), words.FROM_HEADINGS) if len(stated) == 1 else None


def _typed_measure(column: Column) -> str:
    texts = [cell.strip() for cell in column.cells if isinstance(cell, str) and cell.strip()]
    for sign, measures in (("%", "share"), ("°", "angle")):
        signed = sum(text.endswith(sign) for text in texts)
        if texts and signed >= 0.9 * column.filled:
            return measures
    return ""


def _kind_of_headings(columns: Sequence[Column]) -> Finding | None:
    stated = set()
    for column in of_role(columns, "distance"):
        text = column.heading.text.casefold()
        stated |= {kind for kind, pattern in _KINDS[:2] if re.search(pattern, text)} or (
            {"level"} if re.search(_KINDS[2][1], text) else set()
        )
    return Finding(stated.pop(), words.FROM_HEADINGS) if len(stated) == 1 else None
