"""The main job on whole workbooks, read back with a second program."""

import json
import re
import shutil
from contextlib import closing
from pathlib import Path

import openpyxl
import pytest
from openpyxl.formula import Tokenizer
from openpyxl.styles import Color, PatternFill
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.utils.cell import coordinate_from_string
from openpyxl.workbook import Workbook

from tests.jobs.books import GOOD, PLOT, keyed, varied, write_filled
from xlhelpers.doors.command_line.main import main
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill

SLOW = pytest.mark.slow


def headings(book: Workbook, sheet: str) -> dict[str, int]:
    """Return the columns of a field sheet by the field's name."""
    found = {}
    for field in FIELD_SHEET.fields:
        name = book.defined_names.get(FIELD_SHEET.defined_name(field.name))
        if name is not None:
            tab, cell = next(iter(name.destinations))
            if tab == sheet:
                letters, _ = coordinate_from_string(cell.replace("$", ""))
                found[field.name] = column_index_from_string(letters)
    return found


def results(path: Path, sheet: str = "Field sheet") -> dict[tuple[str, str], dict[str, object]]:
    """Return the filled field sheet by plot and tree (first line of each)."""
    # read-only, it takes in the one sheet that is asked for
    with closing(openpyxl.load_workbook(path, read_only=True, data_only=True)) as book:
        columns = headings(book, sheet)
        rows = {}
        for row in book[sheet].iter_rows(min_row=6, max_col=max(columns.values())):
            line = {name: row[column - 1].value for name, column in columns.items()}
            if line["plot"] not in (None, "") and line["tree"] not in (None, ""):
                rows.setdefault((str(line["plot"]), str(line["tree"])), line)
    return rows


def test_heights_stand_beside_the_readings(tmp_path: Path) -> None:
    """25 m, -6 %, 10 %, 70 %: 19.0 m, 4.0 m and 15.0 m by the percent scale.

    H = D x (top - foot) / 100 (DeYoung, Forest Measurements, section 2.3).
    """
    book = keyed(tmp_path / "town.xlsx", [{"tree": "1"}])
    filled = fill(book)
    line = results(book)["1", "1"]
    assert line["live_total"] == pytest.approx(19.0)
    assert line["live_base"] == pytest.approx(4.0)
    assert line["tree_depth"] == pytest.approx(15.0)
    assert line["tree_ratio"] == pytest.approx(15 / 19)
    assert line["tree_setups"] == 1
    assert set(RESULT_TABS.values()) <= set(openpyxl.load_workbook(book).sheetnames)
    assert filled.backup is not None
    assert not filled.backup.name.endswith(".xlsx")


def test_a_second_fill_writes_nothing(tmp_path: Path) -> None:
    book = write_filled(tmp_path / "town.xlsx", varied(5))
    before = book.read_bytes()
    again = fill(book)
    assert not again.wrote
    assert book.read_bytes() == before


