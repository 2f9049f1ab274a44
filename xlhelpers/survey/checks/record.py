"""The record of one check, and of the rows that fail it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from xlhelpers.errors import SpecificationError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.sources import SOURCES
from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.wording import KINDS, blanks_of
from xlhelpers.survey.model import Block, CauseRecord, Severity
from xlhelpers.survey.quantities import QUANTITIES, Quantity, quantities_of
from xlhelpers.survey.typed.folding import Flags

Table = Literal["lines", "trees", "plots", "instruments", "survey"]
Subject = tuple[tuple[str, str], ...]
DEFINITION = "definition"
COMMON_PRACTICE = "common practice, no source"
_SHEETS: dict[str, Sheet] = {"plot": PLOTS, "instrument": INSTRUMENTS}


@dataclass(frozen=True)
class Hits:
    """The rows of the check's table that fail, and the values for the blanks of its message.

    `values` are columns aligned to `rows`. What is None follows from the row: the lines that it
    touches, its plots, its subject, the fields to check (the first of them is the cell), the
    evidence, no causes.
    """

    rows: NDArray[np.int64]
    values: Mapping[str, Sequence[Any] | NDArray[Any]] = field(default_factory=dict)
    lines: Sequence[tuple[int, ...]] | None = None
    plots: Sequence[tuple[int, ...]] | None = None
    subjects: Sequence[Subject] | None = None
    fields: Sequence[tuple[str, ...]] | None = None
    evidence: Sequence[tuple[str, ...]] | None = None
    causes: Sequence[tuple[CauseRecord, ...]] | None = None


NO_HITS = Hits(np.empty(0, dtype=np.int64))


def hits_where(mask: Flags, **columns: NDArray[Any]) -> Hits:
    """Return the rows where a mask is true, with the values of whole columns on these rows."""
    rows = np.flatnonzero(mask)
    return (
        Hits(rows, {name: column[rows] for name, column in columns.items()})
        if len(rows)
        else NO_HITS
    )


@dataclass(frozen=True)
class Check:
    """One rule: what it compares, what it says, what it is based on, and a predicate.

    Parameters
    ----------
    id : str
        Stable, never used again for something else.
    severity : str
        "error": a number is wrong or missing; "warning": please check; "note": a fact.
    block : str
        Who can resolve it first: "paper", "crew" or "again".
    table : str
        The table that the predicate's rows are positions in.
    compares : tuple of str
        Field names; those of the plots sheet are written "plot.<name>", of the instruments sheet
        "instrument.<name>", all others are the field sheet's. The first is the cell to check.
    basis : str
        Key of a source, "definition" or "common practice, no source".
    fails : callable
        The predicate: one yes or no a row of the table, or hits. Blanks never fail a comparison.
    message, action : str
        Templates. A blank is ``{name:kind}``: a value of the predicate, a survey rule, or a
        column of the table; the kind is one of ``wording.KINDS`` or left out for a text.
    about : tuple of str
        The quantities that a finding puts in doubt, where they are not those of the fields that it
        compares.
    is_missing : bool
        Whether it says that a value is missing, so that there is no number to be doubted.
    """

    id: str
    severity: Severity
    block: Block
    table: Table
    compares: tuple[str, ...]
    basis: str
    fails: Callable[[Facts], Hits | Flags]
    message: str
    action: str
    about: tuple[Quantity, ...] = ()
    is_missing: bool = False

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """Return the quantities that a finding of this check is about."""
        return self.about or quantities_of(self.compares)

    def find_hits(self, facts: Facts) -> Hits:
        """Return the rows of a survey that fail."""
        failing = self.fails(facts)
        return failing if isinstance(failing, Hits) else hits_where(failing)


@lru_cache(maxsize=65536)
def field_of(name: str) -> tuple[Sheet, Field]:
    """Return the sheet and the field that a name in `Check.compares` means."""
    sheet, _, bare = name.rpartition(".")
    record = _SHEETS[sheet] if sheet else FIELD_SHEET
    return record, record[bare]


def validate(checks: Sequence[Check]) -> None:
    """Refuse a table that contradicts itself.

    Raises
    ------
    SpecificationError
        If an id is used twice, or a field, a source or a kind of blank does not exist.
    """
    seen: set[str] = set()
    for check in checks:
        if check.id in seen:
            raise SpecificationError(f"check {check.id} is listed twice")
        seen.add(check.id)
        if check.basis not in SOURCES and check.basis not in (DEFINITION, COMMON_PRACTICE):
            raise SpecificationError(f"check {check.id}: no source is called {check.basis}")
        for name in check.compares:
            try:
                field_of(name)
            except KeyError:
                raise SpecificationError(f"check {check.id}: no field is called {name}") from None
        if unknown := set(check.about) - set(QUANTITIES):
            raise SpecificationError(f"check {check.id}: no quantity is called {unknown.pop()}")
        for name, kind in (*blanks_of(check.message), *blanks_of(check.action)):
            if kind and kind not in KINDS:
                raise SpecificationError(f"check {check.id}: {name} has an unknown kind, {kind}")
