"""Columns beside the readings, from the cells of a workbook through every job that takes them.

The rules for map files are those of RFC 7946: sections 3 (objects), 3.1.1 (longitude first), 4
(no other reference system than WGS 84, no member "crs") and 11.2 (precision).
"""

import csv
import json
import math
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.jobs.books import GOOD, PLOT, keyed, run, varied
from tests.live.formula_books import stored
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.change.change import change
from xlhelpers.jobs.compare.compare import compare
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import check
from xlhelpers.reading.survey import read_survey
from xlhelpers.template.keyed_rows import key_rows

FIRST = 6
# a town in the west: longitudes are negative
PLACE = {"latitude": 51.2, "longitude": -1.75}
# 19 m of tree from 25 m and from 35 m, and an eye at 1.5 m
STATIONS = {
    "distance": None, "station_step": 10, "second_tip_reading": 50, "second_foot_reading": -30 / 7,
}  # fmt: skip
EVERY = {"recorded_height": 19.5, "tag": "A 17", "diameter_at": 0.8, "height_by_eye": 22, **PLACE}


def book_of(path: Path, *lines: dict[str, Any], **rules: Any) -> Path:
    trees = [one | line for one, line in zip(varied(len(lines)), lines, strict=True)]
    book = keyed(path, trees, [PLOT])
    if rules:
        package = Package.open(book)
        key_rows(package, RULES, [rules])
        book.write_bytes(package.to_bytes())
    return book


def tab_rows(path: Path, tab: str) -> list[dict[str, Any]]:
    rows = list(openpyxl.load_workbook(path, data_only=True)[tab].iter_rows(values_only=True))
    first = "Species" if tab == "By species" else "Plot"
    at = next(i for i, row in enumerate(rows) if row[0] == first and row[1] is not None)
    return [dict(zip(map(str, rows[at]), row, strict=True)) for row in rows[at + 1 :]]


