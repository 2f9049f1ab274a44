"""The invented town: its size, its planted mistakes and what the checks say of them."""

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from zipfile import ZipFile

import make_town
import pytest
from town_mistakes import Planted, plant
from town_places import STRATA, STREET, TOOLS
from town_planted import MISTAKES
from town_survey import Key, Town, grow_town

from xlhelpers.measure.instruments import KINDS
from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome

# Findings, neither planted nor notes, that careful crews cause in the clean town.
STATED: Counter[str] = Counter()


FILES = {"town.xlsx", "town_filled.xlsx", "planted_mistakes.csv"}


def run(town: Town) -> Outcome:
    return compute(Package.from_bytes(make_town.town_workbook(town)))


def places(finding: Finding, town: Town) -> set[Key]:
    """Trees as (plot, number) and plots as (plot, "") that a finding touches."""
    lines = [town.lines[position] for position in finding.lines]
    trees = {(line["plot"] or "", line["tree"] or "") for line in lines}
    subject = dict(finding.subject)
    named = {(subject["plot"], subject.get("tree", ""))} if "plot" in subject else set()
    return trees | named | {(town.plots[position]["plot"], "") for position in finding.plots}


def finds(finding: Finding, planted: Planted, town: Town) -> bool:
    return finding.check == planted.mistake.check and bool(places(finding, town) & planted.places)


def open_findings(outcome: Outcome) -> list[Finding]:
    return [finding for finding in outcome.findings if finding.severity != "note"]


@pytest.fixture(scope="module")
def clean() -> Town:
    return grow_town()


@pytest.fixture(scope="module")
def clean_outcome(clean: Town) -> Outcome:
    return run(clean)


@pytest.fixture(scope="module")
def with_mistakes(clean: Town) -> tuple[Town, tuple[Planted, ...]]:
    return plant(clean, MISTAKES)


@pytest.fixture(scope="module")
def outcome(with_mistakes: tuple[Town, tuple[Planted, ...]]) -> Outcome:
    return run(with_mistakes[0])


COUNTS: tuple[tuple[str, Callable[[Town], int], int], ...] = (
    ("strata", lambda town: len(STRATA), 3),
    ("plots", lambda town: sum(row["plot"] != STREET for row in town.plots), 24),
    ("trees", lambda town: len(town.trees), 300),
    ("trees of the street", lambda town: sum(key[0] == STREET for key in town.trees), 50),
    ("species", lambda town: len({tree.kind.species for tree in town.trees.values()}), 20),
    ("conifers", lambda town: sum(t.kind.kind == "conifer" for t in town.trees.values()), 10),
    ("palms", lambda town: sum(t.kind.kind == "palm" for t in town.trees.values()), 10),
    ("second set-ups", lambda town: sum("setup" in line for line in town.lines), 24),
    ("dead tops", lambda town: sum(t.condition == "T" for t in town.trees.values()), 5),
    ("dead trees", lambda town: sum(t.condition == "D" for t in town.trees.values()), 5),
    ("multi-stem trees", lambda town: sum(len(t.stems) > 1 for t in town.trees.values()), 10),
    ("leaning trees", lambda town: sum("tip_offset" in line for line in town.lines), 5),
    ("hidden feet", lambda town: sum("mark_above_foot" in line for line in town.lines), 5),
    ("feet above the eye", lambda town: sum("foot_above_eye" in ln for ln in town.lines), 5),
    ("crown bases by pole", lambda town: sum("base_by_pole" in line for line in town.lines), 10),
    ("trees cut back", lambda town: sum(t.condition == "C" for t in town.trees.values()), 2),
    ("two stations in line", lambda town: sum("station_step" in line for line in town.lines), 2),
    ("heights by eye", lambda town: sum("height_by_eye" in line for line in town.lines), 1),
    ("recorded heights", lambda town: sum("recorded_height" in line for line in town.lines), 3),
    (
        "tags and positions",
        lambda town: sum({"tag", "latitude"} <= set(ln) for ln in town.lines),
        8,
    ),
    ("tapes to the bark", lambda town: sum(p.get("distance_to") == "bark" for p in town.plots), 1),
    ("eye heights for feet", lambda town: sum("foot_by" in row for row in town.plots), 1),
    ("closed blanks", lambda town: sum("missing_because" in line for line in town.lines), 10),
    ("lines with a slope", lambda town: sum("slope_reading" in ln for ln in town.lines), 20),
    ("mistakes", lambda town: len(MISTAKES), 40),
    ("kinds of mistakes", lambda town: len({m.kind for m in MISTAKES}), 15),
)


@pytest.mark.parametrize(("what", "count", "least"), COUNTS, ids=[row[0] for row in COUNTS])
def test_the_town_is_large_enough(
    clean: Town, what: str, count: Callable[[Town], int], least: int
) -> None:
    assert count(clean) >= least, what


def test_at_least_six_kinds_of_instrument_are_used(clean: Town) -> None:
    of_plot = {row["plot"]: row.get("instrument") for row in clean.plots}
    used = {TOOLS[line.get("instrument", of_plot[line["plot"]])].kind for line in clean.lines}
    assert used <= set(KINDS)
    assert len(used) >= 6


