"""What each column of a foreign table is: proposed from its heading, decided by its values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from xlhelpers.jobs.bring.foreign import Value, is_blank
from xlhelpers.jobs.bring.headings import Heading, other_words, roles_of
from xlhelpers.jobs.bring.tables import Table, number_like
from xlhelpers.jobs.bring.vocabulary import BY_NAME, KEEP, role_label
from xlhelpers.survey.typed.units import TypedUnit
from xlhelpers.survey.typed.words import number_as_text

INCHES = ":inches"
"""Behind the name of a role: the inches beside its column of feet."""
READINGS = ("foot_reading", "base_reading", "top_reading", "tip_reading")
_LENGTH_INSTEAD = {
    "tip_reading": "height",
    "base_reading": "base_height",
    "top_reading": "top_height",
    "foot_reading": "mark_above_foot",
}
_READING_INSTEAD = {"height": "tip_reading", "base_height": "base_reading"}
_READING_WORDS_TEXT = (
    "reading angle visee lecture lectura angulo winkel ablesung messung percent clinometer"
)
_READING_WORDS = frozenset(_READING_WORDS_TEXT.split())
_MOSTLY = 0.9  # share of the lines
_HIGHEST_MARK = 3.5  # m or ft; a mark is aimed at because the foot is hidden
_NUMBERS_WANTED, _NUMBERS_TOLERATED = 0.3, 0.7
_NAMED_BY_TEXT = ("species", "common", "condition", "note", "crew", "scale", "distance_kind")
_ONCE_THEN_STEMS = ("diameter", "girth")
Numbers = NDArray[np.float64]


@dataclass
class Column:
    """One column: where it is, its heading, its cells, and what it was found to be.

    `number` counts the columns of a role that repeats, from 1; `unit` is that of the heading or
    found by a trial; `because` says why, and `instrument` what else the heading names.
    """

    at: int
    heading: Heading
    cells: tuple[Value, ...]
    role: str = ""
    number: int = 1
    unit: TypedUnit | None = None
    because: str = ""
    instrument: str = ""
    candidates: Mapping[str, float] = field(default_factory=dict)

    @cached_property
    def numbers(self) -> Numbers:
        """Return each cell as a number, NaN where it is none."""
        numbers = [number_like(cell) for cell in self.cells]
        return np.array([np.nan if number is None else number for number in numbers], dtype=float)

    @property
    def filled(self) -> int:
        """Return how many cells have anything."""
        return sum(not is_blank(cell) for cell in self.cells)

    @property
    def share_of_numbers(self) -> float:
        """Return the share of the filled cells that are numbers; 1 for an empty column."""
        return float(np.isfinite(self.numbers).sum()) / self.filled if self.filled else 1.0

    @property
    def median(self) -> float:
        """Return the middle of its numbers, NaN without any."""
        known = self.numbers[np.isfinite(self.numbers)]
        return float(np.median(known)) if len(known) else np.nan

    @property
    def plain_role(self) -> str:
        """Return the role without the mark of a column of inches."""
        return self.role.removesuffix(INCHES)

    @property
    def quantity(self) -> str:
        """Return the quantity of its role, "" for texts."""
        role = BY_NAME.get(self.plain_role)
        return "" if role is None else role.quantity

    def range_in_words(self) -> str:
        """Return the range of its values, such as "-10 to 120"."""
        known = self.numbers[np.isfinite(self.numbers)]
        if not len(known):
            return "no numbers"
        low, high = (number_as_text(round(float(n), 2)) for n in (known.min(), known.max()))
        return f"{low} to {high}".replace("-", "−")


def read_columns(tables: Sequence[Table]) -> list[Column]:
    """Return the columns of tables of one kind, their cells below one another."""
    columns = []
    for at, heading in enumerate(tables[0].headings):
        cells = tuple(table.value(row, at) for table in tables for row in table.rows())
        columns.append(Column(at, heading, cells, unit=heading.unit, candidates=roles_of(heading)))
    return columns


def decide_roles(columns: Sequence[Column], agreed: Mapping[int, str]) -> None:
    """Decide what each column is; the columns are changed.

    Parameters
    ----------
    columns : sequence of Column
        All columns of one table.
    agreed : mapping
        Position to role, where somebody has agreed on it before.
    """
    for column in columns:
        _take_heading(column)
    for at, role in agreed.items():
        columns[at].role, columns[at].because = role, "as in the mapping file"
    open_columns = [column for column in columns if column.at not in agreed]
    _decide_by_units(open_columns)
    _decide_between(open_columns, columns)
    _guess_readings(open_columns, columns)
    _pair_feet_and_inches(columns)
    _settle_repeats(open_columns, columns)
    for column in columns:
        if not column.role:
            column.role = KEEP
            column.because = column.because or "the heading is not known"
        column.instrument = other_words(column.heading, column.plain_role)
    _number_repeats(columns)


def of_role(columns: Sequence[Column], *roles: str) -> list[Column]:
    """Return the columns of some roles, in their order."""
    return [column for column in columns if column.role in roles]


def _take_heading(column: Column) -> None:
    """Take the best role of the heading that the values do not contradict."""
    for role, _ in sorted(column.candidates.items(), key=lambda item: -item[1]):
        if role == "stem" and column.heading.number == 0 and "diameter" in column.candidates:
            continue
        if _fits(column, role):
            column.role, column.because = role, "the heading says so"
            return
    if column.candidates:
        meant = role_label(next(iter(column.candidates)))
        column.because = f"the heading says {meant}, but its values do not fit"


def _fits(column: Column, role: str) -> bool:
    if not column.filled:
        return True
    if column.unit is not None and not BY_NAME[role].quantity and role != KEEP:
        return False  # what has a unit is no name
    if BY_NAME[role].quantity and role != "other_stems":
        return column.share_of_numbers >= _NUMBERS_WANTED
    return role not in _NAMED_BY_TEXT[:2] or column.share_of_numbers <= _NUMBERS_TOLERATED


def _decide_by_units(columns: Sequence[Column]) -> None:
    """A reading has no unit of length, and a height none of angles."""
    for column in columns:
        unit = column.unit
        if unit is None:
            continue
        instead = ""
        if unit.measures == "length":
            instead = _LENGTH_INSTEAD.get(column.role, "")
        elif unit.measures in ("angle", "share"):
            instead = _READING_INSTEAD.get(column.role, "")
        if instead == "mark_above_foot" and not column.median <= _HIGHEST_MARK:
            instead = KEEP
        if instead:
            column.role = instead
            column.because = f"the heading and its unit, {unit.sign}"


def _decide_between(columns: Sequence[Column], every: Sequence[Column]) -> None:
    """Decide headings that may name two things by the values and by what else there is."""
    tips = of_role(every, "tip_reading")
    named = [column for column in tips if set(column.heading.words) != {"top"}]
    for column in columns:
        words = set(column.heading.words)
        if column.role == "tip_reading" and words == {"top"} and named and column not in named:
            column.role, column.because = "top_reading", "the heading; another column is the tip"
        if column.role == "foot_reading" and words == {"base"}:
            _decide_base(column, every)
        if column.role == "base_reading" and not words & _READING_WORDS and column.unit is None:
            _decide_crown_base(column, every)
        if column.role == "mark_above_foot":
            feet = of_role(every, "foot_reading")
            if not feet or column.median > _HIGHEST_MARK * 3:
                column.role = "base_height"
                column.because = f"the heading; values {column.range_in_words()}"


def _decide_base(column: Column, every: Sequence[Column]) -> None:
    """Decide whether "Base" is the foot of the tree or the base of its crown."""
    tips = of_role(every, "tip_reading")
    others = [c for c in of_role(every, "foot_reading") if c is not column]
    values = f"values {column.range_in_words()}"
    if others:
        column.role = "base_reading"
        column.because = f"the heading; another column is the foot; {values}"
    elif not tips:
        column.role, column.because = "base_height", f"the heading; no readings to a tip; {values}"
    elif column.median <= max(0.35 * tips[0].median, 5.0):
        column.because = f"the heading; {values}, far below the tip"
    else:
        column.role = "base_reading"
        column.because = f"the heading; {values}, too high for a foot"


def _decide_crown_base(column: Column, every: Sequence[Column]) -> None:
    """Decide whether "Crown base" is a reading or a height."""
    if not of_role(every, "tip_reading"):
        column.role = "base_height"
        column.because = "the heading; no readings to a tip"


def _guess_readings(columns: Sequence[Column], every: Sequence[Column]) -> None:
    """Find foot and tip readings under headings that say nothing: the values tell."""
    unknown = [
        column
        for column in columns
        if not column.role
        and not column.candidates
        and column.share_of_numbers > _MOSTLY
        and np.isfinite(column.numbers).sum() > 2
    ]
    feet = of_role(every, "foot_reading")
    if not of_role(every, "distance") or not unknown:
        return
    if not feet:
        below = [c for c in unknown if -60 <= c.median < 0 and np.nanmean(c.numbers < 0) >= 0.5]
        if len(below) != 1:
            return
        feet = below
        feet[0].role = "foot_reading"
        feet[0].because = f"values {feet[0].range_in_words()}, mostly below eye level"
        unknown = [column for column in unknown if column is not feet[0]]
    if of_role(every, "tip_reading"):
        return
    foot = feet[0]
    above = [
        column
        for column in unknown
        if np.nanmin(column.numbers) >= -60
        and 20 <= np.nanmax(column.numbers) <= 400
        and _share_above(column, foot) > _MOSTLY
    ]
    above.sort(key=lambda c: c.median)
    if not above or len(above) > 2:
        return
    if len(above) == 2 and _share_above(above[1], above[0]) < _MOSTLY:
        return
    for column, role in zip(reversed(above), ("tip_reading", "base_reading"), strict=False):
        column.role = role
        column.because = (
            f"values {column.range_in_words()}, above the foot readings ({foot.range_in_words()})"
        )


def _share_above(column: Column, other: Column) -> float:
    """Return the share of the lines on which one column is above another."""
    known = np.isfinite(column.numbers + other.numbers)
    above = column.numbers[known] > other.numbers[known]
    return float(above.mean()) if known.any() else 0.0


def _pair_feet_and_inches(columns: Sequence[Column]) -> None:
    """Make one of two columns of one thing that stand side by side, in feet and in inches."""
    for one, other in pairwise(columns):
        signs = [None if c.unit is None else c.unit.sign for c in (one, other)]
        if one.role and one.quantity in ("length", "diameter") and signs == ["ft", "in"]:
            same = other.role == one.role or (not other.role and not other.candidates)
            if same:
                other.role = one.role + INCHES
                other.because = "the inches of the column before"


def _settle_repeats(columns: Sequence[Column], every: Sequence[Column]) -> None:
    """Keep one column of what a tree has once; the others go into the note."""
    _keep_latest_year(columns)
    if of_role(every, "diameter"):
        for column in of_role(columns, "girth"):
            column.role, column.because = KEEP, "the sheet has diameters"
    for role in _ONCE_THEN_STEMS:
        for column in of_role(every, role)[1:]:
            if column in columns:
                column.role, column.because = "stem", "another column of stems"
    stems = of_role(columns, "stem")
    if stems and not of_role(every, "diameter", "girth"):
        stems[0].role = "diameter"
    _settle_widths(columns)
    repeated = {role.name for role in BY_NAME.values() if role.repeats}
    free = repeated | {"stem", "other_stems", "width", "radius", "note", KEEP, "plot_part", ""}
    for role in {column.role for column in every} - free:
        same = of_role(every, role)
        for column in same:
            best = max(same, key=lambda c: (c not in columns, c.candidates.get(role, 0), -c.at))
            if column is not best and column in columns:
                column.role, column.because = KEEP, "another column has this already"


def _keep_latest_year(columns: Sequence[Column]) -> None:
    """Of columns that differ by the year in their heading, take the latest."""
    for role in {column.role for column in columns if column.heading.year and column.role}:
        same = [column for column in of_role(columns, role) if column.heading.year]
        latest = max(column.heading.year for column in same)
        for column in same:
            if column.heading.year < latest and role != KEEP:
                column.role = KEEP
                column.because = f"an earlier year; {latest} was taken"


def _settle_widths(columns: Sequence[Column]) -> None:
    spreads = of_role(columns, "width")
    one_way = [column for column in spreads if column.heading.direction in ("n", "e", "s", "w")]
    if len(one_way) >= 2 and len({c.heading.direction for c in one_way}) == len(one_way) > 2:
        for column in one_way:
            column.role, column.because = "radius", "the heading; one side of the crown"
    for column in of_role(columns, "width")[2:]:
        column.role, column.because = KEEP, "more than two widths"


def _number_repeats(columns: Sequence[Column]) -> None:
    for role in BY_NAME.values():
        if role.repeats:
            for number, column in enumerate(of_role(columns, role.name), 1):
                column.number = number