def test_typed_cells_are_as_they_were(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", [*varied(5), {"tree": "6", "tip_reading": "7o"}])
    original = shutil.copy(book, tmp_path / "original.xlsx")
    fill(book)
    old, new = openpyxl.load_workbook(original), openpyxl.load_workbook(book)
    ours = {f.name for f in FIELD_SHEET.fields if f.filled_by == "program"}
    columns = {column for name, column in headings(old, "Field sheet").items() if name in ours}
    for sheet in old.sheetnames:
        for row in old[sheet].iter_rows():
            for cell in row:
                if sheet == "Field sheet" and cell.column in columns:
                    continue
                assert new[sheet][cell.coordinate].value == cell.value, (sheet, cell.coordinate)


def test_out_leaves_the_workbook_alone(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(3))
    before = book.read_bytes()
    assert main(["fill", str(book), "--out", str(tmp_path / "filled.xlsx")]) == 0
    assert book.read_bytes() == before
    assert results(tmp_path / "filled.xlsx")["1", "1"]["live_total"] is not None
    assert sorted(p.name for p in tmp_path.iterdir()) == ["filled.xlsx", "town.xlsx"]


@pytest.mark.slow
def test_lines_below_the_prepared_ones_and_a_total_row(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(42))
    edited = openpyxl.load_workbook(book)
    sheet = edited["Field sheet"]
    sheet["A48"], sheet["M48"] = "Total", "=SUM(M6:M47)"
    columns = headings(edited, "Field sheet")
    total = sheet.cell(48, columns["live_total"])
    total.value = "=AVERAGE(M6:M47)"
    edited.save(book)
    fill(book)
    after = openpyxl.load_workbook(book)["Field sheet"]
    assert after.cell(48, columns["live_total"]).value == "=AVERAGE(M6:M47)"
    lines = results(book)
    assert len(lines) == 42
    assert all(line["live_total"] is not None for line in lines.values())


def test_moved_columns_and_renamed_sheets(tmp_path: Path) -> None:
    """What an office does to a workbook in a season, made with another program."""
    book = keyed(tmp_path / "town.xlsx", varied(6))
    edited = openpyxl.load_workbook(book)
    sheet = edited["Field sheet"]
    sheet.title = "Spring, north side"
    for name in list(edited.defined_names.values()):
        name.attr_text = name.attr_text.replace("'Field sheet'", "'Spring, north side'")
    sheet["F5"], sheet["M5"] = "Stem (cm)", "Top of tree"
    edited.save(book)
    fill(book)
    filled = results(book, "Spring, north side")
    assert [round(line["live_total"], 3) for line in filled.values()] == [  # type: ignore[call-overload]
        pytest.approx(x["distance"] * (x["tip_reading"] - x["foot_reading"]) / 100, abs=1e-3)
        for x in varied(6)
    ]


def shifted(formula: str, sheet: str, at: int, *, here: bool) -> str:
    """Return a formula after a column was inserted: what lies right of it moved on by one."""
    read = Tokenizer(formula)
    for item in read.items:
        if item.subtype != "RANGE":
            continue
        tab, mark, cells = item.value.rpartition("!")
        if (here and not mark) or tab.strip("'") == sheet:
            moved = re.sub(
                r"(\$?)([A-Z]{1,3})(?=\$?[0-9])",
                lambda found: (
                    found[1]
                    + get_column_letter(
                        (number := column_index_from_string(found[2])) + (number >= at)
                    )
                ),
                cells,
            )
            item.value = tab + mark + moved
    return read.render()


def insert_column(book: Workbook, sheet: str, at: int) -> None:
    """Insert a column as a spreadsheet program does it: our names and formulas move along."""
    book[sheet].insert_cols(at)
    for row in (cell for tab in book for cells in tab.iter_rows() for cell in cells):
        if isinstance(row.value, str) and row.value.startswith("="):
            row.value = shifted(row.value, sheet, at, here=row.parent.title == sheet)
    for name in book.defined_names.values():
        for tab, cell in list(name.destinations):
            found = re.fullmatch(r"\$([A-Z]+)\$(\d+)", cell)
            if tab == sheet and found and column_index_from_string(found[1]) >= at:
                moved = get_column_letter(column_index_from_string(found[1]) + 1)
                name.attr_text = f"'{sheet}'!${moved}${found[2]}"


@pytest.mark.slow
def test_all_that_a_season_does_to_a_workbook(tmp_path: Path) -> None:
    """A column inserted, a sheet and two headings renamed, 30 rows below the prepared ones, a
    total row, and a second tree with a used number but another species: every result is right.
    """
    lines = varied(42)  # the template has 12 prepared lines
    other = lines[4] | {"species": "Acer platanoides", "diameter": 17.5, "tip_reading": 33}
    book = keyed(tmp_path / "town.xlsx", [*lines, other])
    edited = openpyxl.load_workbook(book)
    insert_column(edited, "Field sheet", 4)
    sheet = edited["Field sheet"]
    sheet["D5"] = "Whose"
    columns = headings(edited, "Field sheet")
    sheet.cell(5, columns["diameter"], "Stem (cm)")
    sheet.cell(5, columns["tip_reading"], "Top of tree")
    sheet["A49"] = "Total"
    total = sheet.cell(49, columns["live_total"], "=AVERAGE(A1:A2)").coordinate
    for name in edited.defined_names.values():
        name.attr_text = name.attr_text.replace("'Field sheet'", "'Spring, north side'")
    sheet.title = "Spring, north side"
    edited.save(book)
    outcome = fill(book).outcome
    assert openpyxl.load_workbook(book)["Spring, north side"][total].value == "=AVERAGE(A1:A2)"
    after = openpyxl.load_workbook(book, data_only=True)["Spring, north side"]
    for row, line in enumerate([*lines, other], 6):
        height = line["distance"] * (line["tip_reading"] - line["foot_reading"]) / 100
        assert after.cell(row, columns["live_total"]).value == pytest.approx(height), row
        assert after.cell(row, columns["tree_total"]).value == pytest.approx(height), row
    assert outcome.trees["duplicate"].sum() == 2


def test_a_used_number_with_another_species_is_not_averaged(tmp_path: Path) -> None:
    other = {"tree": "1", "species": "Acer platanoides", "diameter": 22, "tip_reading": 40}
    book = keyed(tmp_path / "town.xlsx", [{"tree": "1"}, other])
    outcome = fill(book).outcome
    assert outcome.trees["total_height"].round(6).tolist() == [19.0, 11.5]
    assert outcome.trees["duplicate"].tolist() == [True, True]


def test_what_a_user_adds_to_our_tab_is_kept(tmp_path: Path) -> None:
    book = write_filled(tmp_path / "town.xlsx", varied(4))
    edited = openpyxl.load_workbook(book)
    edited["By plot"]["B60"] = "ask the mayor"
    edited["Field sheet"]["M6"] = 71
    edited.save(book)
    filled = fill(book)
    after = openpyxl.load_workbook(book)
    assert after["By plot (kept)"]["B60"].value == "ask the mayor"
    assert after["By plot"]["B60"].value is None
    assert any("By plot (kept)" in sentence for sentence in filled.notes)


@SLOW
@pytest.mark.parametrize("name", ["distance", "note", "scale"])
def test_a_column_that_is_gone_leaves_the_live_formulas_alone(tmp_path: Path, name: str) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(4))
    edited = openpyxl.load_workbook(book)
    column = headings(edited, "Field sheet")[name]
    del edited.defined_names[FIELD_SHEET.defined_name(name)]
    for row in range(1, edited["Field sheet"].max_row + 1):
        edited["Field sheet"].cell(row, column).value = None
    formula = edited["Field sheet"]["AO6"].value
    edited.save(book)
    filled = fill(book)
    said = [sentence for sentence in filled.notes if "formulas were not changed" in sentence]
    assert bool(said) == (name != "note")
    assert all(f"“{FIELD_SHEET[name].label}”, which is missing" in text for text in said)
    assert len(filled.outcome.trees) == 4
    assert openpyxl.load_workbook(book)["Field sheet"]["AO6"].value == formula
    assert not fill(book).wrote


