"""The survey in memory: one table a keyed sheet, the rules, and the findings.

Every table has one row a keyed row of its sheet, a plain 0..n-1 index, and the columns

- `_sheet` (text) and `_row` (integer): where the row stands in the workbook;
- one column a field of the sheet's record, in the inner unit (metres, degrees, fractions;
  diameters in centimetres; readings in the unit of their scale). Numbers and counts are float64
  with NaN for a blank; identifiers, texts and choices are text with "" for a blank; dates are
  datetime64 with NaT; a tick is a bool; `other_stems` is a text of centimetres parted by spaces.

Computed columns of the sheets ("live", "tree", "progress") are not part of the tables.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import pandas as pd

from xlhelpers.fields.quantities import Units
from xlhelpers.survey.quantities import QUANTITIES, Quantity, quantities_of

Severity = Literal["error", "warning", "note"]
# Where to look first; the three blocks of the tab To check
Block = Literal["paper", "crew", "again"]
# what a cell of a keyed row was: blank, a value, closed by a word, or refused with a finding
BLANK, VALUE, CLOSED, REFUSED = 0, 1, 2, 3


# kinds of mistakes that no paper sheet shows
AT_THE_TREE = frozenset(("near-edge", "lean", "dead-top", "stray-branch", "base-to-ground"))


@dataclass(frozen=True)
class CauseRecord:
    """One likely cause of a finding.

    `kind` is a stable id, the `id` of a record in `survey.doubt.mistakes`. `field` is the internal
    name of the one field that is wrong, with the number as typed and the number that it would be,
    both in the unit of the sheet; all three are None where several cells change at once, and
    `would_be` also where the right number cannot be told. `total_height` and `crown_base` are
    what the tree would then have, in metres above the foot (None: cannot be told). `words` go on
    from "Probably".
    """

    kind: str
    field: str | None
    typed: float | None
    would_be: float | None
    total_height: float | None
    crown_base: float | None
    words: str

    @property
    def is_typing(self) -> bool:
        """Whether the paper sheet may show it; the others were made in front of the tree."""
        return self.kind not in AT_THE_TREE


@dataclass(frozen=True)
class Finding:
    """One thing that does not fit: where, what, why, what to do.

    `sheet`, `row` and `column` are the cell to look at (1-based; None where there is no one
    cell). `subject` is what the finding is about, such as (("plot", "7"), ("tree", "12"),
    ("set-up", "1")). `lines` are positions in `Survey.lines` of the field-sheet lines that it
    touches; `plots` positions in `Survey.plots`. `evidence` are the compared readings as text:
    the fingerprint. A note states a fact and is never open. `causes` are the likely causes, the
    likeliest first; `under` is the id of the finding whose cause is also this one's ("" none).
    `about` are the quantities that it puts in doubt (`quantities`; left out, those of its fields);
    `is_missing` says that a value is not there, so that no number can be wrong.
    `plausible_height` is the greatest height (m) that the causes or trees of the kind give, 0 none.
    """

    check: str
    severity: Severity
    block: Block
    subject: tuple[tuple[str, str], ...]
    message: str
    action: str
    fields: tuple[str, ...] = ()
    sheet: str = ""
    row: int | None = None
    column: int | None = None
    lines: tuple[int, ...] = ()
    plots: tuple[int, ...] = ()
    evidence: tuple[str, ...] = ()
    causes: tuple[CauseRecord, ...] = ()
    under: str = ""
    plausible_height: float = 0.0
    about: tuple[Quantity, ...] = ()
    is_missing: bool = False

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """Return the quantities that it is about; all of them where it names no field."""
        return self.about or quantities_of(self.fields) or QUANTITIES


@dataclass(frozen=True)
class Understood:
    """What was understood without loss from messy cells of one column: said once, with a count."""

    sheet: str
    column_label: str
    kind: str
    count: int
    first_cells: tuple[str, ...]


@dataclass(frozen=True)
class Survey:
    """The whole survey as keyed.

    `rules` maps each name of `fields.rules.RULES` to its value in the inner unit (the default
    where the sheet has none). `states` holds under the name of each table ("lines", "plots" …)
    one of the same shape with BLANK, VALUE, CLOSED or REFUSED; a refused cell is NaN or "" in its
    table and already has a finding. `columns` maps (sheet name, field name) to the column number
    in that sheet.
    """

    rules: Mapping[str, Any]
    strata: pd.DataFrame
    people: pd.DataFrame
    instruments: pd.DataFrame
    instrument_checks: pd.DataFrame
    plots: pd.DataFrame
    species: pd.DataFrame
    lines: pd.DataFrame
    states: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    columns: Mapping[tuple[str, str], int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    understood: tuple[Understood, ...] = ()
    closed_words: Mapping[str, int] = field(default_factory=dict)

    @property
    def units(self) -> Units:
        """Return the units in which the survey was entered and is shown."""
        return "us" if self.rules["units"] == "us" else "metric"
