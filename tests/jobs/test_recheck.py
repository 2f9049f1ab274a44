"""Trees measured again: a blind sheet for a sample drawn by its seed, and an honest report."""

import io
import math
import zipfile
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from tests.jobs.books import GOOD, PLOT, keyed, run, varied
from tests.jobs.crews import changed
from tests.town import TOWN, town_outcome
from xlhelpers.errors import WorkbookError
from xlhelpers.estimates.remeasured import agreement_sentence, crews_of, draw
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.recheck.recheck import plan, report
from xlhelpers.jobs.recheck.words import OBJECTIVES_TAB
from xlhelpers.jobs.report.report import report as council_report
from xlhelpers.package.parts.parts import defined_names, sheet_named
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.survey.evaluate import evaluate

FIELD = FIELD_SHEET.tab


def grid(path: Path, tab: str) -> Grid:
    package = Package.open(path)
    part = sheet_named(package, tab)
    assert part is not None
    return read_grid(package, part)


def drawn(path: Path) -> list[tuple[str, str]]:
    lines = open_crew_book(path).survey.lines
    return list(lines[["plot", "tree"]].itertuples(index=False, name=None))


def everything(path: Path) -> str:
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
        return "\n".join(
            archive.read(name).decode("utf-8", "replace") for name in archive.namelist()
        )


@pytest.mark.parametrize(
    ("name", "options"),
    [("blind", ()), pytest.param("placed", ("--with-places",), marks=pytest.mark.slow)],
)
def test_none_of_the_first_values_is_in_the_file(
    tmp_path: Path, name: str, options: tuple[str, ...]
) -> None:
    columns = open_crew_book(TOWN).survey.columns
    town = grid(TOWN, FIELD)
    # values that can stand nowhere by chance: 7 decimals for numbers, a word for texts
    texts = {"species", "group", "note", "missing_because"}
    cells = {
        (FIELD, row, column): "Sentinelia" if name in texts else town.value(row, column) + 0.0731937
        for (sheet, name), column in columns.items()
        for row in range(6, 377)
        if sheet == FIELD and name not in ("plot", "tree", "setup")
        and FIELD_SHEET[name].kind != "computed"
        and (name in texts or isinstance(town.value(row, column), float))
    }  # fmt: skip
    cells[("Plots", 6, columns["Plots", "note"])] = "Sentinelia"
    book = changed(TOWN, tmp_path / "marked.xlsx", cells)
    assert "0731937" in everything(book) or "731937" in everything(book)
    out = tmp_path / f"{name}.xlsx"
    assert run("recheck", "plan", book, "--out", out, "--share", 0.2, "--seed", 1, *options) == 0
    text = everything(out)
    assert "Sentinelia" not in text
    if name == "blind":
        assert "731937" not in text
    lines = open_crew_book(out).survey.lines
    keyed_columns = lines.columns.drop(["_sheet", "_row", "plot", "tree"])
    filled = [c for c in keyed_columns if not lines[c].isin(["", False]).all()
              and not lines[c].isna().all()]  # fmt: skip
    places = ["bearing", "centre_distance", "tag", "latitude", "longitude"]
    assert filled == ([] if name == "blind" else places)


@pytest.mark.slow
def test_the_seed_draws_the_same_trees_whatever_the_order_of_rows(tmp_path: Path) -> None:
    town = grid(TOWN, FIELD)
    rows = range(6, 377)
    turned = {
        (FIELD, row, column): town.value(382 - row, column)
        for row in rows
        for column, field in enumerate(FIELD_SHEET.fields, 1)
        if field.filled_by != "program" and town.value(row, column) != town.value(382 - row, column)
    }
    other = changed(TOWN, tmp_path / "turned.xlsx", turned)
    for source, name in ((TOWN, "a"), (other, "b"), (TOWN, "c")):
        plan(source, tmp_path / f"{name}.xlsx", 0.1, 8 if name == "c" else 7)
    assert set(drawn(tmp_path / "a.xlsx")) == set(drawn(tmp_path / "b.xlsx"))
    assert set(drawn(tmp_path / "a.xlsx")) != set(drawn(tmp_path / "c.xlsx"))


