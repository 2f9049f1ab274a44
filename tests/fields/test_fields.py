"""The records of the columns agree with each other and with the spreadsheet's own limits."""

import re

import pytest

from xlhelpers.errors import SpecificationError
from xlhelpers.fields.choices import CHOICES, choice
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.fields.rules import RULES, US_DEFAULTS
from xlhelpers.fields.workbook import GUIDE_TAB, KEYED_SHEETS, RESULT_TABS

EVERY_FIELD = [
    pytest.param(sheet, field, id=f"{sheet.key}-{field.name}")
    for sheet in KEYED_SHEETS
    for field in sheet.fields
]


@pytest.mark.parametrize(("sheet", "field"), EVERY_FIELD)
def test_a_field_is_fit_for_the_sheet(sheet: Sheet, field: Field) -> None:
    assert re.fullmatch(r"[a-z][a-z0-9_]*", field.name)
    assert 0 < len(field.label) <= 40
    assert 0 < len(field.help) <= 200  # of 255 characters; the rest tells when it is needed
    assert field.choices is None or field.choices in CHOICES
    if field.low is not None and field.high is not None:
        assert field.low < field.high
    if field.kind == "number":
        assert field.quantity is not None


@pytest.mark.parametrize("sheet", KEYED_SHEETS, ids=lambda sheet: sheet.key)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_headings_of_a_sheet_differ(sheet: Sheet, units: str) -> None:
    # headings are a second way to find a column, so no two may be alike without their units
    headings = [field.heading(units).casefold() for field in sheet.fields]  # type: ignore[arg-type]
    labels = [field.label.casefold() for field in sheet.fields]
    synonyms = [word.casefold() for field in sheet.fields for word in field.synonyms]
    assert len(set(headings)) == len(headings)
    assert len(set(labels)) == len(labels)
    assert len(set(synonyms)) == len(synonyms)


def test_tabs_and_keys_differ_and_fit() -> None:
    tabs = [GUIDE_TAB, *(sheet.tab for sheet in KEYED_SHEETS), *RESULT_TABS.values()]
    assert len({tab.casefold() for tab in tabs}) == len(tabs)
    assert all(0 < len(tab) <= 31 for tab in tabs)
    assert len({sheet.key for sheet in KEYED_SHEETS}) == len(KEYED_SHEETS)


# what a town sets for itself, or leaves alone
TOWN_LIMITS = ("limit_species", "limit_genus", "limit_family")


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_rule_has_a_default_in_its_range(units: str) -> None:
    for field in RULES.fields:
        value = US_DEFAULTS.get(field.name, field.default) if units == "us" else field.default
        if field.kind == "choice":
            assert value in choice(str(field.choices))
        elif field.name in TOWN_LIMITS:
            assert value is None
        elif field.kind == "number":
            assert isinstance(value, float)
            assert field.low is None or value >= field.low
            assert field.high is None or value <= field.high
    assert set(US_DEFAULTS) <= set(RULES.index)


def test_conversions_are_the_exact_ones() -> None:
    # NIST Special Publication 811 (2008), appendix B.8: foot, inch, acre on the
    # US survey foot of 4046.8726 m2; the international acre is 43,560 ft2 exactly
    assert QUANTITIES["length"].us_factor == 0.3048
    assert QUANTITIES["diameter"].us_factor == 2.54
    assert QUANTITIES["stratum area"].us_factor == pytest.approx(43_560 * 0.3048**2, rel=1e-12)
    assert QUANTITIES["stratum area"].metric_factor == 10_000


def test_a_record_that_contradicts_itself_is_refused() -> None:
    with pytest.raises(SpecificationError, match="no quantity"):
        Field("x", "X", "number", "Help.", quantity="weight")
    with pytest.raises(SpecificationError, match="go together"):
        Field("x", "X", "choice", "Help.")
    twice = Field("x", "X", "text", "Help.")
    with pytest.raises(SpecificationError, match="listed twice"):
        Sheet("s", "S", "S", "Purpose.", (twice, twice))
    with pytest.raises(SpecificationError, match="no list"):
        choice("flavour")
