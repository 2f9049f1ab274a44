"""The council's report: what it says, what it keeps to itself, and what it says of bad input."""

import re
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from tests.jobs.books import run
from tests.jobs.estimates import plot, survey, trees_of
from tests.jobs.reports import (
    NORTH,
    SOUTH,
    TWO,
    cells,
    charted,
    reported,
    row_of,
    texts,
    town,
    us_town,
)
from tests.town import TOWN, town_outcome
from xlhelpers.estimates.estimates import estimate
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.survey import read_survey

HAS_OFFICE = shutil.which("soffice") or shutil.which("libreoffice")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("report") / "report.xlsx"
    before = TOWN.read_bytes()
    # the demo town has planted mistakes, which are open findings
    assert run("report", TOWN, "--out", out) == 1
    assert TOWN.read_bytes() == before
    return out


@pytest.fixture(scope="module")
def standard(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A survey without faults, and its report."""
    book = town(tmp_path_factory.mktemp("standard") / "town.xlsx")
    code, report = reported(book)
    assert code == 0
    return book, report


def copied(book: Path, folder: Path) -> Path:
    return Path(shutil.copy(book, folder / book.name))


def test_the_pages_of_the_demo_town(demo: Path) -> None:
    rows = cells(demo)
    assert list(rows) == [
        "At a glance", "Trees", "Height and crowns", "Species", "Age and diversity",
        "Sizes and groups", "Margins", "How well measured", "Rules and methods", "Chart data",
    ]  # fmt: skip
    first = rows["At a glance"]
    assert first[0][0] == "Trees of Vellimoor (an invented town)"
    said = [row[1] for row in first if row[1]]
    assert len(said) == 7
    assert re.fullmatch(r"The town has about [\d,]+ trees \(from [\d,]+ to [\d,]+\)\.", said[0])
    assert len([row for row in rows["Species"] if row[0] and " " in row[0] and row[2]]) == 10


def test_nobody_and_no_note_is_in_the_file(demo: Path) -> None:
    keyed = read_survey(Package.open(TOWN))
    secrets = {str(name) for name in keyed.people["initials"]}
    for table in (keyed.plots, keyed.lines, keyed.strata, keyed.people, keyed.instruments):
        secrets |= {str(note) for note in table["note"]} if "note" in table else set()
    # a plot may be called after a street or an owner
    secrets |= {str(name) for name in keyed.plots["plot"] if not str(name).isdecimal()}
    secrets |= {str(name) for name in keyed.instruments["instrument"]}
    secrets -= {""}
    assert len(secrets) > 12
    with zipfile.ZipFile(demo) as archive:
        everything = "\n".join(archive.read(name).decode("utf-8") for name in archive.namelist())
    found = [secret for secret in secrets if re.search(rf"\b{re.escape(secret)}\b", everything)]
    assert not found
    for word in ("leaf area", "Leaf area", "$ ", "€", "hazard"):
        assert word not in "\n".join(texts(demo))


DASH = "\N{EN DASH}"
NUMBER = r"([\d,]+(?:\.\d+)?)"


def number(text: str) -> float:
    return float(text.replace(",", ""))


def test_sentences_say_what_the_tables_hold(demo: Path) -> None:
    rows = cells(demo)
    said = {row[0]: row[1] for row in rows["At a glance"] if row[1]}
    trees = row_of(rows["Trees"], "Whole town")
    match = re.search(rf"{NUMBER} trees \(from {NUMBER} to {NUMBER}\)", said["How many"])
    assert match is not None
    assert number(match[1]) == float(f"{trees[1]:.3g}")
    assert trees[2] == f"{match[2]}{DASH}{match[3]}"
    # the upper end is the farther one
    assert number(match[3]) - number(match[1]) > number(match[1]) - number(match[2]) > 0
    dead = row_of(rows["Trees"], "Dead")
    match = re.search(rf"We found (\d+) dead trees? among {NUMBER}", said["Dead trees"])
    assert match is not None
    assert [number(match[1]), number(match[2])] == [dead[3], trees[3]]
    tall = row_of(rows["Height and crowns"], "All living trees")
    match = re.search(rf"{NUMBER} m tall, give or take {NUMBER} m", said["How tall"])
    assert match is not None
    assert [match[1], match[2]] == [f"{tall[1]:.1f}", f"{tall[2]:.1f}"]
    crowns = row_of(rows["Height and crowns"], "All living trees", "How large are the crowns?")
    match = re.search(rf"{NUMBER} m deep.*take {NUMBER} m.*and {NUMBER} m wide.*take {NUMBER} m",
                      said["Crowns"])  # fmt: skip
    assert match is not None
    assert list(match.groups()) == [f"{value:.1f}" for value in crowns[1:5]]
    cover = row_of(rows["Height and crowns"], "Whole town")
    match = re.search(r"about (\d+) % of the land \(from (\d+) % to (\d+) %\)",
                      said["Crown cover"])  # fmt: skip
    assert match is not None
    assert match[1] == f"{100 * cover[1]:.0f}"
    assert cover[2] == f"{match[2]}{DASH}{match[3]} %"
    added = next(row[0] for row in rows["Height and crowns"] if row[0] and "add up" in row[0])
    assert f"add up to {100 * cover[3]:.0f} % of the land" in added
    species = rows["Species"]
    at = next(i for i, row in enumerate(species) if row[0] == "Species")
    ten = [row[1] for row in species[at + 1 : at + 11]]
    together = next(row[0] for row in species if row[0] and "ten most" in row[0])
    assert f"about {100 * sum(ten):.0f} %" in together


def test_what_open_findings_do_to_the_figures_is_a_main_row(demo: Path) -> None:
    outcome = town_outcome()
    # by hand: the trees with a finding about what their height is made of
    readings = {"tip_reading", "foot_reading", "distance", "slope_reading", "scale", "instrument"}
    lines = [
        line
        for finding in outcome.open_findings
        if (readings & set(finding.fields) or "height" in finding.about) and not finding.is_missing
        for line in finding.lines
    ]
    doubtful = sorted(set(outcome.setups["tree_position"].iloc[lines]))
    trees = outcome.trees.copy()
    trees.loc[trees.index[doubtful], "total_height"] = float("nan")
    found = [estimate(replace(outcome, trees=table)) for table in (trees, outcome.trees)]
    heights = [each.select("mean_height", "mean")["value"].iloc[0] for each in found]
    assert f"{heights[0]:.1f}" != f"{heights[1]:.1f}"
    # one diameter has its point in the wrong place: it is left out, and named
    stem = outcome.trees["basal_area"].idxmax()
    assert outcome.counted.left_out["diameter"].nonzero()[0].tolist() == [stem]
    assert outcome.counted.trees["basal_area"].isna()[stem]
    said = {row[0]: row[1] for row in cells(demo)["At a glance"] if row[1]}
    assert said["How sure"].endswith(
        f"Without the doubtful values, the mean height is {heights[0]:.1f} m instead of "
        f"{heights[1]:.1f} m."
    )
    assert re.match(r"For \d+ of the \d+ trees, some entries are missing or doubtful\. Left out "
                    r"because they cannot be right: 1 height, 4 crown depths, 1 diameter\.",
                    said["How sure"])  # fmt: skip


def test_without_open_findings_there_is_no_such_row(standard: tuple[Path, Path]) -> None:
    assert "How sure" not in [row[0] for row in cells(standard[1])["At a glance"]]


def test_species_go_by_both_names_and_groups_have_a_chart(demo: Path) -> None:
    rows = cells(demo)
    named = [row[0] for row in rows["Species"] if row[0] and row[2] and "(" in str(row[0])]
    assert "Norway maple (Acer platanoides)" in named
    assert {"city tree", "front garden", "school yard"} <= {r[0] for r in rows["Sizes and groups"]}
    with zipfile.ZipFile(demo) as archive:
        charts = [archive.read(n).decode() for n in archive.namelist() if "charts/chart" in n]
    assert any("Trees by group" in chart and "errBars" in chart for chart in charts)


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        pytest.param((4, 2), "We found 2 species. The most common, ", marks=pytest.mark.slow),
        pytest.param((3, 3), "with 15 trees each.", marks=pytest.mark.slow),
        ((2, 2, 2, 2), "No single species is the most common: 4 have 10 trees each."),
    ],
    ids=["one", "two alike", "many alike"],
)
def test_the_most_counted_species(tmp_path: Path, counts: tuple[int, ...], said: str) -> None:
    kinds = ("Acer platanoides", "Tilia cordata", "Quercus robur", "Fagus sylvatica")
    plots, lines = [], []
    for name in "12345":
        trees = trees_of(name, sum(counts))
        species = [kind for kind, count in zip(kinds, counts, strict=False) for _ in range(count)]
        lines += [line | {"species": kind} for line, kind in zip(trees, species, strict=True)]
        plots.append(plot(name, len(trees), area_inside=400, area_reached=400, stratum="North"))
    book = survey(tmp_path / "town.xlsx", plots, lines, TWO[:1])
    told = dict(row[:2] for row in cells(reported(book)[1])["At a glance"] if row[1])
    assert said in told["Species"]


def test_a_blank_workbook_is_told_as_such(tmp_path: Path) -> None:
    book = survey(tmp_path / "town.xlsx", [], [], [])
    code, report = reported(book)
    said = texts(report)
    assert code == 1
    assert "Nothing is entered yet, so there was nothing to check." in said
    assert "No figure was computed yet." in said


def test_one_plot_area_in_hectares_is_an_open_finding(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plots, lines = [], []
    for name in "12345":
        # the fifth is 0.04 ha, typed as such where square metres are wanted
        area = 0.04 if name == "5" else 400
        plots.append(plot(name, 6, area_inside=area, area_reached=area, stratum="North"))
        lines += trees_of(name, 6)
    book = survey(tmp_path / "town.xlsx", plots, lines, TWO[:1])
    assert reported(book)[0] == 1
    found = [finding.check for finding in compute(Package.open(book)).open_findings]
    assert found == ["plot-area-impossible"]
    # the four others alone speak for the town: 6 trees on 400 m2, 30 ha
    assert "How many: The town has about 4,500 trees" in capsys.readouterr().out


def test_every_chart_shows_numbers_and_its_margins(demo: Path) -> None:
    charts = charted(demo)
    assert len(charts) == 11
    for references in charts:
        for values in references:
            kinds = {isinstance(value, str) for value in values}
            assert len(kinds) == 1
            assert None not in values
    with zipfile.ZipFile(demo) as archive:
        parts = [archive.read(name).decode() for name in archive.namelist() if "/charts/ch" in name]
    # all but findings, and the margins themselves
    assert sum("<c:errBars>" in part for part in parts) == 9


def test_the_interval_is_as_wide_as_the_plots_say(standard: tuple[Path, Path]) -> None:
    # Cochran (1977, from memory), section 5.6: sum of N^2 (1 - f) s^2 / n over the strata, with
    # Student's t for degrees of freedom between 3 and 7 (t = 3.18 and 2.36, from memory)
    row = row_of(cells(standard[1])["Trees"], "Whole town")
    total, variance = 0.0, 0.0
    for counts, possible in ((NORTH, 750), (SOUTH, 250)):
        n, mean = len(counts), sum(counts) / len(counts)
        spread = sum((count - mean) ** 2 for count in counts) / (n - 1)
        total += possible * mean
        variance += possible**2 * (1 - n / possible) * spread / n
    assert row[1] == pytest.approx(total, rel=1e-9)
    low, high = map(number, row[2].split(DASH))
    # on the scale of logarithms the ends are t standard errors from their middle
    assert 2.36 < np.log(high / low) / 2 / (variance**0.5 / total) < 3.19


def test_feet_are_whole_for_the_council(tmp_path: Path) -> None:
    _, report = reported(us_town(tmp_path / "town.xlsx"))
    said = {row[0]: row[1] for row in cells(report)["At a glance"] if row[1]}
    assert re.fullmatch(r"Living trees are on average about \d+ feet tall, give or take .*",
                        said["How tall"])  # fmt: skip
    assert "feet wide" in said["Crowns"]
    assert "." not in said["Crowns"].rstrip(".")
    tall = row_of(cells(report)["Height and crowns"], "All living trees")
    assert tall[1] != round(tall[1])  # the full value stays in the cell
    assert any("per acre" in text for text in texts(report))
    assert_pages(report, "1")


def test_pages_are_upright_and_fitted_to_the_width(standard: tuple[Path, Path]) -> None:
    assert_pages(standard[1], "9")


def assert_pages(report: Path, paper: str) -> None:
    for sheet in openpyxl.load_workbook(report).worksheets:
        assert sheet.page_setup.orientation == "portrait"
        assert str(sheet.page_setup.paperSize) == paper
        assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.print_area


def test_another_confidence_is_said_throughout(standard: tuple[Path, Path], tmp_path: Path) -> None:
    wide = row_of(cells(standard[1])["Trees"], "Whole town")[2]
    _, at_80 = reported(copied(standard[0], tmp_path), "--confidence", 80)
    narrow = row_of(cells(at_80)["Trees"], "Whole town")[2]
    (low, high), (lowest, highest) = (map(number, each.split(DASH)) for each in (narrow, wide))
    assert lowest < low < high < highest
    # verdicts go by one rule, whatever confidence is asked for
    said = [text for text in texts(at_80) if "one-sided" not in text and "verdict" not in text]
    assert not any("95 %" in text for text in said)
    assert any("Verdicts always use margins at 95 %." in text for text in texts(at_80))


def test_a_second_measurement_is_told_in_sentences(
    standard: tuple[Path, Path], tmp_path: Path
) -> None:
    assert any(text.startswith("No trees were remeasured") for text in texts(standard[1]))
    _, report = reported(copied(standard[0], tmp_path), "--recheck", standard[0])
    said = texts(report)
    assert any("44 of 44 heights are within 1 m" in text for text in said)
    assert not any("No trees were remeasured" in text for text in said)
    assert any("Clopper" in text for text in said)


def test_sources_are_those_used(standard: tuple[Path, Path]) -> None:
    said = "\n".join(texts(standard[1]))
    for used in ("Cochran", "Simpson", "Robbins"):
        assert used in said
    # how far a source was read is no matter for a council
    assert not any(mark in said for mark in ("[seen]", "[from memory]", "In brackets"))
    for unused in ("Clopper", "Nowak", "Zhu", "Leaning trees", "Distance along the slope"):
        assert unused not in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--confidence", "40"), "above 50"),
        (("--out", "report.ods"), "ends in .xlsx"),
        (("--recheck", "town.xlsx"), "itself"),
        (("--recheck", "gone.xlsx"), "gone.xlsx"),
    ],
)
def test_wrong_arguments_write_nothing(
    arguments: tuple[str, str],
    words: str,
    standard: tuple[Path, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    book = copied(standard[0], tmp_path)
    assert run("report", book.name, *arguments) == 2
    assert words in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["town.xlsx"]


def test_it_stands_beside_the_workbook_and_replaces_nothing(
    standard: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = copied(standard[0], tmp_path)
    assert run("report", book) == 0
    report = tmp_path / "town_report.xlsx"
    before = report.read_bytes()
    assert run("report", book) == 2
    assert "already exists" in capsys.readouterr().err
    assert report.read_bytes() == before


@pytest.mark.slow
@pytest.mark.skipif(not HAS_OFFICE, reason="LibreOffice is not installed")
def test_the_pdf(
    standard: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = copied(standard[0], tmp_path)
    code, report = reported(book, "--pdf")
    assert code == 0
    assert report.with_suffix(".pdf").read_bytes().startswith(b"%PDF")
    report.unlink()
    assert reported(book, "--pdf")[0] == 2  # a PDF that is there is not written over
    assert not report.exists()
    assert "already exists" in capsys.readouterr().err
