"""The printed field sheets: nothing missing, nothing out of order, large enough to write into."""

from collections.abc import Sequence
from unittest.mock import patch

import pytest
from openpyxl.worksheet.worksheet import Worksheet

from tests.jobs.paper.printed import assert_fits_its_paper, open_book, pages, text_of
from tests.survey.make_survey import PLAIN_PLOT, make_survey
from tests.town import TOWN
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.choices import choice
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.jobs.paper.book import Sizes, field_sheets_book
from xlhelpers.jobs.paper.crown_columns import crown_rules
from xlhelpers.jobs.paper.field_page import NOTHING_KNOWN, column_number, field_page
from xlhelpers.jobs.paper.plot_facts import PlotFacts, choose_plots, plot_facts
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.page_code import verify
from xlhelpers.pages.paper_page import SIZES, UNIT_MM
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.model import Survey

MAIN = [field for field in FIELD_SHEET.fields if field.block == "main"]
ASKED = [field for field in FIELD_SHEET.fields if field.block in {"main", "needed"}]
ALL_SIZES = [Sizes(SIZES[paper], units) for paper in SIZES for units in ("metric", "us")]


def plots_book(survey: Survey, sizes: Sizes, plots: Sequence[PlotFacts]) -> bytes:
    """The book without its cards, which are looked at elsewhere and take most of the time."""
    with patch("xlhelpers.jobs.paper.book.write_cards"):
        return field_sheets_book(survey, sizes, plots)


@pytest.fixture(scope="module")
def town() -> Survey:
    return read_survey(Package.open(TOWN))


@pytest.fixture(scope="module")
def sheet(town: Survey) -> Worksheet:
    """The sheet of plot 1 of the invented town: 12 trees, one page."""
    return sheet_of(town, "1")


def sheet_of(survey: Survey, plot: str, sizes: Sizes = ALL_SIZES[0]) -> Worksheet:
    return open_book(plots_book(survey, sizes, plot_facts(survey, (plot,))))[f"Plot {plot}"]


def texts(sheet: Worksheet, page: range) -> list[list[str]]:
    return [
        [text_of(cell.value) for cell in sheet[row] if cell.value not in (None, "")] for row in page
    ]


def line_with(rows: list[list[str]], start: str) -> list[str]:
    return next(row for row in rows if any(text.startswith(start) for text in row))


def one_plot(**facts: object) -> Survey:
    return make_survey(plots=[{**PLAIN_PLOT, "plot": "1", **facts}])


@pytest.mark.parametrize(
    "sizes",
    [ALL_SIZES[0], *(pytest.param(sizes, marks=pytest.mark.slow) for sizes in ALL_SIZES[1:])],
    ids=lambda s: f"{s.paper.name}-{s.units}",
)
def test_every_page_fits_its_paper(town: Survey, sizes: Sizes) -> None:
    book = open_book(field_sheets_book(town, sizes, plot_facts(town, ("1", "23"))))
    printed = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    assert len(printed) > 3
    for sheet in printed:
        assert_fits_its_paper(sheet)
        assert int(sheet.page_setup.paperSize) == sizes.paper.number


def test_the_main_run_stands_in_exactly_its_order(sheet: Worksheet) -> None:
    for page in pages(sheet):
        headings = line_with(texts(sheet, page), "1 Plot")
        wanted = [f"{n} {field.heading('metric')}" for n, field in enumerate(MAIN, 1)]
        assert [text.split("\n")[0] for text in headings] == wanted


def places_of(sheet: Worksheet, page: range) -> dict[int, list[str]]:
    """The headings of each numbered column on a page."""
    cells = [part for row in texts(sheet, page) for text in row for part in text.split("\n")]
    return {
        number: [text for text in cells if text.startswith(f"{number} ")]
        for number in range(1, len(ASKED) + 1)
    }


def test_every_column_that_is_keyed_has_a_place(town: Survey) -> None:
    """On each page of a plot the main run, stems, reasons and notes; the others on their page."""
    book = open_book(plots_book(town, ALL_SIZES[0], plot_facts(town, ("1",))))
    sheet, rare = book["Plot 1"], book["Rare cases"]
    on_rare = places_of(rare, range(1, rare.max_row + 1))
    often = {"foot_above_eye", "other_stems", "missing_because", "note"}
    for page in pages(sheet):
        on_page = places_of(sheet, page)
        for number, field in enumerate(ASKED, 1):
            main = field.block == "main" or field.name == "foot_above_eye"
            assert bool(on_page[number]) == (main or field.name in often), field.label
            assert main or len(on_rare[number]) == 1, field.label
            for heading in (*on_page[number], *on_rare[number]):
                assert field.label.lower() in heading.lower()


