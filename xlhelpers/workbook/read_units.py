"""The units of the headings: which system they name, and where they contradict the survey's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from xlhelpers.fields.quantities import Units
from xlhelpers.fields.rules import RULES
from xlhelpers.survey.model import Finding
from xlhelpers.survey.typed_units import in_words
from xlhelpers.workbook.locate import Place, heading_unit
from xlhelpers.workbook.read_rules import RulesPlace
from xlhelpers.workbook.reading_checks import About, Spot, as_typed, make_finding

# so many headings, and this share of those with a unit, speak against the rule as a whole
_FEWEST, _SHARE = 3, 2 / 3
# what follows from a wrong rule, and is not said again beside it
_FOLLOWS = ("heading-unit", "rule-tape")


def _units_of_headings(places: Iterable[Place]) -> list[tuple[Units, str]]:
    """Return the system and the sign of each heading whose unit tells the system."""
    found: list[tuple[Units, str]] = []
    for place in places:
        for name, column in place.columns.items():
            quantity = place.record[name].measured_in
            unit = heading_unit(place.grid.value(place.heading_row, column))
            if quantity is None or unit is None or quantity.metric_unit == quantity.us_unit:
                continue
            systems: tuple[Units, ...] = ("metric", "us")
            found += [(one, unit.sign) for one in systems if unit.sign == quantity.unit(one)]
    return found


def headed_units(places: Iterable[Place]) -> Units | None:
    """Return the unit system that the headings of keyed columns name, None where none or both."""
    found = {system for system, _ in _units_of_headings(places)}
    return found.pop() if len(found) == 1 else None


def one_for_all(
    findings: Sequence[Finding],
    rules: RulesPlace | None,
    places: Sequence[Place],
    units: Units,
    touched: tuple[int, ...],
) -> list[Finding]:
    """Return the findings with one about the rule Units in place of one for each heading.

    Where most of the headings name the other system, the rule and not they may be wrong.

    Parameters
    ----------
    findings
        All findings of the reading.
    rules
        Where the rules stand; without a rule of units nothing changes.
    places
        The keyed sheets.
    units
        System of the survey, in which all numbers were read.
    touched
        Positions of all lines.
    """
    named = _units_of_headings(places)
    against = [sign for system, sign in named if system != units]
    if (
        rules is None
        or "units" not in rules.cells
        or len(against) < max(_FEWEST, _SHARE * len(named))
    ):
        return list(findings)
    row, column = rules.cells["units"]
    signs = [in_words(sign) for sign in dict.fromkeys(against)]
    said = ", ".join(signs[:-1]) + (" and " if len(signs) > 1 else "") + signs[-1]
    typed = as_typed(rules.grid.value(row, column))
    meant = "" if typed == units else f" (“{typed}”)"
    about = About((("rule", RULES["units"].label),), ("units",), touched,
                  evidence=(typed, f"{len(against)} headings"))  # fmt: skip
    message = (
        f"{len(against)} headings say {said}, the rule “{RULES['units'].label}” says "
        f"{units}{meant}; which is right? All numbers were read as {units}."
    )
    other: Units = "us" if units == "metric" else "metric"
    action = (
        f"If the numbers were keyed as the headings say, choose {other} for the rule, and mend the "
        "rules whose values are meant in other units; otherwise mend the headings."
    )
    found = make_finding("units-against-headings", Spot(rules.sheet, row, column), about, message,
                         action)  # fmt: skip
    return [found, *(finding for finding in findings if finding.check not in _FOLLOWS)]


def heading_unit_findings(place: Place, units: Units, touched: tuple[int, ...]) -> list[Finding]:
    """Return the findings on headings whose own unit is not that of the survey.

    Parameters
    ----------
    place
        Where the sheet stands.
    units
        System of the survey, in which the columns were read.
    touched
        Positions of its lines, for the field sheet.
    """
    findings = []
    for name, column in place.columns.items():
        item = place.record[name]
        quantity, heading = item.measured_in, place.grid.value(place.heading_row, column)
        unit = heading_unit(heading)
        if item.kind == "computed" or quantity is None or unit is None:
            continue
        right = quantity.unit(units)
        if not right or unit.sign == right:
            continue
        message = (
            f"The column “{item.label}” is headed “{as_typed(heading)}”, but the units of the "
            f"survey are {units}; its numbers were read in {in_words(right)}."
        )
        action = (
            f"See in which unit the numbers were keyed: if in {in_words(right)}, mend the heading; "
            f"if in {in_words(unit.sign)}, key them in {in_words(right)}, or write {unit.sign} "
            "behind each number."
        )
        about = About((("sheet", place.sheet), ("column", item.label)), (name,), lines=touched,
                      evidence=(as_typed(heading),))  # fmt: skip
        spot = Spot(place.sheet, place.heading_row, column)
        findings.append(make_finding("heading-unit", spot, about, message, action))
    return findings
