"""What people do to a filled workbook as a whole, and what must still be there after the next fill.

One act a row, with its own proof. Settings of a tab (widths, filters, formats and so on) have
theirs in `test_kept_looks`.
"""

import base64
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.drawing.image import Image
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from tests.jobs.books import PLOT, varied, write_filled
from tests.jobs.deciding import TROUBLED, shuffle_rows
from tests.jobs.test_kept_looks import LINES, change_a_reading, heading, row_of
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.jobs.fill.summary import Filled

# one pixel; the smallest picture
PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAQAAAC1HAwCAAAAC0lEQVR42mNkYAAAAAYAAjCB0C8AAAAASUVORK5CYII="
)
KEPT = "Trees (kept)"


class Picture(Image):
    """A picture for a program that has none of its own to read it with."""

    def __init__(self) -> None:
        """A square of one pixel."""
        self.ref, self.format, self.width, self.height = None, "png", 40, 40

    def _data(self) -> bytes:
        return PIXEL


@dataclass(frozen=True)
class Act:
    """Something that people do, and whether it is still there.

    `keeps` is the tab that is kept for it, `part` what the file must hold.
    """

    do: Callable[[Workbook], None]
    is_there: Callable[[Workbook], bool]
    keeps: str = ""
    part: str = ""


def trees(opened: Workbook) -> Worksheet:
    return opened["Trees"]


def comment(opened: Workbook) -> None:
    sheet = trees(opened)
    sheet.cell(row_of(sheet, 4), 2).comment = Comment("Ask the depot", "AB")


def write_below(opened: Workbook) -> None:
    trees(opened)["B60"] = "Ask the depot"


def type_over(opened: Workbook) -> None:
    sheet = trees(opened)
    sheet.cell(row_of(sheet, 5), 10).value = 99.5


def delete_row(opened: Workbook) -> None:
    trees(opened).delete_rows(row_of(trees(opened), 8))


def insert_column(opened: Workbook) -> None:
    sheet = trees(opened)
    for area in [str(area) for area in sheet.merged_cells.ranges]:
        sheet.unmerge_cells(area)
    sheet.insert_cols(3)
    sheet.cell(heading(sheet), 3, "My remark")
    sheet.cell(row_of(sheet, 4), 3, "look again")


def insert_row(opened: Workbook) -> None:
    sheet = trees(opened)
    at = row_of(sheet, 3)
    sheet.insert_rows(at)
    sheet.cell(at, 4, "from here on another street")


def sort_trees(opened: Workbook) -> None:
    """The rows of two trees change places."""
    sheet = trees(opened)
    one, other = row_of(sheet, 2), row_of(sheet, 7)
    for column in range(1, sheet.max_column + 1):
        cells = sheet.cell(one, column), sheet.cell(other, column)
        cells[0].value, cells[1].value = cells[1].value, cells[0].value


def paste_picture(opened: Workbook) -> None:
    trees(opened).add_image(Picture(), "C40")


def paste_chart(opened: Workbook) -> None:
    trees(opened).add_chart(bars(trees(opened)), "C40")


def bars(of: Worksheet) -> BarChart:
    chart = BarChart()
    start = heading(of) + 1
    chart.add_data(Reference(of, min_col=10, min_row=start, max_row=start + LINES - 1))
    return chart


def add_formula_beside(opened: Workbook) -> None:
    sheet = trees(opened)
    row = row_of(sheet, 2)
    sheet.cell(row, sheet.max_column + 3, f"=J{row}*3.28")


def rename_tab(opened: Workbook) -> None:
    """As a spreadsheet program does: the names follow."""
    trees(opened).title = "All our trees"
    for name in opened.defined_names.values():
        name.attr_text = name.attr_text.replace("'Trees'!", "'All our trees'!")


def move_tab(opened: Workbook) -> None:
    opened.move_sheet("Trees", -(opened.sheetnames.index("Trees")))


def put_tab_between(opened: Workbook) -> None:
    opened.create_sheet("Between", opened.sheetnames.index("By plot"))["A1"] = "mine"


def delete_tab(opened: Workbook) -> None:
    del opened["By species"]


def delete_all_tabs(opened: Workbook) -> None:
    for name in RESULT_TABS.values():
        del opened[name]


def hide_tab(opened: Workbook) -> None:
    opened["By plot"].sheet_state = "hidden"


def hide_tab_well(opened: Workbook) -> None:
    opened["Log"].sheet_state = "veryHidden"


def copy_tab(opened: Workbook) -> None:
    opened.copy_worksheet(trees(opened)).title = "Trees last year"


