"""Several stems in one cell: the diameters of a tree's other stems, as people list them."""

from __future__ import annotations

import re

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.survey.typed.numbers import (
    AMBIGUOUS,
    NOT_A_NUMBER,
    TEXT_NUMBER,
    Understanding,
    understand,
)

SEVERAL_STEMS = "stems separated by a sign other than a space"
_UNIT_AFTER_SPACE = re.compile(r"(?<=[0-9]) +(?=(?:cm|mm|m|in|ft|inch|inches)\b|\")", re.IGNORECASE)
_SIGNS = re.compile(r"[\s;+&]+|,\s+|\s+,|\band\b")


def understand_stems(text: str, units: Units) -> tuple[tuple[float, ...], Understanding]:
    """Read the diameters of several stems from one text: "24 18 9", "24, 18, 9" or "24+18".

    A comma between two digits is a decimal comma only where another sign parts the stems and one
    digit follows it: "24,5 18" is 24.5 and 18, while "24,5" and "24,18" alone are ambiguous.

    Returns
    -------
    tuple
        The diameters in centimetres, and how they were understood or why they are refused.
    """
    quantity = QUANTITIES["diameter"]
    glued = _UNIT_AFTER_SPACE.sub("", text.strip().strip(";+&,").strip())
    if "/" in glued:
        because = "the numbers around its / may be a fraction or two stems"
        return (), Understanding(refused=AMBIGUOUS, because=because)
    parts = [part for part in _SIGNS.split(glued) if part]
    commas = [part for part in parts if "," in part]
    if len(parts) == 1 and glued.count(",") > 1 and not re.search(r"[^0-9,]", glued):
        parts, commas = glued.split(","), []
    for part in commas:
        if len(parts) == 1 or len(part.rpartition(",")[2]) > 1:
            because = f"“{part}” may be one stem with a decimal comma or two stems"
            return (), Understanding(refused=AMBIGUOUS, because=because)
    stems = [understand(part, quantity, units) for part in parts]
    refused = next((item for item in stems if item.refused), None)
    if refused is not None or not stems:
        because = refused.because if refused else "it has no number"
        kind = refused.refused if refused else NOT_A_NUMBER
        return (), Understanding(refused=kind, because=because)
    kinds = [kind for item in stems for kind in item.kinds if kind != TEXT_NUMBER]
    if " ".join(parts) != " ".join(glued.split()):
        kinds.append(SEVERAL_STEMS)
    values = tuple(item.value for item in stems)
    return values, Understanding(sum(values), tuple(dict.fromkeys(kinds)))
