"""Whether a file may be filled is said in one sentence before it is opened."""

import os
from pathlib import Path

import pytest

from xlhelpers.errors import WorkbookError
from xlhelpers.reading import refusals


def refusal(check, *args):
    with pytest.raises(WorkbookError) as caught:
        check(*args)
    return str(caught.value)


@pytest.mark.parametrize(
    ("name", "starts"),
    [
        ("~$Town.xlsx", "~$Town.xlsx is a lock file, not a workbook"),
        (".~lock.Town.xlsx#", ".~lock.Town.xlsx# is a lock file, not a workbook"),
        ("Town.xls", "Town.xls is an old Excel file (.xls). Open it in your spreadsheet program"),
        ("Town.XLS", "Town.XLS is an old Excel file"),
        ("Town.ods", "Town.ods is an OpenDocument file (.ods)"),
        ("Town.csv", "Town.csv is a list (.csv)"),
        ("Town.xlsb", "Town.xlsb is a binary Excel file"),
        ("Town.pdf", "Town.pdf is a PDF"),
        ("Town.html", "Town.html is a web page (.html), not a workbook. Give the name of"),
        ("note.txt", "note.txt is a text file (.txt), not a workbook. Give the name of"),
        ("Town.zip", "Town.zip is a zip file (.zip). Unpack it and give the name of the workbook"),
        ("Town", "Town does not end in .xlsx or .xlsm"),
        ("Town.bak", "Town.bak does not end in .xlsx or .xlsm"),
    ],
)
def test_wrong_names(tmp_path, name, starts):
    path = tmp_path / name
    path.write_bytes(b"something")
    message = refusal(refusals.refuse_unreadable, path)
    assert message.startswith(starts)
    assert message.endswith(".")
    assert path.read_bytes() == b"something"


def test_a_folder(tmp_path):
    folder = tmp_path / "Town.xlsx"
    folder.mkdir()
    message = refusal(refusals.refuse_unreadable, folder)
    assert message == "Town.xlsx is a folder. Give the name of the workbook in it."


def test_a_missing_file_with_the_likely_name(tmp_path):
    (tmp_path / "Alder Town 2026.xlsx").write_bytes(b"")
    (tmp_path / "~$Alder Town 2025.xlsx").write_bytes(b"")
    message = refusal(refusals.refuse_unreadable, tmp_path / "alder town 2062.xlsx")
    assert message.endswith(". Did you mean Alder Town 2026.xlsx?")
    message = refusal(refusals.refuse_unreadable, tmp_path / "Other.xlsx")
    assert message.endswith(". Check the name.")
    # the ending makes no two names alike
    (tmp_path / "abc.xlsx").write_bytes(b"")
    message = refusal(refusals.refuse_unreadable, tmp_path / "xyz.xlsx")
    assert message.endswith(". Check the name.")
    message = refusal(refusals.refuse_unreadable, tmp_path / "gone" / "Town.xlsx")
    assert "The folder" in message
    assert message.endswith("does not exist.")


@pytest.mark.parametrize("name", ["Town.xlsx", "Town.xlsm", "TOWN.XLSX"])
def test_a_workbook_by_its_name(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(b"")
    refusals.refuse_unreadable(path)
    refusals.refuse_unfillable(path)


@pytest.mark.parametrize(
    ("marker", "content", "whom"),
    [
        ("~$Town.xlsx", b"\x03Ann" + b" " * 50, " (by Ann)"),
        (".~lock.Town.xlsx#", b"Ann,host,somebody,2026;", " (by Ann)"),
        ("~$wn.xlsx", b"", ""),
    ],
)
def test_open_elsewhere(tmp_path, marker, content, whom):
    path = tmp_path / "Town.xlsx"
    path.write_bytes(b"")
    (tmp_path / marker).write_bytes(content)
    assert refusal(refusals.refuse_unfillable, path) == (
        f"Town.xlsx is open in another program{whom}. Save and close it there, then fill again. "
        f"Not open anywhere? Delete {marker} in the same folder."
    )
    refusals.refuse_unreadable(path)


def test_a_read_only_folder_and_file(tmp_path, monkeypatch):
    path = tmp_path / "Town.xlsx"
    path.write_bytes(b"")
    # whoever runs the tests as root may write everywhere, so the answer of the system is set here
    monkeypatch.setattr(os, "access", lambda place, mode: str(place) != str(tmp_path))
    message = refusal(refusals.refuse_unfillable, path)
    assert message == (
        f"Town.xlsx cannot be written. The folder {tmp_path} is read-only. Copy the "
        "workbook to a folder of your own, then fill again."
    )
    monkeypatch.setattr(os, "access", lambda place, mode: str(place) != str(path))
    message = refusal(refusals.refuse_unfillable, path, "check")
    assert message.startswith("Town.xlsx is read-only. Make it writable")
    assert message.endswith("then check again.")


def test_a_missing_folder(tmp_path):
    message = refusal(refusals.refuse_unwritable_folder, tmp_path / "out", "Town.xlsx")
    assert "The folder" in message
    assert message.endswith("does not exist.")


def test_a_missing_file_in_the_folder_one_is_in(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert refusal(refusals.refuse_unreadable, Path("Town.xlsx")) == (
        "Town.xlsx is not in this folder. Check the name."
    )
