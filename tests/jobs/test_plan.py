"""What to sample: from a pilot or a stated variation to plots, a curve, a draw and radii."""

import zipfile
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import openpyxl
import pytest

from tests.jobs.books import run
from tests.jobs.estimates import plot, survey, trees_of
from tests.town import TOWN, town_outcome
from xlhelpers.estimates.plot_values import plot_values
from xlhelpers.fields.rules import RULES
from xlhelpers.package.zip.container import Package
from xlhelpers.survey.summaries import open_trees
from xlhelpers.template.keyed_rows import key_rows

STRATA = [{"stratum": "North", "area": 30, "plots_possible": 750},
          {"stratum": "South", "area": 10, "plots_possible": 250}]  # fmt: skip


def pilot(path: Path, north: tuple[int, ...], south: tuple[int, ...]) -> Path:
    plots, lines = [], []
    for stratum, counts in (("North", north), ("South", south)):
        for count in counts:
            name = str(len(plots) + 1)
            plots.append(plot(name, count, stratum=stratum))
            lines += trees_of(name, count)
    return survey(path, plots, lines, STRATA)


def places(path: Path, order: int = 1) -> Path:
    rows = [f"{n};{'North' if n <= 300 else 'South'};{n * 10}.5;{n * 7}" for n in range(1, 401)]
    path.write_text("Plot;Stratum;East;North of\n" + "\n".join(rows[::order]), encoding="utf-8")
    return path


def cells(path: Path, tab: str) -> list[list[object]]:
    book = openpyxl.load_workbook(path)
    return [list(row) for row in book[tab].iter_rows(values_only=True)]


def below(rows: list[list[object]], heading: str) -> list[list[object]]:
    at = next(i for i, row in enumerate(rows) if row[0] == heading)
    return rows[at + 1 :]


