"""Our result tabs in a user's workbook: found by name, sealed, and compared before replacing.

A seal is a digest of what a tab showed when we wrote it. A tab whose seal no longer fits holds
something that a user added; it is kept under a new name instead of being replaced.
"""

import hashlib
import io
import zipfile
from collections.abc import Mapping, Sequence

from xlhelpers.fields.workbook import RESULT_TABS, tab_name
from xlhelpers.package.container import Package
from xlhelpers.package.grid import CellError, read_grid
from xlhelpers.package.parts import SheetPart, defined_names, sheets
from xlhelpers.package.references import parse_target
from xlhelpers.package.relations import related, relations_of
from xlhelpers.package.xml_text import parse

FINGERPRINT_NAME = "xlh_fill_fingerprint"


def seal_name(key: str) -> str:
    """Return the defined name that holds the seal of the tab with this key."""
    return f"xlh_seal_{key}"


def find_tabs(package: Package) -> dict[str, SheetPart]:
    """Return our result tabs that the workbook holds, by key, whatever they are called now."""
    by_name = {sheet.name: sheet for sheet in sheets(package)}
    found: dict[str, SheetPart] = {}
    for name in defined_names(package):
        for key in RESULT_TABS:
            if name.name == tab_name(key) and name.local_sheet is None:
                target = parse_target(name.text)
                if target is not None and target[0] in by_name:
                    found[key] = by_name[target[0]]
    return found


def stored(package: Package, name: str) -> str:
    """Return the text kept in a constant defined name, "" where there is none."""
    for known in defined_names(package):
        if known.name == name and known.local_sheet is None:
            return known.text.strip('"')
    return ""


def seal(package: Package, sheet: SheetPart) -> str:
    """Return a digest of what this tab shows: values, and how many drawings and notes it has.

    Formats and the spelling of the XML are left out, so that saving the workbook with another
    program does not break the seal.
    """
    digest = hashlib.sha256()
    grid = read_grid(package, sheet)
    for (row, column), value in sorted(_filled(grid.values)):
        digest.update(f"{row},{column}={value}\n".encode())
    digest.update(repr(_drawn(package, sheet)).encode())
    return digest.hexdigest()[:32]


def _drawn(package: Package, sheet: SheetPart) -> tuple[int, bool]:
    anchors = 0
    for part in related(package, sheet.part, "drawing"):
        root = parse(package.read(part), part)
        anchors += sum(str(child.tag).endswith("Anchor") for child in root)
    notes = any("omment" in relation.kind for relation in relations_of(package, sheet.part))
    return anchors, notes


def _filled(values: object) -> list[tuple[tuple[int, int], str]]:
    cells: list[tuple[tuple[int, int], str]] = []
    for row, line in enumerate(values):  # type: ignore[arg-type,var-annotated]
        for column, value in enumerate(line):
            if value is None or value == "":
                continue
            if isinstance(value, CellError):
                text = value.code
            elif isinstance(value, float):
                text = f"{value:.10g}"
            else:
                text = str(value)
            cells.append(((row, column), text))
    return cells


def fingerprint(scratch: bytes, volatile: Mapping[str, str]) -> str:
    """Return a digest of the rendered tabs with the texts that change every time left out."""
    digest = hashlib.sha256()
    with zipfile.ZipFile(io.BytesIO(scratch)) as archive:
        for name in sorted(archive.namelist()):
            if name.startswith("docProps/"):
                continue
            content = archive.read(name)
            for text in volatile.values():
                if text:
                    content = content.replace(text.encode(), b"")
            digest.update(name.encode())
            digest.update(content)
    return digest.hexdigest()[:32]


def seals(scratch: bytes, fingerprint: str) -> dict[str, str]:
    """Return the constant defined names that go into the workbook with rendered tabs.

    Parameters
    ----------
    scratch : bytes
        The rendered tabs as a workbook.
    fingerprint : str
        What `fingerprint` gave for them.
    """
    package = Package.from_bytes(scratch, "result tabs.xlsx")
    texts = {FINGERPRINT_NAME: f'"{fingerprint}"'}
    for key, sheet in find_tabs(package).items():
        texts[seal_name(key)] = f'"{seal(package, sheet)}"'
    return texts


def cells_of(package: Package, names: Sequence[str]) -> dict[str, set[tuple[int, int]]]:
    """Return the filled cells of each of these sheets, 1-based."""
    filled = {}
    for sheet in sheets(package):
        if sheet.name in names:
            grid = read_grid(package, sheet)
            filled[sheet.name] = {
                (row + 1, column + 1) for (row, column), _ in _filled(grid.values)
            }
    return filled
