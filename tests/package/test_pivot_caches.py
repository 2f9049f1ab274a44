"""Pivot tables that read changed cells fetch them anew; all others stay as they are."""

from __future__ import annotations

import pytest

from tests.package.books import MAIN, OFFICE, user_book
from tests.package.rich_book import add_part
from xlhelpers.package.formulas.stale_results import refresh_on_open
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.zip.container import Package

CACHE = "xl/pivotCache/pivotCacheDefinition1.xml"
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.pivotCacheDefinition+xml"


def with_cache(source: str) -> Package:
    package = Package.from_bytes(user_book())
    text = (
        f'<pivotCacheDefinition xmlns="{MAIN}" xmlns:r="{OFFICE}" recordCount="4"><cacheSource '
        f'type="worksheet">{source}</cacheSource><cacheFields count="0"/></pivotCacheDefinition>'
    )
    add_part(
        package, package.workbook_part, f"{OFFICE}/pivotCacheDefinition", CACHE, text, TYPE
    )  # fmt: skip
    return Package.from_bytes(package.to_bytes())


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ('<worksheetSource ref="A1:C6" sheet="Field sheet"/>', True),
        ('<worksheetSource ref="A1:B6" sheet="Field sheet"/>', False),
        ('<worksheetSource ref="A1:C6" sheet="Trees"/>', False),
        ('<worksheetSource name="all_heights"/>', True),
        ('<worksheetSource name="Crews"/>', False),
        ('<worksheetSource name="no_such_name"/>', False),
        ('<worksheetSource r:id="rId1" ref="A1:C6" sheet="Field sheet"/>', False),
        (
            '<consolidation><rangeSets count="1"><rangeSet ref="C1:C9" sheet="Field sheet"/>'
            "</rangeSets></consolidation>",
            True,
        ),
        # A formula that reads the changed cell is calculated anew, and so is what reads it.
        ('<worksheetSource ref="A3:A3" sheet="Own sums"/>', True),
        ('<worksheetSource ref="A7:A7" sheet="Own sums"/>', False),
    ],
)
def test_caches_that_read_a_changed_cell(source: str, expected: bool) -> None:
    package = with_cache(source)
    before = package.read(CACHE)
    refresh_on_open(package, {sheets(package)[0].name: [(2, 3)]})
    after = package.read(CACHE)
    assert (b' refreshOnLoad="1"' in after) is expected
    assert after == before or expected
    if expected:
        assert after.replace(b' refreshOnLoad="1"', b"").endswith(before[before.index(b"<cache") :])
