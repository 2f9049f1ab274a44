"""What the paper says is read as its cell reads it, and written so that formulas can use it.

Conversions: 1 ft = 0.3048 m and 1 in = 2.54 cm exactly (NIST Special Publication 811, 2008).
"""

import math
from typing import Any

import pytest

from tests.reading.make_grids import ISO_DATE, PERCENT, make_grid
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Field
from xlhelpers.reading.cells import FEET_TAPE, Settings
from xlhelpers.reading.finding_cells import FindingCell, FindingCells
from xlhelpers.reading.paper_entries import RefusedEntry, is_there, parts_of, understand

METRIC = Settings()
FEET = Settings("us")


def cell_of(field: Field, name: str = "") -> FindingCell:
    return FindingCell(field, "Field sheet", 1, 1, name or field.label)


def written(field: Field, typed: str, settings: Settings = METRIC, style: int = 0) -> Any:
    grid = make_grid([[None]], styles={(1, 1): style})
    return understand(cell_of(field), typed, grid, settings).value


@pytest.mark.parametrize(
    ("name", "typed", "settings", "value"),
    [
        ("distance", "15.9", METRIC, 15.9),
        ("distance", "15,9", METRIC, 15.9),
        ("distance", "15.9 m", METRIC, 15.9),
        ("distance", "50 ft", METRIC, 50 * 0.3048),
        ("distance", "10 m", FEET, 10 / 0.3048),
        ("distance", "30'6\"", METRIC, 30.5 * 0.3048),
        ("distance", "NO ACCESS: fence", METRIC, "NO ACCESS: fence"),
        ("distance", "?", METRIC, "?"),
        ("diameter", "25 in", METRIC, 25 * 2.54),
        ("diameter", "63.1", Settings(girth=True), 63.1),
        ("tip_reading", "70", METRIC, 70.0),
        ("foot_reading", "\N{MINUS SIGN}6", METRIC, -6.0),
        # a unit behind a reading says which scale was read, so it stays
        ("tip_reading", "35°", METRIC, "35°"),
        # feet with inches stay as the tape shows them
        ("distance", "30'6\"", Settings("us", tape=FEET_TAPE), "30'6\""),
        ("distance", "30.5", Settings("us", tape=FEET_TAPE), 30.5),
        ("condition", "dead top", METRIC, "T"),
        ("condition", "d", METRIC, "D"),
        ("tree", "12", METRIC, 12.0),
        ("tree", "012", METRIC, "012"),
        ("tree", "12b", METRIC, "12b"),
        ("other_stems", "24 18 9", METRIC, "24 18 9"),
        ("foot_above_eye", "x", METRIC, "x"),
        ("species", "Quercus robur", METRIC, "Quercus robur"),
    ],
)
def test_what_is_written(name: str, typed: str, settings: Settings, value: Any) -> None:
    found = written(FIELD_SHEET[name], typed, settings)
    if isinstance(value, float):
        assert isinstance(found, float)
        assert math.isclose(found, value, rel_tol=1e-11)
    else:
        assert found == value


def test_a_day_is_written_as_the_cell_shows_days() -> None:
    day = PLOTS["date"]
    # 4 May 2026 is day 46146: 2026-01-01 is day 46023 in every spreadsheet that counts from 1900
    assert written(day, "2026-05-04", style=ISO_DATE) == 46146.0
    assert written(day, "2026-05-04") == "2026-05-04"


@pytest.mark.parametrize(
    ("name", "typed", "why"),
    [
        ("distance", "159,00,0", "Distance is “159,00,0”"),
        ("distance", "4000", "It must be from 0.5 to 300 m"),
        ("distance", "-13", "It must be from"),
        ("tip_reading", "7o", "You probably meant 70"),
        ("tip_reading", "2026-04-03", "You probably typed 3-4 or 4-3"),
        ("tree", "2026-04-03", "You probably typed 3-4 or 4-3"),
        ("condition", "poor", "not on the list"),
        ("foot_above_eye", "perhaps", "It should be x, or blank"),
        ("setup", "1.5", "It must be a whole number"),
        ("distance", "=4*4", "this is a formula"),
        ("distance", "   ", "no value"),
    ],
)
def test_what_is_refused(name: str, typed: str, why: str) -> None:
    with pytest.raises(RefusedEntry, match=r"^Not entered") as refused:
        written(FIELD_SHEET[name], typed)
    assert why in str(refused.value)


