"""What people do to a filled workbook is still there after the next fill.

One act a row: what somebody does to a tab of ours, and what must be found on it afterwards. The
fill between has other readings, so that every tab is written anew.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.formatting.rule import CellIsRule, FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.worksheet import Worksheet

from tests.conftest import Converter
from tests.jobs.books import PLOT, varied, write_filled
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.jobs.fill.hand_formats import aspects_set
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs

LINES = 8
X14 = "http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"
XM = "http://schemas.microsoft.com/office/excel/2006/main"
RED = PatternFill("solid", bgColor="FFFF9999")


def heading(sheet: Worksheet) -> int:
    """The row of the headings."""
    return next(
        cell.row for row in sheet.iter_rows(max_row=40) for cell in row if cell.value == "Plot"
    )


def row_of(sheet: Worksheet, tree: int) -> int:
    """The row of a tree on Trees."""
    start = heading(sheet)
    rows = range(start + 1, sheet.max_row + 1)
    return next(row for row in rows if str(sheet.cell(row, 2).value) == str(tree))


def narrow(sheet: Worksheet) -> None:
    sheet.column_dimensions["D"].width = 44


def shade_a_column(sheet: Worksheet) -> None:
    """The whole column, beside the cells that it has."""
    sheet.column_dimensions["D"].fill = PatternFill("solid", fgColor="FF92D050")


def hide(sheet: Worksheet) -> None:
    sheet.column_dimensions["E"].hidden = True


def show(sheet: Worksheet) -> None:
    sheet.column_dimensions["C"].width = 3.5


def freeze(sheet: Worksheet) -> None:
    sheet.freeze_panes = "D4"


def unfreeze(sheet: Worksheet) -> None:
    sheet.freeze_panes = None


def zoom(sheet: Worksheet) -> None:
    sheet.sheet_view.zoomScale = 135


def show_grid(sheet: Worksheet) -> None:
    sheet.sheet_view.showGridLines = True


def colour_tab(sheet: Worksheet) -> None:
    sheet.sheet_properties.tabColor = "FF228833"


def turn_page(sheet: Worksheet) -> None:
    sheet.page_setup.orientation = "portrait"
    sheet.page_setup.paperSize = 8


def fit(sheet: Worksheet) -> None:
    sheet.sheet_properties.pageSetUpPr.fitToPage = False
    sheet.page_setup.scale = 60


def set_margins(sheet: Worksheet) -> None:
    sheet.page_margins.left = 1.25


def head(sheet: Worksheet) -> None:
    sheet.oddHeader.center.text = "Parks office"
    sheet.oddFooter.left.text = "internal"


def take_footer(sheet: Worksheet) -> None:
    sheet.oddFooter.left.text = sheet.oddFooter.center.text = sheet.oddFooter.right.text = None


def centre(sheet: Worksheet) -> None:
    sheet.print_options.horizontalCentered = True


def protect(sheet: Worksheet) -> None:
    sheet.protection.sheet = True


def break_page(sheet: Worksheet) -> None:
    sheet.row_breaks.append(Break(id=row_of(sheet, 5) - 1))


def break_columns(sheet: Worksheet) -> None:
    sheet.col_breaks.append(Break(id=6))


def raise_row(sheet: Worksheet) -> None:
    sheet.row_dimensions[row_of(sheet, 4)].height = 61


def hide_row(sheet: Worksheet) -> None:
    sheet.row_dimensions[row_of(sheet, 6)].hidden = True


def filter_rows(sheet: Worksheet) -> None:
    sheet.auto_filter.add_filter_column(1, ["3", "4"])


def mark_high(sheet: Worksheet) -> None:
    start = heading(sheet)
    sheet.conditional_formatting.add(
        f"H{start + 1}:H{start + 8}", CellIsRule(operator="greaterThan", formula=["18"], fill=RED)
    )


def mark_by_formula(sheet: Worksheet) -> None:
    start = heading(sheet)
    sheet.conditional_formatting.add(
        f"A{start + 1}:A{start + 8}", FormulaRule(formula=[f"$B{start + 1}=4"], fill=RED)
    )


def offer(sheet: Worksheet) -> None:
    start = heading(sheet)
    rule = DataValidation(type="list", formula1='"seen,done"')
    rule.add(f"A{start + 1}:A{start + 8}")
    sheet.add_data_validation(rule)


def link_out(sheet: Worksheet) -> None:
    sheet.cell(row_of(sheet, 4), 2).hyperlink = "https://example.org/oak"


def set_print_area(sheet: Worksheet) -> None:
    sheet.print_area = "A1:F30"


def set_print_titles(sheet: Worksheet) -> None:
    sheet.print_title_rows = f"1:{heading(sheet)}"
    sheet.print_title_cols = "A:C"


def take_print_titles(sheet: Worksheet) -> None:
    # the package offers no way to take them away
    sheet._print_rows = sheet._print_cols = None


def group_columns(sheet: Worksheet) -> None:
    sheet.column_dimensions["D"].outline_level = 1


def group_rows(sheet: Worksheet) -> None:
    for tree in (2, 3):
        sheet.row_dimensions[row_of(sheet, tree)].outline_level = 2


def make_bold(sheet: Worksheet) -> None:
    cell = sheet.cell(row_of(sheet, 3), 2)
    cell.font = cell.font + Font(bold=True)


def strike(sheet: Worksheet) -> None:
    cell = sheet.cell(row_of(sheet, 7), 5)
    cell.font = Font(strike=True, underline="single")


def colour_words(sheet: Worksheet) -> None:
    sheet.cell(row_of(sheet, 4), 5).font = Font(color="FF0070C0")


def enlarge(sheet: Worksheet) -> None:
    sheet.cell(1, 1).font = Font(name="Arial", size=22)


def show_decimals(sheet: Worksheet) -> None:
    sheet.cell(row_of(sheet, 5), 10).number_format = "0.000"


def shade(sheet: Worksheet) -> None:
    for column in range(1, 12):
        sheet.cell(row_of(sheet, 6), column).fill = PatternFill("solid", fgColor="FF92D050")


def shade_a_blank_cell(sheet: Worksheet) -> None:
    cell = sheet.cell(row_of(sheet, 5), 3)
    assert cell.value is None
    cell.fill = PatternFill("solid", fgColor="FF92D050")


def unshade(sheet: Worksheet) -> None:
    sheet.cell(heading(sheet), 4).fill = PatternFill(fill_type=None)


def frame(sheet: Worksheet) -> None:
    line = Side(style="thick", color="FFC00000")
    sheet.cell(row_of(sheet, 2), 4).border = Border(left=line, right=line, top=line, bottom=line)


def align(sheet: Worksheet) -> None:
    sheet.cell(row_of(sheet, 2), 4).alignment = Alignment(
        horizontal="right", vertical="center", indent=1
    )


def merge(sheet: Worksheet) -> None:
    """Two cells of a row, the second of them blank."""
    row = row_of(sheet, 2)
    at = next(at for at in range(3, 40) if sheet.cell(row, at + 1).value is None)
    sheet.merge_cells(start_row=row, end_row=row, start_column=at, end_column=at + 1)


def rules(sheet: Worksheet) -> list[tuple[str, str, list[str]]]:
    return sorted(
        (str(area.sqref), rule.type, list(rule.formula))
        for area, found in sheet.conditional_formatting._cf_rules.items()
        for rule in found
    )


def formats(sheet: Worksheet) -> dict[tuple[str, str], Any]:
    """How each cell of the first columns looks, by its row and heading; empty rows are left out."""
    start, found = heading(sheet), {}
    for row in sheet.iter_rows(max_col=14):
        name = f"{row[0].value} {row[1].value}" if row[0].row > start else str(row[0].row)
        for cell in row if row[0].value or row[0].row <= start else ():
            font, place = cell.font, cell.alignment
            found[name, str(sheet.cell(start, cell.column).value)] = (
                (font.b, font.i, font.u, font.strike, font.sz, font.name),
                font.color and font.color.rgb,
                cell.number_format,
                (cell.fill.fill_type, cell.fill.fgColor.rgb),
                (cell.border.left.style, cell.border.top.style, cell.border.top.color),
                (place.horizontal, place.vertical, place.indent, place.wrap_text),
            )
    return found


def columns(sheet: Worksheet) -> dict[int, tuple[float, bool, int]]:
    """Width, whether hidden, and level of the outline, of each column where any was set."""
    return {
        at: (round(item.width, 2), item.hidden, item.outline_level)
        for item in sheet.column_dimensions.values()
        if item.width or item.hidden
        for at in range(item.min or 1, (item.max or 1) + 1)
    }


def look(sheet: Worksheet) -> dict[str, Any]:
    """All that is compared: settings of the tab by name, rows by the tree on them."""
    trees = {tree: row_of(sheet, tree) for tree in range(1, LINES + 1)}
    start, view = heading(sheet), sheet.sheet_view
    by_row = {row: tree for tree, row in trees.items()}
    page = sheet.page_setup
    pane = view.pane
    return {
        "widths": columns(sheet),
        "columns": sheet.column_dimensions["D"].fill.fgColor.rgb,
        "freeze": None if pane is None else (pane.xSplit or 0, (pane.ySplit or 0) == start),
        "zoom": view.zoomScale,
        "grid": view.showGridLines,
        "colour": sheet.sheet_properties.tabColor and sheet.sheet_properties.tabColor.rgb,
        "page": (page.orientation, page.paperSize, page.scale),
        "fit": sheet.sheet_properties.pageSetUpPr.fitToPage,
        "margins": sheet.page_margins.left,
        "heads": (sheet.oddHeader.center.text, sheet.oddFooter.left.text),
        "centred": bool(sheet.print_options.horizontalCentered),
        "protected": sheet.protection.sheet,
        "breaks": [by_row.get(item.id + 1) for item in sheet.row_breaks.brk],
        "column breaks": [item.id for item in sheet.col_breaks.brk],
        "heights": {tree: sheet.row_dimensions[row].height for tree, row in trees.items()},
        "row levels": {t: sheet.row_dimensions[row].outline_level for t, row in trees.items()},
        "levels": (sheet.sheet_format.outlineLevelRow, sheet.sheet_format.outlineLevelCol),
        "hidden rows": {t for t, row in trees.items() if sheet.row_dimensions[row].hidden},
        "filter": [
            (item.colId, sorted(item.filters.filter)) for item in sheet.auto_filter.filterColumn
        ],
        "rules": rules(sheet),
        "lists": sorted(
            (str(rule.sqref), rule.formula1) for rule in sheet.data_validations.dataValidation
        ),
        "links": {
            tree: cell.hyperlink.target
            for tree, row in trees.items()
            if (cell := sheet.cell(row, 2)).hyperlink
        },
        "print area": sheet.print_area,
        "print titles": (sheet.print_title_rows, sheet.print_title_cols),
        "merged": sorted(map(str, sheet.merged_cells.ranges)),
        "formats": formats(sheet),
    }


ACTS: tuple[Callable[[Worksheet], None], ...] = (
    shade_a_column,
    *(narrow, hide, show, freeze, unfreeze, zoom, show_grid, colour_tab, turn_page, fit),
    *(set_margins, head, take_footer, centre, protect, break_page, break_columns, raise_row),
    *(hide_row, filter_rows, mark_high, mark_by_formula, offer, link_out, set_print_area),
    *(
        set_print_titles,
        take_print_titles,
        group_columns,
        group_rows,
        make_bold,
        strike,
        colour_words,
        enlarge,
    ),
    *(show_decimals, shade, shade_a_blank_cell, unshade, frame, align, merge),
)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("filled")
    return write_filled(folder / "town.xlsx", varied(LINES), [PLOT | {"trees_counted": LINES}])


def change_a_reading(opened: Workbook) -> None:
    """Another tip reading for the first tree: its row and the sums are others."""
    sheet = opened["Field sheet"]
    column = next(cell.column for cell in sheet[5] if str(cell.value).startswith("Tip reading"))
    sheet.cell(6, column).value += 4


def fill_after(acts: tuple[Callable[[Worksheet], None], ...], filled: Path, book: Path) -> Any:
    """Do the acts on Trees, save, change a reading and fill; the tab before and after the fill."""
    opened = load_workbook(filled)
    for act in acts:
        act(opened["Trees"])
    change_a_reading(opened)
    opened.save(book)
    before = load_workbook(book)["Trees"]
    done = fill(book)
    assert "Trees" in done.tabs_written
    return before, load_workbook(book)["Trees"], done


def test_all_that_people_set_on_a_tab_at_once(filled: Path, tmp_path: Path) -> None:
    quick = tuple(act for act in ACTS if act not in (freeze, take_footer, take_print_titles))
    before, after, done = fill_after(quick, filled, tmp_path / "town.xlsx")
    assert look(after) == look(before)
    assert not any("Trees (kept)" in note for note in done.notes)
    assert not fill(tmp_path / "town.xlsx").wrote


@pytest.mark.slow
@pytest.mark.parametrize("act", ACTS, ids=lambda act: act.__name__)
def test_what_people_set_on_a_tab(
    act: Callable[[Worksheet], None], filled: Path, tmp_path: Path
) -> None:
    untouched = look(load_workbook(filled)["Trees"])
    before, after, _ = fill_after((act,), filled, tmp_path / "town.xlsx")
    assert look(before) != untouched
    assert look(after) == look(before)


def test_every_tab_keeps_its_width_and_colour(filled: Path, tmp_path: Path) -> None:
    book = tmp_path / "town.xlsx"
    opened = load_workbook(filled)
    for tab in RESULT_TABS.values():
        opened[tab].column_dimensions["A"].width = 31
        opened[tab].sheet_properties.tabColor = "FF228833"
    change_a_reading(opened)
    opened.save(book)
    fill(book)
    after = load_workbook(book)
    for tab in RESULT_TABS.values():
        assert after[tab].column_dimensions["A"].width == 31, tab
        assert after[tab].sheet_properties.tabColor.rgb == "FF228833", tab


def test_a_merge_that_somebody_took_apart_stays_apart(filled: Path, tmp_path: Path) -> None:
    book, tab = tmp_path / "town.xlsx", "About this fill"
    opened = load_workbook(filled)
    # a title, whose words the next fill writes again
    areas = sorted(str(area) for area in opened[tab].merged_cells.ranges)
    title = next(a for a in areas if opened[tab][a.partition(":")[0]].font.b)
    words = opened[tab][title.partition(":")[0]].value
    opened[tab].unmerge_cells(title)
    change_a_reading(opened)
    opened.save(book)
    fill(book)
    after = load_workbook(book)[tab]
    (row,) = [cell.row for cells in after.iter_rows() for cell in cells if cell.value == words]
    assert not [area for area in after.merged_cells.ranges if area.min_row == row]
    assert len(after.merged_cells.ranges) == len(areas) - 1


def frame_empty_cells(sheet: Worksheet) -> None:
    line = Side(style="thick")
    for cell in ("C200", "D200"):
        sheet[cell].border = Border(bottom=line)


def shade_a_row(sheet: Worksheet) -> None:
    sheet.row_dimensions[250].fill = PatternFill("solid", fgColor="FF92D050")


def shade_a_column_beyond(sheet: Worksheet) -> None:
    sheet.column_dimensions["DA"].fill = PatternFill("solid", fgColor="FF92D050")


@pytest.mark.parametrize(
    ("acts", "what"),
    [
        ((frame_empty_cells, shade_a_row, shade_a_column_beyond),
         "2 empty cells, 1 whole row and 1 whole column"),
        pytest.param((shade_a_row,), "1 whole row", marks=pytest.mark.slow),
        pytest.param((shade_a_column,), "", marks=pytest.mark.slow),
    ],
)  # fmt: skip
def test_formats_without_content_are_told(
    acts: tuple[Callable[[Worksheet], None], ...], what: str, filled: Path, tmp_path: Path
) -> None:
    *_, done = fill_after(acts, filled, tmp_path / "town.xlsx")
    notes = [note for note in done.notes if "other formats on" in note]
    wanted = f"Borders and other formats on {what} of “Trees” could not be kept"
    assert [note.startswith(wanted) for note in notes] == [True] * bool(what)
    # the next fill has nothing to tell
    *_, again = fill_after((), tmp_path / "town.xlsx", tmp_path / "again.xlsx")
    assert not [note for note in again.notes if "other formats on" in note]


@pytest.mark.slow
def test_rules_do_not_pile_up_from_fill_to_fill(filled: Path, tmp_path: Path) -> None:
    book = tmp_path / "town.xlsx"
    fill_after((mark_high, offer, break_page), filled, book)
    counts = []
    for _ in range(2):
        opened = load_workbook(book)
        counts.append([len(rules(opened["Trees"])), len(opened["Trees"].row_breaks.brk)])
        change_a_reading(opened)
        opened.save(book)
        fill(book)
    assert counts[0] == counts[1]


def test_a_seal_of_an_earlier_version_tells_of_no_aspect() -> None:
    now = "1-2-3-4-5-6-7"
    assert aspects_set("c5cf131281e4", now) == aspects_set("", now) == frozenset()
    assert aspects_set("1-2-3-4-5-6-8", now) == {"alignment"}


def aspects_by_tab(book: Path) -> dict[str, frozenset[str]]:
    """The aspects of formats that count as set by hand, on each tab of ours."""
    package = Package.open(book)
    return {
        key: aspects_set(
            our_tabs.stored_text(package, our_tabs.look_name(key)).split()[3],
            our_tabs.digest_present_tab(package, tab, key).formats,
        )
        for key, tab in our_tabs.find_tabs(package).items()
    }


@pytest.mark.slow
def test_a_format_that_a_whole_column_has_goes_to_new_rows_too(
    filled: Path, tmp_path: Path
) -> None:
    def show_three_decimals(sheet: Worksheet) -> None:
        at = next(c.column for c in sheet[heading(sheet)] if c.value == "Total height (m)")
        for tree in range(1, LINES + 1):
            sheet.cell(row_of(sheet, tree), at).number_format = "0.000"

    book = tmp_path / "town.xlsx"
    fill_after((show_three_decimals,), filled, book)
    opened = load_workbook(book)
    sheet = opened["Field sheet"]
    tree = next(cell.column for cell in sheet[5] if cell.value == "Tree")
    sheet.cell(6, tree).value = "99"  # the first tree has another number: its old row is gone
    opened.save(book)
    done = fill(book)
    after = load_workbook(book)["Trees"]
    at = next(c.column for c in after[heading(after)] if c.value == "Total height (m)")
    assert after.cell(row_of(after, 99), at).number_format == "0.000"
    assert not any("by hand" in note for note in done.notes)


def test_a_format_whose_row_is_gone_is_said(filled: Path, tmp_path: Path) -> None:
    book = tmp_path / "town.xlsx"
    opened = load_workbook(filled)
    trees, field = opened["Trees"], opened["Field sheet"]
    trees.cell(row_of(trees, 1), 4).number_format = "0.000"
    tree = next(cell.column for cell in field[5] if cell.value == "Tree")
    field.cell(6, tree).value = "99"
    opened.save(book)
    done = fill(book)
    assert [note for note in done.notes if "by hand" in note] == [
        "Formats set by hand on 1 cell of “Trees” (bold, decimal places and the like) could not be "
        "kept: its row or column is no longer there. The backup has them"
    ]


def test_a_marked_row_that_is_gone_keeps_the_old_tab(filled: Path, tmp_path: Path) -> None:
    book = tmp_path / "town.xlsx"
    opened = load_workbook(filled)
    trees, field = opened["Trees"], opened["Field sheet"]
    row = row_of(trees, 1)
    trees.cell(row, 4).fill = PatternFill("solid", fgColor="FF92D050")
    tree = next(cell.column for cell in field[5] if cell.value == "Tree")
    field.cell(6, tree).value = "99"
    opened.save(book)
    done = fill(book)
    assert load_workbook(book)["Trees (kept)"].cell(row, 4).fill.fgColor.rgb == "FF92D050"
    assert any("is kept as “Trees (kept)”" in note for note in done.notes)


def add_at_the_end(book: Path, more: str) -> None:
    """Put elements of the later kinds at the end of Trees, as newer programs write them."""
    package = Package.open(book)
    part = our_tabs.find_tabs(package)["trees"].part
    content = package.read(part).decode()
    end = content.rindex("</")
    more = f'<extLst><ext xmlns:x14="{X14}" xmlns:xm="{XM}" uri="{{1}}">{more}</ext></extLst>'
    package.replace(part, (content[:end] + more + content[end:]).encode())
    book.write_bytes(package.to_bytes())


def test_a_list_that_lies_on_another_sheet_stays(filled: Path, tmp_path: Path) -> None:
    """Programs since 2010 write such a list at the end of the sheet."""
    book = tmp_path / "town.xlsx"
    opened = load_workbook(filled)
    change_a_reading(opened)
    opened.save(book)
    add_at_the_end(
        book,
        '<x14:dataValidations count="1"><x14:dataValidation type="list"><x14:formula1>'
        "<xm:f>Lists!$A$1:$A$5</xm:f></x14:formula1><xm:sqref>A11:A18</xm:sqref>"
        "</x14:dataValidation></x14:dataValidations>",
    )
    fill(book)
    package = Package.open(book)
    content = package.read(our_tabs.find_tabs(package)["trees"].part)
    assert b"<xm:f>Lists!$A$1:$A$5</xm:f>" in content
    assert b"<xm:sqref>A11:A18</xm:sqref>" in content


@pytest.mark.slow
def test_small_charts_in_cells_keep_the_old_tab(filled: Path, tmp_path: Path) -> None:
    book = tmp_path / "town.xlsx"
    opened = load_workbook(filled)
    change_a_reading(opened)
    opened.save(book)
    add_at_the_end(
        book,
        "<x14:sparklineGroups><x14:sparklineGroup><x14:sparklines><x14:sparkline>"
        "<xm:f>Trees!J11:L11</xm:f><xm:sqref>BZ11</xm:sqref></x14:sparkline></x14:sparklines>"
        "</x14:sparklineGroup></x14:sparklineGroups>",
    )
    fill(book)
    package = Package.open(book)
    kept = sheet_named(package, "Trees (kept)")
    assert kept is not None
    assert b"<xm:sqref>BZ11</xm:sqref>" in package.read(kept.part)


@pytest.mark.slow
@pytest.mark.libreoffice
def test_after_a_save_by_libreoffice_nothing_counts_as_set_by_hand(
    filled: Path, tmp_path: Path, soffice: Converter
) -> None:
    before = look(load_workbook(filled)["Trees"])
    book = tmp_path / "town.xlsx"
    book.write_bytes(filled.read_bytes())
    saved = soffice(book)
    aspects = aspects_by_tab(saved)
    assert set(aspects) == set(RESULT_TABS)
    opened = load_workbook(saved)
    change_a_reading(opened)
    opened.save(saved)
    done = fill(saved)
    assert "Trees" in done.tabs_written
    assert not any("by hand" in note for note in done.notes)
    assert not any("could not be kept" in note for note in done.notes)
    assert not any(aspects.values())
    after = look(load_workbook(saved)["Trees"])
    for same in ("freeze", "breaks", "hidden rows", "filter", "lists", "links", "protected"):
        assert after[same] == before[same], same
    assert len(after["rules"]) == len(before["rules"])