def test_the_demo_town(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before, out = TOWN.read_bytes(), tmp_path / "plan.xlsx"
    # the town has planted mistakes, so there is something to look at
    assert run("plan", TOWN, "--margin", 5, "--plots-a-day", 6, "--out", out) == 1
    assert TOWN.read_bytes() == before
    said = capsys.readouterr().out
    for words in ("Living trees: for a margin of 5 % (confidence 95 %) you need",
                  "Half or more of such surveys will keep this margin. ",
                  "For about nine in ten, plan ",
                  "The 26 pilot plots give", "One more day", "plot 28 (not safe)",
                  "Basal area, living trees: left out because it cannot be right: 1 diameter",
                  "Divided by area alone, you would need"):  # fmt: skip
        assert words in said
    # trees of plots that are left out rest on open findings too, but the plan does not use them
    outcome = town_outcome()
    used = np.flatnonzero(plot_values(outcome).table["because"] == "")
    plots = outcome.trees["plot_position"].to_numpy()[sorted(open_trees(outcome))]
    assert 0 < np.isin(plots, used).sum() < len(plots)
    assert f"{np.isin(plots, used).sum()} pilot trees have open findings." in said
    rows = below(cells(out, "Plan"), "Stratum")
    assert [row[0] for row in rows[:4]] == ["Harbour", "Old town", "Garden hills", "all strata"]
    assert rows[0][3:5] == [10, pytest.approx(96 / (10 * 0.04))]
    others = below(cells(out, "Other values"), "What")
    assert [row[0] for row in others[:3]] == [
        "Living trees",
        "Basal area, living trees",
        "Crown area",
    ]
    assert "cannot be right: 1 diameter" in str(others[1][6])  # the planted one of 631 cm
    with zipfile.ZipFile(out) as archive:
        charts = [name for name in archive.namelist() if name.startswith("xl/charts/chart")]
        assert len(charts) == 1
        ElementTree.fromstring(archive.read(charts[0]))


def test_the_pilot_gives_the_figures_of_its_plots(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    north, south = (8, 6, 7, 9, 5), (2, 4, 0, 3)
    book = pilot(tmp_path / "pilot.xlsx", north, south)
    out = tmp_path / "plan.xlsx"
    run("plan", book, "--allocation", "proportional", "--out", out)
    rows = below(cells(out, "Plan"), "Stratum")
    for row, counts in zip(rows, (north, south), strict=False):
        values = np.array(counts) * 25.0  # a hectare of plots of 400 m2
        assert row[4:6] == [pytest.approx(values.mean()), pytest.approx(values.std(ddof=1))]
    assert rows[2][1] == pytest.approx(1.0)
    assert "The 9 pilot plots give" in capsys.readouterr().out


def test_the_stated_variation_of_the_handbook(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # USDA Forest Service, Timber Cruising Handbook FSH 2409.12, chapter 30: 86 plots with t = 2;
    # with the t of its own degrees of freedom one or two fewer or more
    table = tmp_path / "strata.csv"
    table.write_text("Stratum,Area,CV,Plots possible\nA,30,40,300\nB,10,65 %,100\nC,20,80,200\n"
                     "D,40,35,400\n", encoding="utf-8")  # fmt: skip
    assert run("plan", "--strata", table, "--cost", "B=4") == 0
    said = capsys.readouterr().out
    assert "you need 85 plots, divided by area and variation: A 21, B 11, C 28, D 25" in said
    assert "at a cost of" in said


def test_the_draw_follows_the_seed_alone(tmp_path: Path) -> None:
    book = pilot(tmp_path / "pilot.xlsx", (8, 6, 7, 9, 5), (2, 4, 0, 3))
    found = []
    for name, order in (("a", 1), ("b", -1)):
        out = tmp_path / f"{name}.xlsx"
        run("plan", book, "--draw", places(tmp_path / f"{name}.csv", order), "--seed", 3,
            "--out", out)  # fmt: skip
        found.append(below(cells(out, "Plots drawn"), "Order of selection"))
    assert found[0] == found[1]
    strata = [row[2] for row in found[0]]
    plan = below(cells(tmp_path / "a.xlsx", "Plan"), "Stratum")
    heading = next(row for row in cells(tmp_path / "a.xlsx", "Plan") if row[0] == "Stratum")
    planned = heading.index("By area and variation (planned)")
    assert [strata.count("North"), strata.count("South")] == [plan[0][planned], plan[1][planned]]
    assert all(row[3] == row[1] * 10 + 0.5 for row in found[0])  # coordinates stay numbers


@pytest.mark.slow
def test_beside_the_pilot_only_what_is_missing_is_drawn(tmp_path: Path) -> None:
    book = pilot(tmp_path / "pilot.xlsx", (8, 6, 7, 9, 5), (2, 4, 0, 3))
    out = tmp_path / "plan.xlsx"
    run("plan", book, "--draw", places(tmp_path / "p.csv"), "--beside-pilot", "--out", out)
    drawn = below(cells(out, "Plots drawn"), "Order of selection")
    heading = next(row for row in cells(out, "Plan") if row[0] == "Stratum")
    rows = below(cells(out, "Plan"), "Stratum")
    assert len(drawn) == rows[2][heading.index("Still to measure")]
    assert not {row[1] for row in drawn} & set(range(1, 10))


@pytest.mark.parametrize(("way", "column"), [("radius", 2), ("result", 3)])
def test_radii_are_corrected_once(tmp_path: Path, way: str, column: int) -> None:
    out = tmp_path / "plan.xlsx"
    run("plan", "--variation", 30, "--plot-area", 0.1, "--units", "us", "--slope-in", way,
        "--out", out)  # fmt: skip
    rows = below(cells(out, "Plot radius"), "Slope (%)")
    shown = [round(float(str(row[1])), 1) for row in rows]
    # Common Stand Exam field guide, appendix I: 37.2 level; 37.6, 38.0, 39.4 on 20, 30, 50 %
    if way == "radius":
        assert [shown[at] for at in (0, 2, 3, 5)] == [37.2, 37.6, 38.0, 39.4]
        assert len(rows[0]) == 2
    else:
        assert set(shown) == {37.2}
        assert rows[3][2] == pytest.approx(1.09**0.5)


@pytest.mark.parametrize(
    ("north", "south", "code", "words"),
    [
        pytest.param((5, 6, 7), (), 1, "South: no plot with values", marks=pytest.mark.slow),
        pytest.param((5, 6, 7), (4,), 1, "South: only one plot", marks=pytest.mark.slow),
        ((5, 6, 7), (4,), 1, "North and South are taken together"),
        ((5,), (), 2, "too few plots to see how plots vary (1 plot"),
        ((5,), (4,), 2, "too few plots"),
        ((0, 0, 0), (0, 0), 2, "none on any plot"),
    ],
)
def test_too_few_plots_are_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], north: tuple[int, ...],
    south: tuple[int, ...], code: int, words: str,
) -> None:  # fmt: skip
    book = pilot(tmp_path / "pilot.xlsx", north, south)
    assert run("plan", book) == code
    said = capsys.readouterr()
    assert words in said.out + said.err
    assert "nan" not in said.out


@pytest.mark.parametrize(
    ("more", "of", "words"),
    [
        ({"condition": "D"}, "trees", "none on any plot"),
        ({"condition": "D"}, "crown-area", "no tree of this survey is alive"),
        ({"diameter": None}, "basal-area", "no living tree of this survey has a diameter"),
        ({"width_widest": None, "width_across": None}, "crown-area", "has a crown width"),
    ],
)
def test_dead_trees_and_missing_sizes_are_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: dict, of: str, words: str
) -> None:
    plots = [plot(str(n), 4) for n in (1, 2, 3)]
    lines = [line for row in plots for line in trees_of(row["plot"], 4, **more)]
    book = survey(tmp_path / "pilot.xlsx", plots, lines)
    assert run("plan", book, "--of", of) == 2
    assert words in capsys.readouterr().err