@pytest.mark.parametrize("style", [PERCENT, ISO_DATE])
def test_a_cell_whose_format_changes_the_value_is_left(style: int) -> None:
    with pytest.raises(RefusedEntry, match="the format of A1 would change the value"):
        written(FIELD_SHEET["tip_reading"], "70", style=style)


@pytest.mark.parametrize(
    ("held", "typed", "same"),
    [(70.0, "70", True), ("70", "70", True), (70.0, "71", False), ("7o", "70", False)],
)
def test_a_value_that_is_there_already(held: Any, typed: str, same: bool) -> None:
    grid = make_grid([[held]])
    entry = understand(cell_of(FIELD_SHEET["tip_reading"]), typed, grid, METRIC)
    assert is_there(entry, grid, METRIC) is same


BASE = FindingCell(FIELD_SHEET["base_reading"], "Field sheet", 12, 11, "Crown base reading")
POLE = FindingCell(FIELD_SHEET["base_by_pole"], "Field sheet", 12, 22, "Crown base by pole or tape")
TIP = FindingCell(FIELD_SHEET["tip_reading"], "Field sheet", 12, 13, "Tip reading")
FIRST = FindingCell(FIELD_SHEET["tip_reading"], "Field sheet", 5, 13, "Set‑up 1 Tip reading")
SECOND = FindingCell(FIELD_SHEET["tip_reading"], "Field sheet", 9, 13, "Set‑up 2 Tip reading")
THREE = FindingCells((BASE, POLE, TIP))
SETUPS = FindingCells((FIRST, SECOND))


@pytest.mark.parametrize(
    ("cells", "name", "cell"),
    [
        (THREE, "Tip reading", TIP),
        (THREE, "TIP", TIP),
        (THREE, "M12", TIP),
        (THREE, "$M$12", TIP),
        (THREE, "pole", POLE),
        (THREE, "crown base reading", BASE),
        (THREE, "base", None),  # in two names
        (THREE, "reading", None),
        (THREE, "M13", None),  # the cell of another line
        (THREE, "distance", None),
        (THREE, "", None),
        (SETUPS, "tip 2", SECOND),
        (SETUPS, "set-up 1", FIRST),
        (SETUPS, "tip", None),
    ],
)
def test_which_cell_a_name_means(cells: FindingCells, name: str, cell: FindingCell | None) -> None:
    assert cells.find(name) == cell


@pytest.mark.parametrize(
    ("typed", "shown", "own", "parts"),
    [
        ("70", "", TIP, [(TIP, "70")]),
        # whoever typed went by the row, not by what is likeliest now
        ("70", "Crown base reading: 50\n(name the cell) Tip reading: 5", TIP, [(BASE, "70")]),
        ("tip: 70", "", None, [(TIP, "70")]),
        ("tip = 70; pole = 3", "", None, [(TIP, "70"), (POLE, "3")]),
        ("tip: 70\nM12: 3", "", None, [(TIP, "70"), (TIP, "3")]),
        ("NOT SEEN: fog", "", TIP, [(TIP, "NOT SEEN: fog")]),
        ("24; 18; 9", "", TIP, [(TIP, "24; 18; 9")]),
    ],
)
def test_parts_of_an_entry(
    typed: str, shown: str, own: FindingCell | None, parts: list[tuple[FindingCell, str]]
) -> None:
    assert parts_of(typed, FindingCells(THREE.cells, own), shown) == parts


@pytest.mark.parametrize(
    ("typed", "shown", "own"),
    [
        ("70", "", None),
        ("tip: 70; 3", "", TIP),
        ("tip: 70; nothing: 3", "", TIP),
        ("70", "(name the cell) Crown base reading: 50; Tip reading: 5", TIP),
    ],
)
def test_an_entry_that_does_not_say_its_cell(
    typed: str, shown: str, own: FindingCell | None
) -> None:
    with pytest.raises(RefusedEntry, match="type the name of the cell before the value"):
        parts_of(typed, FindingCells(THREE.cells, own), shown)


def test_a_finding_without_a_cell_takes_no_entry() -> None:
    with pytest.raises(RefusedEntry, match="not about one cell"):
        parts_of("70", FindingCells())
