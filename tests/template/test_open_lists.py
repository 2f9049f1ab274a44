"""Drop-downs of names end with the last name, and grow with each that is added."""

import io
from pathlib import Path

import openpyxl
import pytest

from tests.blank_books import blank
from tests.conftest import Converter
from xlhelpers.fields.species import species_list

LISTS = ("person", "instrument", "stratum", "species")


# as typed on each sheet, a gap and a number among them
TYPED: dict[str, tuple[object, ...]] = {
    "Strata": (),
    "Instruments": ("C1",),
    "People": ("AB", None, "CD", 7),
}


@pytest.mark.slow
@pytest.mark.libreoffice
def test_a_list_ends_with_the_last_name(tmp_path: Path, soffice: Converter) -> None:
    book = openpyxl.load_workbook(io.BytesIO(blank()))
    for tab, names in TYPED.items():
        for row, name in enumerate(names, 6):
            book[tab].cell(row, 1).value = name
    for row, name in enumerate(LISTS, 1):
        book["Guide"].cell(row, 20).value = f"=ROWS(xlh_list_{name})"
    book.save(tmp_path / "names.xlsx")
    shown = openpyxl.load_workbook(
        soffice(tmp_path / "names.xlsx", recalculate=True), data_only=True
    )["Guide"]
    rows = dict(zip(LISTS, (shown.cell(row, 20).value for row in range(1, 5)), strict=True))
    # a drop-down has at least one row
    assert rows == {"person": 4, "instrument": 1, "stratum": 1, "species": len(species_list())}
