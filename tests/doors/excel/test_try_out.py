"""What somebody with Excel is given to try: the workbooks show what the page says."""

from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import load_workbook

from xlhelpers.doors.command_line.main import main
from xlhelpers.doors.excel.try_out import CALLS, FUNCTIONS, LINES, PAGE, SURVEY, write_page
from xlhelpers.jobs.fill.fill import fill


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("somebody") / "try"
    assert main(["excel", "try", str(place)]) == 0
    return place


def test_the_files_are_written_and_never_replaced(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert {path.name for path in folder.iterdir()} == {SURVEY, FUNCTIONS, PAGE}
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert main(["excel", "try", str(folder)]) == 2
    assert "Name another folder" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


@pytest.mark.slow
@pytest.mark.libreoffice
def test_the_survey_shows_the_heights_of_the_page(
    folder: Path, soffice: Callable[..., Path]
) -> None:
    # worked by hand: distance x (tip - foot) / 100
    heights = [
        line["distance"] * (line["tip_reading"] - line["foot_reading"]) / 100 for line in LINES
    ]
    assert [round(height, 1) for height in heights] == [17.2, 19.0, 19.0]
    assert "17.2 m, 19.0 m, 19.0 m" in write_page()
    assert "17.6 m" in write_page()  # 20 x 0.88
    shown = load_workbook(soffice(folder / SURVEY, recalculate=True), data_only=True)
    values = [cell for row in shown["Field sheet"].iter_rows(values_only=True) for cell in row]
    for height in heights:
        assert any(isinstance(v, int | float) and abs(v - height) < 1e-9 for v in values)


def test_the_survey_has_nothing_to_mend(folder: Path, tmp_path: Path) -> None:
    assert fill(folder / SURVEY, tmp_path / SURVEY).outcome.open_findings == ()


def test_every_expected_value_stands_beside_its_call(folder: Path) -> None:
    rows = list(load_workbook(folder / FUNCTIONS)["Functions"].iter_rows(values_only=True))
    names = [row[0] for row in rows[1:]]
    assert names == [call.name for call in CALLS]
    for row in rows[1:]:
        assert str(row[5]).startswith(f"={row[0]}(")
    # a height of 78 % and -8 % at 20 m, worked by hand
    assert rows[1][6] == pytest.approx(17.2)
