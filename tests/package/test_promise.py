"""What a fill may change in a workbook, part by part, and nothing else."""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter
from lxml import etree

from tests.package.books import OFFICE, parts_of, written
from tests.package.rich_book import FIELD_SHEET, add_comments, rich_book
from xlhelpers.fields.field_sheet import FIELD_SHEET as FIELDS
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import Filled, fill
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts.parts import defined_names, sheet_named, sheets
from xlhelpers.package.parts.relations import CONTENT_TYPES, add_relation, reachable, relations_name
from xlhelpers.package.parts.xml_text import local
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import parse_cell, parse_target
from xlhelpers.package.zip.container import Package

DEPENDENT = {"B1", "B2", "B3", "B4", "B5"}
WORKBOOK = "xl/workbook.xml"


def part_of(package: Package, name: str) -> str:
    sheet = sheet_named(package, name)
    assert sheet is not None
    return sheet.part


def our_parts(package: Package) -> set[str]:
    """Parts of our tabs: those that nothing else refers to."""
    ours = [sheet.part for sheet in sheets(package) if sheet.name in RESULT_TABS.values()]
    mine = reachable(package, ours, frozenset()) - reachable(package, [""], frozenset(ours))
    found = {*ours, *mine}
    return found | {relations_name(part) for part in found if package.find(relations_name(part))}


def changes(before: bytes, after: bytes) -> set[str]:
    old, new = parts_of(before), parts_of(after)
    return {name for name in old.keys() | new.keys() if old.get(name) != new.get(name)}


def result_columns(package: Package) -> set[int]:
    ours = {f.name for f in FIELDS.fields if f.filled_by == "program"}
    targets = {item.name: parse_target(item.text) for item in defined_names(package)}
    return {found[2] for name in ours if (found := targets[FIELDS.defined_name(name)])}


def without(sheet: bytes, emptied: Callable[[int, int, bool], bool]) -> bytes:
    """The sheet with some cells made blank; `emptied` is asked by row, column, has a formula."""
    root = etree.fromstring(sheet)
    for cell in root.iter("{*}c"):
        has_formula = cell.find("{*}f") is not None
        if emptied(*parse_cell(str(cell.get("r"))), has_formula):
            for item in [item for item in cell if local(item) in ("v", "is")]:
                cell.remove(item)
            cell.attrib.pop("t", "")
    return etree.tostring(root, method="c14n")


# keyed sheets of the template that hold formulas of ours
OUR_FORMULAS = ("Plots", "Lists")


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, bytes, Filled]:
    """The workbook before and after a fill, and what the fill returned."""
    path = rich_book(tmp_path_factory.mktemp("rich") / "town.xlsx")
    before = path.read_bytes()
    done = fill(path)
    return before, path.read_bytes(), done


@pytest.fixture
def book(filled: tuple[bytes, bytes, Filled], tmp_path: Path) -> Path:
    """A copy of the filled workbook."""
    path = tmp_path / "town.xlsx"
    path.write_bytes(filled[1])
    return path


def test_the_changed_parts_are_exactly_these(filled: tuple[bytes, bytes, Filled]) -> None:
    before, after, _ = filled
    package = Package.from_bytes(after)
    expected = {
        *our_parts(package), part_of(package, FIELD_SHEET), part_of(package, "Own sums"),
        *(part_of(package, name) for name in OUR_FORMULAS),
        CONTENT_TYPES, WORKBOOK, relations_name(WORKBOOK), "xl/styles.xml",
    }  # fmt: skip
    assert changes(before, after) == expected
    assert not expected - parts_of(after).keys()


def test_the_filled_sheet_is_the_original_but_for_our_cells(
    filled: tuple[bytes, bytes, Filled],
) -> None:
    before, after, done = filled
    old, new = Package.from_bytes(before), Package.from_bytes(after)
    ours, part = result_columns(old), part_of(old, FIELD_SHEET)
    texts = [without(p.read(part), lambda r, c, _: r > 5 and c in ours) for p in (old, new)]
    assert texts[0] == texts[1]
    assert done.cells_changed > 50


