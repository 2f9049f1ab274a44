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
from xlhelpers.reading.cell_findings import describe_allowed, sentence
from xlhelpers.reading.cells import Cells, Settings, read_column
from xlhelpers.reading.findings import as_typed, make_finding
from xlhelpers.reading.locate import Claims, Place, heading_key, heading_unit
from xlhelpers.survey.model import REFUSED, VALUE, Finding, Understood
from xlhelpers.survey.typed.units import in_words
from xlhelpers.survey.typed.words import fold_word, tidy

_LABEL_COLUMNS, _LABEL_ROWS, _LABELS_NEEDED = 3, 120, 3


@dataclass(frozen=True)
class RulesPlace:
    """Where the survey rules are: the cell of each value."""

    sheet: str
    grid: Grid
    cells: Mapping[str, tuple[int, int]]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class RulesRead:
    """The rules as read: value of each in the inner unit, findings, and what was understood."""

    values: Mapping[str, Any]
    findings: tuple[Finding, ...] = ()
    understood: tuple[Understood, ...] = ()
    columns: Mapping[tuple[str, str], int] = field(default_factory=dict)


def default_of(record: Field, units: Units) -> Any:
    """Return the usual value of a rule in the inner unit, None for a number that may be blank."""
    value = US_DEFAULTS.get(record.name, record.default) if units == "us" else record.default
    return "" if value is None and record.kind != "number" else value


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
    cells = _by_labels(grid) | {name: cells[0] for name, cells in claims.items()}
    twice = [RULES[name].label for name, cells in claims.items() if len(cells) > 1]
    if not (twice or others):
        return RulesPlace(sheet, grid, cells)
    if others:
        count = len(others) + 1
        tabs = "”, “".join([sheet, *others])
        message = f"There are {count} sheets of survey rules (“{tabs}”). The first is used."
    else:
        rules = ", ".join(f"“{label}”" for label in twice)
        message = f"On “{sheet}”, {rules} has more than one cell. The first is used."
    finding = make_finding(
        "rules-twice",
        message,
        "Keep one sheet of survey rules, and one cell for each rule.",
        (("sheet", sheet),),
        sheet=sheet,
    )
    return RulesPlace(sheet, grid, cells, (finding,))


def _by_labels(grid: Grid) -> dict[str, tuple[int, int]]:
    labels = {fold_word(word): item.name for item in RULES.fields for word in item.labels}
    places: dict[str, tuple[int, int]] = {}
    for column in range(1, min(grid.shape[1], _LABEL_COLUMNS) + 1):
        for row in range(1, min(grid.shape[0], _LABEL_ROWS) + 1):
            name = labels.get(heading_key(grid.value(row, column)))
            if name is not None:
                places.setdefault(name, (row, column + 1))
    return places


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
    why = "like the units in the headings" if headed else "which is the default"
    note = make_finding(
        "units-from-headings",
        f"The survey rules do not state the units. Everything was read as {units}, {why}.",
        f"Choose metric or us for “{RULES['units'].label}” on “{RULES.tab}”.",
        (("rule", "units"),),
        sheet=place.sheet if place else "",
        fields=("units",),
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
        note = make_finding(
            "rules-missing",
            f"There is no sheet of survey rules (“{RULES.tab}”). The defaults were used: units "
            f"{units}, breast height {values['breast_height']:.2f} m.",
            "Copy the sheet from a blank workbook and type the rules that were agreed.",
            (("sheet", RULES.tab),),
            sheet="",
        )
        return RulesRead(values, (note,))
    findings, understood = list(place.findings), []
    columns = {}
    for item in RULES.fields:
        if item.name not in place.cells:
            continue
        columns[(place.sheet, item.name)] = place.cells[item.name][1]
        value, kinds, refused = _read_rule(place, item, Settings(units, from_1904=from_1904))
        understood += kinds
        findings += refused
        if value is not None and item.name != "units":
            values[item.name] = value
    findings += _tape_against_units(place, values["tape_reads_in"], units)
    return RulesRead(values, tuple(findings), tuple(understood), columns)


def _one_cell(value: object, percent: bool = False, date: bool = False) -> Cells:
    values = np.empty(1, dtype=object)
    values[0] = value
    return Cells(values, np.array([percent]), np.array([date]))


def _read_rule(
    place: RulesPlace, item: Field, settings: Settings
) -> tuple[Any, list[Understood], list[Finding]]:
    """Return the value (None for the default), what was understood, and what was refused."""
    row, column = place.cells[item.name]
    grid = place.grid
    typed = grid.value(row, column)
    if (row, column) in grid.uncalculated:
        finding = _rule_finding(
            "formula-uncalculated",
            place,
            item,
            f"“{item.label}” has a formula without a result. The default was used.",
            "Open the workbook in your spreadsheet program, save it, and fill again.",
        )
        return None, [], [finding]
    cells = _one_cell(typed, grid.is_percent(row, column), grid.is_date(row, column))
    read = read_column(item, cells, settings)
    name = cell_name(row, column)
    understood = [Understood(place.sheet, item.label, kind, 1, (name,)) for kind in read.kinds]
    findings = _against_units(place, item, settings.units)
    if read.states[0] == REFUSED:
        refusal = read.refusals[0]
        default = as_typed(_default_in_shown_unit(item, settings.units))
        message = (
            f"“{item.label}” is “{as_typed(typed)}”. {sentence(refusal.because)} The default "
            f"{default} was used."
        )
        action = f"Type {describe_allowed(item, settings.units)}."
        findings.append(_rule_finding(refusal.check, place, item, message, action))
    if read.states[0] != VALUE:
        return None, understood, findings
    value = read.values[0]
    return (float(value) if item.kind == "number" else str(value)), understood, findings


def _rule_finding(
    check: str, place: RulesPlace, item: Field, message: str, action: str, *, typed: bool = True
) -> Finding:
    """Return a finding on the cell of a rule; `typed` says if it is decided anew with the value."""
    row, column = place.cells[item.name]
    return make_finding(
        check,
        message,
        action,
        (("rule", item.label),),
        sheet=place.sheet,
        row=row,
        column=column,
        fields=(item.name,),
        evidence=(as_typed(place.grid.value(row, column)),) if typed else (),
    )


def _default_in_shown_unit(item: Field, units: Units) -> object:
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
        f"“{item.label}” is marked {in_words(sign)}, but the survey uses {units}. It was read in "
        f"{in_words(quantity.unit(units))}."
    )
    action = (
        f"If it is in {in_words(sign)}, convert it. If not, correct its unit, or the rule "
        f"“{RULES['units'].label}”."
    )
    return [_rule_finding("heading-unit", place, item, message, action, typed=False)]