def select_tab(opened: Workbook) -> None:
    opened.active = opened["By plot"]
    for sheet in opened:
        sheet.sheet_view.tabSelected = sheet.title == "By plot"


def use_in_formula(opened: Workbook) -> None:
    own = opened.create_sheet("Own")
    start = heading(trees(opened))
    own["A1"] = f"=SUM(Trees!J{start + 1}:J{start + LINES})"


def use_in_chart(opened: Workbook) -> None:
    opened.create_sheet("Own").add_chart(bars(trees(opened)), "B2")


def use_in_name(opened: Workbook) -> None:
    start = heading(trees(opened))
    target = f"Trees!$J${start + 1}:$J${start + LINES}"
    opened.defined_names["heights"] = DefinedName("heights", attr_text=target)


def use_in_list(opened: Workbook) -> None:
    """A list to choose from, on a sheet of one's own, that offers the trees."""
    rule = DataValidation(type="list", formula1="Trees!$B$11:$B$18")
    rule.add("A1")
    opened.create_sheet("Own").add_data_validation(rule)


def decide(opened: Workbook) -> None:
    sheet = opened["To check"]
    at = {cell.value: cell.column for cell in sheet[to_check_row(sheet)]}
    row = to_check_row(sheet) + 2
    for name, value in (("Decision", "correct"), ("Initials", "AB"), ("Note", "seen on site")):
        sheet.cell(row, at[name], value)


def to_check_row(sheet: Worksheet) -> int:
    return next(c.row for row in sheet.iter_rows() for c in row if c.value == "Finding")


def shuffle_findings(opened: Workbook) -> None:
    decide(opened)
    sheet = opened["To check"]
    shuffle_rows(sheet, to_check_row(sheet) + 1)


def is_decided(opened: Workbook) -> bool:
    cells = [cell.value for row in opened["To check"].iter_rows() for cell in row]
    return all(value in cells for value in ("correct", "AB", "seen on site"))


def set_properties(opened: Workbook) -> None:
    opened.properties.title = "Street trees of the harbour"


def column_ten(sheet: Worksheet) -> list[object]:
    start = heading(sheet)
    return [sheet.cell(row, 10).value for row in range(start + 1, start + 1 + LINES)]


def texts(sheet: Worksheet) -> list[object]:
    return [cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None]


def result_tabs(opened: Workbook) -> list[str]:
    return [name for name in opened.sheetnames if name in RESULT_TABS.values()]