@SLOW
@pytest.mark.parametrize("sheet", ["Field sheet", "Plots", "Lists", "Instruments", "People"])
def test_a_second_fill_of_an_emptied_sheet_writes_nothing(tmp_path: Path, sheet: str) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(4))
    edited = openpyxl.load_workbook(book)
    edited[sheet].delete_cols(4, 80)
    edited.save(book)
    assert fill(book).wrote
    assert not fill(book).wrote


@pytest.mark.parametrize(
    "colour",
    [
        pytest.param(Color(rgb="FFFFFF00"), id="yellow", marks=SLOW),
        pytest.param(Color(theme=5, tint=0.6), id="theme", marks=SLOW),
    ],
)
def test_a_tab_with_cells_marked_in_colour_is_kept(tmp_path: Path, colour: Color) -> None:
    book = write_filled(tmp_path / "town.xlsx", varied(4))
    edited = openpyxl.load_workbook(book)
    edited["To check"]["I12"].fill = PatternFill("solid", fgColor=colour)
    edited["Field sheet"]["M6"] = 71
    edited.save(book)
    assert any("To check (kept)" in sentence for sentence in fill(book).notes)
    edited = openpyxl.load_workbook(book)
    assert edited["To check (kept)"]["I12"].fill.fgColor == colour
    edited["Field sheet"]["M6"] = 72
    edited.save(book)
    assert not any("To check (kept) 2" in sentence for sentence in fill(book).notes)


def test_cells_marked_in_colour_are_kept_with_their_colours(tmp_path: Path) -> None:
    book = write_filled(tmp_path / "town.xlsx", varied(4))
    colours = {"I12": Color(rgb="FFFFFF00"), "J12": Color(theme=5, tint=0.6)}
    edited = openpyxl.load_workbook(book)
    for cell, colour in colours.items():
        edited["To check"][cell].fill = PatternFill("solid", fgColor=colour)
    edited["Field sheet"]["M6"] = 71
    edited.save(book)
    assert any("To check (kept)" in sentence for sentence in fill(book).notes)
    with closing(openpyxl.load_workbook(book, read_only=True)) as after:
        kept = after["To check (kept)"]
        assert {cell: kept[cell].fill.fgColor for cell in colours} == colours


def test_exit_codes_and_json(tmp_path: Path) -> None:
    good = keyed(tmp_path / "good.xlsx", varied(3))
    bad = keyed(tmp_path / "bad.xlsx", [{"tree": "1", "tip_reading": None}])
    facts = tmp_path / "facts.json"
    assert main(["check", str(good)]) == 0
    assert main(["check", str(good), str(bad), "--json", str(facts)]) == 1
    assert main(["check", str(good), str(tmp_path / "none.xlsx")]) == 2
    read = json.loads(facts.read_text())
    assert [book["book"] for book in read] == [str(good), str(bad)]
    assert len(read[0]["trees"]) == 3
    assert read[1]["findings"][0]["message"]


def test_one_bad_workbook_does_not_stop_the_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = keyed(tmp_path / "good.xlsx", varied(3))
    broken = tmp_path / "broken.xlsx"
    broken.write_text("plot,tree\n1,1\n")
    code = main(["fill", str(broken), str(good), "--out", str(tmp_path / "filled")])
    assert code == 2
    assert (tmp_path / "filled" / "good.xlsx").exists()
    assert not (tmp_path / "filled" / "broken.xlsx").exists()
    assert "broken.xlsx" in capsys.readouterr().err