@pytest.mark.parametrize("sizes", ALL_SIZES, ids=lambda s: f"{s.paper.name}-{s.units}")
@pytest.mark.parametrize("stem", choice("diameter typed as"))
@pytest.mark.parametrize("widths", choice("crown widths"))
def test_twelve_trees_are_on_one_page(sizes: Sizes, widths: str, stem: str) -> None:
    """With a line for a second place, and four for stems, reasons and notes."""
    survey = make_survey(
        plots=[{**PLAIN_PLOT, "plot": "1", "trees_counted": 12}],
        rules={"crown_widths": widths, "diameter_typed_as": stem},
    )
    wanted = Sizes(sizes.paper, sizes.units, crown_rules(survey.rules))
    sheet = open_book(plots_book(survey, wanted, plot_facts(survey)))["Plot 1"]
    assert len(pages(sheet)) == 1
    assert_fits_its_paper(sheet)
    rows = texts(sheet, pages(sheet)[0])
    assert len([row for row in rows if row and row[0] == "1" and "−" in row]) == 13
    stems, note = (f"{column_number(name)} " for name in ("other_stems", "note"))
    assert len([text for text in line_with(rows, stems) if text.startswith(note)]) == 2
    # after their headings two lines without a word, then the cautions
    heading = next(place for place, row in enumerate(rows) if row[:1] == ["Tree"])
    assert rows[heading + 1 : heading + 3] == [[], []]


@pytest.mark.parametrize("sizes", ALL_SIZES, ids=lambda s: f"{s.paper.name}-{s.units}")
def test_radii_leave_room_for_the_species(sizes: Sizes) -> None:
    """A column of species is 30 mm wide at least, one of readings 15 mm, one of radii 12 mm."""
    rules = dict(one_plot().rules) | {"crown_widths": "four radii"}
    wanted = Sizes(sizes.paper, sizes.units, crown_rules(rules))
    headings = field_page(NOTHING_KNOWN, wanted, 1, 1)
    boxes = {box.label.split(" ", 1)[1].split(" (")[0]: box.width * UNIT_MM
             for line in headings for box in line.boxes
             if box.look.startswith("heading") and box.label[:1].isdigit()}  # fmt: skip
    unit = "m" if sizes.units == "metric" else "ft"
    assert any(f"Radius N ({unit})" in box.label for line in headings for box in line.boxes)
    assert boxes["Species"] >= 30
    assert min(boxes[name] for name in ("Condition", "Distance", "Tip reading")) >= 15
    assert min(boxes[f"Radius {side}"] for side in "NESW") >= 12


@pytest.mark.parametrize(("kind", "wanted"), [("level", 0), ("along slope", 2)])
def test_plots_with_a_rare_column_for_each_tree_have_its_page(kind: str, wanted: int) -> None:
    survey = one_plot(distance_kind=kind, trees_counted=20)
    sheet = sheet_of(survey, "1")
    assert_fits_its_paper(sheet)
    rare = [page for page in pages(sheet) if places_of(sheet, page)[column_number("slope_reading")]]
    assert len(rare) == wanted
    lines = sum(len([row for row in texts(sheet, page) if not row]) for page in rare)
    assert lines >= (21 if wanted else 0)


def test_where_girths_are_written_no_heading_says_diameter() -> None:
    survey = make_survey(plots=[{**PLAIN_PLOT, "plot": "1"}], rules={"diameter_typed_as": "girth"})
    sizes = Sizes(SIZES["a4"], "metric", crown_rules(survey.rules))
    sheet = open_book(plots_book(survey, sizes, plot_facts(survey)))["Plot 1"]
    headings = [text for row in texts(sheet, pages(sheet)[0]) for text in row]
    assert "6 Girth (cm)" in headings
    assert f"{column_number('other_stems')} Other girths (cm)" in headings
    assert not [text for text in headings if text.startswith("6 Diam")]


