"""Tables handed in beside a workbook: CSV as programs write it, and workbooks."""

from pathlib import Path

import openpyxl
import pytest

from xlhelpers.errors import WorkbookError
from xlhelpers.reading.list_table import read_list

ROWS = (("1", "Nördlich", "1.5"), ("2", "Süd", ""))


@pytest.mark.parametrize("sign", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_lists_as_programs_write_them(tmp_path: Path, sign: str, encoding: str) -> None:
    lines = [sign.join(row) for row in (("Plot", " Stratum ", "x"), *ROWS)]
    path = tmp_path / "places.csv"
    path.write_bytes("\r\n".join([lines[0], "", *lines[1:], ""]).encode(encoding))
    table = read_list(path)
    assert table.headings == ("Plot", "Stratum", "x")
    assert table.rows == ROWS
    assert table.lines == (3, 4)
    assert table.find({"stratum": ("part", "STRATUM"), "cost": ("cost",)}) == {"stratum": 1}


def test_workbooks_give_numbers_as_they_show_them(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append([])
    sheet = book.create_sheet("Places")
    sheet.append(["Plot", "Variation", "x"])
    sheet.append([7, 0.45, 12.25])
    sheet["B2"].number_format = "0%"
    book.save(tmp_path / "places.xlsx")
    table = read_list(tmp_path / "places.xlsx")
    assert table.rows == (("7", "45 %", "12.25"),)


@pytest.mark.parametrize(
    ("name", "data"),
    [("none.csv", None), ("empty.csv", b""), ("headings.csv", b"Plot\n"), ("none.xlsx", None),
     ("broken.xlsx", b"not a workbook"), ("old.xls", b"x")],
)  # fmt: skip
def test_what_is_no_list_is_said(tmp_path: Path, name: str, data: bytes | None) -> None:
    path = tmp_path / name
    if data is not None:
        path.write_bytes(data)
    with pytest.raises(WorkbookError):
        read_list(path)
