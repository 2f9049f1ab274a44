"""Formulas of the workbook before they were shortened are known as ours, and give the same."""

from pathlib import Path

import pytest

from tests.conftest import Converter
from tests.jobs.books import GOOD, PLOT
from tests.live.formula_books import ALL, stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

FORMER = Path(__file__).parent / "blank_1_2.xlsx"
FIRST = 6
LINES = [
    {"tree": "1"},
    {"tree": "2", "tip_reading": None},
    {"tree": "3", "missing_because": "dangerous"},
    {"tree": "4", "foot_reading": 12.0},
    {"tree": "5", "foot_reading": 12.0, "foot_above_eye": "yes"},
    {"tree": "6", "foot_reading": -12.0, "foot_above_eye": "no"},
    {"tree": "7", "foot_reading": -12.0, "foot_above_eye": "yes"},
    {"tree": "8", "foot_reading": None},
    {"tree": "9", "foot_reading": None, "missing_because": "eye height from People"},
    {"tree": "10", "scale": "percents"},
    {"tree": "11", "scale": "degrees", "base_reading": None},
    {"tree": "12", "distance": None},
    {"tree": "13", "instrument": "D1"},
    {"tree": "14", "distance_kind": "along slope"},
    {"tree": "15", "condition": "T"},
]


def key_lines(content: bytes, path: Path) -> Path:
    package = Package.from_bytes(content)
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    kinds = {"C1": "clinometer, percent and degrees", "D1": "clinometer, degrees"}
    key_rows(package, INSTRUMENTS, [{"instrument": n, "kind": k} for n, k in kinds.items()])
    key_rows(package, PLOTS, [PLOT])
    key_rows(package, FIELD_SHEET, [GOOD | line for line in LINES])
    path.write_bytes(package.to_bytes())
    return path


@pytest.mark.slow
@pytest.mark.libreoffice
def test_longer_formulas_of_before_get_the_results_of_those_of_now(
    tmp_path: Path, soffice: Converter
) -> None:
    before = key_lines(FORMER.read_bytes(), tmp_path / "before.xlsx")
    now = key_lines(make_template("metric", "a4", 2, 12), tmp_path / "now.xlsx")
    for book in (before, now):
        fill(book)
    shown = stored(before, ALL, FIRST, len(LINES))
    assert len(set(shown["live_warning"])) > 8  # the lines differ in what is wrong with them
    for name, column in stored(now, ALL, FIRST, len(LINES)).items():
        assert shown[name].tolist() == column.tolist(), name
    # LibreOffice works out the longer formulas
    given = stored(soffice(before, recalculate=True), ALL, FIRST, len(LINES))
    for name in ("helper_scale", "helper_missing", "live_warning"):
        assert given[name].tolist() == shown[name].tolist(), name
