"""Headings, odd cells, units, scales and tables of foreign sheets, one by one."""

import re
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from tests.jobs.bring.sheets import HEIGHTS_ONLY, MARKS, STREET, TWO_LASERS, write_csv
from xlhelpers.jobs.bring.bring import propose
from xlhelpers.jobs.bring.columns import Column, decide_roles, read_columns
from xlhelpers.jobs.bring.foreign import ForeignSheet, read_foreign
from xlhelpers.jobs.bring.headings import read_heading, roles_of
from xlhelpers.jobs.bring.lines import Brought, bring_lines
from xlhelpers.jobs.bring.mapping import Answers
from xlhelpers.jobs.bring.odd_cells import NumberKind, read_condition, read_number_cell
from xlhelpers.jobs.bring.plots import PlotNames
from xlhelpers.jobs.bring.questions import Kind, find_out
from xlhelpers.jobs.bring.tables import find_table, number_like, plot_in_tab_name
from xlhelpers.jobs.bring.trials import find_scale, settle_units
from xlhelpers.jobs.bring.vocabulary import BY_NAME
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.survey.typed.units import unit_named

# headings as the trade writes them: common usage, no source
HEADINGS = {
    "plot": ("Plot no.", "Parcela", "Placette", "Probefläche"),
    "tree": ("Tree #", "Nº árbol", "N° arbre", "Baum-Nr."),
    "species": ("Species", "Especie", "Essence", "Baumart"),
    "diameter": ("DBH (cm)", "DAP cm", "D1.3", "BHD"),
    "girth": ("Girth", "Circunferencia", "Circonférence", "Stammumfang"),
    "height": ("Total height", "Altura total (m)", "Hauteur", "Baumhöhe"),
    "base_height": ("Clear stem", "Altura de fuste", "Hauteur du fût", "Kronenansatzhöhe"),
    "width": ("Canopy spread", "Diámetro de copa", "Largeur du houppier", "Kronenbreite"),
    "distance": ("Distance to tree", "Distancia", "Distance horizontale", "Entfernung zum Baum"),
    "foot_reading": ("Angle to base", "Lectura al pie", "Visée pied", "Winkel unten"),
    "tip_reading": ("Angle to top", "Lectura al ápice", "Visée sommet", "Winkel oben"),
    "condition": ("Live/dead", "Estado", "État", "Zustand"),
    "note": ("Comments", "Observaciones", "Remarques", "Bemerkungen"),
    "crew": ("Measured by", "Equipo", "Équipe", "Aufnehmer"),
    "date": ("Date", "Fecha", "Date", "Datum"),
}


@pytest.mark.parametrize(("role", "texts"), HEADINGS.items())
def test_headings_are_known_in_four_languages(role: str, texts: tuple[str, ...]) -> None:
    for text in texts:
        assert role in roles_of(read_heading(text)), text


@pytest.mark.parametrize(
    ("text", "role"),
    [
        ("d.b.h.", "diameter"),
        ("TopPct", "tip_reading"),
        ("Diam. couronne (m)", "width"),
        ("Ø Krone", "width"),
        ("Date planted", "keep"),
        ("Height to live crown base", "base_height"),
        ("Baumart deutsch", "common"),
    ],
)
def test_headings_that_are_easily_taken_for_another(text: str, role: str) -> None:
    assert next(iter(roles_of(read_heading(text)))) == role


@pytest.mark.parametrize(
    ("text", "sign"),
    [("DBH_cm", "cm"), ("Height (ft)", "ft"), ("Höhe in m", "m"), ("Tip %", "%"), ("Girth", "")],
)
def test_units_in_headings(text: str, sign: str) -> None:
    unit = read_heading(text).unit
    assert (unit.sign if unit else "") == sign


CM = NumberKind("diameter", None, "metric")
INCHES = NumberKind("diameter", unit_named("in"), "us")
M = NumberKind("length", None, "metric")
FEET_TO_M = NumberKind("length", unit_named("ft"), "metric")


