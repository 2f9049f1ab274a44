"""The list of references of a workbook's macros, in the compressed form of the file format.

The compressed container is example 3.2.2, "Normal compression", of [MS-OVBA]: Office VBA File
Format Structure (Microsoft); the bytes are from memory. That the right text comes out proves them.
"""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import olefile
import pytest

from tests.town import TOWN
from xlhelpers.doors.excel import vba_project
from xlhelpers.doors.excel.vba_project import decompress, has_reference

PLAIN = b"#aaabcdefaaaaghijaaaaaklaaamnopqaaaaaaaaaaaarstuvwxyzaaa"
PACKED = bytes.fromhex(
    "012FB000236161616263646582660070616768696A013808616B6C00306D6E6F70067102700410727374757610"
    "7778797A003C"
)


def test_the_example_of_the_file_format() -> None:
    assert decompress(PACKED) == PLAIN


@pytest.mark.parametrize("data", [b"", b"\x02\x00"])
def test_what_is_no_container_is_refused(data: bytes) -> None:
    with pytest.raises(ValueError, match="not a compressed container"):
        decompress(data)


class FakeCompound:
    def __init__(self, listed: bytes) -> None:
        self.listed = listed

    def __enter__(self) -> "FakeCompound":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def openstream(self, path: list[str]) -> Any:
        assert path == ["VBA", "dir"]
        return SimpleNamespace(read=lambda: self.listed)


@pytest.mark.parametrize(("name", "there"), [("bcdef", True), ("xlwings", False)])
def test_a_reference_is_looked_for_in_the_list(
    name: str, there: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = SimpleNamespace(find=lambda name: name, read=lambda name: b"macros")
    monkeypatch.setattr(vba_project.Package, "open", lambda _: package)
    monkeypatch.setattr(olefile, "OleFileIO", lambda _: FakeCompound(PACKED))
    assert has_reference(Path("town.xlsm"), name) is there


def test_a_workbook_without_macros_has_no_list() -> None:
    assert has_reference(TOWN, "xlwings") is None


def test_macros_that_cannot_be_read_say_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    package = SimpleNamespace(find=lambda name: name, read=lambda name: b"no compound file")
    monkeypatch.setattr(vba_project.Package, "open", lambda _: package)
    assert has_reference(Path("town.xlsm"), "xlwings") is None
