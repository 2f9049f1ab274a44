"""The survey rules and the units of a workbook: found by name, then by label."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.fields.record import Field
from xlhelpers.fields.rules import RULES, US_DEFAULTS
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.reading.cell_findings import allowed
from xlhelpers.reading.cells import Cells, Settings, read_column
from xlhelpers.reading.findings import About, Spot, as_typed, make_finding
from xlhelpers.reading.locate import Claims, Place, heading_key, heading_unit
from xlhelpers.survey.model import REFUSED, VALUE, Finding, Understood
from xlhelpers.survey.typed.units import in_words
from xlhelpers.survey.typed.words import fold_word, tidy

_LABEL_COLUMNS, _LABEL_ROWS, _LABELS_NEEDED = 3, 120, 3


@dataclass(frozen=True)
class RulesPlace:
    """Where the survey rules stand: the cell of each value."""

    sheet: str
    grid: Grid
    cells: Mapping[str, tuple[int, int]]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class RulesRead:
    """The rules as read: value of each in the inner unit, and what is to be said."""

    values: Mapping[str, Any]
    findings: tuple[Finding, ...] = ()
    understood: tuple[Understood, ...] = ()
    columns: Mapping[tuple[str, str], int] = field(default_factory=dict)


def default_of(record: Field, units: Units) -> Any:
    """Return the usual value of a rule in the inner unit."""
    value = US_DEFAULTS.get(record.name, record.default) if units == "us" else record.default
    if value is None:
        return float("nan") if record.kind == "number" else ""
    return value


def locate_rules(
    grids: Mapping[str, Grid], claims: Mapping[str, Claims], nameless: Iterable[str]
) -> RulesPlace | None:
    """Return where the survey rules stand, None where there are none.

    Parameters
    ----------
    grids
        The cells of each sheet, in the order of the tabs.
    claims
        For each sheet that carries names of the rules, the cells that carry them.
    nameless
        The sheets that carry no name of ours; these are searched for the rules' labels.
    """
    for sheet in grids:
        if sheet in claims:
            others = [name for name in claims if name != sheet]
            return _by_names(sheet, grids[sheet], claims[sheet], others)
    for sheet in nameless:
        cells = _by_labels(grids[sheet])
        needed = 1 if fold_word(sheet) == fold_word(RULES.tab) else _LABELS_NEEDED
        if len(cells) >= needed:
            return RulesPlace(sheet, grids[sheet], cells)
    return None


def _by_names(sheet: str, grid: Grid, claims: Claims, others: list[str]) -> RulesPlace:
    cells = {name: found[0] for name, found in claims.items()}
    cells = {**_by_labels(grid), **cells}
    twice = [RULES[name].label for name, found in claims.items() if len(found) > 1]
    findings = []
    if twice or others:
        where = f"on the sheets “{'”, “'.join([sheet, *others])}”" if others else f"on “{sheet}”"
        what = ", ".join(twice) if twice else "the survey rules"
        message = f"{what[0].upper()}{what[1:]} stand twice {where}; the first was taken."
        findings.append(
            make_finding(
                "rules-twice",
                Spot(sheet),
                About((("sheet", sheet),)),
                message,
                "Keep one sheet of survey rules and one cell for each rule.",
            )
        )
    return RulesPlace(sheet, grid, cells, tuple(findings))


def _by_labels(grid: Grid) -> dict[str, tuple[int, int]]:
    labels = {fold_word(item.label): item.name for item in RULES.fields}
    found: dict[str, tuple[int, int]] = {}
    for column in range(1, min(grid.shape[1], _LABEL_COLUMNS) + 1):
        for row in range(1, min(grid.shape[0], _LABEL_ROWS) + 1):
            name = labels.get(heading_key(grid.value(row, column)))
            if name is not None:
                found.setdefault(name, (row, column + 1))
    return found


def read_units(place: RulesPlace | None, headed: Units | None) -> tuple[Units, tuple[Finding, ...]]:
    """Return the unit system of the survey, and how it was found where the rules lack it.

    Parameters
    ----------
    place
        Where the rules stand.
    headed
        The system of the units in the headings; None where they carry none or disagree.
    """
    if place is not None and "units" in place.cells:
        row, column = place.cells["units"]
        read = read_column(RULES["units"], _one_cell(place.grid.value(row, column)), Settings())
        if read.states[0] == VALUE:
            return ("us" if read.values[0] == "us" else "metric"), ()
    units: Units = headed or "metric"
    why = "the units in the headings" if headed else "what is usual"
    spot = Spot(place.sheet if place else "")
    message = f"The survey rules do not state the units; by {why} they were taken as {units}."
    note = make_finding(
        "units-from-headings",
        spot,
        About((("rule", "units"),), ("units",)),
        message,
        f"Key metric or us beside “{RULES['units'].label}” on the sheet “{RULES.tab}”.",
    )
    return units, (note,)


def read_rules(place: RulesPlace | None, units: Units, from_1904: bool = False) -> RulesRead:
    """Read all survey rules.

    Returns
    -------
    RulesRead
        Every rule of the record; where the sheet has none, or one that cannot be read, the
        usual value.
    """
    values = {item.name: default_of(item, units) for item in RULES.fields}
    values["units"] = units
    if place is None:
        message = (
            f"The workbook has no sheet of survey rules (“{RULES.tab}”); the usual rules were "
            f"taken: units {units}, breast height {values['breast_height']:.2f} m."
        )
        note = make_finding(
            "rules-missing",
            Spot(""),
            About((("sheet", RULES.tab),)),
            message,
            "Copy the sheet from a blank template and key the rules that were agreed.",
        )
        return RulesRead(values, (note,))
    findings, understood = list(place.findings), []
    columns = {}
    for item in RULES.fields:
        if item.name not in place.cells:
            continue
        columns[(place.sheet, item.name)] = place.cells[item.name][1]
        value, said, refused = _read_rule(place, item, Settings(units, from_1904=from_1904))
        understood += said
        findings += refused
        if value is not None and item.name != "units":
            values[item.name] = value
    findings += _tape_against_units(place, values)
    return RulesRead(values, tuple(findings), tuple(understood), columns)


def _one_cell(value: object, percent: bool = False, date: bool = False) -> Cells:
    values = np.empty(1, dtype=object)
    values[0] = value
    return Cells(values, np.array([percent]), np.array([date]))


def _read_rule(
    place: RulesPlace, item: Field, settings: Settings
) -> tuple[Any, list[Understood], list[Finding]]:
    """Return the value (None for the usual one), what was understood, and what was refused."""
    row, column = place.cells[item.name]
    grid = place.grid
    typed = grid.value(row, column)
    spot, name = Spot(place.sheet, row, column), cell_name(row, column)
    about = About((("rule", item.label),), (item.name,), evidence=(as_typed(typed),))
    if (row, column) in grid.uncalculated:
        message = (
            f"The rule “{item.label}” holds a formula never calculated; the usual value was taken."
        )
        action = "Let the spreadsheet program calculate, save and fill again."
        return None, [], [make_finding("formula-uncalculated", spot, about, message, action)]
    cells = _one_cell(typed, grid.is_percent(row, column), grid.is_date(row, column))
    read = read_column(item, cells, settings)
    said = [Understood(place.sheet, item.label, kind, 1, (name,)) for kind in read.kinds]
    findings = _against_units(place, item, settings.units)
    if read.states[0] == REFUSED:
        refusal = read.refusals[0]
        usual = as_typed(_shown_default(item, settings.units))
        message = (
            f"The rule “{item.label}” holds “{as_typed(typed)}”, "
            f"{refusal.because}; the usual value {usual} was taken. "
            f"Allowed: {allowed(item, settings.units)}."
        )
        action = "Key the rule again as allowed."
        return None, said, [*findings, make_finding(refusal.check, spot, about, message, action)]
    if read.states[0] != VALUE:
        return None, said, findings
    value = read.values[0]
    return (float(value) if item.kind == "number" else str(value)), said, findings


def _shown_default(item: Field, units: Units) -> object:
    value = default_of(item, units)
    quantity = item.measured_in
    if quantity is None or not isinstance(value, float):
        return value or "(blank)"
    return f"{round(value / quantity.factor(units), 2):g} {quantity.unit(units)}".strip()


def _against_units(place: RulesPlace, item: Field, units: Units) -> list[Finding]:
    """Return a finding where the unit beside a rule is not that of the survey."""
    row, column = place.cells[item.name]
    quantity = item.measured_in
    if quantity is None or quantity.metric_unit == quantity.us_unit:
        return []
    other: Units = "us" if units == "metric" else "metric"
    unit = heading_unit(place.grid.value(row, column - 1)) if column > 1 else None
    beside = place.grid.value(row, column + 1)
    sign = unit.sign if unit else tidy(beside) if isinstance(beside, str) else ""
    if sign != quantity.unit(other):
        return []
    message = (
        f"The rule “{item.label}” is marked {in_words(sign)}, but the units of the survey are "
        f"{units}; its value was read in {in_words(quantity.unit(units))}."
    )
    about = About((("rule", item.label),), (item.name,))
    action = "Key the value in the units of the survey and mark it so, or mend the rule Units."
    spot = Spot(place.sheet, row, column)
    return [make_finding("heading-unit", spot, about, message, action)]


def _tape_against_units(place: RulesPlace, values: dict[str, Any]) -> list[Finding]:
    """Return a finding where the tape reads in the other system; the rule Units then counts."""
    is_metric_tape = values["tape_reads_in"] == "metres"
    if is_metric_tape == (values["units"] == "metric"):
        return []
    length = QUANTITIES["length"].unit(values["units"])
    row, column = place.cells.get("tape_reads_in", (None, None))
    message = (
        f"The tape reads in {values['tape_reads_in']}, but the units of the survey are "
        f"{values['units']}; distances were read in {in_words(length)}."
    )
    about = About(
        (("rule", RULES["tape_reads_in"].label),),
        ("tape_reads_in", "units"),
        evidence=(values["tape_reads_in"], values["units"]),
    )
    action = "Mend the rule that is wrong; distances must be keyed in the units of the survey."
    return [make_finding("rule-tape", Spot(place.sheet, row, column), about, message, action)]


def with_tape(settings: Settings, rules: Mapping[str, Any]) -> Settings:
    """Return the settings with what the rules say about tape and diameter."""
    return replace(
        settings,
        tape=str(rules["tape_reads_in"]),
        girth=rules["diameter_typed_as"] == "girth",
    )


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
    about = About(
        (("rule", RULES["units"].label),),
        ("units",),
        touched,
        evidence=(typed, f"{len(against)} headings"),
    )
    message = (
        f"{len(against)} headings say {said}, the rule “{RULES['units'].label}” says "
        f"{units}{meant}; which is right? All numbers were read as {units}."
    )
    other: Units = "us" if units == "metric" else "metric"
    action = (
        f"If the numbers were keyed as the headings say, choose {other} for the rule, and mend the "
        "rules whose values are meant in other units; otherwise mend the headings."
    )
    found = make_finding(
        "units-against-headings", Spot(rules.sheet, row, column), about, message, action
    )
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
        about = About(
            (("sheet", place.sheet), ("column", item.label)),
            (name,),
            lines=touched,
            evidence=(as_typed(heading),),
        )
        spot = Spot(place.sheet, place.heading_row, column)
        findings.append(make_finding("heading-unit", spot, about, message, action))
    return findings
