"""What we write is valid by the schemas of ISO/IEC 29500, judged by a validator of its own."""

import io
import zipfile
from pathlib import Path

import pytest
from openxml_audit import OpenXmlValidator

from tests.blank_books import blank
from tests.jobs.books import varied, write_filled
from xlhelpers.jobs.fill.fill import fill

ROOT = Path(__file__).parents[2]
TEMPLATE = "templates/field_workbook_metric_a4.xlsx"
KEPT = (
    # what is filled is a template with more in it, and quickly looked at below
    pytest.param(TEMPLATE, marks=pytest.mark.slow),
    pytest.param("templates/field_workbook_us_letter.xlsx", marks=pytest.mark.slow),
    pytest.param("demo_workbooks/town.xlsx", marks=pytest.mark.slow),
    pytest.param("demo_workbooks/town_filled.xlsx", marks=pytest.mark.slow),
)


def faults(path: Path) -> list[str]:
    return [str(error) for error in OpenXmlValidator().validate(path).errors]


@pytest.mark.parametrize("name", KEPT)
def test_the_kept_workbooks_are_valid(name: str) -> None:
    assert faults(ROOT / name) == []


def test_a_workbook_filled_twice_is_valid(tmp_path: Path) -> None:
    book = write_filled(tmp_path / "town.xlsx", varied(6))
    fill(book)
    assert faults(book) == []


def test_the_validator_sees_a_fault(tmp_path: Path) -> None:
    broken = tmp_path / "broken.xlsx"
    with zipfile.ZipFile(io.BytesIO(blank())) as old, zipfile.ZipFile(broken, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "xl/worksheets/sheet2.xml":
                data = data.replace(b"<sheetData>", b"<nonsense/><sheetData>")
            new.writestr(name, data)
    assert any("nonsense" in fault for fault in faults(broken))
