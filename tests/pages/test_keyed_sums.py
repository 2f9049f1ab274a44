"""The numbers by which a change of what is keyed is seen, against LibreOffice's own."""

import random
from pathlib import Path

import numpy as np
import openpyxl
import pytest
import xlsxwriter

from tests.conftest import Converter
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.pages.change_watch import (
    ERROR,
    KeyedColumn,
    count_formula,
    sums_of,
    text_code,
    total_formula,
    weighted_formula,
)

COLUMNS: dict[str, list[object]] = {
    "numbers": [1.5, -2.25, None, 0.0, 1e6, 3.1],
    "texts": ["Quercus robur", "T", "D", "", "12,5", "ä", "NOT SAFE", "  x", "¿", "ab"],
    "mixed": [12.5, "12,5", None, "?", 7.0, "A&B <c> 'd' \"e\""],
    "error": [1.0, CellError("#N/A"), "a", 3.0],
    "blank": [None, None],
    "beyond every number": [1e308, 2.0, 1e308, 3.0],
    "large": [4e306, 4e306, 1.5, None],
    "true": [True, 2.0, False, "x"],
}


def array(cells: list[object]) -> np.ndarray:
    found = np.empty(len(cells), dtype=object)
    found[:] = cells
    return found


def random_column(seed: int) -> list[object]:
    rng = random.Random(seed)
    letters = "abcXYZ 0189.,-+?/é'\""
    kinds = (
        lambda: None,
        lambda: round(rng.uniform(-90, 900), 2),
        lambda: "".join(rng.choice(letters) for _ in range(rng.randint(1, 30))),
    )
    return [rng.choice(kinds)() for _ in range(400)]


def test_formulas_give_the_numbers_of_numpy(tmp_path: Path, soffice: Converter) -> None:
    columns = COLUMNS | {f"random {seed}": random_column(seed) for seed in range(4)}
    path = tmp_path / "sums.xlsx"
    with xlsxwriter.Workbook(path, {"strings_to_formulas": False}) as book:
        keyed, sums = book.add_worksheet("Keyed, north"), book.add_worksheet("Sums")
        for at, cells in enumerate(columns.values()):
            for row, value in enumerate(cells, 2):
                if isinstance(value, CellError):
                    keyed.write_formula(row, at, "=NA()", None, value.code)
                elif isinstance(value, bool):
                    keyed.write_boolean(row, at, value)
                elif isinstance(value, float):
                    keyed.write_number(row, at, value)
                elif isinstance(value, str) and value:
                    keyed.write_string(row, at, value)
            area = KeyedColumn("Keyed, north", "", at + 1, 3, 1500, 0, 0, 0).area
            for column, formula in enumerate((count_formula, total_formula, weighted_formula)):
                sums.write_formula(at, column, f"={formula(area)}")
    found = openpyxl.load_workbook(soffice(path, recalculate=True), data_only=True)["Sums"]
    for row, (name, cells) in enumerate(columns.items(), 1):
        # a cell with an empty text is one without anything in a file
        expected = sums_of(array([None if value == "" else value for value in cells]))
        calculated = [found.cell(row, column).value for column in (1, 2, 3)]
        assert calculated[0] == expected[0], name
        assert calculated[1] == pytest.approx(expected[1], abs=expected[3], rel=0), name
        if expected[2] == ERROR:
            assert calculated[2] == ERROR
        else:
            assert calculated[2] == pytest.approx(expected[2], abs=expected[4], rel=0), name


def differs(one: list[object], other: list[object]) -> bool:
    a, b = sums_of(array(one)), sums_of(array(other))
    if ERROR in (a[2], b[2]):
        return a[:3] != b[:3]
    return (
        a[0] != b[0]
        or abs(a[1] - b[1]) > a[3]
        or abs(float(a[2]) - float(b[2])) > a[4]
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(5))
def test_a_changed_cell_and_two_that_change_places_are_seen(seed: int) -> None:
    cells, rng = random_column(seed), random.Random(seed)
    assert not differs(cells, list(cells))
    for _ in range(60):
        at, other = rng.randrange(len(cells)), rng.randrange(len(cells))
        if cells[at] != cells[other]:
            swapped = list(cells)
            swapped[at], swapped[other] = swapped[other], swapped[at]
            assert differs(cells, swapped)
        for new in (None, 3.25, "NOT SAFE"):
            if cells[at] != new:
                assert differs(cells, [*cells[:at], new, *cells[at + 1 :]])


@pytest.mark.parametrize(
    ("one", "other"),
    [("T", "D"), ("12,5", "12,6"), ("1", "2"), ("oak", "ash"), ("Plot 19", "Plot 20"), ("a", "A")],
)
def test_texts_of_one_length_are_told_apart(one: str, other: str) -> None:
    assert text_code(one) != text_code(other)


def test_twenty_thousand_numbers_show_a_tenth_anywhere() -> None:
    numbers = np.random.default_rng(7).uniform(-9, 90, 20_000).round(1)
    cells = list(numbers)
    for at in (0, 9_999, 19_999):
        changed = list(cells)
        changed[at] = float(np.round(changed[at] + 0.1, 1))
        assert differs(cells, changed)
    swapped = [float(v) for v in cells]
    near = next(at for at in range(19_000, 19_900) if abs(cells[at] - cells[at + 1]) > 0.05)
    swapped[near], swapped[near + 1] = swapped[near + 1], swapped[near]
    assert differs([float(v) for v in cells], swapped)
    backwards = sum(sorted(cells))
    assert abs(backwards - sums_of(array([float(v) for v in cells]))[1]) < 1e-6
