"""The whole survey out of a workbook: every sheet located and read, every odd cell reported."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.workbook import (
    GUIDE_TAB,
    KEYED_SHEETS,
    TABLE_OF,
    TEMPLATE_VERSION,
    VERSION_NAME,
)
from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading import line_findings, locate
from xlhelpers.reading import rules as read_rules
from xlhelpers.reading import rules as read_units
from xlhelpers.reading.cells import Settings
from xlhelpers.reading.findings import first_few
from xlhelpers.reading.locate import Claims, Place
from xlhelpers.reading.table import TableRead, read_table
from xlhelpers.survey.model import Finding, Survey

# The names come first from the sheets that list them, so that their spelling there counts.
_TABLES: tuple[Sheet, ...] = tuple(sheet for sheet in KEYED_SHEETS if sheet is not RULES)


@dataclass(frozen=True)
class Located:
    """The keyed sheets of a workbook, by kind and in the order of their tabs, and the rules."""

    places: Mapping[str, tuple[Place, ...]]
    rules: read_rules.RulesPlace | None
    findings: tuple[Finding, ...]


def read_survey(package: Package) -> Survey:
    """Read the survey that a workbook holds.

    Parameters
    ----------
    package
        The opened workbook; it is not changed.

    Returns
    -------
    Survey
        All tables with the states of their cells, where the columns stand, all findings of the
        reading at once, and what was understood.

    Raises
    ------
    WorkbookError
        No field sheet can be found, or the template is newer than this program.
    """
    refuse_newer_template(package)
    grids, claims, nameless = _grids(package)
    located = locate_sheets(grids, claims, nameless)
    if not located.places.get(FIELD_SHEET.key):
        raise _no_field_sheet(package, tuple(part.name for part in parts.sheets(package)))
    return read_located(located, parts.date1904(package))


def refuse_newer_template(package: Package) -> None:
    """Raise where the workbook was made from a later version of the template.

    Raises
    ------
    WorkbookError
        The version stated in the workbook is higher than that of this program.
    """
    for name in parts.defined_names(package):
        if name.name.casefold() != VERSION_NAME:
            continue
        stated = re.search(r"[0-9]+", name.text.rpartition("!")[2])
        if stated and "!" not in name.text and int(stated[0]) > TEMPLATE_VERSION:
            raise WorkbookError(
                f"{package.path.name} was made by a later version of this program (template "
                f"version {stated[0]}; this one knows up to {TEMPLATE_VERSION}). Update the "
                "program, then fill again."
            )


def _no_field_sheet(package: Package, tabs: Sequence[str]) -> WorkbookError:
    listed = first_few([f"“{tab}”" for tab in tabs], 8)
    return WorkbookError(
        f"{package.path.name} has no field sheet (its sheets: {listed}). A field sheet has the "
        "headings Plot, Tree and Tip reading. Make a blank workbook with xlhelpers new and enter "
        "the readings there."
    )


def _grids(package: Package) -> tuple[dict[str, Grid], dict[str, dict[str, Claims]], list[str]]:
    """Return the cells of every sheet that may be keyed, our names, and the sheets without."""
    names, listed = parts.defined_names(package), parts.sheets(package)
    readable = [part for part in listed if part.kind == "worksheet" and part.part]
    claims = locate.anchors(names, readable)
    results = locate.result_sheets(names)
    wanted = [
        part
        for part in readable
        if part.name in claims or part.name.casefold() not in results | {GUIDE_TAB.casefold()}
    ]
    grids = {part.name: read_grid(package, part, keep=True) for part in wanted}
    return grids, claims, [part.name for part in wanted if part.name not in claims]


def locate_sheets(
    grids: Mapping[str, Grid],
    claims: Mapping[str, Mapping[str, Claims]],
    nameless: Sequence[str],
) -> Located:
    """Return where every keyed sheet stands.

    Any sheet that carries the names of a kind is of that kind. A sheet without names is a field
    sheet by its headings; of another kind only where no sheet carries the names of that kind.

    Parameters
    ----------
    grids
        Cells of each sheet, in the order of the tabs.
    claims
        Our names: sheet name, sheet key, field, cells (see `locate.anchors`).
    nameless
        Sheets that carry none of our names.
    """
    places: dict[str, list[Place]] = {sheet.key: [] for sheet in _TABLES}
    findings: list[Finding] = []
    with_names = {key for kinds in claims.values() for key in kinds}
    for tab, grid in grids.items():
        for sheet in _TABLES:
            found = claims.get(tab, {}).get(sheet.key)
            if found:
                place, said = locate.place_by_names(sheet, tab, grid, found)
                places[sheet.key].append(place)
                findings += said
        if tab in nameless:
            open_kinds = [s for s in _TABLES if s is FIELD_SHEET or s.key not in with_names]
            by_headings = locate.place_by_headings(open_kinds, tab, grid)
            if by_headings is not None:
                places[by_headings[0].record.key].append(by_headings[0])
                findings += by_headings[1]
    taken = {place.sheet for listed in places.values() for place in listed}
    rules = read_rules.locate_rules(
        grids,
        {tab: kinds[RULES.key] for tab, kinds in claims.items() if RULES.key in kinds},
        [tab for tab in nameless if tab not in taken],
    )
    return Located({key: tuple(listed) for key, listed in places.items()}, rules, tuple(findings))


def read_located(located: Located, from_1904: bool = False) -> Survey:
    """Read the survey from sheets that were located.

    Parameters
    ----------
    located
        Where the sheets stand.
    from_1904
        Whether day numbers count from 1904.
    """
    everywhere = [place for listed in located.places.values() for place in listed]
    units, said = read_rules.read_units(located.rules, read_units.headed_units(everywhere))
    rules = read_rules.read_rules(located.rules, units, from_1904)
    settings = read_rules.with_tape(Settings(units, from_1904=from_1904), rules.values)
    tables = {
        sheet.key: read_table(sheet, located.places.get(sheet.key, ()), _for(sheet, settings))
        for sheet in _TABLES
    }
    lines, line_notes = _whole_lines(located, tables)
    tables[FIELD_SHEET.key] = lines
    findings = [*located.findings, *said, *rules.findings]
    findings += [finding for table in tables.values() for finding in table.findings]
    findings += [*line_notes, *_heading_units(everywhere, lines, units)]
    touched = tuple(range(len(lines.frame)))
    findings = read_units.one_for_all(findings, located.rules, everywhere, units, touched)
    columns = {
        (place.sheet, name): column
        for place in everywhere
        for name, column in place.columns.items()
    }
    return Survey(
        rules=rules.values,
        **{TABLE_OF[key]: table.frame for key, table in tables.items()},
        states={TABLE_OF[key]: table.states for key, table in tables.items()},
        columns={**columns, **rules.columns},
        findings=tuple(findings),
        understood=(*rules.understood, *(u for t in tables.values() for u in t.understood)),
        closed_words=dict(sum((table.closed for table in tables.values()), Counter())),
    )


def _for(sheet: Sheet, settings: Settings) -> Settings:
    """Return the settings for one kind of sheet: tape and girth belong to the field sheet."""
    if sheet is FIELD_SHEET:
        return settings
    return Settings(settings.units, from_1904=settings.from_1904, spellings=settings.spellings)


def _whole_lines(
    located: Located, tables: Mapping[str, TableRead]
) -> tuple[TableRead, list[Finding]]:
    places = {place.sheet: place for place in located.places.get(FIELD_SHEET.key, ())}
    lines = line_findings.Lines(tables[FIELD_SHEET.key], places)
    scales = line_findings.scales_of_lines(
        lines.table.frame, tables["plot"].frame, tables["instrument"].frame
    )
    findings = [
        *line_findings.unit_findings(lines, scales),
        *line_findings.hundredth_findings(lines, scales),
    ]
    return line_findings.close_blanks(lines), findings


def _heading_units(everywhere: Sequence[Place], lines: TableRead, units: Units) -> list[Finding]:
    findings = []
    for place in everywhere:
        touched: tuple[int, ...] = ()
        if place.record is FIELD_SHEET:
            touched = tuple((lines.frame["_sheet"] == place.sheet).to_numpy().nonzero()[0].tolist())
        findings += read_units.heading_unit_findings(place, units, touched)
    return findings