@pytest.mark.parametrize("name", OUR_FORMULAS)
def test_of_our_own_formulas_only_the_results_change(
    filled: tuple[bytes, bytes, Filled], name: str
) -> None:
    old, new = (Package.from_bytes(data) for data in filled[:2])
    part = part_of(old, name)
    texts = [without(p.read(part), lambda _r, _c, has_formula: has_formula) for p in (old, new)]
    assert texts[0] == texts[1]


def test_only_stored_results_of_dependent_formulas_are_dropped(
    filled: tuple[bytes, bytes, Filled],
) -> None:
    before, after, _ = filled
    old, new = Package.from_bytes(before), Package.from_bytes(after)
    part = part_of(old, "Own sums")
    wanted = {parse_cell(name) for name in DEPENDENT}
    assert without(old.read(part), lambda r, c, _: (r, c) in wanted) == without(
        new.read(part), lambda *_: False
    )
    assert read_grid(new, sheet_named(new, "Own sums")).uncalculated == wanted  # type: ignore[arg-type]


def test_styles_types_and_the_workbook_part_only_grow(filled: tuple[bytes, bytes, Filled]) -> None:
    before, after, _ = filled
    old, new = parts_of(before), parts_of(after)

    def lists(parts: dict[str, bytes], name: str) -> dict[str, list[bytes]]:
        root = etree.fromstring(parts[name])
        return {local(holder): [etree.tostring(item, method="c14n") for item in holder]
                for holder in root if len(holder)}  # fmt: skip

    for holder, items in lists(old, "xl/styles.xml").items():
        assert lists(new, "xl/styles.xml")[holder][: len(items)] == items, holder
    for name in (CONTENT_TYPES, relations_name(WORKBOOK)):
        olds, news = ([etree.tostring(item, method="c14n") for item in etree.fromstring(p[name])]
                      for p in (old, new))  # fmt: skip
        assert [item for item in news if item in olds] == olds
    olds, news = (lists(p, WORKBOOK) for p in (old, new))
    assert news["sheets"][: len(olds["sheets"])] == olds["sheets"]
    assert set(olds["definedNames"]) <= set(news["definedNames"])
    for name in set(olds) - {"sheets", "definedNames"}:
        assert news[name] == olds[name]


def test_a_second_fill_writes_nothing(book: Path) -> None:
    before, listing = book.read_bytes(), sorted(book.parent.iterdir())
    assert not fill(book).wrote
    assert book.read_bytes() == before
    assert sorted(book.parent.iterdir()) == listing


def test_one_changed_reading_changes_no_more_than_it_must(book: Path) -> None:
    before = book.read_bytes()
    package = Package.open(book)
    part = part_of(package, FIELD_SHEET)
    text = package.read(part).decode()
    place = re.search(r'<c r="M6"[^>]*><v>(\d+)</v>', text)
    assert place is not None
    text = text[: place.start(1)] + str(int(place[1]) + 1) + text[place.end(1) :]
    package.replace(part, text.encode())
    book.write_bytes(package.to_bytes())
    changed = fill(book).cells_changed
    # the reading as a number, its slope, the heights, the means of the tree
    assert 1 <= changed <= 11
    after = Package.open(book)
    allowed = {*our_parts(after), part, part_of(after, "Own sums"), WORKBOOK}
    assert changes(before, book.read_bytes()) <= allowed


def csv_of(soffice: Callable[..., Path], book: Path, number: int) -> list[list[str]]:
    kind = f"csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,{number}"
    with soffice(book, kind).open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.libreoffice
def test_libreoffice_shows_the_users_formulas_fresh(
    book: Path, filled: tuple[bytes, bytes, Filled], soffice: Callable[..., Path]
) -> None:
    """SUM, AVERAGE of a whole column, a chain of two, a defined name, INDIRECT; one unconcerned."""
    heights = filled[2].outcome.trees["total_height"].tolist()
    number = [s.name for s in sheets(Package.open(book))].index("Own sums") + 1
    shown = [float(row[1]) for row in csv_of(soffice, book, number)[:6]]
    total = sum(heights)
    expected = [total, total / len(heights), 2 * total, max(heights), heights[0], -1]
    assert shown == pytest.approx(expected)