def test_wrong_places_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(2))
    assert main(["fill", str(book), "--out", str(book)]) == 2
    assert main(["fill", str(book), "--out", str(tmp_path)]) == 2
    assert "Choose another folder" in capsys.readouterr().err


def test_open_elsewhere_is_refused_and_nothing_touched(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(2))
    before = book.read_bytes()
    (tmp_path / "~$town.xlsx").write_bytes(b"x")
    assert main(["fill", str(book)]) == 2
    assert book.read_bytes() == before


def test_a_signed_workbook_is_refused(tmp_path: Path) -> None:
    import zipfile

    book = keyed(tmp_path / "town.xlsx", varied(2))
    with zipfile.ZipFile(book, "a") as archive:
        archive.writestr("_xmlsignatures/sig1.xml", "<Signature/>")
    with pytest.raises(WorkbookError, match="signature"):
        fill(book)


def test_an_empty_template_fills_without_a_finding(tmp_path: Path) -> None:
    assert main(["new", str(tmp_path / "town.xlsx")]) == 0
    assert main(["fill", str(tmp_path / "town.xlsx")]) == 0
    assert main(["new", str(tmp_path / "town.xlsx")]) == 2


def test_two_fields_sheets_are_one_survey(tmp_path: Path) -> None:
    """A second field sheet without our names is found by its headings."""
    book = keyed(tmp_path / "town.xlsx", varied(2))
    edited = openpyxl.load_workbook(book)
    source, copy = edited["Field sheet"], edited.create_sheet("More trees")
    for cell in source[5]:
        copy.cell(1, cell.column, cell.value)
    for column, name in enumerate(GOOD, 1):
        heading = FIELD_SHEET[name].heading("metric")
        copy.cell(1, column, heading)
    for cell in list(copy[1])[len(GOOD) :]:
        cell.value = None
    copy.cell(1, len(GOOD) + 1, "Tree")
    copy.cell(1, len(GOOD) + 2, "Total height (m)")
    for column, value in enumerate([*GOOD.values(), "77"], 1):
        copy.cell(2, column, value)
    edited.save(book)
    outcome = fill(book).outcome
    assert len(outcome.trees) == 3
    assert openpyxl.load_workbook(book)["More trees"].cell(2, len(GOOD) + 2).value == 19.0


def test_plots_of_other_scales(tmp_path: Path) -> None:
    """66 units away on a topographic scale the sum of the readings is the height.

    50 ft at 66 ft with 41 and 9 (DeYoung, Forest Measurements, section 2.4).
    """
    package_lines = [
        {"tree": "1", "distance": 20.1168, "foot_reading": -9, "base_reading": 5, "tip_reading": 41}
    ]
    plot = PLOT | {"scale": "topographic"}
    book = keyed(tmp_path / "town.xlsx", package_lines, [plot])
    tree = fill(book).outcome.trees.iloc[0]
    assert tree["total_height"] == pytest.approx(50 * 0.3048)


@pytest.mark.slow
def test_a_kept_tab_stays_aside_at_later_fills(tmp_path: Path) -> None:
    book = write_filled(tmp_path / "town.xlsx", varied(4))
    for reading, remark in ((71, "first"), (72, None), (73, None)):
        edited = openpyxl.load_workbook(book)
        if remark:
            edited["By plot"]["B60"] = remark
        edited["Field sheet"]["M6"] = reading
        edited.save(book)
        fill(book)
    after = openpyxl.load_workbook(book)
    plots = [name for name in after.sheetnames if name.startswith("By plot")]
    assert plots == ["By plot (kept)", "By plot"]
    name = after.defined_names["xlh_tab_by_plot"]
    assert "(kept)" not in name.attr_text
    assert "xlh_tab_by_plot_2" not in after.defined_names


def test_facts_never_replace_a_workbook(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(2))
    before = book.read_bytes()
    assert main(["check", str(book), "--json", str(book)]) == 2
    assert main(["check", str(book), "--json", str(tmp_path / "none" / "x.json")]) == 2
    assert "cannot be used" in capsys.readouterr().err
    assert book.read_bytes() == before


@pytest.mark.parametrize("place", ["copy.xlsm", "copy.txt"])
def test_a_copy_keeps_the_ending(tmp_path: Path, place: str) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(2))
    assert main(["fill", str(book), "--out", str(tmp_path / place)]) == 2
    assert not (tmp_path / place).exists()


def test_a_missing_folder_for_the_copy_is_made(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(2))
    assert main(["fill", str(book), "--out", str(tmp_path / "new" / "copy.xlsx")]) == 0
    assert (tmp_path / "new" / "copy.xlsx").exists()
