"""The one table of checks, in the order in which their findings are given."""

from functools import lru_cache

from xlhelpers.errors import SpecificationError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.sources import SOURCES
from xlhelpers.survey.checks import (
    completeness,
    copied,
    counts,
    duplicates,
    eye_height,
    order,
    ranges,
    repeats,
    scales,
    words,
)
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, Check
from xlhelpers.survey.checks.wording import KINDS, blanks

# what is wrong for a whole plot comes before what is wrong on a line
CHECKS: tuple[Check, ...] = (
    *words.WORDS,
    *completeness.PLOTS,
    *counts.AREAS,
    *counts.COUNTS,
    *duplicates.DUPLICATES,
    *scales.SCALES_READ,
    *completeness.LINES,
    *order.ORDER,
    *eye_height.EYE_HEIGHT,
    *ranges.DISTANCE,
    *ranges.RANGES,
    *repeats.REPEATS,
    *order.DEAD_TOPS,
    *copied.COPIED,
    *copied.DRAGGED,
    *repeats.RECORDED,
    *repeats.CLOSED,
)
_SHEETS: dict[str, Sheet] = {"plot": PLOTS, "instrument": INSTRUMENTS}
BLOCKS = {"paper": "look at the paper", "crew": "ask the crew", "again": "measure again"}
DESCRIBED = ("check", "severity", "look first", "compares", "says", "what to do", "basis")


@lru_cache(maxsize=65536)
def field_of(name: str) -> tuple[Sheet, Field]:
    """Return the sheet and the field that a name in `Check.compares` stands for."""
    sheet, _, bare = name.rpartition(".")
    record = _SHEETS[sheet] if sheet else FIELD_SHEET
    return record, record[bare]


def describe(checks: tuple[Check, ...] = CHECKS) -> list[tuple[str, ...]]:
    """Return one row of texts for each check, under the headings `DESCRIBED`."""
    return [
        (
            check.id,
            check.severity,
            BLOCKS[check.block],
            ", ".join(_label(name) for name in check.compares),
            _with_names(check.message),
            _with_names(check.action),
            SOURCES[check.basis].citation if check.basis in SOURCES else check.basis,
        )
        for check in checks
    ]


def _label(name: str) -> str:
    sheet, field = field_of(name)
    return field.label if sheet is FIELD_SHEET else f"{field.label} ({sheet.tab})"


def _with_names(template: str) -> str:
    """Return a template with its blanks as names in angle brackets."""
    for name, kind in blanks(template):
        blank = f"{{{name}:{kind}}}" if kind else f"{{{name}}}"
        template = template.replace(blank, f"<{name.replace('_', ' ')}>")
    return template


def validate(checks: tuple[Check, ...]) -> None:
    """Refuse a table that contradicts itself.

    Raises
    ------
    SpecificationError
        If an id stands twice, or a field, a source or a kind of blank does not exist.
    """
    seen: set[str] = set()
    for check in checks:
        if check.id in seen:
            raise SpecificationError(f"check {check.id} stands twice")
        seen.add(check.id)
        if check.basis not in SOURCES and check.basis not in (DEFINITION, COMMON_PRACTICE):
            raise SpecificationError(f"check {check.id}: no source is called {check.basis}")
        for name in check.compares:
            try:
                field_of(name)
            except KeyError:
                raise SpecificationError(f"check {check.id}: no field is called {name}") from None
        for name, kind in (*blanks(check.message), *blanks(check.action)):
            if kind and kind not in KINDS:
                raise SpecificationError(f"check {check.id}: {name} is of no kind {kind}")


validate(CHECKS)
