"""Crews' workbooks put together: as many lines out as in, no number changed, nothing dropped."""

from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.jobs.books import GOOD, PLOT, keyed, run, varied
from tests.jobs.crews import changed
from tests.jobs.deciding import TROUBLED, decide, rows_of
from tests.town import TOWN
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PEOPLE
from xlhelpers.fields.species import SPECIES
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.jobs.merge.book import HEIGHTS
from xlhelpers.jobs.merge.merge import merge
from xlhelpers.jobs.merge.words import MERGE_TAB, ORIGIN
from xlhelpers.live.formulas import FORMULAS
from xlhelpers.package.parts.parts import defined_names, sheet_named, sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.reading.outcome import check
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.template import layout
from xlhelpers.template.keyed_rows import key_rows

FIELD = FIELD_SHEET.tab


def survey_of(path: Path):
    return read_survey(Package.open(path))


def texts(path: Path, tab: str) -> set[str]:
    package = Package.open(path)
    part = sheet_named(package, tab)
    assert part is not None
    return {value for value in read_grid(package, part).values.ravel() if isinstance(value, str)}


def small(path: Path, plot: str, **other: object) -> Path:
    lines = [GOOD | line | {"plot": plot} | other for line in varied(5)]
    return keyed(path, lines, [PLOT | {"plot": plot, "trees_counted": 5}])


@pytest.mark.parametrize("units", ["metric", pytest.param("us", marks=pytest.mark.slow)])
def test_the_town_goes_through_unchanged(tmp_path: Path, units: str) -> None:
    out = tmp_path / "out.xlsx"
    assert run("merge", TOWN, "--out", out, "--units", units) == 0
    before, after = open_crew_book(TOWN), open_crew_book(out)
    assert after.survey.units == units
    skip = ["_sheet", "_row", "missing_because"]
    for table in ("lines", "plots", "instruments", "instrument_checks", "people", "strata"):
        one, other = getattr(before.survey, table), getattr(after.survey, table)
        columns = [c for c in one.columns if c not in skip and c != "other_stems"]
        if units == "us" and table == "lines":  # a display shows heights in the workbook's unit
            columns = [c for c in columns if not c.endswith("_reading")]
        pd.testing.assert_frame_equal(one[columns], other[columns], rtol=1e-8)
        for column in columns[2:]:
            assert (before.survey.states[table][column].tolist()
                    == after.survey.states[table][column].tolist()), column  # fmt: skip
    np.testing.assert_allclose(
        compute_setups(after.survey)[list(HEIGHTS)],
        compute_setups(before.survey)[list(HEIGHTS)],
        rtol=1e-7,
        atol=1e-9,
    )
    if units == "metric":
        # what could not be read, and the words that close a blank, stand as they were typed
        numbers = ["diameter", "distance", "foot_reading", "tip_reading", "missing_because"]
        odd = before.survey.states["lines"][numbers].isin([2, 3])
        for name in numbers:
            kept = after.typed["lines"][name][odd[name]].tolist()
            assert kept == before.typed["lines"][name][odd[name]].tolist()


def test_origin_of_each_line(tmp_path: Path) -> None:
    one, two = small(tmp_path / "a.xlsx", "1"), small(tmp_path / "b.xlsx", "2")
    out = tmp_path / "out.xlsx"
    assert run("merge", one, two, "--out", out) == 0
    after = open_crew_book(out)
    assert list(after.own.columns) == list(ORIGIN)
    assert after.own[ORIGIN[0]].tolist() == ["a.xlsx"] * 5 + ["b.xlsx"] * 5
    assert after.own[ORIGIN[1]].tolist() == [FIELD] * 10
    assert after.own[ORIGIN[2]].tolist() == [6.0, 7.0, 8.0, 9.0, 10.0] * 2
    assert after.survey.lines["plot"].tolist() == ["1"] * 5 + ["2"] * 5


def test_contradictions_are_listed_and_no_height_changes(tmp_path: Path) -> None:
    columns = survey_of(TOWN).columns
    other = changed(
        TOWN,
        tmp_path / "crew 2.xlsx",
        {
            ("Instruments", 6, 2): "clinometer, degrees and topographic",
            ("People", 7, 2): 1.9,
            ("Species", 6, 2): "Other wattle",
            ("Strata", 6, 2): 999.0,
            ("Plots", 6, columns["Plots", "trees_counted"]): 13.0,
        },
    )
    merged, sources = merge([TOWN, other], tmp_path / "out.xlsx")
    kinds = Counter(conflict.kind for conflict in merged.conflicts)
    assert {"instruments", "people", "species", "strata", "plot", "tree"} <= set(kinds)
    assert [source.counts["lines"] for source in sources] == [380, 380]
    survey = survey_of(tmp_path / "out.xlsx")
    assert len(survey.lines) == 760
    both = compute_setups(survey)[list(HEIGHTS)].to_numpy()
    alone = [compute_setups(survey_of(path))[list(HEIGHTS)].to_numpy() for path in (TOWN, other)]
    same = np.isclose(both, np.vstack(alone), rtol=1e-7, atol=1e-9, equal_nan=True).all(axis=1)
    listed = {(c.file, c.row) for c in merged.conflicts if c.kind == "height"}
    assert len(listed) == (~same).sum()  # each changed height is said, and there are few
    assert (~same).sum() <= 3
    shown = texts(tmp_path / "out.xlsx", MERGE_TAB)
    assert {
        "Other wattle",
        "Silver wattle",
        "renamed “Clino 1 (crew 2)” everywhere in this workbook",
    } <= shown
    assert "Clino 1 (crew 2)" in survey.instruments["instrument"].tolist()


