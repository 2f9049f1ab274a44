"""Six sheets brought in and filled: heights, questions, the mapping file, and no cell lost."""

import json
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from python_calamine import CalamineWorkbook

from tests.jobs.books import run
from tests.jobs.bring.sheets import ANSWERS, BY_TABS, EXPECTED, MAKERS, MARKS, write_book, write_csv
from xlhelpers.fields.choices import CHOICES
from xlhelpers.jobs.bring.book import column_rows
from xlhelpers.jobs.bring.bring import propose
from xlhelpers.jobs.bring.job import JOB
from xlhelpers.jobs.bring.lines import Brought
from xlhelpers.jobs.bring.mapping import Answers, mapping_place
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.typed.words import identifier_key

SHEETS = pytest.mark.parametrize("name", MAKERS)
Made = tuple[Path, bytes, int, dict[str, Any]]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Made]:
    """Return each sheet after it was brought in: its place, its bytes before, code and facts."""
    results = {}
    for name, make in MAKERS.items():
        sheet = make(tmp_path_factory.mktemp(name))
        before = sheet.read_bytes()
        results[name] = (sheet, before, *bring(sheet, *ANSWERS[name]))
    return results


def bring(sheet: Path, *more: object) -> tuple[int, dict[str, Any]]:
    """Bring a sheet in and return the exit code and the facts."""
    facts = sheet.with_name("facts.json")
    code = run("bring", sheet, "--json", facts, *more)
    return code, json.loads(facts.read_text(encoding="utf-8"))[0]


def filled_cells(sheet: Path) -> int:
    """Count the filled cells of all tabs, by readers that are not the program's."""
    if sheet.suffix == ".csv":
        import csv

        text = sheet.read_bytes().decode("cp1252")
        return sum(
            bool(cell) for row in csv.reader(text.splitlines(), delimiter=";") for cell in row
        )
    if sheet.suffix == ".ods":
        book = CalamineWorkbook.from_path(str(sheet))
        tabs = [book.get_sheet_by_name(name).to_python() for name in book.sheet_names]
        return sum(cell != "" for rows in tabs for row in rows for cell in row)
    tabs = load_workbook(sheet).worksheets
    return sum(cell.value is not None for tab in tabs for row in tab.iter_rows() for cell in row)


def heights_of(book: Path) -> dict[tuple[str, str, int], float]:
    """Return the total height of every line of a workbook, in m."""
    survey = read_survey(Package.open(book))
    heights = compute_setups(survey)["total_height"].to_numpy(float)
    lines = survey.lines
    setups = lines["setup"].fillna(1).astype(int)
    keys = zip(
        map(identifier_key, lines["plot"]), map(identifier_key, lines["tree"]), setups, strict=True
    )
    return dict(zip(keys, heights, strict=True))


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=() if name in ("street", "marks", "by_tabs") else pytest.mark.slow)
        for name in MAKERS
    ],
)
def test_heights_after_a_fill_are_those_worked_out_by_hand(
    name: str, made: dict[str, Made], tmp_path: Path
) -> None:
    sheet, before, code, facts = made[name]
    assert code == (1 if facts["counts"]["left"] else 0)
    assert sheet.read_bytes() == before
    book = Path(facts["out"])
    assert book.parent == sheet.parent
    filled = tmp_path / "filled.xlsx"
    assert run("fill", book, "--out", filled) in (0, 1)
    heights = heights_of(filled)
    assert len(heights) == facts["counts"]["lines out"]
    for (plot, tree, setup), expected in EXPECTED[name].items():
        found = heights[identifier_key(plot), tree, setup]
        assert found == pytest.approx(expected, abs=1e-6), (plot, tree, setup)


@SHEETS
def test_each_filled_cell_is_understood_in_a_note_or_left(name: str, made: dict[str, Made]) -> None:
    sheet, _, _, facts = made[name]
    counts = facts["counts"]
    fates = sum(counts[fate] for fate in ("understood", "note", "left", "heading"))
    assert fates == filled_cells(sheet)
    assert counts["understood"] > counts["note"] + counts["left"]
    listed = [cell for cell in facts["cells"] if cell["fate"] == "left out"]
    assert len(listed) == counts["left"]
    assert all(cell["cell"] and cell["text"] and cell["because"] for cell in facts["cells"])


@SHEETS
def test_a_second_run_asks_nothing(name: str, made: dict[str, Made]) -> None:
    sheet, _, _, facts = made[name]
    proposal, known = propose(sheet, Answers())
    assert known.path == mapping_place(sheet)
    assert not proposal.questions
    again = column_rows(Brought(proposal.units), proposal.kinds)
    for name_of in ("heading", "label", "unit"):
        assert [row[name_of] for row in again] == [row[name_of] for row in facts["columns"]]