ACTS: dict[str, Act] = {
    "a comment on a cell": Act(
        comment,
        lambda o: o[KEPT].cell(row_of(o[KEPT], 4), 2).comment.text == "Ask the depot",
        KEPT,
    ),
    "words below a table": Act(write_below, lambda o: "Ask the depot" in texts(o[KEPT]), KEPT),
    "a result typed over": Act(type_over, lambda o: 99.5 in texts(o[KEPT]), KEPT),
    "a row deleted": Act(
        delete_row,
        lambda o: row_of(trees(o), 8) > 0 and "8" not in map(str, column_of_trees(o[KEPT])),
        KEPT,
    ),
    "a column of one's own": Act(insert_column, lambda o: "look again" in texts(o[KEPT]), KEPT),
    "a row of one's own": Act(
        insert_row, lambda o: "from here on another street" in texts(o[KEPT]), KEPT
    ),
    "a tab sorted": Act(
        sort_trees,
        lambda o: row_of(o[KEPT], 7) < row_of(o[KEPT], 2) and row_of(trees(o), 2) > 0,
        KEPT,
    ),
    "a picture pasted": Act(paste_picture, lambda o: KEPT in o.sheetnames, KEPT, ".png"),
    "a chart pasted": Act(paste_chart, lambda o: len(o[KEPT]._charts) == 1, KEPT),
    "a formula beside a table": Act(
        add_formula_beside,
        lambda o: f"=J{row_of(o[KEPT], 2)}*3.28" in texts(o[KEPT]),
        KEPT,
    ),
    "a tab renamed": Act(
        rename_tab,
        lambda o: "Trees" not in o.sheetnames and len(column_ten(o["All our trees"])) == LINES,
    ),
    "a tab moved to the front": Act(move_tab, lambda o: o.sheetnames[0] == "Trees"),
    "a tab of one's own between ours": Act(
        put_tab_between,
        lambda o: (
            o.sheetnames.index("Between") == o.sheetnames.index("By plot") - 1
            and o["Between"]["A1"].value == "mine"
        ),
    ),
    "a tab deleted": Act(delete_tab, lambda o: set(result_tabs(o)) == set(RESULT_TABS.values())),
    "all tabs deleted": Act(
        delete_all_tabs, lambda o: set(result_tabs(o)) == set(RESULT_TABS.values())
    ),
    "a tab hidden": Act(hide_tab, lambda o: o["By plot"].sheet_state == "hidden"),
    "a tab hidden well": Act(hide_tab_well, lambda o: o["Log"].sheet_state == "veryHidden"),
    "a tab copied": Act(
        copy_tab, lambda o: column_ten(o["Trees last year"])[1:] == column_ten(trees(o))[1:]
    ),
    "another tab in front": Act(select_tab, lambda o: o.active.title == "By plot"),
    "a formula that uses a tab": Act(
        use_in_formula,
        lambda o: o["Own"]["A1"].value == f"=SUM(Trees!J{heading(trees(o)) + 1}:J{last_row(o)})",
    ),
    "a chart that uses a tab": Act(
        use_in_chart,
        lambda o: f"$J${last_row(o)}" in o["Own"]._charts[0].series[0].val.numRef.f,
    ),
    "a name that uses a tab": Act(
        use_in_name,
        lambda o: o.defined_names["heights"].attr_text.endswith(f"$J${last_row(o)}"),
    ),
    "a list that uses a tab": Act(
        use_in_list,
        lambda o: (
            o["Own"].data_validations.dataValidation[0].formula1
            == f"Trees!$B${heading(trees(o)) + 1}:$B${last_row(o)}"
        ),
    ),
    "a decision": Act(decide, is_decided),
    "findings sorted after a decision": Act(shuffle_findings, is_decided),
    "the title of the workbook": Act(
        set_properties, lambda o: o.properties.title == "Street trees of the harbour"
    ),
}
# acts that do not come into each other's way, done at once
QUICK = (
    "a comment on a cell",
    "a formula that uses a tab",
    "a tab of one's own between ours",
    "a tab hidden",
    "a decision",
    "a name that uses a tab",
    "the title of the workbook",
)


def column_of_trees(sheet: Worksheet) -> list[object]:
    start = heading(sheet)
    return [sheet.cell(row, 2).value for row in range(start + 1, sheet.max_row + 1)]


def last_row(opened: Workbook) -> int:
    return heading(trees(opened)) + LINES


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A filled workbook with three findings."""
    lines = varied(LINES)
    for change in TROUBLED:
        (line,) = [line for line in lines if line["tree"] == change["tree"]]
        line |= change
    folder = tmp_path_factory.mktemp("filled")
    return write_filled(folder / "town.xlsx", lines, [PLOT | {"trees_counted": LINES}])


def fill_after(acts: list[Act], filled: Path, book: Path) -> tuple[Workbook, Filled]:
    """Do the acts, save, change a reading and fill."""
    opened = load_workbook(filled)
    for act in acts:
        act.do(opened)
    change_a_reading(opened)
    opened.save(book)
    done = fill(book)
    return load_workbook(book), done


def check(acts: list[Act], after: Workbook, done: Filled, book: Path) -> None:
    for act in acts:
        assert act.is_there(after)
    keeps = {act.keeps for act in acts} - {""}
    assert {name for name in after.sheetnames if "(kept)" in name} == keeps
    for name in keeps:
        assert any(f"is kept as “{name}”" in note for note in done.notes)
    with zipfile.ZipFile(book) as archive:
        assert archive.testzip() is None
        for act in acts:
            assert any(name.endswith(act.part) for name in archive.namelist())
    assert not fill(book).wrote


def test_what_people_do_at_once(filled: Path, tmp_path: Path) -> None:
    acts = [ACTS[name] for name in QUICK]
    check(acts, *fill_after(acts, filled, tmp_path / "town.xlsx"), tmp_path / "town.xlsx")


@pytest.mark.slow
@pytest.mark.parametrize("name", ACTS)
def test_what_people_do(name: str, filled: Path, tmp_path: Path) -> None:
    acts = [ACTS[name]]
    check(acts, *fill_after(acts, filled, tmp_path / "town.xlsx"), tmp_path / "town.xlsx")


def test_a_save_without_an_act_keeps_no_tab(filled: Path, tmp_path: Path) -> None:
    """The program that saves leaves out the results of all formulas, and nobody added anything."""
    after, _ = fill_after([], filled, tmp_path / "town.xlsx")
    assert not [name for name in after.sheetnames if "(kept)" in name]
