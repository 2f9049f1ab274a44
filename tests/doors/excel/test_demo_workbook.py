"""The formulas of the demo workbook `functions.xlsx` through the engine of xlwings, both routes.

The same workbook is calculated by LibreOffice in `tests/doors/libreoffice`.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import openpyxl
import pytest

pytest.importorskip("xlwings")

ENGINE = Path(__file__).with_name("engine.py")
BOOK = Path(__file__).parents[3] / "demo_workbooks" / "functions.xlsx"
RESULTS = "M7:U16"


def calls() -> tuple[list[list[Any]], list[Any]]:
    """The call of each formula with the stored contents of its cells, and the stored results."""
    values = openpyxl.load_workbook(BOOK, data_only=True)["Trees"]
    asked, stored = [], []
    for cell in (cell for row in openpyxl.load_workbook(BOOK)["Trees"][RESULTS] for cell in row):
        name, _, rest = str(cell.value)[1:].partition("(")
        given = []
        for text in rest.rstrip(")").split(","):
            if text.startswith('"'):
                given.append([[text.strip('"')]])
            else:
                given.append([[float(text)]] if text[0].isdigit() else [[values[text].value]])
        asked.append([name, given])
        stored.append(values[cell.coordinate].value)
    return asked, stored


@pytest.mark.parametrize("route", ["inside", "classic"])
def test_each_formula_gives_the_stored_result(route: str) -> None:
    asked, stored = calls()
    done = subprocess.run(
        [sys.executable, str(ENGINE), route, "xlhelpers.doors.excel.udfs"],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout.splitlines()[-1])
    assert len(found) == len(stored) == 90
    for ((answer,),), value in zip(found, stored, strict=True):
        expected = "" if value is None else value
        assert answer == (expected if isinstance(expected, str) else pytest.approx(value, rel=1e-9))