def test_every_fact_of_a_plot_has_a_place_on_the_first_page(sheet: Worksheet) -> None:
    head = " ".join(text for row in texts(sheet, pages(sheet)[0])[:6] for text in row).lower()
    renamed = {
        "leaf_state": "leaves",
        "trees_counted": "trees on this plot",
        "paper_sheets": "sheets",
        "other_scale_tip": "first tip on percent",
        "area_inside": "area inside town",
        "distance_kind": "distance",
    }
    for field in PLOTS.fields:
        if field.kind != "computed":
            assert renamed.get(field.name, field.label.lower()) in head, field.name
    for words in ("harbour", "2025-05-12", "am bt", "clino 1", "☐ percent", "☐ degrees"):
        assert words in head
    for words in ("eye height", "am: 1.58 m", "level check: out", "page", "1 of 1", "code"):
        assert words in head


def test_each_line_has_a_printed_minus_and_a_box_to_tick(sheet: Worksheet) -> None:
    rows = texts(sheet, pages(sheet)[0])
    lines = [row for row in rows if row and row[0] == "1"]
    assert len(lines) >= 8
    assert all(row[-2:] == ["−", "☐+"] for row in lines)
    assert [row[1] for row in lines[-2:]] == ["−", "2"]  # room for a second set-up


def test_the_code_of_each_page_belongs_to_its_plot(town: Survey) -> None:
    sheet = sheet_of(town, "Saltway")
    found = []
    for page in pages(sheet):
        code = next(t for t in line_with(texts(sheet, page), "PLOT") if t.startswith("Code"))
        found.append(verify(code.removeprefix("Code").strip(), "Saltway").page)
    assert found == list(range(1, len(found) + 1))
    assert len(found) > 4  # 66 trees were counted there


def test_every_page_carries_the_cautions(sheet: Worksheet) -> None:
    for page in pages(sheet):
        care = texts(sheet, page)[-1][0]
        for word in ("traffic", "wires", "3 m (10 ft)", "dead", "laser", "NOT SAFE", "arborists"):
            assert word in care


@pytest.mark.parametrize(("trees", "least"), [(None, 1), (0, 1), (5, 1), (12, 1), (13, 2), (40, 3)])
def test_there_are_lines_for_all_trees_counted(trees: int | None, least: int) -> None:
    sheet = sheet_of(one_plot(trees_counted=trees), "1")
    rows = [row for page in pages(sheet) for row in texts(sheet, page)]
    lines = [row for row in rows if row and row[0] == "1" and "−" in row]
    first = [row for row in lines if row[1] != "2"]
    assert len(first) >= (trees or 0)
    assert len(pages(sheet)) == least


def test_a_plot_without_an_instrument_offers_every_scale() -> None:
    sheet = sheet_of(one_plot(instrument=""), "1")
    head = " ".join(text for row in texts(sheet, pages(sheet)[0])[:3] for text in row)
    for scale in ("percent", "degrees", "topographic", "fixed distance", "height"):
        assert f"☐ {scale}" in head


def test_feet_and_inches_stand_in_the_headings() -> None:
    rows = texts(sheet := sheet_of(one_plot(), "1", ALL_SIZES[1]), pages(sheet)[0])
    headings = line_with(rows, "1 Plot")
    assert "6 Diameter, DBH (in)" in headings
    assert "9 Distance (ft)" in headings


HOSTILE = '=HYPERLINK("http://x") <r><t>a</t></r> & \'[x]*?/\\:'


def test_texts_of_the_workbook_stay_texts() -> None:
    survey = make_survey(
        plots=[
            {**PLAIN_PLOT, "plot": HOSTILE, "note": HOSTILE, "stratum": "=1+1", "crew": "@A"},
            {**PLAIN_PLOT, "plot": HOSTILE + "x"},
        ]
    )
    book = open_book(plots_book(survey, ALL_SIZES[0], plot_facts(survey)))
    names = [name for name in book.sheetnames if name.startswith("Plot")]
    assert len(names) == 2
    assert all(len(name) <= 31 for name in names)
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            assert all(cell.data_type != "f" for cell in row)


