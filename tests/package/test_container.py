"""Opening refuses what is no sound workbook; writing leaves untouched parts as they were."""

from __future__ import annotations

import io
import struct
import zipfile
from pathlib import Path

import pytest

from tests.package.books import parts_of, plain_parts, user_book, with_parts, zipped
from xlhelpers.errors import WorkbookError
from xlhelpers.package.zip.container import Package

COMPOUND = bytes.fromhex("D0CF11E0A1B11AE1") + b"\x00" * 600
BOOK = user_book()

WRONG_FILES = {
    "empty": (b"", "is empty"),
    "cut short": (BOOK[: len(BOOK) // 2], "is damaged (its end is missing)"),
    "csv": (b"plot,tree,height\n1,2,3\n", "plain text or CSV"),
    "csv of another program": ("plot;tree\n1;2\n".encode("utf-16"), "plain text or CSV"),
    "html": (b"<html><table><tr><td>1</td></tr></table></html>", "web page"),
    "old xls": (COMPOUND + "Workbook".encode("utf-16-le"), "old Excel file"),
    "encrypted": (COMPOUND + "EncryptedPackage".encode("utf-16-le"), "protected with a password"),
    "picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00", "is not a workbook"),
    "zip of photos": (zipped({"a.jpg": b"x"}), "ordinary zip file"),
    "open document": (zipped({"content.xml": b"<x/>", "mimetype": b"x"}), "OpenDocument"),
    "binary workbook": (zipped({"xl/workbook.bin": b"x"}), "binary workbook"),
    "letter": (zipped({"word/document.xml": b"<x/>"}), "text document"),
    "path upwards": (with_parts(BOOK, {"../evil.xml": b"<x/>"}), "a part has the name"),
    "absolute path": (with_parts(BOOK, {"/etc/evil.xml": b"<x/>"}), "a part has the name"),
    "drive": (with_parts(BOOK, {"C:\\evil.xml": b"<x/>"}), "a part has the name"),
    "two of one name": (with_parts(BOOK, {"xl/Workbook.xml": b"<x/>"}), "two parts have the name"),
    "entities": (
        with_parts(BOOK, {"xl/theme/theme1.xml": b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'}),
        "document type",
    ),
    "entities after a comment": (
        with_parts(BOOK, {"docProps/app.xml": b"<?xml version='1.0'?>\n<!-- --><!DOCTYPE a><a/>"}),
        "document type",
    ),
    "entities in UTF-16": (
        with_parts(BOOK, {"docProps/app.xml": "<!DOCTYPE a><a/>".encode("utf-16")}),
        "document type",
    ),
    "zip bomb": (with_parts(BOOK, {"xl/media/a.xml": b" " * 40_000_000}), "times as large"),
    "workbook part missing": (
        zipped({k: v for k, v in plain_parts("").items() if k != "xl/workbook.xml"}),
        "has no workbook inside",
    ),
    "workbook part damaged": (
        zipped({**plain_parts(""), "xl/workbook.xml": b"<workbook><sheets>"}),
        "is damaged",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG_FILES)
def test_a_wrong_file_is_refused(case: str, tmp_path: Path) -> None:
    content, expected = WRONG_FILES[case]
    path = tmp_path / "survey.xlsx"
    path.write_bytes(content)
    with pytest.raises(WorkbookError) as caught:
        Package.open(path)
    message = str(caught.value)
    assert expected in message
    assert message.endswith(".")
    assert "\n" not in message
    assert path.read_bytes() == content


def test_owner_files_missing_files_and_folders_are_refused(tmp_path: Path) -> None:
    (tmp_path / "~$survey.xlsx").write_bytes(b"\x05office")
    for name, expected in (
        ("~$survey.xlsx", r"lock file.*Give the name of the workbook\."),
        (".~lock.survey.xlsx#", r"lock file.*Give the name of the workbook\."),
        ("absent.xlsx", "Check the name"),
        (".", "is a folder"),
    ):
        with pytest.raises(WorkbookError, match=expected):
            Package.open(tmp_path / name)


def test_a_wrong_checksum_is_refused() -> None:
    infos = zipfile.ZipFile(io.BytesIO(BOOK)).infolist()
    info = next(item for item in infos if item.filename == "xl/theme/theme1.xml")
    start = info.header_offset + 30 + len(info.filename) + 40
    damaged = BOOK[:start] + bytes([BOOK[start] ^ 0xFF]) + BOOK[start + 1 :]
    with pytest.raises(WorkbookError, match=r"theme1\.xml"):
        Package.from_bytes(damaged)


def test_a_size_that_lies_is_refused() -> None:
    position = BOOK.index(b"PK\x01\x02")
    size = struct.unpack_from("<L", BOOK, position + 24)[0]
    lying = BOOK[: position + 24] + struct.pack("<L", size - 1) + BOOK[position + 28 :]
    with pytest.raises(WorkbookError, match="checksum"):
        Package.from_bytes(lying)


def test_nothing_changed_gives_the_same_bytes() -> None:
    package = Package.from_bytes(BOOK)
    assert package.changed() == ()
    package.replace("xl/workbook.xml", package.read("xl/workbook.xml"))
    package.remove("no/such/part.xml")
    assert package.changed() == ()
    assert package.to_bytes() == BOOK


def test_untouched_entries_are_copied_raw_and_in_order() -> None:
    package = Package.from_bytes(BOOK)
    package.replace("xl/workbook.xml", package.read("xl/workbook.xml") + b"<!-- x -->")
    package.replace("xl/new.xml", b"<x/>")
    package.remove("docProps/app.xml")
    assert package.changed() == ("docProps/app.xml", "xl/new.xml", "xl/workbook.xml")
    result = package.to_bytes()
    old = {item.filename: item for item in zipfile.ZipFile(io.BytesIO(BOOK)).infolist()}
    new = zipfile.ZipFile(io.BytesIO(result))
    assert new.testzip() is None
    expected = [name for name in old if name != "docProps/app.xml"] + ["xl/new.xml"]
    assert new.namelist() == expected
    for info in new.infolist():
        if info.filename in package.changed():
            continue
        before = old[info.filename]
        for field in ("date_time", "compress_type", "CRC", "compress_size", "external_attr",
                      "create_system", "extra", "comment"):  # fmt: skip
            assert getattr(info, field) == getattr(before, field), (info.filename, field)
        offsets = [item.header_offset + 30 + len(item.filename) for item in (before, info)]
        sizes = before.compress_size
        assert BOOK[offsets[0] : offsets[0] + sizes] == result[offsets[1] : offsets[1] + sizes]


def test_the_result_is_deterministic_and_takes_its_date_from_the_environment(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def made() -> bytes:
        package = Package.from_bytes(BOOK)
        package.replace("xl/new.xml", b"<x/>")
        return package.to_bytes()

    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    first = made()
    assert first == made()
    assert zipfile.ZipFile(io.BytesIO(first)).getinfo("xl/new.xml").date_time[0] == 1980
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    dated = zipfile.ZipFile(io.BytesIO(made())).getinfo("xl/new.xml").date_time
    assert dated == (2023, 11, 14, 22, 13, 20)


def test_part_names_ignore_case_and_backslashes() -> None:
    parts = {name.replace("/", "\\"): content for name, content in plain_parts("").items()}
    package = Package.from_bytes(zipped(parts))
    assert package.read("XL/Workbook.XML").startswith(b"<workbook")
    package.replace("xl/workbook.xml", package.read("xl/workbook.xml") + b"\n")
    names = zipfile.ZipFile(io.BytesIO(package.to_bytes())).namelist()
    assert "xl\\workbook.xml" in names
    assert "xl/workbook.xml" not in names


def test_entries_with_trailing_sizes_are_copied() -> None:
    class Pipe(io.BytesIO):
        def seekable(self) -> bool:
            return False

        def tell(self) -> int:
            raise io.UnsupportedOperation

    stream = Pipe()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in plain_parts("").items():
            archive.writestr(name, content)
    data = stream.getvalue()
    assert zipfile.ZipFile(io.BytesIO(data)).infolist()[0].flag_bits & 8
    package = Package.from_bytes(data)
    package.replace("xl/new.xml", b"<x/>")
    result = parts_of(package.to_bytes())
    assert result == {**parts_of(data), "xl/new.xml": b"<x/>"}
