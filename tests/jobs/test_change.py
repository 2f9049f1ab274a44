"""Two surveys of the same plots: what became of the trees, on the demo town and a grown copy."""

import zipfile
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import pytest

from tests.jobs import estimates
from tests.jobs.books import run
from tests.jobs.estimates import grown_town, growth_of, plot, survey, trees_of
from tests.town import TOWN
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.change.change import change
from xlhelpers.jobs.change.compare_surveys import Change
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return grown_town(tmp_path_factory.mktemp("town") / "town_2030.xlsx")


@pytest.fixture(scope="module")
def found(grown: Path) -> Change:
    return change(TOWN, grown)[0]


def cells(path: Path, tab: str) -> list[list[object]]:
    book = openpyxl.load_workbook(path)
    return [list(row) for row in book[tab].iter_rows(values_only=True)]


def fates(found: Change, fate: str, side: str = "old") -> set[tuple[str, str]]:
    rows = found.trees[found.trees["fate"] == fate]
    return set(zip(rows["plot"], rows[f"tree_{side}"], strict=True))


def test_fates_are_those_that_were_made(found: Change) -> None:
    assert fates(found, "gone") == set(estimates.GONE)
    assert fates(found, "died") == set(estimates.DEAD)
    assert fates(found, "new", "new") == set(estimates.NEW_TREES)
    assert not fates(found, "ambiguous")
    assert not fates(found, "dead, then alive")


def test_trees_are_matched_through_new_numbers_and_a_swap(found: Change) -> None:
    trees = found.trees[found.trees["at_new"] >= 0]
    trees = trees[trees["at_old"] >= 0]
    plot_of, old, new = (trees[name].tolist() for name in ("plot", "tree_old", "tree_new"))
    swapped, first, second = estimates.SWAPPED
    for where, before, after in zip(plot_of, old, new, strict=True):
        wanted = str(before)
        if where == estimates.RENUMBERED:
            wanted = str(int(before) + 40)
        elif (where, before) in ((swapped, first), (swapped, second)):
            wanted = second if before == first else first
        assert after == wanted, (where, before, after)
    assert found.renumbered == (estimates.RENUMBERED,)


def test_growth_is_that_which_was_made(found: Change) -> None:
    trees = found.trees[found.trees["fate"] == "alive"]
    changed = {key[:2] for key in (*estimates.SHORT, estimates.THIN)}
    checked = heights = off = 0
    for tree in trees.to_dict("records"):
        key = (str(tree["plot"]), str(tree["tree_old"]))
        if key in changed or tree["other_stems"] or not tree["diameter_old"] > 0:
            continue
        taller, thicker = growth_of(*key)
        if tree["stems_old"] == 1:
            wanted = tree["diameter_old"] * thicker
            assert tree["diameter_new"] == pytest.approx(wanted, abs=0.06)
            checked += 1
        if tree["height_old"] > 3 and not tree["open_old"] and not tree["open_new"]:
            heights += 1
            off += abs(tree["height_new"] / tree["height_old"] - taller) > 0.02
    # a line or two hold a scale or an instrument of their own, which the copy leaves alone
    assert heights > 180
    assert off <= 0.02 * heights
    assert checked > 200
    assert found.years == pytest.approx(5, abs=0.01)


def test_the_trees_that_shrank_are_found_and_no_others(found: Change) -> None:
    said = {(str(found.trees["plot"].iloc[one.row]), str(found.trees["tree_old"].iloc[one.row]),
             one.what): one.likelier for one in found.shrunk}  # fmt: skip
    wanted = {(*key[:2], "height") for key in estimates.SHORT}
    wanted.add((*estimates.THIN[:2], "diameter"))
    assert set(said) == wanted
    # the second measurement was made wrong
    assert "OLD" not in said.values()
    assert sum(likelier == "NEW" for likelier in said.values()) >= 2