@pytest.mark.slow
def test_share_and_crews(tmp_path: Path) -> None:
    out = tmp_path / "out.xlsx"
    facts = plan(TOWN, out, 0.1, 3)
    outcome = evaluate(open_crew_book(TOWN).survey)
    crew_of = dict(zip(zip(outcome.trees["plot"], outcome.trees["tree"], strict=True),
                       crews_of(outcome.survey, outcome.trees), strict=True))  # fmt: skip
    chosen = Counter(crew_of[tree] for tree in drawn(out))
    every = Counter(crew_of.values())
    assert facts.drawn == sum(chosen.values())
    for crew, count in chosen.items():
        assert 1 <= count <= math.ceil(0.1 * every[crew])
    # a crew is left out only where none of its trees has a number of its own or may be reached
    assert set(every) - set(chosen) <= {"not stated"}
    reasons = outcome.survey.lines.set_index(["plot", "tree"])["missing_because"]
    said = [str(text) for tree in drawn(out) for text in np.atleast_1d(reasons.loc[tree])]
    assert not {"NOT SAFE", "NO ACCESS"} & set(said)


@pytest.mark.slow
def test_each_tree_is_as_likely_as_another() -> None:
    """Common practice, no source: over many seeds every tree of a crew comes up equally often."""
    outcome = evaluate(open_crew_book(TOWN).survey)
    counts = Counter[int]()
    seeds = 400
    for seed in range(seeds):
        counts.update(draw(outcome.survey, outcome.trees, 0.25, seed).tolist())
    crews = crews_of(outcome.survey, outcome.trees)
    largest = Counter(crews[at] for at in counts).most_common(1)[0][0]
    own = np.array([count for at, count in counts.items() if crews[at] == largest])
    expected = own.sum() / len(own)
    spread = np.sqrt(expected * (1 - expected / seeds))
    assert np.abs(own - expected).max() < 4 * spread


def pair(tmp_path: Path, shifts: list[float], **other: object) -> tuple[Path, Path]:
    """Two measurements of the same trees whose tip readings differ by these at 25 m in percent."""
    lines = [GOOD | line | {"distance": 25} for line in varied(len(shifts))]
    plots = [PLOT | {"trees_counted": len(lines)}]
    again = [line | {"tip_reading": line["tip_reading"] - shift / 0.25, **other}
             for line, shift in zip(lines, shifts, strict=True)]  # fmt: skip
    return keyed(tmp_path / "first.xlsx", lines, plots), keyed(
        tmp_path / "again.xlsx", again, plots
    )


def test_the_sentence(tmp_path: Path) -> None:
    shifts = [0.5, -0.5] * 4 + [2.0, 0.25]
    judged, units = report(*pair(tmp_path, shifts), tmp_path / "out.xlsx")
    heights = judged[0]
    # by hand: differences of 25 m x (reading / 100); 9 of 10 within 1 m of the tolerance of
    # Schilling, USDA Forest Service PSW-GTR-155, section 8
    assert agreement_sentence(heights, units) == (
        "9 of 10 heights are within 1 m. Objective of 90 %: met so far, but too few pairs to be "
        "sure. 46 pairs are enough if all others agree."
    )
    assert heights.agreement.bias == pytest.approx(np.mean(shifts))
    assert heights.agreement.sd == pytest.approx(np.std(shifts, ddof=1))
    assert heights.agreement.rmse == pytest.approx(np.sqrt(np.mean(np.square(shifts))))
    by = {(one.by, one.group): one for one in judged if one.objective.key == "total_height"}
    assert {("crew", "AB"), ("person", "AB"), ("instrument", "C1")} <= set(by)


def test_a_certain_verdict_and_other_words(tmp_path: Path) -> None:
    judged, units = report(*pair(tmp_path, [3.0, -3.0] * 3, species="Acer rubrum"),
                           tmp_path / "out.xlsx")  # fmt: skip
    by_key = {one.objective.key: one for one in judged if not one.by}
    assert by_key["total_height"].verdict == "not met"
    assert (
        agreement_sentence(by_key["species"], units)
        == "0 of 6 species agree. Objective of 95 %: not met."
    )
    assert by_key["condition"].verdict == "met so far, but too few pairs to be sure"


