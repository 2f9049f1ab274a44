"""Numbers outside every possible range: not read, but what was typed says what may be meant.

A reading of 640 is no reading, and yet it is one decimal point away from 64. For the causes alone
such a number is put back on its line.
"""

from collections.abc import Iterable
from dataclasses import fields, replace

import numpy as np

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.doubt.mistakes import TYPED
from xlhelpers.survey.doubt.readings import Measured, Sheet, measure
from xlhelpers.survey.doubt.weigh import Usual
from xlhelpers.survey.model import Finding
from xlhelpers.survey.typed.folding import Flags

# the check of such numbers; its evidence is the number as typed
VALUE_IMPOSSIBLE = "value-impossible"


def put_back_numbers(usual: Usual, findings: Iterable[Finding]) -> tuple[Usual, Flags]:
    """Return the lines with the numbers that were not read as typed, and which lines have one.

    Parameters
    ----------
    usual : Usual
        All lines as entered; what is usual is not changed.
    findings : iterable of Finding
        Those of the reading among them are looked at.
    """
    changed = np.zeros(len(usual.setups), dtype=bool)
    columns = dict(usual.sheet.columns)
    for finding in findings:
        number = _read_number(finding)
        if number is None:
            continue
        name, line = finding.fields[0], finding.lines[0]
        quantity = TYPED[name][1]
        unit = QUANTITIES[quantity].factor(usual.survey.units) if quantity else 1.0
        columns[name] = columns[name].copy()
        columns[name][line] = number * unit
        if name.startswith("width"):
            columns["mean_width"] = columns["mean_width"].copy()
            columns["mean_width"][line] = number * unit
        changed[line] = True
    if not changed.any():
        return usual, changed
    sheet = Sheet(usual.sheet.line, columns)
    rows = np.flatnonzero(changed)
    own = measure(usual.survey, sheet.take(rows), usual.ways)
    seen = {}
    for field in fields(Measured):
        seen[field.name] = getattr(usual.seen, field.name).copy()
        seen[field.name][rows] = getattr(own, field.name)
    return replace(usual, sheet=sheet, seen=Measured(**seen)), changed


def _read_number(finding: Finding) -> float | None:
    """Return the number that a finding is about, None if it is not about one that was typed."""
    if finding.check != VALUE_IMPOSSIBLE or len(finding.lines) != 1:
        return None
    if finding.fields[0] not in TYPED or len(finding.evidence) != 1:
        return None
    try:
        number = float(finding.evidence[0].replace("\N{MINUS SIGN}", "-").replace(",", "."))
    except ValueError:
        return None
    return number if np.isfinite(number) and number != 0 else None
