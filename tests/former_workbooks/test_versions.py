"""Workbooks of template version 1 beside those of version 2: filled as before, merged with them."""

from pathlib import Path

import pytest

from tests.jobs.books import GOOD, PLOT, keyed, run
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.fields.workbook import VERSION_NAME
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import defined_names
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import check
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.template.keyed_rows import key_rows

FORMER = Path(__file__).with_name("blank_1_2.xlsx")
SINCE = {"recorded_height": 19.5, "tag": "A 17", "latitude": 51.2, "longitude": 7.1}
NEW_COLUMNS = (*SINCE, "height_by_eye", "station_step", "second_tip_reading")


def version_of(book: Path) -> str:
    names = defined_names(Package.open(book))
    return next(name.text for name in names if name.name.casefold() == VERSION_NAME)


@pytest.fixture
def former(tmp_path: Path) -> Path:
    package = Package.open(FORMER)
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    key_rows(
        package, INSTRUMENTS, [{"instrument": "C1", "kind": "clinometer, percent and degrees"}]
    )
    key_rows(package, PLOTS, [PLOT | {"plot": "1"}])
    key_rows(package, FIELD_SHEET, [GOOD | {"tree": "1"}, GOOD | {"tree": "2", "condition": "D"}])
    path = tmp_path / "crew_one.xlsx"
    path.write_bytes(package.to_bytes())
    return path


@pytest.fixture
def recent(tmp_path: Path) -> Path:
    lines = [{"plot": "2", "tree": "1", **SINCE}, {"plot": "2", "tree": "2", "condition": "C"}]
    return keyed(tmp_path / "crew_two.xlsx", lines, [PLOT | {"plot": "2"}])


def test_a_workbook_of_version_1_is_filled_as_before(former: Path) -> None:
    assert version_of(former) == "1"
    filled = fill(former)
    assert not [note for note in filled.notes if "formula" in note]
    assert version_of(former) == "1"
    # 25 m times 0.76
    assert filled.outcome.trees["total_height"].tolist() == pytest.approx([19.0, 19.0])
    assert not {f.check for f in filled.outcome.findings} & {"column-missing", "rules-missing"}
    for name in NEW_COLUMNS:
        column = filled.outcome.survey.lines[name]
        assert (column.isna() | (column == "")).all(), name
    assert not fill(former).wrote


def test_new_workbooks_have_version_2(tmp_path: Path, recent: Path) -> None:
    assert run("new", tmp_path / "new.xlsx") == 0
    assert version_of(tmp_path / "new.xlsx") == version_of(recent) == "2"


@pytest.mark.slow
def test_both_versions_are_merged(tmp_path: Path, former: Path, recent: Path) -> None:
    out = tmp_path / "town.xlsx"
    assert run("merge", former, recent, "--out", out) in (0, 1)
    assert version_of(out) == "2"
    survey = read_survey(Package.open(out))
    lines = survey.lines.set_index(["plot", "tree"])
    assert len(lines) == 4
    assert lines.loc[("2", "1"), list(SINCE)].to_dict() == SINCE
    assert lines["tag"].tolist().count("") == 3
    assert lines.loc[("2", "2"), "condition"] == "C"
    heights = compute_setups(survey)["total_height"]
    parts = [compute_setups(check(book).survey)["total_height"] for book in (former, recent)]
    assert sorted(heights) == pytest.approx(sorted([*parts[0], *parts[1]]))