@pytest.mark.slow
def test_what_a_merge_says_of_its_workbooks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, two = small(tmp_path / "a.xlsx", "1"), small(tmp_path / "b.xlsx", "2")
    copy = tmp_path / "copy.xlsx"
    copy.write_bytes(one.read_bytes())
    for number, (books, code, words) in enumerate((
        ((one,), 0, "Only one workbook was read"),
        ((one, two), 0, "do not disagree anywhere"),
        ((one, two, copy), 1, "a.xlsx and copy.xlsx have the same lines."),
    )):  # fmt: skip
        assert run("merge", *books, "--out", tmp_path / f"out {number}.xlsx") == code
        said = capsys.readouterr().out
        assert words in said
        assert ("have the same lines" in said) == (copy in books)
    assert "See the tab Merge report." in said


@pytest.mark.slow
def test_a_code_that_means_two_species(tmp_path: Path) -> None:
    books = []
    for name, species in (("a", "Quercus robur"), ("b", "Quercus rubra")):
        path = small(tmp_path / f"{name}.xlsx", name, species="QR")
        package = Package.open(path)
        row = {
            "botanical": f"{species}",
            "common": f"{name} oak",
            "code": "QR",
            "kind": "broadleaf",
        }
        key_rows(package, SPECIES, [row])
        path.write_bytes(package.to_bytes())
        books.append(path)
    before = [check(path).trees["botanical"].unique().tolist() for path in books]
    merged, _ = merge(books, tmp_path / "out.xlsx")
    after = check(tmp_path / "out.xlsx").trees.groupby("plot")["botanical"].unique()
    assert [after["a"].tolist(), after["b"].tolist()] == before
    assert any(conflict.what == "QR" for conflict in merged.conflicts)


@pytest.mark.slow
def test_a_plan_gives_way_to_the_plot(tmp_path: Path) -> None:
    planned = {"plot": "2", "status": "later"}
    one = keyed(tmp_path / "a.xlsx", varied(3), [PLOT | {"trees_counted": 3}, planned])
    two = small(tmp_path / "b.xlsx", "2")
    merged, _ = merge([one, two], tmp_path / "out.xlsx")
    survey = survey_of(tmp_path / "out.xlsx")
    assert survey.plots["plot"].tolist() == ["1", "2"]
    assert survey.plots["status"].tolist() == ["measured", "measured"]
    assert survey.plots["instrument"].tolist() == ["C1", "C1"]
    assert compute_setups(survey)["total_height"].notna().all()
    assert not [c for c in merged.conflicts if c.kind == "height"]


@pytest.mark.slow
def test_units_may_differ(tmp_path: Path) -> None:
    us = tmp_path / "us.xlsx"
    assert run("merge", small(tmp_path / "b.xlsx", "2"), "--out", us, "--units", "us") == 0
    one = small(tmp_path / "a.xlsx", "1")
    merged, _ = merge([one, us], tmp_path / "out.xlsx")
    survey = survey_of(tmp_path / "out.xlsx")
    heights = compute_setups(survey)["total_height"].to_numpy()
    np.testing.assert_allclose(heights[:5], heights[5:], rtol=1e-7)
    assert any(c.kind == "rule" and c.label == "Units" for c in merged.conflicts)


def test_own_columns_and_other_tabs(tmp_path: Path) -> None:
    width = len(FIELD_SHEET.fields)
    book = changed(
        small(tmp_path / "a.xlsx", "1"),
        tmp_path / "own.xlsx",
        {(FIELD, 5, width + 1): "Street side", (FIELD, 7, width + 1): "=odd"},
    )
    merge([book], tmp_path / "out.xlsx")
    after = open_crew_book(tmp_path / "out.xlsx")
    assert after.own["Street side"].tolist() == [None, "=odd", None, None, None]


def test_a_broken_workbook_is_named_and_the_others_are_merged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, two = small(tmp_path / "a.xlsx", "1"), small(tmp_path / "b.xlsx", "2")
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(one.read_bytes()[:3000])
    before = {path: path.read_bytes() for path in (one, two, broken)}
    out = tmp_path / "out.xlsx"
    assert run("merge", one, broken, two, "--out", out) == 2
    said = capsys.readouterr()
    assert "broken.xlsx" in said.err
    assert "2 of 3 workbooks, 10 lines." in said.out
    assert all(path.read_bytes() == data for path, data in before.items())
    assert survey_of(out).lines["plot"].tolist() == ["1"] * 5 + ["2"] * 5
    assert any(text.startswith("broken.xlsx") for text in texts(out, "Merged workbooks"))


