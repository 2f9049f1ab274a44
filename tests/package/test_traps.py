"""What a fill does with each kind of workbook that has brought other programs down."""

from __future__ import annotations

import io
import os
import re
import resource
import shutil
import subprocess
import sys
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.jobs.books import keyed, varied
from tests.package.books import OFFICE, parts_of, with_parts, zipped
from tests.package.rich_book import FIELD_SHEET, add_part
from xlhelpers.doors.command_line.main import main
from xlhelpers.errors import WorkbookError
from xlhelpers.fields import field_sheet as fields
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts.parts import sheet_named, sheets
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import ColumnWrites
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import column_letters
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.sniffing import COMPOUND_FILE

WORKBOOK = "xl/workbook.xml"
MACRO_TYPE = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
PLAIN_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return keyed(tmp_path_factory.mktemp("keyed") / "town.xlsx", varied(4)).read_bytes()


def signed(data: bytes) -> bytes:
    return with_parts(data, {"_xmlsignatures/sig1.xml": b"<Signature/>"})


def shared(data: bytes) -> bytes:
    package = Package.from_bytes(data)
    add_part(package, WORKBOOK, f"{OFFICE}/revisionHeaders", "xl/revisions/revisionHeaders.xml",
             "<headers/>", "application/xml")  # fmt: skip
    return package.to_bytes()


def locked(data: bytes) -> bytes:
    text = parts_of(data)[WORKBOOK].decode()
    new = re.sub("(<workbookPr[^>]*/>)", r'\1<workbookProtection lockStructure="1"/>', text)
    assert new != text
    return with_parts(data, {WORKBOOK: new.encode()})


def strict(data: bytes) -> bytes:
    text = parts_of(data)[WORKBOOK].replace(
        b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
        b"http://purl.oclc.org/ooxml/spreadsheetml/main",
    )
    return with_parts(data, {WORKBOOK: text})


def encrypted(_: bytes) -> bytes:
    return COMPOUND_FILE + bytes(600) + "EncryptedPackage".encode("utf-16-le")


def open_document(_: bytes) -> bytes:
    kind = b"application/vnd.oasis.opendocument.spreadsheet"
    return zipped({"mimetype": kind, "content.xml": b"<x/>"})


def with_entities(data: bytes) -> bytes:
    text = b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'
    return with_parts(data, {"xl/theme/theme1.xml": text})


def bomb(data: bytes) -> bytes:
    return with_parts(data, {"xl/media/image1.png": bytes(64 * 2**20)})


def twice(data: bytes) -> bytes:
    stream = io.BytesIO(data)
    with warnings.catch_warnings(), zipfile.ZipFile(stream, "a") as archive:
        warnings.simplefilter("ignore")
        archive.writestr("xl/Workbook.xml", "<workbook/>")
    return stream.getvalue()


def outside(data: bytes) -> bytes:
    return with_parts(data, {"../../evil.xml": b"<x/>"})


def absolute(data: bytes) -> bytes:
    return with_parts(data, {"/etc/evil.xml": b"<x/>"})