@pytest.mark.parametrize(
    ("text", "kind", "value", "more"),
    [
        ("40", CM, 40.0, ()),
        (40.0, CM, 40.0, ()),
        ("12,5", M, 12.5, ()),
        ("est. 40", CM, 40.0, ()),
        ("~20", M, 20.0, ()),
        ("ca. 14", M, 14.0, ()),
        ("geschätzt 18", M, 18.0, ()),
        ("40?", CM, 40.0, ()),
        ("11+10", CM, 11.0, (10.0,)),
        ("2 stems: 12, 9", CM, 12.0, (9.0,)),
        ("2 Stämme: 9, 12", CM, 12.0, (9.0,)),
        ("410/380", NumberKind("diameter", unit_named("mm"), "metric"), 41.0, (38.0,)),
        ("9 x 7", M, 9.0, (7.0,)),
        ("4'6\"", INCHES, 54.0, ()),
        ("5'", INCHES, 60.0, ()),
        ("10", FEET_TO_M, 3.048, ()),
        ("12 m", FEET_TO_M, 12.0, ()),
        ("NOT SAFE", M, "NOT SAFE", ()),
    ],
)
def test_odd_numbers_are_read(
    text: str | float, kind: NumberKind, value: object, more: tuple[float, ...]
) -> None:
    read = read_number_cell(text, kind)
    assert read.value == (pytest.approx(value) if isinstance(value, float) else value)
    assert read.more == pytest.approx(more)
    assert not read.why_not


@pytest.mark.parametrize("text", ["3 stems: 12, 9", "tall", "9/16", ">100", "see photo"])
def test_what_cannot_be_read_says_why(text: str) -> None:
    read = read_number_cell(text, CM)
    assert read.value is None
    assert read.why_not


@pytest.mark.parametrize(
    ("text", "letters", "condition"),
    [
        ("snag", "", "D"),
        ("muerto", "", "D"),
        ("mort", "", "D"),
        ("tot", "", "D"),
        ("dead top", "", "T"),
        ("Live", "", ""),
        ("t", "lt", "D"),
        ("T", "t", "T"),
        ("good", "", None),
    ],
)
def test_words_for_living_and_dead(text: str, letters: str, condition: str | None) -> None:
    assert read_condition(text, frozenset(letters)) == condition


def columns_of(*columns: tuple[str, list[float]]) -> list[Column]:
    rows = [tuple(heading for heading, _ in columns)]
    rows += list(zip(*([float(cell) for cell in cells] for _, cells in columns), strict=True))
    table = find_table(ForeignSheet("a", tuple(rows)))
    assert table is not None
    found = read_columns([table])
    decide_roles(found, {})
    return found


GROUND = np.random.default_rng(7)


def test_values_decide_between_candidates() -> None:
    foot = (-8 + GROUND.normal(0, 1.5, 30)).round().tolist()
    tip = GROUND.uniform(40, 120, 30).round().tolist()
    distance = GROUND.uniform(15, 25, 30).round(1).tolist()
    found = columns_of(("Tree", list(range(1, 31))), ("Dist", distance), ("R1", tip), ("R2", foot))
    assert [c.role for c in found] == ["tree", "distance", "tip_reading", "foot_reading"]
    # "Base" is the foot below the tip, and the crown base where another column is the foot
    found = columns_of(
        ("Tree", list(range(1, 31))), ("Dist", distance), ("Top", tip), ("Base", foot)
    )
    assert [c.role for c in found][2:] == ["tip_reading", "foot_reading"]
    middle = [10.0] * 30
    found = columns_of(
        ("Tree", list(range(1, 31))),
        ("Foot", foot),
        ("Dist", distance),
        ("Top", tip),
        ("Base", middle),
    )
    assert [c.role for c in found][3:] == ["tip_reading", "base_reading"]


@pytest.mark.parametrize(("system", "to_height", "to_diameter"), [
    ("metric", 1.0, 1.0), ("us", 1 / 0.3048, 1 / 2.54),
])  # fmt: skip
def test_feet_or_metres_by_trial_on_real_trees(
    system: str, to_height: float, to_diameter: float
) -> None:
    """Diameters and heights of trees as in the open urban tree data: 10 to 60 cm, 6 to 18 m."""
    diameters = np.array([12, 18, 25, 31, 38, 44, 52, 60.0])
    heights = np.array([6.5, 8, 9.5, 11, 12, 13.5, 15, 16.0])
    found = columns_of(
        ("Tree", [float(n) for n in range(8)]),
        ("DBH", (diameters * to_diameter).tolist()),
        ("Height", (heights * to_height).tolist()),
    )
    settled = settle_units(found, None)
    assert settled is not None
    assert settled.word == system
    # a trial that does not decide asks
    assert settle_units(columns_of(("Tree", [1.0, 2.0]), ("DBH", [20.0, 30.0])), None) is None


