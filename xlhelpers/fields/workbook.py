"""The sheets that people fill in, in the order of the workbook, and the names of our own tabs."""

from __future__ import annotations

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENT_CHECKS, INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES

TEMPLATE_VERSION = 2
VERSION_NAME = "xlh_template_version"
KEYED_SHEETS: tuple[Sheet, ...] = (
    RULES,
    STRATA,
    PEOPLE,
    INSTRUMENTS,
    INSTRUMENT_CHECKS,
    PLOTS,
    SPECIES,
    FIELD_SHEET,
)
GUIDE_TAB = "Guide"
# key -> tab; the defined name xlh_tab_<key> points to the first cell of the tab
RESULT_TABS: dict[str, str] = {
    "trees": "Trees",
    "by_plot": "By plot",
    "by_species": "By species",
    "to_check": "To check",
    "glance": "Plot at a glance",
    "again": "Measure again",
    "log": "Log",
    "about": "About this fill",
}


def tab_name(key: str) -> str:
    """Return the defined name by which one of our result tabs is found again."""
    return f"xlh_tab_{key}"


# label -> label of before, which findings and decisions of older workbooks are known by
FORMER_LABELS: dict[str, str] = {
    field.label: field.former for sheet in KEYED_SHEETS for field in sheet.fields if field.former
}
# Which table of the survey each kind of sheet becomes
TABLE_OF: dict[str, str] = {
    "stratum": "strata",
    "person": "people",
    "instrument": "instruments",
    "check": "instrument_checks",
    "plot": "plots",
    "species": "species",
    "line": "lines",
}