def test_it_asks_only_what_the_sheet_cannot_say(tmp_path: Path) -> None:
    sheet = write_book(tmp_path / "tabs.xlsx", BY_TABS)
    code, facts = bring(sheet)
    assert code == 1
    assert facts["out"] is None
    assert not list(tmp_path.glob("*_brought.xlsx"))
    assert {one["option"] for one in facts["questions"]} == {"units", "scale", "distance_kind"}
    # the proposal is there to be looked at, also as a file
    known = json.loads((tmp_path / "tabs_mapping.json").read_text(encoding="utf-8"))
    assert [row["field"] for row in known["columns"]][-2:] == ["foot_reading", "tip_reading"]
    # with the scale the readings give heights, and these say that they are feet
    code, facts = bring(sheet, "--scale", "percent")
    assert {one["option"] for one in facts["questions"]} == {"distance_kind"}
    # answers add up over the runs
    code, facts = bring(sheet, "--distance-kind", "level")
    assert code == 1  # only because the tab Legend was left
    assert Path(facts["out"]).is_file()


@pytest.mark.slow
def test_the_sheet_of_the_next_year_is_not_asked_about(tmp_path: Path) -> None:
    old = write_book(tmp_path / "trees 2023.xlsx", BY_TABS)
    bring(old, *ANSWERS["by_tabs"])
    later = {"Plot 8": (BY_TABS["Plot 5"][0], (1, "Quercus alba", 12, 66, -7, 80))}
    code, facts = bring(write_book(tmp_path / "trees 2024.xlsx", later))
    assert code == 0
    assert facts["questions"] == []
    expected = 66 * (80 + 7) / 100 * 0.3048
    assert heights_of(Path(facts["out"])) == {("8", "1", 1): pytest.approx(expected)}


def test_eye_height_is_asked_for_and_used_where_no_foot_was_read(tmp_path: Path) -> None:
    rows = [["Plot", "Tree", "Species", "DBH (cm)", "Horizontal distance (m)", "Tip reading (%)"]]
    rows += [[1, tree, "Tilia cordata", 30 + tree, 20, 60 + tree] for tree in (1, 2, 3)]
    sheet = write_book(tmp_path / "tips.xlsx", {"Trees": rows})
    code, facts = bring(sheet)
    assert code == 1
    assert [one["option"] for one in facts["questions"]] == ["eye_height"]
    code, facts = bring(sheet, "--eye-height", "1.6")
    assert code == 0
    heights = heights_of(Path(facts["out"]))
    assert heights["1", "2", 1] == pytest.approx(20 * 62 / 100 + 1.6)
    assert run("bring", sheet, "--eye-height", "16", "--out", tmp_path / "no.xlsx") == 2


def test_a_column_can_be_corrected_and_the_correction_is_kept(tmp_path: Path) -> None:
    sheet = write_csv(tmp_path / "a.csv", [row[:7] for row in MARKS], ";", "cp1252")
    _, facts = bring(sheet, "--column", "Essence=keep")
    assert column_of(facts, "Essence")["label"] == "Kept in the note"
    _, facts = bring(sheet, "--out", tmp_path / "b.xlsx")
    assert column_of(facts, "Essence")["label"] == "Kept in the note"
    assert run("bring", sheet, "--column", "Essence=height of the moon") == 2
    assert run("bring", sheet, "--column", "No such heading=Species") == 2


def column_of(facts: dict[str, Any], heading: str) -> dict[str, Any]:
    return next(row for row in facts["columns"] if row["heading"] == heading)


def test_the_first_tab_shows_how_the_sheet_was_read(made: dict[str, Made], tmp_path: Path) -> None:
    facts = made["marks"][-1]
    book = load_workbook(facts["out"])
    assert book.sheetnames[0] == "How your sheet was read"
    assert book.active is not None
    assert book.active.title == "How your sheet was read"
    shown = {str(cell.value) for row in book.worksheets[0].iter_rows() for cell in row}
    assert {"Visée pied (%)", "Foot reading", "Mark above foot"} <= shown
    filled = tmp_path / "filled.xlsx"
    assert run("fill", facts["out"], "--out", filled) in (0, 1)
    assert load_workbook(filled).sheetnames[0] == "How your sheet was read"


