"""A survey handed on: valid by the standard's own validator, harmless, and without what is private.

The standard is the Data Package of the Frictionless Data project with its Table Schema; its
reference validator is the Python package frictionless.
"""

import csv
import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from tests.jobs.books import run
from tests.jobs.crews import changed
from tests.town import TOWN, town_outcome
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.reading.crew_book import open_crew_book

frictionless = pytest.importorskip("frictionless")
pytestmark = pytest.mark.filterwarnings("default")

FIELD = FIELD_SHEET.tab


def at(name: str) -> int:
    return open_crew_book(TOWN).survey.columns[FIELD, name]


@pytest.fixture(scope="module")
def private_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    columns = open_crew_book(TOWN).survey.columns
    cells = {
        (FIELD, 6, columns[FIELD, "note"]): '=HYPERLINK("http://x","SECRETNOTE")',
        (FIELD, 7, columns[FIELD, "group"]): "SECRETGROUP",
        (FIELD, 8, columns[FIELD, "missing_because"]): "NOT SAFE: SECRETWORDS",
        (FIELD, 9, columns[FIELD, "species"]): "@SUM(1+1)*cmd",
        (FIELD, 10, columns[FIELD, "species"]): "'quoted",
        ("Plots", 6, columns["Plots", "note"]): "SECRETPLACE",
        ("Plots", 6, columns["Plots", "crew"]): "SECRETCREW",
        ("People", 6, columns["People", "initials"]): "SECRETONE",
    }
    return changed(TOWN, tmp_path_factory.mktemp("private") / "town.xlsx", cells)


def whole(folder: Path) -> str:
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted(folder.iterdir()))


@pytest.mark.parametrize(
    "more",
    [
        pytest.param((), marks=pytest.mark.slow),
        ("--with-notes", "--with-places", "--with-people"),
        pytest.param(("--units", "us"), marks=pytest.mark.slow),
    ],
)
def test_valid_by_the_reference_validator(
    tmp_path: Path, private_book: Path, more: tuple[str, ...]
) -> None:
    assert run("export", private_book, "--out", tmp_path / "out", *more) == 1
    report = frictionless.validate(str(tmp_path / "out" / "datapackage.json"))
    assert report.valid, report.flatten(["type", "message"])
    assert {task.name for task in report.tasks} >= {"lines", "trees", "plots", "findings", "rules"}


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The town's survey as a data package, only to look at."""
    out = tmp_path_factory.mktemp("export") / "out"
    run("export", TOWN, "--out", out)
    return out


def test_the_validator_would_see_a_fault(tmp_path: Path, exported: Path) -> None:
    shutil.copytree(exported, tmp_path / "out")
    path = tmp_path / "out" / "trees.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("broadleaf", "seaweed", 1))
    assert not frictionless.validate(str(tmp_path / "out" / "datapackage.json")).valid


def test_values_are_those_of_the_survey(tmp_path: Path) -> None:
    run("export", TOWN, "--out", tmp_path / "out", "--units", "us")
    outcome = town_outcome()
    trees = pd.read_csv(tmp_path / "out" / "trees.csv", dtype={"plot": str, "tree": str})
    lines = pd.read_csv(tmp_path / "out" / "lines.csv", dtype={"plot": str, "tree": str})
    assert len(trees) == len(outcome.trees)
    assert len(lines) == len(outcome.survey.lines)
    # 1 ft = 0.3048 m, 1 in = 2.54 cm
    for name, factor in (("total_height", 0.3048), ("diameter", 2.54), ("volume", 0.3048**3)):
        pd.testing.assert_series_equal(
            trees[name] * factor, outcome.trees[name], check_names=False, rtol=1e-9
        )
    assert (lines["tree_id"] - 1).tolist() == outcome.setups["tree_position"].tolist()
    assert trees["doubtful"].sum() > 0
    assert lines["closed"].str.contains("NOT SEEN").sum() > 0
    assert lines["refused"].eq("diameter").sum() > 0


ASKED = {
    "--with-notes": {"SECRETNOTE", "SECRETGROUP", "SECRETWORDS"},
    "--with-places": {"SECRETPLACE"},
    "--with-people": {"SECRETCREW", "SECRETONE"},
}


def test_private_things_stay_out(tmp_path: Path, private_book: Path) -> None:
    run("export", private_book, "--out", tmp_path / "none")
    none = whole(tmp_path / "none")
    assert "SECRET" not in none
    for column in ("bearing", "centre_distance", "crew", "keyed_by", "note"):
        assert f'"name": "{column}"' not in none


@pytest.mark.parametrize(
    "option",
    ["--with-notes", *(pytest.param(o, marks=pytest.mark.slow) for o in list(ASKED)[1:])],
)
def test_of_private_things_only_what_was_asked_for_is_there(
    tmp_path: Path, private_book: Path, option: str
) -> None:
    run("export", private_book, "--out", tmp_path / "out", option)
    text = whole(tmp_path / "out")
    every = set().union(*ASKED.values())
    assert {word for word in every if word in text} == ASKED[option]


def test_formulas_are_made_neutral_in_text_columns_only(tmp_path: Path, private_book: Path) -> None:
    run("export", private_book, "--out", tmp_path / "out", "--with-notes")
    with (tmp_path / "out" / "lines.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[0]["note"].startswith("'=HYPERLINK")
    assert rows[3]["species"] == "'@SUM(1+1)*cmd"
    assert rows[4]["species"] == "''quoted"  # so that one apostrophe can always be taken away
    assert rows[0]["foot_reading"] == "-6"  # a number stays a number
    schema = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    fields = {r["name"]: r["schema"]["fields"] for r in schema["resources"]}["lines"]
    for field in fields:
        assert ("apostrophe" in field["description"]) == (field["type"] == "string")


@pytest.mark.slow
def test_two_runs_give_the_same_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1751356800")
    for name in ("a", "b"):
        run("export", TOWN, "--out", tmp_path / name)
    for path in (tmp_path / "a").iterdir():
        assert path.read_bytes() == (tmp_path / "b" / path.name).read_bytes()


def test_list_of_what_belongs_together_is_one_page(exported: Path) -> None:
    text = (exported / "README.txt").read_text(encoding="utf-8")
    assert "WHAT TO HAND OVER" in text
    assert "licensed arborists" in text
    assert len(text.splitlines()) <= 60


def test_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    full = tmp_path / "full"
    full.mkdir()
    (full / "mine.txt").write_text("mine")
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(b"PK\x03\x04 nothing")
    for arguments in (
        (TOWN, "--out", full),
        (TOWN, "--out", full / "mine.txt"),
        (TOWN, "--out", tmp_path / "no" / "such"),
        (broken, "--out", tmp_path / "new"),
        (tmp_path / "missing.xlsx", "--out", tmp_path / "new"),
    ):
        assert run("export", *arguments) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.startswith("xlhelpers: ")
        assert len(said.err.strip().splitlines()) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["broken.xlsx", "full"]
    assert [path.name for path in full.iterdir()] == ["mine.txt"]