@pytest.mark.slow
@pytest.mark.libreoffice
def test_libreoffice_saved_it_in_between(book: Path, soffice: Callable[..., Path]) -> None:
    """No second set of tabs, no more formats: the names are what tabs are found by."""
    counts, listed = [], []
    for round_ in range(3):
        shutil.copy(soffice(book), book)
        if round_:
            package = Package.open(book)
            text = package.read(part_of(package, FIELD_SHEET)).decode()
            new = re.sub(r'(<c r="M6"[^>]*><v>)[\d.]+', rf"\g<1>{70 + round_}", text)
            package.replace(part_of(package, FIELD_SHEET), new.encode())
            book.write_bytes(package.to_bytes())
        done = fill(book)
        assert not any("kept" in sentence for sentence in done.notes), done.notes
        package = Package.open(book)
        listed.append([sheet.name for sheet in sheets(package)])
        root = etree.fromstring(package.read("xl/styles.xml"))
        counts.append({local(item): len(item) for item in root})
    assert listed[0] == listed[1] == listed[2]
    assert set(RESULT_TABS.values()) <= set(listed[0])
    assert counts[2] == counts[1]


def own_chart() -> bytes:
    stream = io.BytesIO()
    workbook = xlsxwriter.Workbook(stream)
    sheet = workbook.add_worksheet("Own chart")
    chart = workbook.add_chart({"type": "pie"})
    chart.add_series({"values": "='Own chart'!$C$8:$C$10"})
    sheet.insert_chart(1, 1, chart)
    return written(workbook, stream)


def add_chart(package: Package, tab: str) -> None:
    """Put a chart of the user's on a tab, beside the charts that stand there."""
    (name,) = graft_sheets(package, own_chart(), replacing={}, defined={})
    source, target = part_of(package, name), part_of(package, tab)
    moved = next(part for part in reachable(package, [source], frozenset()) if "/drawing" in part)
    drawing = next(
        part for part in reachable(package, [target], frozenset()) if "/drawings/drawing" in part
    )
    anchor = etree.fromstring(package.read(moved))[0]
    root = etree.fromstring(package.read(drawing))
    chart = next(part for part in reachable(package, [moved], frozenset()) if "/chart" in part)
    identifier = add_relation(package, drawing, f"{OFFICE}/chart", chart)
    for element in anchor.iter("{*}chart"):
        for key in element.attrib:
            element.set(key, identifier)
    root.append(anchor)
    package.replace(drawing, etree.tostring(root, xml_declaration=True, encoding="UTF-8"))


def test_what_a_user_put_on_our_tabs_survives_two_fills(book: Path) -> None:
    """A note, a threaded comment and a chart: the old tab stays, under a new name."""
    package = Package.open(book)
    to_check, by_plot = sheet_named(package, "To check"), sheet_named(package, "By plot")
    assert to_check is not None
    assert by_plot is not None
    add_comments(package, to_check, "B7", "seen again in spring")
    add_chart(package, "By plot")
    charts = {part for part in reachable(package, [by_plot.part], frozenset()) if "/chart" in part}
    change_a_reading(package)
    book.write_bytes(package.to_bytes())
    first = fill(book)
    check_additions(book, charts)
    again = fill(book)
    check_additions(book, charts)
    assert sum("(kept)" in sentence for sentence in first.notes) == 2
    assert not again.wrote


def check_additions(book: Path, charts: set[str]) -> None:
    after = Package.open(book)
    kept = sheet_named(after, "To check (kept)")
    assert kept is not None
    parts = reachable(after, [kept.part], frozenset())
    texts = b"".join(after.read(part) for part in parts if "omments" in part)
    assert texts.count(b"seen again in spring") == 2
    own = sheet_named(after, "By plot (kept)")
    assert own is not None
    assert charts <= reachable(after, [own.part], frozenset())
    assert {"To check", "By plot"} <= {sheet.name for sheet in sheets(after)}


def change_a_reading(package: Package) -> None:
    text = package.read(part_of(package, FIELD_SHEET)).decode()
    new = re.sub(r'(<c r="M6"[^>]*><v>)[\d.]+', r"\g<1>71", text)
    assert new != text
    package.replace(part_of(package, FIELD_SHEET), new.encode())
