"""Live cells of which a fill has something to say: where they stand, and in which words.

Cells of one column that follow each other are one range.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.sheet.references import area_name

Rows = NDArray[np.int64]
Kind = Literal["left", "another", "restored", "less", "other"]
_NAMED = 3
WORDS: Mapping[Kind, str] = {
    "left": "something was typed over the formula; it was left",
    "another": "another formula stands here, of your own or of another version of the program; it "
    "was left",
    "restored": "the formula took the place of what stood there",
    "less": "the formula gives nothing, the program reads a value; the tab Trees holds it",
    "other": "the formula gives something else than the program reads; the tab Trees holds the "
    "program's",
}
"""What the list says of a range of each kind."""


@dataclass(frozen=True)
class ToldCells:
    """Cells of one column of a field sheet, by rows ascending, and what is to be said of them."""

    sheet: str
    label: str
    column: int
    rows: Rows
    kind: Kind

    @property
    def ranges(self) -> list[tuple[int, int]]:
        """Return the first and the last row of each range."""
        parts = np.split(self.rows, np.flatnonzero(np.diff(self.rows) > 1) + 1)
        return [(int(part[0]), int(part[-1])) for part in parts if len(part)]

    @property
    def listed(self) -> str:
        """Return the first ranges, such as "AK8:AK14, AK20 …"."""
        names = [
            area_name((first, self.column, last, self.column))
            for first, last in self.ranges[: _NAMED + 1]
        ]
        return ", ".join(names[:_NAMED]) + (" …" if len(names) > _NAMED else "")

    @property
    def sentence(self) -> str:
        """Return what the command says, without a stop."""
        count = len(self.rows)
        formulas = f"{count:,} formula{'s' if count > 1 else ''} of '{self.label}'"
        lines = f"on {count:,} line{'s' if count > 1 else ''} the formula of '{self.label}'"
        said = {
            "left": f"{formulas} had something typed over ({self.listed}); it was left. To have "
            "the formulas back, fill with --restore-formulas",
            "another": f"{count:,} cell{'s' if count > 1 else ''} of '{self.label}' "
            f"hold{'' if count > 1 else 's'} another formula, of your own or of another version of "
            f"the program ({self.listed}); it was left. To have this version's, fill with "
            "--restore-formulas",
            "restored": f"{formulas} took the place of what stood there ({self.listed})",
            "less": f"{lines} gives nothing where the program reads a value ({self.listed}); the "
            "tab Trees holds the program's",
            "other": f"{lines} gives something else than the program's own reading "
            f"({self.listed}); the tab Trees holds the program's",
        }
        return f"{self.sheet}: {said[self.kind]}"


def sentences(told: Sequence[ToldCells]) -> tuple[str, ...]:
    """Return a sentence for each column and kind."""
    return tuple(cells.sentence for cells in told)
