"""A workbook without the tape's end, the rule for the foot and crown radii is filled as before."""

from pathlib import Path

import pytest

from tests.jobs.books import GOOD, PLOT
from tests.live.formula_books import stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import check
from xlhelpers.template.keyed_rows import key_rows

FORMER = Path(__file__).with_name("blank_1_2.xlsx")
FIRST = 6
LINES = [{"tree": "1"}, {"tree": "2", "condition": "D"}, {"tree": "3", "base_reading": None}]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    package = Package.open(FORMER)
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": "clinometer, percent and degrees",
                                     "distance_to": "bark"}])  # fmt: skip
    key_rows(package, PLOTS, [PLOT])
    key_rows(package, FIELD_SHEET, [GOOD | line for line in LINES])
    path = tmp_path / "town.xlsx"
    path.write_bytes(package.to_bytes())
    return path


def test_the_formulas_are_known_and_keep_their_results(book: Path) -> None:
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    found = stored(book, ("live_distance", "live_total", "live_warning"), FIRST, len(LINES))
    # 25 m to the bark of a stem of 0.4 m; the foot is aimed at on the bark
    assert found["live_distance"].tolist() == pytest.approx([25.2] * 3)
    assert found["live_total"].tolist() == pytest.approx([25.2 * 0.70 + 25.0 * 0.06] * 3)
    assert found["live_warning"].tolist()[2] == "crown base reading missing"
    assert not fill(book).wrote


def test_the_new_rules_have_their_defaults(book: Path) -> None:
    outcome = check(book)
    assert outcome.survey.rules["crown_widths"] == "widest and across"
    assert outcome.survey.rules["crown_depth"] == "measured"
    assert not [f for f in outcome.findings if f.check in ("column-missing", "rules-missing")]