def bad_checksum(data: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, content in parts_of(data).items():
            archive.writestr(name, content)
    stored = stream.getvalue()
    place = stored.index(b"<sheetData>")
    return stored[:place] + b"<sheetDatA>" + stored[place + 11 :]


REFUSED: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "signed": (signed, "is signed.*Save a copy"),
    "shared": (shared, "shared workbook.*Stop sharing"),
    "locked structure": (locked, "no sheet can be added.*Unprotect"),
    "strict": (strict, "Strict Open XML.*Save it as an ordinary"),
    "encrypted": (encrypted, "with a password.*remove the password"),
    "old format": (lambda _: COMPOUND_FILE + bytes(600), r"old Excel file \(\.xls\).*save it as"),
    "OpenDocument": (open_document, r"OpenDocument file \(\.ods\).*save it as"),
    "entities": (with_entities, r"theme1\.xml.*document type"),
    "zip bomb": (bomb, "not safe to open.*times as large"),
    "a part twice": (twice, "two parts have the name"),
    "a name that leads outside": (outside, "not safe to open.*has the name"),
    "an absolute name": (absolute, "not safe to open.*has the name"),
    "a bad checksum": (bad_checksum, "checksum"),
    "empty": (lambda _: b"", "is empty"),
    "cut short": (lambda data: data[:-400], "damaged.*end is missing.*Get it again"),
    "plain text": (lambda _: b"plot,tree\n1,1\n", "plain text or CSV"),
    "a web page": (lambda _: b"<html><table/></html>", "web page"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_refused_with_what_to_do_and_left_as_it_was(
    case: str, plain: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil, message = REFUSED[case]
    path = tmp_path / "town.xlsx"
    path.write_bytes(spoil(plain))
    before = path.read_bytes()
    assert main(["fill", str(path)]) == 2
    said = capsys.readouterr().err
    assert re.search(message, said), said
    assert "Traceback" not in said
    assert path.read_bytes() == before
    assert [item.name for item in tmp_path.iterdir()] == ["town.xlsx"]


@pytest.mark.parametrize("name", ["town.xls", "town.ods", "town.xlsb", "town.xltx", "town.csv"])
def test_other_formats_are_refused_by_name(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    path.write_bytes(b"anything")
    assert main(["fill", str(path)]) == 2
    assert "save it as .xlsx" in capsys.readouterr().err


def test_a_protected_sheet_gets_results_and_keeps_its_protection(
    plain: bytes, tmp_path: Path
) -> None:
    package = Package.from_bytes(plain)
    part = sheet_named(package, FIELD_SHEET).part  # type: ignore[union-attr]
    mark = b'</sheetData><sheetProtection sheet="1" objects="1"/>'
    package.replace(part, package.read(part).replace(b"</sheetData>", mark))
    path = tmp_path / "town.xlsx"
    path.write_bytes(package.to_bytes())
    done = fill(path)
    assert done.cells_changed > 0
    assert any("is protected" in sentence for sentence in done.notes)
    assert mark in Package.open(path).read(part)


def test_merged_cells_and_arrays_in_our_columns_are_named_and_left_alone(
    plain: bytes, tmp_path: Path
) -> None:
    package = Package.from_bytes(plain)
    part = sheet_named(package, FIELD_SHEET).part  # type: ignore[union-attr]
    text = package.read(part).decode()
    names = [field.name for field in fields.FIELD_SHEET.fields]
    total, top = (column_letters(names.index(name) + 1) for name in ("tree_total", "tree_top"))
    merged = f'<mergeCells><mergeCell ref="{total}6:{total}7"/></mergeCells>'
    text = text.replace("</sheetData>", f"</sheetData>{merged}")
    array = f'<f t="array" ref="{top}6:{top}7">A6:A7</f><v>1</v></c>'
    text = re.sub(rf'(<c r="{top}6"[^>]*?)(?:/>|>.*?</c>)', rf"\1>{array}", text, count=1)
    package.replace(part, text.encode())
    path = tmp_path / "town.xlsx"
    path.write_bytes(package.to_bytes())
    said = " ".join(fill(path).notes)
    assert re.search(rf"{total}7\)\. It .*{total}6:{total}7", said), said
    assert f"{top}6:{top}7" in said
    assert array in Package.open(path).read(part).decode()


TRICKS = ("=1+1", "+1", "-1+2", "@sum", "\t=2", '=HYPERLINK("http://example.invalid","x")')


def test_text_that_looks_like_a_formula_stays_text(tmp_path: Path) -> None:
    """Typed as species, note and tree number; wherever we write it again it is a text."""
    lines = [line | {"species": trick, "note": trick, "tree": f"{trick} {k}"}
             for k, (line, trick) in enumerate(zip(varied(6), TRICKS, strict=True))]  # fmt: skip
    path = keyed(tmp_path / "town.xlsx", lines)
    fill(path)
    package = Package.open(path)
    shown, typed = set(), {trick.strip().lstrip("=") for trick in TRICKS}
    for sheet in sheets(package):
        if sheet.name not in RESULT_TABS.values():
            continue
        grid = read_grid(package, sheet)
        shown |= {value for value in grid.values.flat if isinstance(value, str)}
        for (row, column), formula in grid.formulas.items():
            assert formula not in typed
            assert "example.invalid" not in formula
            assert formula.startswith('HYPERLINK("#') or "HYPERLINK(" not in formula
            if sheet.name != RESULT_TABS["glance"]:  # which shows the texts of other tabs
                assert not str(grid.value(row, column)).startswith(TRICKS)
    for trick in TRICKS[:4]:
        assert any(text.startswith(trick) for text in shown), trick


def macro_book() -> Path:
    xlwings = pytest.importorskip("xlwings")
    return Path(xlwings.__file__).parent / "quickstart.xlsm"


def test_a_workbook_with_macros_keeps_them(plain: bytes, tmp_path: Path) -> None:
    """The macros of a real workbook, put into a keyed one; they are copied and never run."""
    macros = parts_of(macro_book().read_bytes())["xl/vbaProject.bin"]
    package = Package.from_bytes(plain)
    types = package.read("[Content_Types].xml").replace(PLAIN_TYPE.encode(), MACRO_TYPE.encode())
    package.replace("[Content_Types].xml", types)
    package.replace("xl/vbaProject.bin", macros)
    add_part(package, WORKBOOK, "http://schemas.microsoft.com/office/2006/relationships/vbaProject",
             "xl/vbaProject.bin", "", "application/vnd.ms-office.vbaProject")  # fmt: skip
    package.replace("xl/vbaProject.bin", macros)
    path = tmp_path / "town.xlsm"
    path.write_bytes(package.to_bytes())
    assert fill(path).wrote
    after = Package.open(path)
    assert after.read("xl/vbaProject.bin") == macros
    assert MACRO_TYPE.encode() in after.read("[Content_Types].xml")
    assert sorted(item.name for item in tmp_path.iterdir()) == [
        "town backup first.xlsm.bak", "town backup latest.xlsm.bak", "town.xlsm",
    ]  # fmt: skip


def test_a_real_workbook_with_macros_loses_no_part(tmp_path: Path) -> None:
    data = macro_book().read_bytes()
    package = Package.from_bytes(data, "quickstart.xlsm")
    sheet = sheets(package)[0]
    columns = {5: np.array(["=1+1", "x"], dtype=object), 6: np.array([1.5, np.nan])}
    edit_cells(package, sheet, ColumnWrites(np.array([3, 4]), columns))
    tabs = parts_of(package.to_bytes())
    changed = {name for name, content in parts_of(data).items() if tabs[name] != content}
    assert changed == {sheet.part}
    graft_sheets(package, keyed(tmp_path / "t.xlsx", varied(1)).read_bytes(),
                 replacing={}, defined={})  # fmt: skip
    assert parts_of(package.to_bytes())["xl/vbaProject.bin"] == parts_of(data)["xl/vbaProject.bin"]


def test_a_file_that_changes_while_we_work_is_left_as_the_other_left_it(
    plain: bytes, tmp_path: Path
) -> None:
    path = tmp_path / "town.xlsx"
    path.write_bytes(plain)
    other = keyed(tmp_path / "other.xlsx", varied(2)).read_bytes()

    def meanwhile(step: str) -> None:
        if step == "saving":
            path.write_bytes(other)

    with pytest.raises(WorkbookError, match="changed by someone else"):
        fill(path, progress=meanwhile)
    assert path.read_bytes() == other
    assert sorted(item.name for item in tmp_path.iterdir()) == ["other.xlsx", "town.xlsx"]


def test_opened_elsewhere_while_we_work(plain: bytes, tmp_path: Path) -> None:
    path = tmp_path / "town.xlsx"
    path.write_bytes(plain)
    with pytest.raises(WorkbookError, match="open in another program"):
        fill(path, progress=lambda _: (tmp_path / ".~lock.town.xlsx#").write_text(",Ann"))
    assert path.read_bytes() == plain


def fill_in_a_process(path: Path, **options: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "xlhelpers", "fill", str(path)]
    return subprocess.run(command, capture_output=True, text=True, check=False, **options)  # type: ignore[call-overload,no-any-return]


def test_a_file_that_may_grow_no_further(plain: bytes, tmp_path: Path) -> None:
    """The system stops the write half-way, as it does where a quota is used up."""
    path = tmp_path / "town.xlsx"
    path.write_bytes(plain)

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    done = fill_in_a_process(path, preexec_fn=limit)
    assert done.returncode == 2, done.stderr
    assert "could not be written and is unchanged" in done.stderr
    assert path.read_bytes() == plain
    assert [item.name for item in tmp_path.iterdir()] == ["town.xlsx"]


@pytest.fixture
def small_disk(tmp_path: Path, plain: bytes) -> Path:
    """A disk with room for the workbook and little more."""
    disk = tmp_path / "disk"
    disk.mkdir()
    size = f"size={len(plain) // 1024 + 16}k"
    mount = shutil.which("mount")
    command = [str(mount), "-t", "tmpfs", "-o", size, "tmpfs", str(disk)]
    if mount is None or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("this system lets us mount no disk")
    return disk


def test_a_full_disk(small_disk: Path, plain: bytes) -> None:
    path = small_disk / "town.xlsx"
    try:
        path.write_bytes(plain)
        with pytest.raises(WorkbookError, match=r"the disk is full\)\. Make room"):
            fill(path)
        assert path.read_bytes() == plain
        assert os.listdir(small_disk) == ["town.xlsx"]
    finally:
        subprocess.run(["umount", str(small_disk)], check=True)


def test_a_folder_that_forbids_it(plain: bytes, tmp_path: Path) -> None:
    """The system itself refuses, whatever we are told beforehand."""
    folder = tmp_path / "archive"
    folder.mkdir()
    path = folder / "town.xlsx"
    path.write_bytes(plain)
    folder.chmod(0o555)
    user = os.geteuid()
    try:
        if user == 0:
            for place in (tmp_path, *list(tmp_path.parents)[:-2]):
                place.chmod(place.stat().st_mode | 0o055)
            os.seteuid(65_534)
        with pytest.raises(WorkbookError, match=r"read-only|not allow"):
            fill(path)
    finally:
        os.seteuid(user)
        folder.chmod(0o755)
    assert path.read_bytes() == plain
    assert os.listdir(folder) == ["town.xlsx"]
