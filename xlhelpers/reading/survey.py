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
from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.sheet.grid import Grid, SheetTooLargeError, read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading import line_findings, locate
from xlhelpers.reading import rules as rules_sheet
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
    rules: rules_sheet.RulesPlace | None
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
    located = locate_sheets(*read_sheets(package, GUIDE_TAB, keep=True))
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


def read_sheets(
    package: Package, *ignored: str, keep: bool = False
) -> tuple[dict[str, Grid], dict[str, dict[str, Claims]]]:
    """Return the cells of every sheet that may hold entries, and the cells that carry our names.

    Parameters
    ----------
    package
        The opened workbook.
    *ignored
        Tabs that are left out, as the result tabs are, unless they carry names of ours.
    keep
        Whether the cells are kept for whoever reads the sheet again.

    Returns
    -------
    tuple
        Grid by tab, in the order of the tabs; and tab, key of the sheet, field, cells
        (see `locate.anchors`).
    """
    names, listed = parts.defined_names(package), parts.sheets(package)
    readable = [part for part in listed if part.kind == "worksheet" and part.part]
    claims = locate.anchors(names, readable)
    others = locate.result_sheets(names) | {tab.casefold() for tab in ignored}
    wanted = [p for p in readable if p.name in claims or p.name.casefold() not in others]
    return {
        p.name: _read_cells(package, p, keep=keep, ours=p.name in claims) for p in wanted
    }, claims


def _read_cells(package: Package, part: SheetPart, *, keep: bool, ours: bool) -> Grid:
    """Read a sheet; of one that is none of ours and has a stray cell far out, only its top."""
    try:
        return read_grid(package, part, keep=keep)
    except SheetTooLargeError as error:
        if ours or locate.place_by_headings(_TABLES, part.name, error.top) is not None:
            raise
        return error.top


def locate_sheets(grids: Mapping[str, Grid], claims: Mapping[str, Mapping[str, Claims]]) -> Located:
    """Return where every keyed sheet is.

    Any sheet that carries the names of a kind is of that kind. A sheet without names is a field
    sheet by its headings; of another kind only where no sheet carries the names of that kind.

    Parameters
    ----------
    grids, claims
        As `read_sheets` gives them.
    """
    places: dict[str, list[Place]] = {sheet.key: [] for sheet in _TABLES}
    with_names = {key for kinds in claims.values() for key in kinds}
    for tab, grid in grids.items():
        for sheet in _TABLES:
            sheet_claims = claims.get(tab, {}).get(sheet.key)
            if sheet_claims:
                places[sheet.key].append(locate.place_by_names(sheet, tab, grid, sheet_claims))
        if tab not in claims:
            open_kinds = [s for s in _TABLES if s is FIELD_SHEET or s.key not in with_names]
            place = locate.place_by_headings(open_kinds, tab, grid)
            if place is not None:
                places[place.record.key].append(place)
    taken = {place.sheet for listed in places.values() for place in listed}
    rules = rules_sheet.locate_rules(
        grids,
        {tab: kinds[RULES.key] for tab, kinds in claims.items() if RULES.key in kinds},
        [tab for tab in grids if tab not in claims and tab not in taken],
    )
    every = [place for listed in places.values() for place in listed]
    findings = (f for tab in grids for place in every if place.sheet == tab for f in place.findings)
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
    units, notes = rules_sheet.read_units(located.rules, rules_sheet.headed_units(everywhere))
    rules = rules_sheet.read_rules(located.rules, units, from_1904)
    settings = rules_sheet.with_tape(Settings(units, from_1904=from_1904), rules.values)
    tables = {
        sheet.key: read_table(sheet, located.places.get(sheet.key, ()), _for(sheet, settings))
        for sheet in _TABLES
    }
    lines, line_notes = _whole_lines(located, tables)
    tables[FIELD_SHEET.key] = lines
    findings = [*located.findings, *notes, *rules.findings]
    findings += [finding for table in tables.values() for finding in table.findings]
    findings += [*line_notes, *_heading_units(everywhere, lines, units)]
    touched = tuple(range(len(lines.frame)))
    findings = rules_sheet.one_for_all(findings, located.rules, everywhere, units, touched)
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
        findings += rules_sheet.heading_unit_findings(place, units, touched)
    return findings