@pytest.mark.parametrize("scale", ["percent", "degrees"])
@pytest.mark.parametrize("kind", ["level", "straight to the foot"])
def test_scale_and_kind_follow_from_heights_on_the_sheet(scale: str, kind: str) -> None:
    feet, tips = np.linspace(-25, -5, 9), np.linspace(30, 55, 9)
    distance = np.linspace(14, 26, 9)
    slopes = [np.tan(np.radians(r)) if scale == "degrees" else r / 100 for r in (feet, tips)]
    level = distance if kind == "level" else distance * np.cos(np.arctan(slopes[0]))
    found = columns_of(
        ("Tree", [float(n) for n in range(9)]),
        ("Distance (m)", distance.tolist()),
        ("Foot", feet.tolist()),
        ("Tip", tips.tolist()),
        ("Height (m)", (level * (slopes[1] - slopes[0])).round(2).tolist()),
    )
    trial = find_scale(found)
    assert trial is not None
    assert trial[0].word == scale
    assert trial[1].word == kind or not trial[1].because


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [";", "\t", ","])
def test_separator_and_encoding_are_found(encoding: str, separator: str, tmp_path: Path) -> None:
    rows = [["Tree", "Essence", "Hauteur (m)"], ["1", "Hêtre", "12.5"], ["2", "Chêne", "14"]]
    [sheet] = read_foreign(write_csv(tmp_path / "a.csv", rows, separator, encoding))
    assert [list(row) for row in sheet.rows] == rows


def test_headings_may_be_anywhere_in_the_first_20_rows() -> None:
    for start in (0, 7, 19):
        rows = [("Trees of the town", None, None)] * start
        rows += [("Tree", "DBH", "Height"), (1.0, 20.0, 9.0)]
        table = find_table(ForeignSheet("a", tuple(rows)))
        assert table is not None
        assert table.first == start + 1


def test_units_in_the_second_row_beside_repeats_of_a_merged_heading() -> None:
    rows = (
        ("Tree", "DBH", "Height", None, "Dist", "Top", "Foot"),
        (None, "cm", "1st", "2nd", "m", "%", "%"),
        (1.0, 31.0, 14.2, 14.5, 20.0, 65.0, -6.0),
    )
    table = find_table(ForeignSheet("a", rows, merges=((0, 2, 0, 3),)))
    assert table is not None
    assert table.first == 2
    units = [heading.unit.sign if heading.unit else "" for heading in table.headings]
    assert units == ["", "cm", "", "", "m", "%", "%"]
    assert [heading.number for heading in table.headings] == [0, 0, 1, 2, 0, 0, 0]


@pytest.mark.parametrize(
    ("name", "plot"),
    [("Plot 7", "7"), ("P07", "07"), ("Parcela 12", "12"), ("14", "14"), ("Elm Road", "")],
)
def test_the_plot_in_the_name_of_a_tab(name: str, plot: str) -> None:
    assert plot_in_tab_name(name) == plot


