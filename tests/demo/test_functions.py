"""The two workbooks that show the functions, and the same without Python."""

from collections.abc import Callable
from pathlib import Path

import make_functions
import openpyxl
import pytest

from xlhelpers.doors.excel import functions

FOLDER = Path(make_functions.__file__).parent
KINDS = tuple(make_functions.NOTES)
ROWS = range(make_functions.FIRST, make_functions.FIRST + len(make_functions.TREES))


def cells(path: Path, *, values: bool, tab: int = 0) -> dict[str, object]:
    """What is in the cells of a tab, the first unless stated."""
    sheet = openpyxl.load_workbook(path, data_only=values).worksheets[tab]
    found = (c for row in sheet.iter_rows() for c in row if c.value is not None)
    return {c.coordinate: getattr(c.value, "text", c.value) for c in found}


@pytest.mark.parametrize("kind", KINDS)
def test_the_stored_workbooks_are_those_of_the_script(kind: str, tmp_path: Path) -> None:
    assert make_functions.main(["--out", str(tmp_path)]) == 0
    stored, made = FOLDER / f"{kind}.xlsx", tmp_path / f"{kind}.xlsx"
    for tab in range(2 if kind == "functions" else 1):
        for values in (False, True):
            there = cells(stored, values=values, tab=tab)
            assert there == cells(made, values=values, tab=tab)


def test_the_first_tab_has_one_call_for_many_rows() -> None:
    """Each column is an array formula over all rows, with the results of the single cells."""
    book = openpyxl.load_workbook(FOLDER / "functions.xlsx")
    assert book.sheetnames == [make_functions.WHOLE, make_functions.SINGLE]
    at = make_functions.letters()
    for result in make_functions.RESULTS:
        formula = book.worksheets[0][f"{at[result.name]}{ROWS[0]}"].value
        assert formula.ref == f"{at[result.name]}{ROWS[0]}:{at[result.name]}{ROWS[-1]}"
        assert formula.text.count(f"{ROWS[0]}:") >= 1
    whole, single = (cells(FOLDER / "functions.xlsx", values=True, tab=tab) for tab in (0, 1))
    for name in (f"{at[result.name]}{row}" for result in make_functions.RESULTS for row in ROWS):
        value = whole.get(name, "")
        same = single.get(name, "")
        assert value == (same if isinstance(same, str) else pytest.approx(same, rel=1e-12))


def test_the_stored_results_are_those_of_the_functions() -> None:
    shown = cells(FOLDER / "functions.xlsx", values=True, tab=1)
    at = make_functions.letters()
    for row, tree in zip(ROWS, make_functions.TREES, strict=True):
        for name, value in make_functions.results_of(tree).items():
            assert shown.get(f"{at[name]}{row}", "") == value


def test_the_formulas_call_functions_that_exist() -> None:
    formulas = cells(FOLDER / "functions.xlsx", values=False)
    at = make_functions.letters()
    for result in make_functions.RESULTS:
        text = str(formulas[f"{at[result.name]}{ROWS[0]}"])
        assert text[1:].partition("(")[0] in functions.__all__


@pytest.mark.libreoffice
def test_plain_formulas_give_what_the_functions_give(soffice: Callable[..., Path]) -> None:
    recalculated = soffice(FOLDER / "native_formulas.xlsx", recalculate=True)
    given, expected = (
        cells(path, values=True) for path in (recalculated, FOLDER / "functions.xlsx")
    )
    at = make_functions.letters()
    count = 0
    for result in make_functions.RESULTS:
        for row in ROWS:
            value = expected.get(f"{at[result.name]}{row}", "")
            found = given.get(f"{at[result.name]}{row}", "")
            if isinstance(value, str):
                assert found == "text, not a number"
            else:
                assert found == pytest.approx(value, rel=1e-12)
                count += 1
    assert count > 70