def test_plots_that_are_not_there_are_named(town: Survey) -> None:
    with pytest.raises(WorkbookError, match=r"no plot 99, x\."):
        plot_facts(town, ("1", "99", "x"))
    with pytest.raises(WorkbookError, match="No plot is entered yet"):
        plot_facts(make_survey())
    crowded = one_plot(trees_counted=5000)
    with pytest.raises(WorkbookError, match=r"5000 trees need \d+ pages"):
        plots_book(crowded, ALL_SIZES[0], plot_facts(crowded))


def test_equal_surveys_give_equal_bytes(town: Survey) -> None:
    first, second = (plots_book(town, ALL_SIZES[0], plot_facts(town, ("1",))) for _ in range(2))
    assert first == second


def test_a_crew_of_three_and_a_long_note_are_printed_whole(town: Survey) -> None:
    note = "hung branches after the storm: nobody walks under them, the crew turned round"
    survey = one_plot(crew="EV BT AM", note=note, trees_counted=10)
    for sizes in ALL_SIZES:
        sheet = sheet_of(survey, "1", sizes)
        said = " ".join(text_of(cell.value) for row in sheet for cell in row)
        assert "EV BT AM" in said
        assert note in said
        assert "…" not in said
        assert_fits_its_paper(sheet)


@pytest.mark.parametrize(("empty", "count"), [(None, 1), (3, 3)])
def test_a_survey_without_plots_gets_empty_sheets(empty: int | None, count: int) -> None:
    """Every box at the head is for the crew, and there is no page code without a plot."""
    survey = make_survey()
    plots = choose_plots(survey, (), empty)
    book = open_book(plots_book(survey, ALL_SIZES[0], plots))
    sheets = [name for name in book.sheetnames if name.startswith("Empty sheet")]
    assert len(sheets) == count
    for name in sheets:
        texts = [str(c.value) for row in book[name].iter_rows() for c in row if c.value]
        assert not [text for text in texts if verify(text, "").page]


def test_empty_sheets_can_be_had_beside_listed_plots(town: Survey) -> None:
    assert [one.plot for one in choose_plots(town, (), 2)] == ["", ""]
    with pytest.raises(WorkbookError, match="--empty must be from 1 to"):
        choose_plots(town, (), 0)


RULES_OF_CROWNS = {
    "two fixed directions": ("Crown width, north-south", "Crown width, east-west"),
    "four radii": ("Radius N", "Radius E", "Radius S",
                   "Radius W"),
    "not measured": (),
}  # fmt: skip


@pytest.mark.parametrize("widths", RULES_OF_CROWNS)
@pytest.mark.parametrize("paper", SIZES)
def test_the_crown_columns_follow_the_rule(widths: str, paper: str) -> None:
    survey = make_survey(plots=[{**PLAIN_PLOT, "plot": "1"}], rules={"crown_widths": widths})
    sizes = Sizes(SIZES[paper], "metric", crown_rules(survey.rules))
    sheet = open_book(plots_book(survey, sizes, plot_facts(survey)))["Plot 1"]
    assert_fits_its_paper(sheet)
    headings = line_with(texts(sheet, pages(sheet)[0]), "1 Plot")
    labels = [text.split("\n")[0].partition(" ")[2] for text in headings]
    crowns = [label for label in labels if label.startswith(("Crown width", "Radius"))]
    assert crowns == [f"{label} (m)" for label in RULES_OF_CROWNS[widths]]
    numbers = [text.partition(" ")[0] for text in headings]
    assert len(set(numbers)) == len(numbers)


def test_a_survey_of_heights_has_no_columns_for_crowns() -> None:
    rules = {"crown_widths": "not measured", "crown_depth": "not measured"}
    survey = make_survey(plots=[{**PLAIN_PLOT, "plot": "1"}], rules=rules)
    sizes = Sizes(SIZES["a4"], "metric", crown_rules(survey.rules))
    sheet = open_book(plots_book(survey, sizes, plot_facts(survey)))["Plot 1"]
    headings = " ".join(line_with(texts(sheet, pages(sheet)[0]), "1 Plot"))
    assert "Tip reading" in headings
    assert "rown" not in headings


def test_what_plots_states_is_marked_at_the_head() -> None:
    sheet = sheet_of(one_plot(distance_to="bark", foot_by="eye height"), "1")
    head = " ".join(text for row in texts(sheet, pages(sheet)[0])[:6] for text in row)
    assert "☐ centre  ☒ bark  ☐ instrument" in head
    assert "☐ read  ☒ eye height" in head
