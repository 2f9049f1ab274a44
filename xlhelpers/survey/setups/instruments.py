"""What the instruments sheet says of each instrument, completed by the table of kinds.

One entry a row of the sheet and one more at the end, which stands for "no instrument".
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.measure.accuracy import Accuracy
from xlhelpers.measure.instruments import HEIGHT_SCALE, KINDS, InstrumentKind
from xlhelpers.measure.units import convert
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.folding import Positions, fold

Values = NDArray[np.float64]
Texts = NDArray[np.object_]
Row = Mapping[Hashable, Any]
FIXED_SCALE = "fixed distance"
# Step that a scale is read to where the instrument's kind does not say
USUAL_GRADUATION = {
    "percent": 1.0,
    "degrees": 1.0,
    "topographic": 1.0,
    FIXED_SCALE: 0.5,
    HEIGHT_SCALE: 0.1,
}
_KIND_BY_FOLDED = {fold(name): kind for name, kind in KINDS.items()}
# The four columns of the sheet and the kind's figure that stands in for a blank
_ACCURACY_FIELDS = {
    "u_angle": "u_reading",
    "u_zero": "u_zero",
    "u_distance_share": "u_distance_relative",
    "u_distance": "u_distance_fixed",
}


@dataclass(frozen=True)
class InstrumentTable:
    """The instruments as columns; the last entry of each stands for no instrument.

    `kind` is the name of the kind ("" unknown), `scales` the names of the scales, `only_scale`
    its scale where there is just one, `to_bark` whether its distances end there, `scale_distance`
    the base of a fixed-distance scale in the unit of its readings, `accuracy` the figures by
    column of `Accuracy` (NaN unknown), `graduation` the step of each scale.
    """

    kind: Texts
    scales: tuple[frozenset[str], ...]
    only_scale: Texts
    to_bark: NDArray[np.bool_]
    scale_distance: Values
    accuracy: dict[str, Values]
    graduation: dict[str, Values]

    def accuracy_of(self, positions: Positions, scale: str) -> Accuracy:
        """Return the accuracy of the instruments at these positions on one scale."""
        figures: dict[str, Any] = {
            name: column[positions] for name, column in self.accuracy.items()
        }
        return Accuracy(
            **figures,
            graduation=self.graduation[scale][positions],
            scale="" if scale == HEIGHT_SCALE else scale,
            scale_distance=self.scale_distance[positions],
        )


def instrument_table(survey: Survey) -> InstrumentTable:
    """Return the instruments of a survey, blanks filled from their kinds.

    Parameters
    ----------
    survey : Survey
        Looked at are the instruments and the unit system.

    Returns
    -------
    InstrumentTable
        One entry a row of the sheet, and one at the end for "no instrument".
    """
    rows: Sequence[Row] = survey.instruments.to_dict("records")
    kinds = [_KIND_BY_FOLDED.get(fold(str(row["kind"]))) for row in rows]
    scales = (*map(_scales, rows, kinds), frozenset[str]())
    unit = "m" if survey.units == "metric" else "ft"
    return InstrumentTable(
        kind=np.array([*("" if kind is None else kind.name for kind in kinds), ""], dtype=object),
        scales=scales,
        only_scale=np.array([min(s) if len(s) == 1 else "" for s in scales], dtype=object),
        to_bark=np.array([*map(_to_bark, rows, kinds), False], dtype=bool),
        scale_distance=np.array(
            [*(_base(row, kind, unit) for row, kind in zip(rows, kinds, strict=True)), np.nan]
        ),
        accuracy={
            name: np.array(
                [*(_figure(r, k, column, name) for r, k in zip(rows, kinds, strict=True)), np.nan]
            )
            for column, name in _ACCURACY_FIELDS.items()
        },
        graduation={
            scale: np.array([*(_graduation(kind, scale, unit) for kind in kinds), np.nan])
            for scale in USUAL_GRADUATION
        },
    )


def _scales(row: Row, kind: InstrumentKind | None) -> frozenset[str]:
    given = frozenset(s for s in (row["scale_1"], row["scale_2"]) if s)
    if given or kind is None:
        return given
    return frozenset(scale.name for scale in kind.scales)


def _to_bark(row: Row, kind: InstrumentKind | None) -> bool:
    ends_at = row["distance_to"] or (kind.distance_to if kind is not None else "")
    return bool(ends_at == "bark")


def _fixed_unit(kind: InstrumentKind | None, unit: str) -> str:
    """Return the unit of a kind's fixed-distance scales, else that of the workbook."""
    units = {s.unit for s in kind.scales if s.name == FIXED_SCALE} if kind is not None else set()
    return units.pop() if len(units) == 1 else unit


def _base(row: Row, kind: InstrumentKind | None, unit: str) -> float:
    """Return the distance that the fixed scale was made for; NaN where two would be possible."""
    if np.isfinite(row["scale_distance"]):
        base = float(convert(row["scale_distance"], "m", _fixed_unit(kind, unit)))
        # what was converted to metres on reading gets its round figure back
        return round(base, 6)
    bases = {s.base_distance for s in kind.scales if s.base_distance} if kind is not None else set()
    return float(bases.pop()) if len(bases) == 1 else np.nan


def _figure(row: Row, kind: InstrumentKind | None, column: str, name: str) -> float:
    if np.isfinite(row[column]):
        return float(row[column])
    return np.nan if kind is None else float(getattr(kind, name))


def _graduation(kind: InstrumentKind | None, scale: str, unit: str) -> float:
    steps = [s.graduation for s in kind.scales if s.name == scale] if kind is not None else []
    step = steps[0] if steps else USUAL_GRADUATION[scale]
    # a display shows the unit of the workbook, and the uncertainty of a height is in metres
    return float(convert(step, unit, "m")) if scale == HEIGHT_SCALE else step