def test_the_report_and_its_rule_of_the_totals(
    grown: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before, out = (TOWN.read_bytes(), grown.read_bytes()), tmp_path / "change.xlsx"
    assert run("change", TOWN, grown, "--out", out) == 1
    assert (TOWN.read_bytes(), grown.read_bytes()) == before
    said = capsys.readouterr().out
    for words in ("27 plots measured both times, 5.0 years apart", "Height growth",
                  "Living trees: −", "within the margin", "plot 1 tree 2: shrank",
                  "NEW is probably wrong", "plot 11: renumbered"):  # fmt: skip
        assert words in said
    assert "nan" not in said
    names = openpyxl.load_workbook(out).sheetnames
    assert names == ["Change", "By species", "To look at", "Trees", "Plots", "How", "Chart data"]
    with zipfile.ZipFile(out) as archive:
        charts = [name for name in archive.namelist() if name.startswith("xl/charts/chart")]
        assert len(charts) == 4
        drawn = [ElementTree.fromstring(archive.read(name)) for name in charts]
        assert any("errBars" in element.tag for chart in drawn for element in chart.iter())
    shown = cells(out, "Change")
    assert not any("nan" in str(value) for row in shown for value in row)
    words = " ".join(str(row[0]) for row in shown if row[0])
    assert "Trees from 5.0 cm up" in words
    assert "like the others of its plot" in words


def test_the_same_survey_twice_changes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plots = [plot(str(n), 6) for n in range(1, 7)]
    lines = [line for row in plots for line in trees_of(row["plot"], 6)]
    old = survey(tmp_path / "old.xlsx", plots, lines)
    new = survey(tmp_path / "new.xlsx", [row | {"date": "2029-05-12"} for row in plots], lines)
    run("change", old, new)
    said = capsys.readouterr().out
    assert "Trees: 36 alive in both. Each year 0.0 % " in said
    assert "Height growth: 0.00 m a year" in said
    assert "shrank" not in said


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"condition": "D"}, ["36 dead in both", "no tree is alive in both surveys"]),
        pytest.param({"diameter": None}, ["Diameter growth: cannot be told (too few trees",
                     "No plot has a tree with a diameter both times."], marks=pytest.mark.slow),
    ],
)  # fmt: skip
def test_words_for_what_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: dict, words: list[str]
) -> None:
    plots = [plot(str(n), 6) for n in range(1, 7)]
    lines = [line for row in plots for line in trees_of(row["plot"], 6, **more)]
    old = survey(tmp_path / "old.xlsx", plots, lines)
    new = survey(tmp_path / "new.xlsx", [row | {"date": "2029-05-12"} for row in plots], lines)
    out = tmp_path / "change.xlsx"
    assert run("change", old, new, "--out", out) in (0, 1)
    said = capsys.readouterr().out
    for one in words:
        assert one in said
    assert "nan" not in said
    assert out.exists()