@pytest.mark.slow
def test_edited_objectives_are_used(tmp_path: Path) -> None:
    first, _ = pair(tmp_path, [0.0] * 6)
    sheet = tmp_path / "recheck.xlsx"
    plan(first, sheet, 1.0, 5)
    names = {name.name: parse_target(name.text) for name in defined_names(Package.open(sheet))}
    tab, heading, tolerance = names["xlh_objectives_tolerance"][:3]
    share = names["xlh_objectives_share"][2]
    assert tab == OBJECTIVES_TAB
    # the second crew keys its own readings into the sheet that was planned
    plot = {name: column for (where, name), column in open_crew_book(sheet).survey.columns.items()
            if where == "Plots"}  # fmt: skip
    field = {name: column for (where, name), column in open_crew_book(sheet).survey.columns.items()
             if where == FIELD}  # fmt: skip
    lines = {line["tree"]: GOOD | line | {"distance": 25} for line in varied(6)}
    measured = ("status", "crew", "instrument", "scale", "distance_kind")
    cells: dict = {("Plots", 6, plot[name]): PLOT[name] for name in measured}
    for row, (_, tree) in enumerate(drawn(sheet), 6):
        for name in ("species", "diameter", "width_widest", "width_across", "distance",
                     "foot_reading", "base_reading", "tip_reading"):  # fmt: skip
            value = lines[tree][name]
            cells[FIELD, row, field[name]] = value if isinstance(value, str) else float(value)
        cells[FIELD, row, field["tip_reading"]] += 1.2  # 0.3 m at 25 m
    cells[tab, heading + 1, tolerance] = 0.2
    cells[tab, heading + 1, share] = 0.5
    again = changed(sheet, tmp_path / "keyed.xlsx", cells)
    judged, units = report(first, again, tmp_path / "out.xlsx")
    assert judged[0].objective.tolerance == 0.2
    assert agreement_sentence(judged[0], units).startswith(
        "0 of 6 heights are within 0.2 m. Objective of 50 %: not met"
    )
    assert judged[0].agreement.bias == pytest.approx(-0.3)


def test_known_answers_use_the_same_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, again = pair(tmp_path, [0.1] * 6)
    out = tmp_path / "out.xlsx"
    assert run("recheck", "report", first, again, "--out", out, "--known") == 0
    assert "6 of 6 heights are within 1 m" in capsys.readouterr().out
    texts = {value for value in grid(out, "Agreement").values.ravel() if isinstance(value, str)}
    assert any("errors of the first" in text for text in texts)
    with zipfile.ZipFile(out) as archive:
        charts = [archive.read(name).decode() for name in archive.namelist() if "/chart" in name]
    assert any("Total height: difference against mean" in chart for chart in charts)


def test_report_of_the_town(tmp_path: Path) -> None:
    town = grid(TOWN, FIELD)
    cells = {(FIELD, row, 13): town.value(row, 13) + 1 for row in range(6, 30)
             if isinstance(town.value(row, 13), float)}  # fmt: skip
    again = changed(TOWN, tmp_path / "again.xlsx", cells)
    out = tmp_path / "out.xlsx"
    before = TOWN.read_bytes()
    assert run("recheck", "report", TOWN, again, "--out", out) in (0, 1)
    assert TOWN.read_bytes() == before
    pairs = grid(out, "Pairs").values
    trees = town_outcome().trees
    single = ~(trees["duplicate"] | trees["unnumbered"])
    row = next(i for i, cell in enumerate(pairs[:, 0]) if cell == "Plot no.")
    assert len([cell for cell in pairs[row + 1 :, 0] if cell is not None]) == single.sum()
    assert {"first", "second", "both"} & set(pairs[row + 1 :, 4])  # open findings go along


def test_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    there = tmp_path / "there.xlsx"
    there.write_bytes(b"mine")
    out = tmp_path / "out.xlsx"
    lonely = keyed(tmp_path / "lonely.xlsx", varied(2), [PLOT | {"trees_counted": 2}])
    elsewhere = changed(lonely, tmp_path / "elsewhere.xlsx", {
        (FIELD, 6, 1): "X", (FIELD, 7, 1): "X"})  # fmt: skip
    for arguments in (
        ("plan", TOWN, "--out", there),
        ("plan", TOWN, "--out", out, "--share", 0),
        ("plan", TOWN, "--out", out, "--share", 5),
        ("plan", there, "--out", out),
        ("report", TOWN, TOWN, "--out", out),
        ("report", lonely, elsewhere, "--out", out),
        ("report", lonely, tmp_path / "missing.xlsx", "--out", out),
        ("report", lonely, elsewhere, "--out", tmp_path / "out.pdf"),
    ):
        assert run("recheck", *arguments) == 2, arguments
        said = capsys.readouterr()
        assert said.out == ""
        assert len(said.err.strip().splitlines()) == 1
    assert there.read_bytes() == b"mine"
    assert not out.exists()


@pytest.mark.slow
def test_a_workbook_in_which_nothing_is_keyed_is_no_second_measurement(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    again, out = tmp_path / "again.xlsx", tmp_path / "out.xlsx"
    assert run("recheck", "plan", TOWN, "--out", again) == 0
    capsys.readouterr()
    assert run("recheck", "report", TOWN, again, "--out", out) == 2
    assert "nothing is entered yet" in capsys.readouterr().err
    with pytest.raises(WorkbookError, match="nothing is entered yet"):
        council_report(TOWN, out, rechecked=again)
    assert not out.exists()