PLAIN = re.compile(r"[0-9]+(\.[0-9]+)?")
CELLS = st.one_of(
    st.none(),
    st.floats(-50, 200).map(lambda x: f"{x:.1f}"),
    st.sampled_from(
        [
            "snag",
            "dead",
            "est. 40",
            "~20",
            "11+10",
            "2 stems: 12, 9",
            "NOT SAFE",
            "?",
            "x",
            "Total",
            "no trees",
            "#N/A",
            "12'6\"",
            "mean of all",
            "* see the map of the park",
            "Quercus robur",
            "2024-05-03",
            "=1+1",
            "40 cm",
            "1,250",
        ]
    ),
    st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=6),
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from([STREET[4:6], TWO_LASERS[:2], MARKS[:2], HEIGHTS_ONLY[3:6:2]]),
    st.lists(st.lists(CELLS, min_size=13, max_size=13), min_size=1, max_size=8),
)
def test_no_cell_vanishes_whatever_is_typed(
    head: tuple[tuple[object, ...], ...], rows: list[list[str | None]]
) -> None:
    """Each filled cell has one fate; a note quotes it, a number is on a line as it was typed."""
    width = len(head[0])
    typed = [tuple(None if c is None else str(c) for c in row) for row in head]
    cells = tuple(tuple(row) for row in [*typed, *(tuple(row[:width]) for row in rows)])
    sheet = ForeignSheet("a", cells)
    brought, columns = bring_sheet(sheet)
    filled = {
        (row, column)
        for row, values in enumerate(cells)
        for column, value in enumerate(values)
        if value is not None and value.strip()
    }
    entered = brought.ledger.entries
    assert {(row, column) for _, row, column in entered} == filled
    notes = [str(line.get("note", "")) for line in brought.lines]
    notes += [note for plot in brought.plots.values() for note in plot.notes]
    text = "\n".join(notes)
    numbers = [value for line in brought.lines for value in line.values() if type(value) is float]
    for (_, row, column), entry in entered.items():
        assert entry.fate != "note" or entry.text in text, entry
        role = columns[column].role
        plain = number_like(cells[row][column]) if PLAIN.fullmatch(entry.text) else None
        if entry.fate == "understood" and BY_NAME.get(role) and BY_NAME[role].quantity and plain:
            if role in ("radius", "girth", "stem", "other_stems"):
                continue  # added up, or one of a list
            unit = columns[column].unit
            factor = unit.worth if BY_NAME[role].quantity == "length" and unit else 1.0
            assert any(number == pytest.approx(plain * factor) for number in numbers), entry


def bring_sheet(sheet: ForeignSheet) -> tuple[Brought, list[Column]]:
    table = find_table(sheet)
    assert table is not None
    columns = read_columns([table])
    decide_roles(columns, {})
    knowledge = find_out(columns, Answers("metric", "percent", "level", 1.6))
    kinds = [Kind([table], columns, knowledge)]
    return bring_lines(kinds, PlotNames(kinds), "metric"), columns


def test_a_plot_number_that_is_written_once_goes_on(tmp_path: Path) -> None:
    rows = [["Plot", "Tree", "Species", "Height (m)"]]
    rows += [["1" if tree == 1 else "", str(tree), "Acer rubrum", "9.5"] for tree in range(1, 6)]
    proposal, _ = propose(write_csv(tmp_path / "a.csv", rows), Answers())
    names = PlotNames(proposal.kinds)
    brought = bring_lines(proposal.kinds, names, proposal.units)
    assert {line["plot"] for line in brought.lines} == {1.0}
    assert "blank on 4 lines" in names.remarks[0]


def test_bands_and_prepared_lines(tmp_path: Path) -> None:
    """A band names the plot of the lines below it; a line with its numbers alone is no tree."""
    rows = [["Tree", "Species", "Height (m)"], ["Plot 4", "", ""], ["1", "Acer rubrum", "9.5"]]
    rows += [["2", "", ""], ["Plot 6", "", ""], ["1", "Acer rubrum", "12"]]
    proposal, _ = propose(write_csv(tmp_path / "a.csv", rows), Answers())
    brought = bring_lines(proposal.kinds, PlotNames(proposal.kinds), proposal.units)
    assert [(line["plot"], line["tip_reading"]) for line in brought.lines] == [
        (4.0, 9.5),
        (6.0, 12.0),
    ]
    assert brought.ledger.entries["a", 3, 0].fate == "left"
    assert brought.ledger.entries["a", 1, 0].fate == "understood"


def test_a_column_whose_values_do_not_fit_is_kept_with_the_reason(tmp_path: Path) -> None:
    rows = [["Tree", "Species", "DBH (cm)", "Height"]]
    rows += [[str(tree), "Acer rubrum", "20", "tall"] for tree in range(1, 5)]
    proposal, _ = propose(write_csv(tmp_path / "a.csv", rows), Answers())
    height = proposal.columns[3]
    assert height.role == "keep"
    assert height.because == "the heading says Total height, but its values do not fit"


