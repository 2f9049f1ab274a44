"""Formulas of workbooks before they were shortened are known as ours, and give the same."""

from pathlib import Path

import pytest

from tests.conftest import Converter
from tests.jobs.books import GOOD, PLOT
from tests.live.formula_books import ALL, stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.live.formulas import BETWEEN, RECENT, FormulaSet
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

FORMER = Path(__file__).parent
# what these columns hold has changed on some lines; only formulas read it
CHANGED = {"helper_typed", "helper_unread", "helper_divisor"}
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
    {"tree": "16", "distance": "18,4", "tip_reading": "62,5"},
    {"tree": "17", "distance": "12'6\"", "base_reading": "-1,5"},
    {"tree": "18", "distance": "18.4 metres", "foot_reading": "1,250"},
    {"tree": "19", "tip_straight": 31.0},
    {"tree": "20", "tip_offset": 1.5, "mark_above_foot": 0.5},
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


def are_same(one: object, other: object) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return one == pytest.approx(other, rel=1e-9)
    return (one or "") == (other or "")


@pytest.mark.slow
@pytest.mark.libreoffice
@pytest.mark.parametrize(
    ("former", "of_then"), [("blank_1_2.xlsx", BETWEEN), ("blank_2_0.xlsx", RECENT)]
)
def test_longer_formulas_of_before_get_the_results_of_those_of_now(
    tmp_path: Path, soffice: Converter, former: str, of_then: FormulaSet
) -> None:
    before = key_lines((FORMER / former).read_bytes(), tmp_path / "before.xlsx")
    now = key_lines(make_template("metric", "a4", 2, 12), tmp_path / "now.xlsx")
    for book in (before, now):
        fill(book)
    names = tuple(name for name in ALL if name in of_then.formulas and name not in CHANGED)
    shown = stored(before, names, FIRST, len(LINES))
    assert len(set(shown["live_warning"])) > 8  # the lines differ in what is wrong with them
    for name, column in stored(now, names, FIRST, len(LINES)).items():
        for row, pair in enumerate(zip(shown[name], column, strict=True), FIRST):
            assert are_same(*pair), (name, row, *pair)
    # LibreOffice works out the longer formulas
    given = stored(soffice(before, recalculate=True), names, FIRST, len(LINES))
    for name in names:
        for row, pair in enumerate(zip(given[name], shown[name], strict=True), FIRST):
            assert are_same(*pair), (name, row, *pair)