def test_ends_that_are_alike_and_trees_that_are_all_left_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Diameters of 20 and 22 cm: every plot has 21 % more basal area, and no plot has a date."""
    plots = [plot(str(n), n, date=None) for n in range(2, 6)]
    old, new = (
        survey(tmp_path / f"{size}.xlsx", plots,
               [line | {"diameter": size} for n in range(2, 6) for line in trees_of(str(n), n)],
               [{"stratum": "North", "area": 30, "plots_possible": 750}])
        for size in (20, 22)
    )  # fmt: skip
    run("change", old, new)
    said = capsys.readouterr().out
    assert "(+21.0 % of OLD)" in said
    assert "Left out: all 14 trees alive both times: no dates" in said


@pytest.mark.slow
def test_one_plot_a_stratum_without_plots_and_no_dates(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    strata = [{"stratum": "North", "area": 30}, {"stratum": "South", "area": 10}]
    plots = [plot("1", 6, stratum="North", date=None)]
    old = survey(tmp_path / "old.xlsx", plots, trees_of("1", 6), strata)
    new = survey(tmp_path / "new.xlsx", [plots[0] | {"trees_counted": 5}], trees_of("1", 5), strata)
    assert run("change", old, new, "--out", tmp_path / "change.xlsx") == 1
    said = capsys.readouterr().out
    for words in ("The plots have no dates", "No plot of South was measured both times", "1 gone",
                  "Only one plot was measured both times", "plot 1: no date"):  # fmt: skip
        assert words in said
    assert "nan" not in said


@pytest.mark.slow
def test_nothing_left_has_no_margin_in_per_cent(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    strata = [{"stratum": "North", "area": 30}]
    plots = [plot(str(n), 4, stratum="North") for n in range(1, 7)]
    lines = [line for row in plots for line in trees_of(row["plot"], 4)]
    old = survey(tmp_path / "old.xlsx", plots, lines, strata)
    cleared = [row | {"date": "2030-05-12", "status": "no trees", "trees_counted": 0}
               for row in plots]  # fmt: skip
    none = survey(tmp_path / "none.xlsx", cleared, [], strata)
    out = tmp_path / "change.xlsx"
    run("change", old, none, "--out", out)
    said = capsys.readouterr().out
    assert "−100.0 % of OLD)" in said
    assert "± 0.0 points)" not in said.split("Living trees:")[1]
    shown = openpyxl.load_workbook(out)["Change"]
    (head,) = [row for row in shown.iter_rows() if row[0].value == "What"]
    trees = next(row for row in shown.iter_rows() if row[0].value == "Living trees")
    headings = [cell.value for cell in head]
    assert trees[headings.index("Change of OLD (%)")].value == pytest.approx(-1)
    assert trees[headings.index("Change of OLD (%)") + 1].value is None
    assert all("." not in trees[headings.index(name)].number_format for name in ("OLD", "Change"))
    one = [row | {"date": "2030-05-12"} for row in plots]
    lines[3] = lines[3] | {"condition": "D"}
    run("change", old, survey(tmp_path / "one.xlsx", one, lines, strata))
    assert "1 died (still standing)" in capsys.readouterr().out


@pytest.mark.parametrize(("names", "same"), [
    (("Trees of Aldmere", "Trees of Brockhaven"), "place"),
    pytest.param(
        ("Trees of Aldmere 2025", "Trees of Aldmere 2030"), "plots", marks=pytest.mark.slow
    ),
    pytest.param(("Trees of Aldmere", ""), "plots", marks=pytest.mark.slow),
])  # fmt: skip
def test_two_surveys_of_wholly_other_trees_are_doubted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], names: tuple[str, str], same: str
) -> None:
    plots = [plot(str(n), 4) for n in range(1, 7)]
    books = []
    for at, name in enumerate(names):
        more = {"date": f"{2025 + 5 * at}-05-12"}
        others = {} if not at else {"species": "Picea abies", "diameter": 95}
        lines = [line | ({"tree": str(70 + int(line["tree"]))} if at else {})
                 for row in plots for line in trees_of(row["plot"], 4, **others)]  # fmt: skip
        path = survey(tmp_path / f"{at}.xlsx", [row | more for row in plots], lines)
        package = Package.open(path)
        key_rows(package, RULES, [{"survey_name": name}])
        path.write_bytes(package.to_bytes())
        books.append(path)
    out = tmp_path / "change.xlsx"
    assert run("change", *books, "--out", out) == 1
    said = capsys.readouterr().out
    assert said.startswith(f"These may not be two surveys of the same {same}")
    assert "of 24 trees were found again" in said
    assert "same survey?" in said
    assert "died or disappeared" not in said
    assert " a year," not in said
    assert str(cells(out, "Change")[1][0]).startswith("These may not be")


def test_the_same_names_with_the_same_trees_are_one_town(grown: Path, found: Change) -> None:
    assert not found.doubt
    assert found.loss[0] > 0


def test_a_blank_workbook_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old = survey(tmp_path / "old.xlsx", [plot("1", 4)], trees_of("1", 4))
    blank = survey(tmp_path / "blank.xlsx", [], [])
    assert run("change", old, blank) == 2
    assert capsys.readouterr().err == "xlhelpers: Nothing is entered in NEW yet.\n"


def test_what_cannot_be_compared_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old = survey(tmp_path / "old.xlsx", [plot("1", 4)], trees_of("1", 4))
    new = survey(tmp_path / "new.xlsx", [plot("9", 4, date="2030-05-12")], trees_of("9", 4))
    out = tmp_path / "change.xlsx"
    assert run("change", old, new, "--out", out) == 2
    assert "No plot was measured in both surveys" in capsys.readouterr().err
    later = survey(tmp_path / "later.xlsx", [plot("1", 4, date="2030-05-12")], trees_of("1", 4))
    assert run("change", later, old) == 2
    assert "OLD was measured after NEW" in capsys.readouterr().err
    assert run("change", old, old, "--confidence", 30, "--out", tmp_path / "no.txt") == 2
    said = capsys.readouterr().err
    for words in ("given twice", "--confidence must be above 50", "ends in .xlsx"):
        assert words in said
    assert not out.exists()