def test_each_column_is_read_and_comes_to_the_tab_trees(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", EVERY, {})
    filled = fill(book)
    assert not [note for note in filled.notes if "formula" in note]
    row = tab_rows(book, "Trees")[0]
    assert row["Tag"] == "A 17"
    assert row["Recorded height (m)"] == 19.5
    assert row["Height by eye (m)"] == 22
    assert row["Diameter measured at (m)"] == 0.8
    assert (row["Latitude (°)"], row["Longitude (°)"]) == (51.2, -1.75)
    assert {"recorded-height-differs", "diameter-elsewhere"} <= {
        f.check for f in filled.outcome.findings
    }


def test_a_column_that_nobody_fills_is_not_on_the_tab(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", {}, {})
    fill(book)
    assert not {"Tag", "Latitude (°)", "Height by eye (m)"} & set(tab_rows(book, "Trees")[0])


@pytest.mark.parametrize("word", ["C", "topped", "Pollarded", "under wires", "cut back"])
def test_a_tree_that_was_cut_back_has_its_whole_crown(tmp_path: Path, word: str) -> None:
    book = book_of(tmp_path / "town.xlsx", {"condition": word})
    outcome = check(book)
    assert outcome.trees["condition"].tolist() == ["C"]
    assert outcome.trees["crown_top"].tolist() == outcome.trees["total_height"].tolist()


def test_trees_that_were_cut_back_are_counted_apart(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", {"condition": "C"}, {}, {"condition": "D"})
    fill(book)
    live = stored(book, ("live_warning", "live_top", "live_total"), FIRST, 1)
    assert live["live_warning"].tolist() == [""]
    assert live["live_top"].tolist() == live["live_total"].tolist()
    assert tab_rows(book, "Trees")[0]["Condition"] == "cut back"
    for tab in ("By plot", "By species"):
        row = tab_rows(book, tab)[0]
        assert (row["Cut back"], row["Dead trees"]) == (1, 1)


def test_two_stations_give_the_height_and_it_comes_with_fill(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", GOOD | STATIONS)
    filled = fill(book)
    tree = filled.outcome.trees.iloc[0]
    assert tree["total_height"] == pytest.approx(19.0)
    assert tree["crown_base"] == pytest.approx(25 * 0.16)
    assert tree["way_total"] == "two stations in line"
    # one degree of aim moves such a height by metres, not by centimetres
    assert tree["u_total"] > 0.5
    assert not [f for f in filled.outcome.findings if f.severity == "error"]
    live = stored(book, ("live_total", "live_distance", "live_warning"), FIRST, 1)
    assert live["live_total"].tolist() == live["live_distance"].tolist() == ["comes with fill"]
    assert live["live_warning"].tolist() == [""]


NOTHING_READ = dict.fromkeys(("distance", "foot_reading", "base_reading", "tip_reading"))


def test_a_height_by_eye_is_kept_apart_unless_the_rule_says_otherwise(tmp_path: Path) -> None:
    estimate = {**NOTHING_READ, "height_by_eye": 30}
    book = book_of(tmp_path / "apart.xlsx", estimate, {})
    filled = fill(book)
    trees = filled.outcome.trees
    assert math.isnan(trees["total_height"][0])
    assert not {f.check for f in filled.outcome.findings if f.lines == (0,)} & {"no-readings"}
    row = tab_rows(book, "By plot")[0]
    assert row["Heights estimated by eye (Survey rules say if they count)"] == 1
    used = book_of(
        tmp_path / "used.xlsx", estimate, {}, heights_by_eye="used where none is measured"
    )
    trees = check(used).trees
    assert trees["total_height"][0] == 30
    assert trees["way_total"][0] == "estimated by eye"
    assert trees["n_total"][0] == 0
    assert trees["way_total"][1] != "estimated by eye"


def test_basal_area_says_how_many_diameters_are_from_elsewhere(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", {"diameter_at": 0.8}, {"diameter_at": 1.3}, {})
    fill(book)
    for tab in ("By plot", "By species"):
        assert tab_rows(book, tab)[0]["Diameters not at breast height (in basal area)"] == 1


def test_a_map_file_keeps_the_rules_of_the_standard(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", EVERY | {"species": "Ülme = ?"}, {}, PLACE)
    assert run("export", book, "--out", tmp_path / "data", "--geojson") in (0, 1)
    data = (tmp_path / "data" / "trees.geojson").read_bytes()
    assert not data.startswith(b"\xef\xbb\xbf")
    # NaN and Infinity are no JSON
    found = json.loads(data.decode("utf-8"), parse_constant=lambda word: pytest.fail(word))
    assert found["type"] == "FeatureCollection"
    assert "crs" not in found
    assert set(found) == {"type", "features"}
    assert len(found["features"]) == 2
    for feature in found["features"]:
        assert set(feature) == {"type", "id", "geometry", "properties"}
        assert feature["type"] == "Feature"
        assert set(feature["geometry"]) == {"type", "coordinates"}
        assert feature["geometry"]["type"] == "Point"
        assert feature["geometry"]["coordinates"] == [-1.75, 51.2]
    with (tmp_path / "data" / "trees.csv").open(encoding="utf-8", newline="") as file:
        first = next(csv.DictReader(file))
    # places are left out of the tables unless asked for
    assert "latitude" not in first
    properties = found["features"][0]["properties"]
    assert properties["species"] == "Ülme = ?"
    assert properties["total_height"] == pytest.approx(float(first["total_height"]))
    assert (properties["tag"], properties["height_by_eye"]) == ("A 17", 22)
    assert set(properties) == set(first)


def test_no_map_file_unless_asked_for(tmp_path: Path) -> None:
    book = book_of(tmp_path / "town.xlsx", EVERY)
    assert run("export", book, "--out", tmp_path / "data", "--with-places") in (0, 1)
    assert not (tmp_path / "data" / "trees.geojson").exists()
    with (tmp_path / "data" / "trees.csv").open(encoding="utf-8", newline="") as file:
        row = next(csv.DictReader(file))
    assert (row["latitude"], row["longitude"]) == ("51.2", "-1.75")


@pytest.mark.slow
def test_two_entries_are_compared_cell_by_cell(tmp_path: Path) -> None:
    one = book_of(tmp_path / "one.xlsx", EVERY | STATIONS)
    other = {"recorded_height": 19.6, "tag": "A 18", "latitude": 51.3, "station_step": 11}
    two = book_of(tmp_path / "two.xlsx", EVERY | STATIONS | other)
    out = tmp_path / "both.xlsx"
    compare(one, two, out)
    text = " ".join(str(cell.value) for sheet in openpyxl.load_workbook(out) for row in sheet
                    for cell in row if cell.value is not None)  # fmt: skip
    for name in other:
        assert FIELD_SHEET[name].label in text


@pytest.mark.slow
def test_a_merge_takes_every_column(tmp_path: Path) -> None:
    one = book_of(tmp_path / "one.xlsx", EVERY | STATIONS | {"condition": "C"})
    two = keyed(tmp_path / "two.xlsx", [{"tree": "1", "plot": "2"}], [PLOT | {"plot": "2"}])
    out = tmp_path / "both.xlsx"
    assert run("merge", one, two, "--out", out) in (0, 1)
    before, after = (read_survey(Package.open(book)).lines for book in (one, out))
    names = [*EVERY, *STATIONS, "condition"]
    after = after[after["plot"] == "1"].reset_index(drop=True)
    assert after[names].equals(before[names])


@pytest.mark.slow
def test_trees_that_were_cut_back_are_out_of_growth(tmp_path: Path) -> None:
    trees = [{}, {}, {}, {"diameter_at": 0.8}]
    old = book_of(tmp_path / "old.xlsx", *trees)
    grown = [{"tip_reading": tree["tip_reading"] + 4, "diameter": tree["diameter"] + 2}
             for tree in varied(4)]  # fmt: skip
    grown[1] |= {"condition": "C", "tip_reading": 30}
    grown[2] |= {"diameter_at": 1.0}
    grown[3] |= {"diameter_at": 0.8}
    new = book_of(tmp_path / "new.xlsx", *grown)
    found, _ = change(old, new)
    table = found.trees.set_index("tree_old").sort_index()
    assert table["fate"].tolist() == ["alive"] * 4
    assert table["growth_height"].notna().tolist() == [True, False, True, True]
    assert table["growth_diameter"].notna().tolist() == [True, False, False, True]
    assert not found.shrunk