def test_wrong_arguments_are_said_all_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "there.xlsx"
    there.write_bytes(b"")
    code = run("plan", "--variation", 30, "--strata", "x.csv", "--margin", 0, "--confidence", 100,
               "--cost", "North", "--out", there)  # fmt: skip
    said = capsys.readouterr().err
    assert code == 2
    for words in ("--variation or --strata", "--margin must be above 0 and below 100, not 0.",
                  "--confidence must be above 50", "STRATUM=COST", "already exists"):  # fmt: skip
        assert words in said
    assert run("plan") == 2


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("nan", "--margin must be above 0 and below 100, not nan."),
        ("100", "--margin must be above 0 and below 100, not 100."),
        ("0.001", "--margin must be at least 0.1, not 0.001."),
    ],
)
def test_a_margin_that_is_none(capsys: pytest.CaptureFixture[str], typed: str, words: str) -> None:
    assert run("plan", "--variation", 30, "--margin", typed) == 2
    assert capsys.readouterr().err == f"xlhelpers: {words}\n"


def test_a_list_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = run("plan", "--variation", 40, "--draw", tmp_path / "grid.csv",
               "--out", tmp_path / "plan.xlsx")  # fmt: skip
    assert code == 2
    said = capsys.readouterr().err
    assert "a column plot" in said
    assert "a column stratum" in said


def test_the_chart_data_is_not_printed(tmp_path: Path) -> None:
    out = tmp_path / "plan.xlsx"
    assert run("plan", "--variation", 30, "--out", out) == 0
    sheet = openpyxl.load_workbook(out)["Chart data"]
    assert sheet.sheet_state == "hidden"
    rows, columns = sheet.max_row, sheet.max_column
    (first, *_) = sheet.print_area.rpartition("!")[2].replace("$", "").split(":")
    at = sheet[first]
    # some programs print hidden tabs too: their print area lies beyond all that is written
    assert at.row > rows
    assert at.column > columns


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Plot;Stratum\n1;North\n1.0;North\n;South\n4;West\n",
         ["line 3: place “1.0” is already on line 2", "line 4: the place has no name",
          "line 5: “West” is not a stratum"]),
        pytest.param("Plot\n1\n", ["needs a column stratum"], marks=pytest.mark.slow),
        pytest.param("Plot\n", ["no rows"], marks=pytest.mark.slow),
    ],
)  # fmt: skip
def test_a_list_that_does_not_fit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, words: list[str]
) -> None:
    book = pilot(tmp_path / "pilot.xlsx", (8, 6, 7), (2, 4, 3))
    listed, out = tmp_path / "places.csv", tmp_path / "plan.xlsx"
    listed.write_text(text, encoding="utf-8")
    assert run("plan", book, "--draw", listed, "--out", out) == 2
    said = capsys.readouterr().err
    assert all(one in said for one in words)
    assert not out.exists()


def test_a_table_of_strata_that_does_not_fit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "strata.csv"
    table.write_text("stratum,area,variation\nA,none,40\nB,3,-5\nb,3,40\n", encoding="utf-8")
    assert run("plan", "--strata", table) == 2
    said = capsys.readouterr().err
    for words in ("line 2: area is “none”", "line 3: variation is “-5”",
                  "line 4: stratum “b” is already on line 3"):  # fmt: skip
        assert words in said


def test_too_few_places_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listed = tmp_path / "places.csv"
    listed.write_text("Name\n" + "\n".join(f"P{n}" for n in range(9)), encoding="utf-8")
    out = tmp_path / "plan.xlsx"
    assert run("plan", "--variation", 40, "--draw", listed, "--out", out) == 1
    assert "has only 9 places of the" in capsys.readouterr().out


def test_a_census_needs_no_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = pilot(tmp_path / "pilot.xlsx", (8, 6, 7), (2, 4, 3))
    package = Package.open(book)
    key_rows(package, RULES, [{"survey_kind": "every tree"}])
    book.write_bytes(package.to_bytes())
    assert run("plan", book) == 2
    assert "every tree is measured" in capsys.readouterr().err