def test_plots_without_trees_say_why(clean: Town) -> None:
    words = {row["status"] for row in clean.plots}
    assert words >= {"measured", "no trees", "refused", "later", "not safe"}


def test_the_program_reads_every_tree_and_every_set_up(clean: Town, clean_outcome: Outcome) -> None:
    assert len(clean_outcome.trees) == len(clean.trees)
    assert len(clean_outcome.setups) == len(clean.lines)
    keyed = list(zip(clean_outcome.trees["plot"], clean_outcome.trees["tree"], strict=True))
    assert keyed == list(clean.trees)


def test_heights_lie_near_the_true_ones(clean: Town, clean_outcome: Outcome) -> None:
    """The readings come from a geometry of their own, so this is a witness from outside."""
    trees = clean_outcome.trees
    for measured, truth, uncertainty in (
        ("total_height", "total", "u_total"),
        ("crown_base", "crown_base", "u_base"),
        ("crown_top", "crown_top", "u_top"),
    ):
        true = [getattr(tree, truth) for tree in clean.trees.values()]
        wrong = (trees[measured] - true).abs()
        given = trees[measured].notna()
        assert given.sum() > 300
        assert (wrong[given] <= 2 * trees[uncertainty][given]).mean() > 0.94
        assert wrong[given].max() < 1.0


def test_the_clean_town_has_only_the_stated_findings(clean_outcome: Outcome) -> None:
    assert Counter(f.check for f in open_findings(clean_outcome)) == STATED


@pytest.mark.parametrize("number", range(1, len(MISTAKES) + 1))
def test_every_mistake_is_found_by_its_check_where_it_was_planted(
    with_mistakes: tuple[Town, tuple[Planted, ...]], outcome: Outcome, number: int
) -> None:
    town, planted = with_mistakes
    one = planted[number - 1]
    found = [f.check for f in outcome.findings if places(f, town) & one.places]
    assert any(finds(f, one, town) for f in outcome.findings), (one, found)


def test_trees_without_a_mistake_have_only_the_stated_findings(
    with_mistakes: tuple[Town, tuple[Planted, ...]], outcome: Outcome
) -> None:
    town, planted = with_mistakes
    upset = set().union(*(one.places for one in planted))
    other = [f for f in open_findings(outcome) if not places(f, town) & upset]
    assert Counter(f.check for f in other) <= STATED, other


@pytest.mark.slow
def test_moved_mistakes_move_their_findings(
    clean: Town, with_mistakes: tuple[Town, tuple[Planted, ...]]
) -> None:
    first_places = [one.places for one in with_mistakes[1]]
    town, planted = plant(clean, MISTAKES, shift=1)
    outcome = run(town)
    upset = set().union(*(one.places for one in planted))
    for one, before in zip(planted, first_places, strict=True):
        assert any(finds(f, one, town) for f in outcome.findings), one
        assert one.places != before, one
        left = {key for key in before - upset if key[1]}
        here = [(f, places(f, town)) for f in open_findings(outcome)]
        still = [f for f, where in here if where & left and not where & upset]
        assert Counter(f.check for f in still) <= STATED, (one, still)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("town")
    assert make_town.main(["--out", str(folder)]) == 0
    return folder


def contents(folder: Path) -> dict[str, object]:
    """The parts of each workbook, not its compressed bytes, which differ between systems."""
    books = {}
    for name in ("town.xlsx", "town_filled.xlsx"):
        with ZipFile(folder / name) as book:
            books[name] = {part: book.read(part) for part in book.namelist()}
    return {**books, "mistakes": (folder / "planted_mistakes.csv").read_text("utf-8")}


@pytest.mark.slow
def test_two_runs_write_the_same(written: Path, tmp_path: Path) -> None:
    for _ in range(2):
        assert make_town.main(["--out", str(tmp_path)]) == 0
        assert contents(tmp_path) == contents(written)
    assert {file.name for file in tmp_path.iterdir()} == FILES


def cells(book: Path) -> dict[str, list[list[object]]]:
    """The values of each sheet; how the parts are written depends on versions of libraries."""
    package = Package.open(book)
    return {
        part.name: read_grid(package, part).values.tolist()
        for part in parts.sheets(package)
        if part.kind == "worksheet"
    }


@pytest.mark.parametrize("name", ["town.xlsx", "town_filled.xlsx"])
def test_the_kept_workbooks_hold_what_the_script_writes(written: Path, name: str) -> None:
    kept = cells(Path(make_town.__file__).parent / name)
    fresh = cells(written / name)
    assert list(kept) == list(fresh)
    for tab in fresh:
        assert kept[tab] == fresh[tab], f"{name}, {tab}: run demo_workbooks/make_town.py again"


def test_the_kept_list_of_mistakes_is_that_of_the_script(written: Path) -> None:
    name = "planted_mistakes.csv"
    kept = Path(make_town.__file__).parent / name
    assert kept.read_text("utf-8") == (written / name).read_text("utf-8")
