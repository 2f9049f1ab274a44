"""Formula cells that a fill reports: where they are, and in which words.

Cells of one column that follow each other are one range.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.sheet.references import area_name

Rows = NDArray[np.int64]
Kind = Literal["left", "another", "restored", "less", "other"]
_NAMED = 3
WORDS: Mapping[Kind, str] = {
    "left": "The formula was typed over. Your entry was kept.",
    "another": "The formula is another one, yours or from another version. It was kept.",
    "restored": "The formula was put back.",
    "less": "The formula shows nothing, but the program could read the cell. Use the value on "
    "Trees.",
    "other": "The formula shows another value than the program read. Use the value on Trees.",
}
"""What the list says of a range of each kind."""


@dataclass(frozen=True)
class DifferingCells:
    """Cells of one column of a field sheet, by rows ascending."""

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
    def first_ranges(self) -> str:
        """Return the first ranges, such as "AK8:AK14, AK20 …"."""
        names = [
            area_name((first, self.column, last, self.column))
            for first, last in self.ranges[: _NAMED + 1]
        ]
        return ", ".join(names[:_NAMED]) + (" …" if len(names) > _NAMED else "")