@pytest.mark.slow
def test_many_workbooks_and_a_broken_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = small(tmp_path / "crew 0.xlsx", "0")
    books = [first]
    for number in range(1, 12):
        plot = float(number)
        cells = {(FIELD, row, 1): plot for row in range(6, 11)} | {("Plots", 6, 1): plot}
        books.append(changed(first, tmp_path / f"crew {number}.xlsx", cells))
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(first.read_bytes()[:3000])
    before = {path: path.read_bytes() for path in (*books, broken)}
    out = tmp_path / "out.xlsx"
    assert run("merge", *books[:5], broken, *books[5:], "--out", out) == 2
    said = capsys.readouterr()
    assert "broken.xlsx" in said.err
    assert "12 of 13 workbooks, 60 lines." in said.out
    assert all(path.read_bytes() == data for path, data in before.items())
    lines = survey_of(out).lines
    assert lines.groupby("plot").size().to_dict() == {str(n): 5 for n in range(12)}
    assert any(text.startswith("broken.xlsx") for text in texts(out, "Merged workbooks"))


def test_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = small(tmp_path / "a.xlsx", "1")
    there = tmp_path / "there.xlsx"
    there.write_bytes(b"mine")
    for arguments in (
        (one, "--out", there),
        (one, one, "--out", tmp_path / "out.xlsx"),
        (one, "--out", tmp_path / "out.csv"),
        (one, "--out", tmp_path / "no" / "out.xlsx"),
        (tmp_path / "missing.xlsx", there, "--out", tmp_path / "out.xlsx"),
    ):
        assert run("merge", *arguments) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert len(said.err.strip().splitlines()) == 1
    assert there.read_bytes() == b"mine"
    assert not (tmp_path / "out.xlsx").exists()


@pytest.mark.slow
@pytest.mark.libreoffice
def test_opens_in_another_program(tmp_path: Path, soffice) -> None:
    out = tmp_path / "out.xlsx"
    merge([small(tmp_path / "a.xlsx", "1"), small(tmp_path / "b.xlsx", "1")], out)
    saved = soffice(out, "xlsx", recalculate=True)
    assert len(survey_of(saved).lines) == 10
    assert MERGE_TAB in texts(saved, MERGE_TAB)


@pytest.mark.slow
def test_decisions_go_along_and_count_at_the_next_fill(tmp_path: Path) -> None:
    books = []
    for name, plot in (("a", "1"), ("b", "2")):
        lines = [GOOD | line | {"plot": plot} for line in [*varied(5), *TROUBLED]]
        path = keyed(tmp_path / f"{name}.xlsx", lines, [PLOT | {"plot": plot}])
        fill(path)
        decide(path, "7", {"Decision": "accepted", "Initials": name.upper(), "Note": "see photo"})
        books.append(path)
    decide(books[1], "6", {"Paper says": "70", "Initials": "B"})
    fill(books[0])  # a decision that a fill has placed, and one that none has seen
    out = tmp_path / "out.xlsx"
    merge(books, out)
    fill(out)
    rows = [row for row in rows_of(out) if str(row["Tree"]) == "7"]
    decided = {(str(row["Plot"]), row["Decision"], row["Initials"]) for row in rows}
    assert {("1", "accepted", "A"), ("2", "accepted", "B")} <= decided
    assert not [name for name in sheet_names(out) if "kept" in name]
    # what the paper says is entered once the workbooks are one
    (entry,) = [row for row in rows_of(out, "Log") if row["Cell corrected"]]
    assert (str(entry["Plot"]), str(entry["Tree"]), entry["Initials"]) == ("2", "6", "B")
    assert (entry["Old value"], entry["New value"]) == ("7o", "70")
    assert not [row for row in rows if row["Paper says"]]
    again = fill(out)
    assert not again.wrote


def sheet_names(path: Path) -> list[str]:
    return [sheet.name for sheet in sheets(Package.open(path))]


@pytest.mark.slow
def test_all_lines_and_names_have_their_formulas(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(layout, "ROWS_WRITTEN", 3)
    monkeypatch.setattr(layout, "ROWS_REACHED", 1)
    monkeypatch.setattr(layout, "LINES_REACHED", 1)
    books = [small(tmp_path / f"{name}.xlsx", name) for name in "abc"]
    for number, path in enumerate(books):
        package = Package.open(path)
        people = [{"initials": f"{number}P{n}", "eye_height": 1.6} for n in range(20)]
        key_rows(package, PEOPLE, people)
        path.write_bytes(package.to_bytes())
    out = tmp_path / "out.xlsx"
    merge(books, out)
    package = Package.open(out)
    part = sheet_named(package, FIELD)
    assert part is not None
    grid = read_grid(package, part)
    for name in FORMULAS:
        column = FIELD_SHEET.fields.index(FIELD_SHEET[name]) + 1
        assert set(range(6, 21)) <= {row for row, _ in grid.formulas.of_column(column)}
    (reach,) = (n.text for n in defined_names(package) if n.name == "xlh_cells_person_initials")
    assert int(reach.rpartition("$")[2]) >= 5 + 61