def _tape_against_units(place: RulesPlace, tape: str, units: Units) -> list[Finding]:
    """Return a finding where the tape reads in the other system; the rule Units then counts."""
    if (tape == "metres") == (units == "metric"):
        return []
    item = RULES["tape_reads_in"]
    row, column = place.cells.get(item.name, (None, None))
    length = in_words(QUANTITIES["length"].unit(units))
    return [
        make_finding(
            "rule-tape",
            f"“{item.label}” is {tape}, but the survey uses {units}. Distances were read in "
            f"{length}.",
            f"Correct the rule that is wrong. Distances must be typed in {length}.",
            (("rule", item.label),),
            sheet=place.sheet,
            row=row,
            column=column,
            fields=(item.name, "units"),
            evidence=(tape, units),
        )
    ]


def with_tape(settings: Settings, rules: Mapping[str, Any]) -> Settings:
    """Return the settings with what the rules say about tape and diameter."""
    return replace(
        settings,
        tape=str(rules["tape_reads_in"]),
        girth=rules["diameter_typed_as"] == "girth",
    )


# so many headings, and this share of those with a unit, speak against the rule as a whole
_FEWEST, _SHARE = 3, 2 / 3
# what follows from a wrong rule, and is not listed again beside it
_FOLLOWS = ("heading-unit", "rule-tape")


def _units_of_headings(places: Iterable[Place]) -> list[tuple[Units, str]]:
    """Return the system and the sign of each heading whose unit tells the system."""
    signs: list[tuple[Units, str]] = []
    for place in places:
        for name, column in place.columns.items():
            quantity = place.record[name].measured_in
            unit = heading_unit(place.grid.value(place.heading_row, column))
            if quantity is None or unit is None or quantity.metric_unit == quantity.us_unit:
                continue
            systems: tuple[Units, ...] = ("metric", "us")
            signs += [(one, unit.sign) for one in systems if unit.sign == quantity.unit(one)]
    return signs


def headed_units(places: Iterable[Place]) -> Units | None:
    """Return the unit system that the headings of keyed columns name, None where none or both."""
    systems = {system for system, _ in _units_of_headings(places)}
    return systems.pop() if len(systems) == 1 else None


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
    *signs, last = (in_words(sign) for sign in dict.fromkeys(against))
    named_units = f"{', '.join(signs)} and {last}" if signs else last
    typed = as_typed(rules.grid.value(row, column))
    meant = "" if typed == units else f" (“{typed}”)"
    other: Units = "us" if units == "metric" else "metric"
    finding = make_finding(
        "units-against-headings",
        f"{len(against)} headings say {named_units}; the rule “{RULES['units'].label}” says "
        f"{units}{meant}. Everything was read as {units}.",
        f"If the numbers are in {named_units}, change the rule to {other}, and check the other "
        "rules. If not, correct the headings.",
        (("rule", RULES["units"].label),),
        sheet=rules.sheet,
        row=row,
        column=column,
        fields=("units",),
        lines=touched,
        evidence=(typed, f"{len(against)} headings"),
    )
    return [finding, *(other for other in findings if other.check not in _FOLLOWS)]


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
        sign, right = in_words(unit.sign), in_words(right)
        findings.append(
            make_finding(
                "heading-unit",
                f"“{item.label}” is headed “{as_typed(heading)}”, but the survey uses {units}. The "
                f"numbers were read in {right}.",
                f"If they are in {sign}, convert them or type {unit.sign} after each. If not, "
                "correct the heading.",
                (("sheet", place.sheet), ("column", item.label)),
                sheet=place.sheet,
                row=place.heading_row,
                column=column,
                fields=(name,),
                lines=touched,
                evidence=(as_typed(heading),),
            )
        )
    return findings