def test_of_two_years_the_later_one_is_taken(tmp_path: Path) -> None:
    rows = [["Tree", "Species", "Height 2015 (m)", "Height 2020 (m)"]]
    rows += [[str(tree), "Acer rubrum", f"{tree + 8}", f"{tree + 9}"] for tree in range(1, 4)]
    proposal, _ = propose(write_csv(tmp_path / "a.csv", rows), Answers())
    brought = bring_lines(proposal.kinds, PlotNames(proposal.kinds), proposal.units)
    assert [line["tip_reading"] for line in brought.lines] == [10.0, 11.0, 12.0]
    assert brought.lines[0]["note"] == "Height 2015 (m): 9"


def test_two_columns_of_readings_are_two_set_ups(tmp_path: Path) -> None:
    rows = [["Plot", "Tree", "Species", "Dist 1 (m)", "Foot 1 (%)", "Tip 1 (%)"]]
    rows[0] += ["Dist 2 (m)", "Foot 2 (%)", "Tip 2 (%)", "Level distance"]
    rows += [["1", "5", "Acer rubrum", "20", "-8", "60", "25", "-6", "48", ""]]
    rows += [["1", "6", "Acer rubrum", "20", "-8", "62", "25", "", "", ""]]
    sheet = write_csv(tmp_path / "a.csv", rows)
    proposal, _ = propose(sheet, Answers(distance_kind="level"))
    brought = bring_lines(proposal.kinds, PlotNames(proposal.kinds), proposal.units)
    keys = ("tree", "setup", "distance", "foot_reading", "tip_reading")
    assert [tuple(line.get(key) for key in keys) for line in brought.lines] == [
        (5.0, None, 20.0, -8.0, 60.0),
        (5.0, 2.0, 25.0, -6.0, 48.0),
        (6.0, None, 20.0, -8.0, 62.0),
    ]
    # a distance without readings has no set-up: it is quoted, not dropped
    assert brought.lines[2]["note"] == "Dist 2 (m): 25"


def test_stems_in_columns_of_their_own(tmp_path: Path) -> None:
    rows = [["Tree", "Species", "DBH 1 (cm)", "DBH 2 (cm)", "DBH 3 (cm)", "Height (m)"]]
    rows += [["1", "Acer rubrum", "12", "19.5", "", "9"], ["2", "Acer rubrum", "30", "", "", "14"]]
    proposal, _ = propose(write_csv(tmp_path / "a.csv", rows), Answers())
    brought = bring_lines(proposal.kinds, PlotNames(proposal.kinds), proposal.units)
    assert [(line["diameter"], line.get("other_stems")) for line in brought.lines] == [
        (19.5, "12"),
        (30.0, None),
    ]


def test_date_and_crew_above_the_table_belong_to_its_plots(tmp_path: Path) -> None:
    rows = [["Plot 12", "", "", ""], ["Date:", "2024-05-03", "Observer", "KT"], ["", "", "", ""]]
    rows += [["Tree", "Species", "Height (m)", "Notes"], ["1", "Acer rubrum", "9.5", ""]]
    proposal, _ = propose(write_csv(tmp_path / "a.csv", rows), Answers())
    brought = bring_lines(proposal.kinds, PlotNames(proposal.kinds), proposal.units)
    [plot] = brought.plots.values()
    assert plot.name == 12.0
    assert str(plot.fact("date")) == "2024-05-03"
    assert plot.fact("crew") == "KT"
    assert {brought.ledger.entries["a", 1, at].fate for at in range(4)} == {"understood"}
    everything = [entry.text for entry in brought.ledger.entries.values()]
    assert len(everything) == sum(bool(cell) for row in rows for cell in row)


def test_what_only_a_workbook_has_is_read(tmp_path: Path) -> None:
    """Percent formats, dates, formulas without a result, hidden rows; also with macros allowed."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Tree", "Tip", "Date", "Height"], [1, 0.85, date(2024, 5, 3), "=1+1"], [2, 1.1]):
        sheet.append(row)
    sheet["B2"].number_format = sheet["B3"].number_format = "0%"
    sheet.row_dimensions[3].hidden = True
    book.save(tmp_path / "a.xlsm")
    [found] = read_foreign(tmp_path / "a.xlsm")
    assert found.rows[1][:3] == (1.0, "85 %", date(2024, 5, 3))
    assert found.rows[2][1] == "110 %"
    assert found.rows[1][3] == CellError("formula without a result")
    assert found.hidden == {2}
