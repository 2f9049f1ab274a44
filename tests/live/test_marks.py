"""The cells that a first warning means are marked, by a sign as well as by a colour."""

import html
import io
import re
import zipfile
from typing import Any

import openpyxl
import pytest

from tests.blank_books import blank
from tests.jobs.books import GOOD as SOUND
from xlhelpers.fields.field_sheet import FIELD_SHEET, MAIN
from xlhelpers.live import warnings
from xlhelpers.live.evaluate import RULE_CELLS, live_values, lookup_values
from xlhelpers.live.formulas import NOW
from xlhelpers.live.functions import evaluate
from xlhelpers.live.lookups import KEYED, cells_name
from xlhelpers.live.marks import MARKED, mark_condition
from xlhelpers.live.syntax import render
from xlhelpers.live.values import cell_values

GOOD: dict[str, Any] = {**SOUND, "tree": "1"}
KEYED_CELLS: dict[str, Any] = {
    "xlh_cells_plot_plot": "1",
    "xlh_cells_plot_scale": "percent",
    "xlh_cells_plot_instrument": "C1",
    "xlh_cells_plot_crew": "AB",
    "xlh_cells_instrument_instrument": "C1",
    "xlh_cells_person_initials": "AB",
    "xlh_cells_instrument_kind": "clinometer, percent and degrees",
    "xlh_cells_person_eye_height": 1.5,
}


def marked(line: dict[str, Any]) -> tuple[str, set[str]]:
    """The first warning of a line and the fields whose cells are marked."""
    names = {cells_name(sheet, name): cell_values([None]) for sheet, name in KEYED}
    names |= {name: cell_values([None]) for name in RULE_CELLS}
    names |= {name: cell_values([value]) for name, value in KEYED_CELLS.items()}
    names = lookup_values(names, "metric")
    typed = GOOD | line
    cells = {name: cell_values([typed.get(name)]) for name in NOW.cells}
    cells |= live_values(cells, names)
    warning = cells["live_warning"].python(1)[0]
    found = {
        name for name in MARKED if evaluate(mark_condition(name), cells, names).python(1)[0] is True
    }
    return warning, found


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ({}, set()),
        ({"distance": "18,4"}, set()),
        ({"distance": "18.4 ells"}, {"distance"}),
        ({"distance": "18 metres", "missing_because": "NOT SEEN"}, {"distance"}),
        ({"diameter": "abc", "base_reading": "NOT SEEN"}, {"diameter"}),
        ({"diameter": 5000.0}, {"diameter"}),
        ({"foot_reading": 6.0}, {"foot_reading"}),
        ({"foot_reading": -2.0}, {"foot_reading"}),
        ({"foot_reading": None}, {"foot_reading"}),
        ({"tip_reading": None}, {"tip_reading"}),
        ({"tip_reading": 0.7}, {"tip_reading"}),
        ({"base_reading": 0.12}, {"base_reading"}),
        ({"base_reading": 80.0}, {"base_reading"}),
        ({"distance": None}, {"distance"}),
        ({"distance": 2.0}, {"distance"}),
        ({"plot": "9"}, {"plot"}),
        ({"tree": None}, {"tree"}),
        ({"condition": "X"}, {"condition"}),
        ({"condition": "T"}, {"top_reading"}),
        ({"scale": "degrees", "tip_reading": 95.0}, {"tip_reading"}),
        ({"tip_offset": "1,5 m"}, {"tip_offset"}),
    ],
)
def test_the_cell_that_is_meant_is_marked(line: dict[str, Any], cells: set[str]) -> None:
    warning, found = marked(line)
    assert found == cells
    assert bool(warning) == bool(cells)


def test_every_warning_but_of_words_that_fill_reads_marks_a_cell() -> None:
    means = " ".join(mark_condition(name) for name in MARKED)
    for name, words in vars(warnings).items():
        if name.isupper() and isinstance(words, str) and words in warnings.FORMER:
            assert f'"{words}"' in means, name


def rules_of(sheet: str) -> list[tuple[list[str], str, str]]:
    """The columns, the look and the formula of each rule for the look of cells."""
    rules = re.findall(r'<conditionalFormatting sqref="([^"]+)"><cfRule [^>]*dxfId="(\d+)"[^>]*>'
                       r"<formula>(.*?)</formula>", sheet)  # fmt: skip
    return [(re.findall(r"([A-Z]+)6:", areas), look, formula) for areas, look, formula in rules]


def test_few_rules_mark_the_cells_each_by_the_condition_of_its_column() -> None:
    with zipfile.ZipFile(io.BytesIO(blank())) as parts:
        rules = rules_of(parts.read("xl/worksheets/sheet2.xml").decode())
    letters = {field.name: openpyxl.utils.get_column_letter(at)
               for at, field in enumerate(FIELD_SHEET.fields, 1)}  # fmt: skip
    fixed = {name: f"${letter}" for name, letter in letters.items()}
    # each rule is told of each warning that changes
    assert len(rules) <= 3
    for columns, _, formula in rules[:-1]:
        # the most signs of a formula: Microsoft, Excel specifications and limits
        assert len(html.unescape(formula)) <= 8192
        for name in MARKED:
            of_column = f"IF(COLUMN()=COLUMN(${letters[name]}6),"
            condition = render(mark_condition(name), fixed, 6)
            is_there = of_column + condition in html.unescape(formula)
            assert is_there == (letters[name] in columns), name


def test_a_sign_stands_beside_the_colour() -> None:
    with zipfile.ZipFile(io.BytesIO(blank())) as parts:
        sheet = parts.read("xl/worksheets/sheet2.xml").decode()
        styles = parts.read("xl/styles.xml").decode()
    looks = re.findall(r"<dxf>.*?</dxf>", styles)
    rules = [(column, look) for columns, look, _ in rules_of(sheet) for column in columns]
    letters = {openpyxl.utils.get_column_letter(at): field.name
               for at, field in enumerate(FIELD_SHEET.fields, 1)}  # fmt: skip
    assert {letters[column] for column, _ in rules} == {*MARKED, "live_warning"}
    for column, look in rules:
        assert "<border>" in looks[int(look)]
        assert "<b/>" in looks[int(look)]
        if letters[column] != "live_warning":
            assert "►" in looks[int(look)]


def test_the_first_warning_stands_beside_the_readings() -> None:
    names = [field.name for field in FIELD_SHEET.fields]
    assert names.index("live_warning") == len(MAIN)
    assert names[len(MAIN) - 1] == "tip_reading"


@pytest.mark.parametrize(
    ("tick", "ticked"),
    [(True, True), (False, False), ("x", True), ("no", False), ("FALSE", False), (None, False)],
)
def test_a_truth_value_is_known_by_its_type(tick: object, ticked: bool) -> None:
    # in a German or French workbook the cell shows FALSCH or FAUX, which no formula compares
    line = {"foot_above_eye": tick, "foot_reading": 1.0}
    warning, _ = marked(line)
    assert (warning != warnings.SIGN) == ticked
    assert "ISLOGICAL({foot_above_eye})" in NOW.formulas["live_warning"]
