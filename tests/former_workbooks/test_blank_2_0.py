"""A workbook with a column for each slope is filled as before, also below its prepared lines."""

from pathlib import Path

import pytest

from tests.jobs.books import GOOD, PLOT
from tests.live.formula_books import stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.live.formulas import NOW, RECENT, set_of
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey
from xlhelpers.template.keyed_rows import key_rows

FORMER = Path(__file__).with_name("blank_2_0.xlsx")
FIRST = 6
PREPARED = 24  # twice the lines that were expected
ODD = [{"tip_reading": "70,5"}, {"distance": "12'6\""}, {"base_reading": None}]
LINES = [*ODD, *({"distance": 20 + at} for at in range(PREPARED - 1))]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    package = Package.open(FORMER)
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    kind = "clinometer, percent and degrees"
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": kind}])
    key_rows(package, PLOTS, [PLOT])
    keyed = [GOOD | {"tree": str(at)} | line for at, line in enumerate(LINES, 1)]
    key_rows(package, FIELD_SHEET, keyed)
    path = tmp_path / "town.xlsx"
    path.write_bytes(package.to_bytes())
    return path


def test_its_formulas_are_known_and_lines_below_them_get_the_same(book: Path) -> None:
    survey = read_survey(Package.open(book))
    columns = {name for tab, name in survey.columns if tab == FIELD_SHEET.tab}
    assert set_of(columns) is RECENT
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    assert not fill(book).wrote
    found = stored(book, ("live_total", "live_warning", "helper_tip"), FIRST, len(LINES))
    total = found["live_total"].tolist()
    # 25 m times 0.705 + 0.06; 12'6" is 3.81 m; 76 % of the last distances
    assert total[:2] == pytest.approx([25 * 0.765, 3.81 * 0.76])
    assert total[len(ODD) :] == pytest.approx([(20 + at) * 0.76 for at in range(PREPARED - 1)])
    assert found["live_warning"].tolist()[2] == "crown base reading missing"
    # the last lines had no formulas, and now have those of this workbook
    assert found["helper_tip"].tolist()[-1] == pytest.approx(0.7)
    assert read_survey(Package.open(book)).columns.keys() == survey.columns.keys()


def test_a_new_workbook_that_lost_a_column_is_no_former_one() -> None:
    columns = {field.name for field in FIELD_SHEET.fields}
    assert set_of(columns) is NOW
    assert set_of(columns - {"helper_shape"}) is None