def test_heights_beside_readings_are_recorded_and_alone_are_a_display_s(
    made: dict[str, Made],
) -> None:
    facts = made["marks"][-1]
    book = load_workbook(facts["out"])
    headings, *rows = book["Field sheet"].iter_rows(min_row=5, values_only=True)
    lines = [dict(zip(headings, row, strict=True)) for row in rows if row[0] is not None]
    by_tree = {(str(line["Plot"]), str(line["Tree"])): line for line in lines}
    assert by_tree["12", "2"]["Recorded height (m)"] == 15.75
    assert by_tree["13", "3"]["Scale read"] == "height"
    assert by_tree["13", "3"]["Instrument"] == "Recorded heights"
    kinds = {row[0]: row[1] for row in book["Instruments"].iter_rows(min_row=6, values_only=True)}
    assert kinds["Recorded heights"] == "display that shows heights"


def test_what_is_in_a_note_is_in_the_new_workbook_word_for_word(tmp_path: Path) -> None:
    rows = [["Plot", "Date", "Tree", "Species", "DBH (cm)", "Height (m)", "Photo"]]
    rows += [["1", "2024-05-03", "1", "Tilia cordata", "31", "14", "=SUM(A1:A9)"]]
    rows += [["1", "2024-06-04", "2", "snag", "2 stems: 12, 9", "~11", "+1 @home"]]
    rows += [["", "2024-05-07", "3", "Tilia cordata", "tall", "12", ""]]
    rows += [["7", "", "", "", "", "", "no trees here"], ["", "", "", "", "", "", "left over"]]
    sheet = write_csv(tmp_path / "odd.csv", rows)
    code, facts = bring(sheet)
    assert code == 1
    assert facts["counts"]["left"] == 1
    book = load_workbook(facts["out"])
    lines, plots = (
        [str(cell.value) for row in book[tab].iter_rows(min_row=6) for cell in row]
        for tab in ("Field sheet", "Plots")
    )
    notes = [cell["text"] for cell in facts["cells"] if cell["fate"] == "in the note"]
    assert {"2024-06-04", "snag", "2 stems: 12, 9", "tall", "2024-05-07"} & set(notes)
    for text in (*notes, "=SUM(A1:A9)", "+1 @home", "snag", "2 stems: 12, 9", "~11"):
        assert any(text in shown for shown in (*lines, *plots)), text
    status = [row[2].value for row in book["Plots"].iter_rows(min_row=6) if row[0].value == 7]
    assert status == ["no trees"]
    note = next(cell for row in book["Field sheet"].iter_rows(min_row=6) for cell in row
                if "SUM" in str(cell.value))  # fmt: skip
    assert note.data_type == "s"


def test_the_choices_are_those_of_the_workbook() -> None:
    offered = {option.name: option.choices for option in JOB.options}
    assert offered["distance_kind"] == CHOICES["distance kind"]
    assert (*offered["scale"], "height") == CHOICES["scale"]


def test_wrong_files_are_refused_with_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ours = tmp_path / "ours.xlsx"
    assert run("new", ours) == 0
    no_table = write_book(tmp_path / "letter.xlsx", {"A": [["Dear all,"], ["see you on Monday"]]})
    tasks = [["No", "Task", "Owner", "Date"], [1, "Order paint", "KT", "2024-05-03"]]
    no_trees = write_book(tmp_path / "tasks.xlsx", {"Plan": tasks})
    wrong = {
        no_trees: "No table of trees was found",
        ours: "already a workbook of this program",
        no_table: "No table of trees was found",
        tmp_path / "absent.csv": "is not there",
        tmp_path / "photo.jpg": "cannot be brought in",
    }
    for sheet, sentence in wrong.items():
        capsys.readouterr()
        assert run("bring", sheet) == 2
        assert sentence in capsys.readouterr().err
    assert not list(tmp_path.glob("*_mapping.json"))


@pytest.mark.slow
def test_questions_and_counts_come_before_the_long_list_of_columns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # a window shows the first lines of a result: what to do must be among them
    sheet = write_book(tmp_path / "tabs.xlsx", BY_TABS)
    assert run("bring", sheet) == 1
    asked = capsys.readouterr().out
    assert 0 <= asked.index("--distance-kind") < asked.index("How the columns were read:")
    assert run("bring", sheet, *ANSWERS["by_tabs"]) == 1
    brought = capsys.readouterr().out
    assert brought.startswith("Lines in: 6")
    assert brought.index("Next: ") < brought.index("How the columns were read:")
    # a label with a comma in it cannot be told from two without quotes
    assert "“Crown width, widest”, “Crown width, across” and “Crown base reading”" in brought


def test_units_are_shown_in_words_and_not_as_the_option(made: dict[str, Made]) -> None:
    known = {row["what"]: row["answer"] for row in made["street"][-1]["known"]}
    assert known["Units of the workbook"] == "feet and inches"
