"""A fill in workbooks that other people made; run by hand, it takes long.

    python -m tests.over_real_workbooks FOLDER [--most 100] [--from NAME] [--without-libreoffice]

Each workbook of the folder gets the sheets of a keyed template, is filled twice, saved by
LibreOffice, and filled again with another reading. What differs outside our sheets is counted by
kind: parts that are gone, parts that changed, cells whose value or formula changed, stored results
that were dropped. Workbooks that took long are named with their seconds of the processor; a run
that was cut off goes on `--from` the workbook that it did not end.
"""

import argparse
import shutil
import subprocess
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.jobs.books import PLOT, keyed, varied
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts.parts import defined_names, sheets
from xlhelpers.package.parts.relations import CONTENT_TYPES, relations_name
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.zip.container import Package

LINES = 6
HEADINGS = 5  # the row of the headings of the field sheet
LONG = 10  # seconds
SAVED = "filled, saved by LibreOffice, filled again"


def put_field_sheets(book: Path, template: Package) -> Path:
    """Put the sheets of a keyed template into a copy of a workbook."""
    package = Package.open(book)
    names = {name.name: name.text for name in defined_names(template) if name.local_sheet is None}
    graft_sheets(package, template, replacing={}, defined=names)
    book.write_bytes(package.to_bytes())
    return book


def user_sheets(package: Package, names: set[str]) -> dict[str, Grid]:
    """Return the cells of the sheets that the workbook had from the start."""
    found = {}
    for sheet in sheets(package):
        if sheet.name in names and sheet.kind == "worksheet" and sheet.part:
            found[sheet.name] = read_grid(package, sheet)
    return found


def count_differences(before: Path, after: Path, names: set[str], *, parts: bool) -> Counter[str]:
    """Return what differs outside our sheets, by kind."""
    old, new = Package.open(before), Package.open(after)
    counts: Counter[str] = Counter()
    if parts:
        counts += _count_parts(old, new)
    cells = user_sheets(new, names)
    for name, was in user_sheets(old, names).items():
        if name not in cells:
            counts["sheets gone"] += 1
            continue
        counts += _count_cells(was, cells[name])
    return counts


def _count_parts(old: Package, new: Package) -> Counter[str]:
    main = old.workbook_part
    ours = {CONTENT_TYPES, main, relations_name(main)}
    counts: Counter[str] = Counter()
    sheet_parts = {sheet.part for sheet in sheets(old)}
    for name in old.names():
        if new.find(name) is None:
            counts["parts gone" if "calcChain" not in name else "calcChain gone"] += 1
        elif old.read(name) != new.read(name):
            known = name in ours or name.endswith("styles.xml") or name in sheet_parts
            counts["parts changed" if not known else ""] += 1
    del counts[""]
    return counts


def _count_cells(was: Grid, now: Grid) -> Counter[str]:
    counts: Counter[str] = Counter()
    for row in range(1, max(was.shape[0], now.shape[0]) + 1):
        for column in range(1, max(was.shape[1], now.shape[1]) + 1):
            place, one, other = (row, column), was.value(row, column), now.value(row, column)
            if was.formulas.get(place) != now.formulas.get(place):
                counts["formulas changed"] += 1
            elif one != other and one not in (None, ""):
                counts["results dropped" if other is None and place in was.formulas
                       else "values changed"] += 1  # fmt: skip
    return counts


def save_with_libreoffice(book: Path, folder: Path) -> Path | None:
    """Return the workbook as LibreOffice saves it, None where it does not."""
    program = shutil.which("soffice") or shutil.which("libreoffice")
    if program is None:
        return None
    command = [program, f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless"]
    command += ["--convert-to", "xlsx", "--outdir", str(folder / "saved"), str(book)]
    try:
        subprocess.run(command, capture_output=True, timeout=300, check=False)
    except subprocess.TimeoutExpired:
        return None
    saved = folder / "saved" / f"{book.stem}.xlsx"
    return saved if saved.exists() else None


def change_a_reading(book: Path) -> None:
    """Put another tip reading into the first line, so that a fill has something to write."""
    package = Package.open(book)
    (sheet,) = [one for one in sheets(package) if one.name == FIELD_SHEET.tab]
    grid = read_grid(package, sheet)
    headings = [str(cell) for cell in grid.values[HEADINGS - 1].tolist()]
    at = next(at for at, text in enumerate(headings, 1) if text.startswith("Tip reading"))
    old = grid.value(HEADINGS + 1, at)
    assert isinstance(old, float)
    edit_cells(package, sheet, [CellWrite(HEADINGS + 1, at, old + 4)])
    book.write_bytes(package.to_bytes())


def try_book(
    path: Path, template: Package, folder: Path, *, office: bool
) -> tuple[str, Counter[str]]:
    """Return how one workbook ended, and what differed."""
    counts: Counter[str] = Counter()
    book = folder / path.name
    shutil.copy(path, book)
    book.chmod(0o644)
    try:
        names = {sheet.name for sheet in sheets(Package.open(book))}
        put_field_sheets(book, template)
    except WorkbookError as error:
        return f"refused before a fill: {_reason(path, error)}", counts
    start = folder / f"start {path.name}"
    shutil.copy(book, start)
    try:
        fill(book)
    except WorkbookError as error:
        return f"refused: {_reason(path, error)}", counts
    counts += count_differences(start, book, names, parts=True)
    if fill(book).wrote:
        counts["second fill wrote"] += 1
    if not office:
        return "filled", counts
    saved = save_with_libreoffice(book, folder)
    if saved is None:
        return "filled, not opened or not saved by LibreOffice", counts
    change_a_reading(saved)
    before = folder / f"saved {path.name}"
    shutil.copy(saved, before)
    try:
        if not fill(saved).tabs_written:
            counts["tabs not written after LibreOffice"] += 1
    except WorkbookError as error:
        return f"refused after LibreOffice: {_reason(path, error)}", counts
    after = count_differences(before, saved, names, parts=False)
    counts += Counter({f"after LibreOffice: {kind}": count for kind, count in after.items()})
    return SAVED, counts


def _reason(path: Path, error: WorkbookError) -> str:
    """The first words of a refusal, without the name of the workbook."""
    return str(error).replace(path.name, "").strip()[:60]


def main() -> None:
    """Go over a folder of workbooks and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--most", type=int, default=10_000)
    parser.add_argument("--from", dest="first", default="", help="name of the first workbook")
    parser.add_argument("--without-libreoffice", action="store_true")
    options = parser.parse_args()
    ends: Counter[str] = Counter()
    differences: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as made:
        plots = [PLOT | {"trees_counted": LINES}]
        template = Package.open(keyed(Path(made) / "template.xlsx", varied(LINES), plots))
        books = [p for p in sorted(options.folder.glob("*.xls[xm]")) if p.name >= options.first]
        for path in books[: options.most]:
            begun = time.process_time()
            with tempfile.TemporaryDirectory() as folder:
                end, counts = try_book(
                    path, template, Path(folder), office=not options.without_libreoffice
                )
            ends[end] += 1
            differences += counts
            seconds = time.process_time() - begun
            if seconds > LONG:
                print(f"{path.name}: {seconds:.0f} s", flush=True)
            if counts or end != SAVED:
                print(f"{path.name}: {end}; {dict(counts)}", flush=True)
    print(f"ends: {dict(ends)}\ndifferences outside our sheets: {dict(differences)}")


if __name__ == "__main__":
    main()
