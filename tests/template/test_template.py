"""The template holds every field, names every heading, and opens where it can be tried."""

import io
import re
import shutil
import subprocess
import zipfile
from functools import cache
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from openpyxl.workbook import Workbook
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet
from python_calamine import CalamineWorkbook

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.choices import choice
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.fields.rules import ADVANCED, RULES
from xlhelpers.fields.species import species_list
from xlhelpers.fields.workbook import GUIDE_TAB, KEYED_SHEETS, TEMPLATE_VERSION, VERSION_NAME
from xlhelpers.live.progress import progress_text
from xlhelpers.live.rule_words import rule_headings
from xlhelpers.measure.instruments import KINDS
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.template import field_sheet, layout
from xlhelpers.template.guide import CAUTIONS, WORDS, steps
from xlhelpers.template.make import STORED, STORED_PLOTS, make_template, write_templates

PROJECT = Path(__file__).parent.parent.parent
SYSTEMS = {"metric": "a4", "us": "letter"}
PLOTS_WANTED = 3
EVERY_FIELD = [
    pytest.param(sheet, field, id=f"{sheet.key}-{field.name}")
    for sheet in KEYED_SHEETS
    for field in sheet.fields
]
COLUMN_SHEETS = [sheet for sheet in KEYED_SHEETS if sheet is not RULES]


@pytest.fixture(scope="module", params=list(SYSTEMS))
def units(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def data(units: str) -> bytes:
    return make_template(units, SYSTEMS[units], PLOTS_WANTED)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def book(data: bytes) -> Workbook:
    return openpyxl.load_workbook(io.BytesIO(data))


def named_cell(book: Workbook, name: str) -> tuple[Worksheet, str]:
    ((tab, address),) = book.defined_names[name].destinations
    return book[tab], address.replace("$", "")


@cache
def validation_at(sheet: Worksheet, row: int, column: int) -> DataValidation:
    cell = sheet.cell(row, column).coordinate
    (found,) = [v for v in sheet.data_validations.dataValidation if cell in v.sqref]
    return found


def entry_validation(book: Workbook, sheet: Sheet, field: Field) -> DataValidation:
    tab, address = named_cell(book, sheet.defined_name(field.name))
    anchor = tab[address]
    below = 0 if sheet is RULES else 1
    return validation_at(tab, anchor.row + below, anchor.column)


def test_tabs_stand_in_their_order(book: Workbook) -> None:
    visible = [sheet.title for sheet in book if sheet.sheet_state == "visible"]
    assert visible == [
        *(GUIDE_TAB, "Field sheet", "Plots", "Survey rules", "Strata", "People"),
        *("Instruments", "Instrument checks", "Species"),
    ]
    assert {sheet.tab for sheet in KEYED_SHEETS} == set(visible) - {GUIDE_TAB}
    assert [s.title for s in book if s.sheet_state != "visible"] == ["Lists"]
    assert book.active.title == GUIDE_TAB


@pytest.mark.parametrize(("sheet", "field"), EVERY_FIELD)
def test_every_field_has_its_named_heading(
    book: Workbook, units: str, sheet: Sheet, field: Field
) -> None:
    tab, address = named_cell(book, sheet.defined_name(field.name))
    cell = tab[address]
    assert tab.title == sheet.tab
    if sheet is RULES:
        label, unit, explained, source = (tab.cell(cell.row, c).value for c in (1, 3, 4, 5))
        assert (label, explained, source or "") == (field.label, field.help, field.source)
        assert (unit or "") == (field.measured_in.unit(units) if field.measured_in else "")  # type: ignore[arg-type]
    else:
        by_rule = rule_headings(units) if sheet is FIELD_SHEET else {}  # type: ignore[arg-type]
        usual = field.heading(units)  # type: ignore[arg-type]
        assert cell.value == (f"={by_rule[field.name]}" if field.name in by_rule else usual)
        assert cell.row == 5


def test_names_are_ours_and_the_version_is_one_of_them(book: Workbook) -> None:
    assert all(name.startswith("xlh_") for name in book.defined_names)
    assert book.defined_names[VERSION_NAME].value == str(TEMPLATE_VERSION)


@pytest.mark.parametrize("sheet", COLUMN_SHEETS, ids=lambda sheet: sheet.key)
def test_columns_stand_in_the_order_of_the_records(book: Workbook, sheet: Sheet) -> None:
    columns = [
        named_cell(book, sheet.defined_name(f.name))[0][
            named_cell(book, sheet.defined_name(f.name))[1]
        ].column
        for f in sheet.fields
    ]
    assert columns == list(range(1, len(sheet.fields) + 1))


LISTED = {
    ("line", "species"): "xlh_list_species",
    ("line", "instrument"): "xlh_list_instrument",
    ("plot", "instrument"): "xlh_list_instrument",
    ("plot", "stratum"): "xlh_list_stratum",
    ("plot", "keyed_by"): "xlh_list_person",
    ("check", "instrument"): "xlh_list_instrument",
    ("check", "person"): "xlh_list_person",
    ("instrument", "kind"): "xlh_list_instrument_kind",
}
SOURCES = {
    "xlh_list_species": ("Species", "A"),
    "xlh_list_instrument": ("Instruments", "A"),
    "xlh_list_stratum": ("Strata", "A"),
    "xlh_list_person": ("People", "A"),
}


@pytest.mark.parametrize(("sheet", "field"), EVERY_FIELD)
def test_every_drop_down_offers_its_words(book: Workbook, sheet: Sheet, field: Field) -> None:
    rule = entry_validation(book, sheet, field)
    name = LISTED.get((sheet.key, field.name))
    if field.choices is not None:
        name = "xlh_list_" + field.choices.replace(" ", "_")
    if name is None:
        assert rule.type != "list"
        return
    assert (rule.type, rule.formula1) == ("list", name)
    if name in SOURCES:
        source, column = SOURCES[name]
        # from the first name to the last that is filled, without a volatile function
        begins = rf"{source}!\${column}\$6:INDEX\({source}!\${column}\$6:\${column}\$\d+,"
        assert re.match(begins, book.defined_names[name].value)
        assert not re.search("OFFSET|INDIRECT", book.defined_names[name].value)
        assert not rule.showErrorMessage  # any other name is kept without a word
        return
    (tab, address), *others = book.defined_names[name].destinations
    assert not others
    words = [cell.value for (cell,) in book[tab][address.replace("$", "")]]
    expected = tuple(KINDS) if name == "xlh_list_instrument_kind" else choice(str(field.choices))
    assert tuple(words) == expected
    assert rule.showErrorMessage
    assert rule.errorStyle in (None, "stop")


@pytest.mark.parametrize(("sheet", "field"), EVERY_FIELD)
def test_every_entry_says_what_belongs_there(book: Workbook, sheet: Sheet, field: Field) -> None:
    rule = entry_validation(book, sheet, field)
    assert rule.showInputMessage
    assert 0 < len(rule.promptTitle) <= 32
    assert field.help in rule.prompt
    assert len(rule.prompt) <= 255
    assert rule.error is None or len(rule.error) <= 225  # longest error text of the spreadsheet


@pytest.mark.parametrize(("sheet", "field"), EVERY_FIELD)
def test_ranges_are_those_of_the_records(
    book: Workbook, units: str, sheet: Sheet, field: Field
) -> None:
    rule = entry_validation(book, sheet, field)
    if field.kind != "number" or field.low is None:
        assert rule.type != "decimal"
        return
    factor = field.measured_in.factor(units)  # type: ignore[union-attr, arg-type]
    assert rule.type == "decimal"
    assert float(rule.formula1) * factor == pytest.approx(field.low)
    if field.high is not None:
        assert float(rule.formula2) * factor == pytest.approx(field.high)
    assert rule.errorStyle == "information"  # NOT SAFE, ? and 12'6" must be keyable


@pytest.mark.parametrize(
    ("sheet", "field"), [p for p in EVERY_FIELD if p.values[1].filled_by == "program"]
)
def test_results_refuse_typing(book: Workbook, sheet: Sheet, field: Field) -> None:
    rule = entry_validation(book, sheet, field)
    assert (rule.type, rule.operator, rule.formula1) == ("textLength", "equal", "0")
    assert rule.errorStyle in (None, "stop")
    assert rule.showErrorMessage
    assert "program fills" in rule.errorTitle
    tab, address = named_cell(book, sheet.defined_name(field.name))
    below = tab.cell(6, tab[address].column)
    assert below.font.italic
    assert below.fill.fgColor.rgb != "FFFFFFFF"


@pytest.mark.parametrize("sheet", COLUMN_SHEETS, ids=lambda sheet: sheet.key)
def test_rows_are_prepared_and_validated_to_the_last(book: Workbook, sheet: Sheet) -> None:
    expected = {
        "line": 2 * 12 * PLOTS_WANTED,  # crews find more trees than are expected
        "plot": PLOTS_WANTED,
        "species": len(species_list()) + sheet.prepared_rows,
    }.get(sheet.key, sheet.prepared_rows)
    tab = book[sheet.tab]
    assert tab.max_row == 5 + expected
    for column in range(1, len(sheet.fields) + 1):
        assert tab.cell(tab.max_row, column).border.left.style
        first = validation_at(tab, 6, column)
        assert first is validation_at(tab, tab.max_row, column)


@pytest.mark.parametrize("sheet", KEYED_SHEETS, ids=lambda sheet: sheet.key)
def test_pages_are_set_up(book: Workbook, units: str, sheet: Sheet) -> None:
    tab = book[sheet.tab]
    assert int(tab.page_setup.paperSize) == (9 if units == "metric" else 1)
    assert tab.sheet_properties.pageSetUpPr.fitToPage
    assert (tab.page_setup.fitToWidth or 1, tab.page_setup.fitToHeight) == (1, 0)
    assert tab.print_title_rows.endswith("$5")
    assert "&P" in tab.oddFooter.center.text
    assert "&N" in tab.oddFooter.center.text
    assert tab.freeze_panes == ("C6" if sheet is FIELD_SHEET else "B6")
    assert not tab.protection.sheet
    if sheet is not RULES:
        last = tab.cell(tab.max_row, len(sheet.fields)).coordinate
        assert tab.auto_filter.ref == f"A5:{last}"
    if sheet in (FIELD_SHEET, PLOTS):
        assert tab.page_setup.orientation == "landscape"


def test_rare_columns_are_folded_and_the_hint_names_them(data: bytes, book: Workbook) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        root = etree.fromstring(parts.read("xl/worksheets/sheet2.xml"))
    folded: set[int] = set()
    collapsed = []
    for column in root.iter("{*}col"):
        span = range(int(column.get("min")), int(column.get("max")) + 1)
        if column.get("outlineLevel") == "1":
            assert column.get("hidden") == "1"
            folded.update(span)
        else:
            assert column.get("hidden") is None
        collapsed += list(span) if column.get("collapsed") == "1" else []
    blocks = [field.block for field in FIELD_SHEET.fields]
    expected = {i for i, block in enumerate(blocks, 1) if block in ("needed", "recorded", "radii")}
    helpers = {i for i, block in enumerate(blocks, 1) if block == "helper"}
    assert folded == expected | helpers
    assert collapsed == [max(expected) + 1, max(helpers) + 1]
    hint = book["Field sheet"]["A2"].value
    letter = openpyxl.utils.get_column_letter
    assert f"{letter(min(expected))} to {letter(max(expected))}" in hint
    assert f"above column {letter(max(expected) + 1)}" in hint


DEFAULTS: dict[str, dict[str, float | str]] = {
    "metric": {"units": "metric", "breast_height": 1.3, "repeats_wanted": 5, "limit_height": 60},
    "us": {
        "units": "us",
        "breast_height": 4.5,
        "smallest_diameter": 2,
        "limit_height": 200,
        "limit_distance_share": 50,
        "limit_repeat": 1.6,
    },
}


def test_rules_hold_their_defaults(book: Workbook, units: str) -> None:
    for name, expected in DEFAULTS[units].items():
        tab, address = named_cell(book, RULES.defined_name(name))
        assert tab[address].value == expected, name


def test_species_stand_on_their_sheet(book: Workbook) -> None:
    rows = list(book["Species"].iter_rows(min_row=6, max_col=5, values_only=True))
    kept = [(b, c or "", k, o or "") for b, c, _, k, o in rows if b]
    assert kept == [(s.botanical, s.common, s.kind, s.outline) for s in species_list()]


def test_the_guide_says_all_five_steps_the_words_and_the_cautions(
    book: Workbook, units: str
) -> None:
    texts = [str(cell.value) for row in book[GUIDE_TAB] for cell in row if cell.value]
    assert len(steps(units)) == 5
    for number, (what, how) in enumerate(steps(units), 1):
        assert f"{number}  {what}" in texts
        assert how in texts
    for name, text in (*WORDS, *CAUTIONS):
        assert name in texts
        assert text in texts
    for sheet in KEYED_SHEETS:
        assert sheet.tab in texts
        assert sheet.purpose in texts
    key = steps(units)[1][1]
    assert ("such as 12,5 or NOT SAFE" in key) == (units == "metric")
    assert ("such as 12'6\" or NOT SAFE" in key) == (units == "us")
    assert "repeat plot and tree and type 2 under Set-up" in key
    guide = book[GUIDE_TAB]
    assert (guide.page_setup.fitToWidth or 1, guide.page_setup.fitToHeight or 1) == (1, 1)


@pytest.mark.parametrize(
    "word",
    [
        *("watches", "Never step back", "across a road", "3 m (10 ft)", "every wire as live"),
        *("Use the instrument instead", "dead, split or hung top", "people", "vehicles", "sun"),
        *("wind", "slopes", "private ground", "NOT SAFE", "does not rate tree risk"),
        *("Local codes and licensed arborists decide",),
    ],
)
def test_no_caution_is_missing(word: str) -> None:
    assert any(word in text for _, text in CAUTIONS)


def test_the_advanced_limits_are_folded_below_a_row_that_names_them(book: Workbook) -> None:
    rules = book[RULES.tab]
    rows = {f.name: named_cell(book, RULES.defined_name(f.name))[1][1:] for f in RULES.fields}
    folded = {f.name: int(rows[f.name]) for f in RULES.fields if f.block == ADVANCED}
    assert all(rules.row_dimensions[row].hidden for row in folded.values())
    assert {rules.row_dimensions[row].outlineLevel for row in folded.values()} == {1}
    title = min(folded.values()) - 1
    assert str(rules.cell(title, 1).value).startswith("Advanced limits.")
    assert rules.row_dimensions[title].collapsed
    assert not rules.row_dimensions[title].hidden
    assert not rules.sheet_properties.outlinePr.summaryBelow
    shown = [int(row) for name, row in rows.items() if name not in folded]
    assert not any(rules.row_dimensions[row].hidden for row in shown)


def test_an_advanced_limit_says_what_a_higher_value_does() -> None:
    advanced = [field for field in RULES.fields if field.block == ADVANCED]
    assert len(advanced) >= 10
    for field in advanced:
        assert "A higher value" in field.help


def test_two_runs_give_equal_bytes(data: bytes, units: str) -> None:
    again = make_template(units, SYSTEMS[units], PLOTS_WANTED)  # type: ignore[arg-type]
    assert again == data


def test_the_date_inside_is_the_stated_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "86400")
    with zipfile.ZipFile(io.BytesIO(make_template("metric", "a4", 1))) as parts:
        assert b"1970-01-02T00:00:00Z" in parts.read("docProps/core.xml")


def test_every_part_is_well_formed_and_related_parts_exist(data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        names = set(parts.namelist())
        assert parts.testzip() is None
        for name in names:
            etree.fromstring(parts.read(name))
        relations = etree.fromstring(parts.read("xl/_rels/workbook.xml.rels"))
        for relation in relations:
            target = relation.get("Target").removeprefix("/xl/")
            assert f"xl/{target}" in names
        types = etree.fromstring(parts.read("[Content_Types].xml"))
        overridden = {o.get("PartName").lstrip("/") for o in types.iter("{*}Override")}
        assert overridden <= names


def test_validations_of_a_sheet_do_not_overlap(book: Workbook) -> None:
    for tab in book:
        ranges = [r for v in tab.data_validations.dataValidation for r in v.sqref.ranges]
        for position, one in enumerate(ranges):
            assert all(one.isdisjoint(other) for other in ranges[position + 1 :])


def test_calamine_reads_every_sheet(data: bytes, units: str) -> None:
    opened = CalamineWorkbook.from_filelike(io.BytesIO(data))
    rows = opened.get_sheet_by_name("Field sheet").to_python(skip_empty_area=False)
    assert rows[4] == [field.heading(units) for field in FIELD_SHEET.fields]  # type: ignore[arg-type]
    for sheet in KEYED_SHEETS:
        assert opened.get_sheet_by_name(sheet.tab).to_python()


def test_progress_shows_nothing_before_keying(data: bytes) -> None:
    opened = CalamineWorkbook.from_filelike(io.BytesIO(data))
    rows = opened.get_sheet_by_name("Plots").to_python(skip_empty_area=False)
    column = [field.name for field in PLOTS.fields].index("progress")
    assert [row[column] for row in rows[5:]] == [""] * PLOTS_WANTED
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        text = parts.read("xl/worksheets/sheet3.xml").decode()
    # a stored text, not a formula that was never calculated
    assert len(re.findall(r'<c [^<>]*t="str"><f>[^<]*</f><v></v></c>', text)) == PLOTS_WANTED


def test_lines_can_be_given() -> None:
    book = openpyxl.load_workbook(io.BytesIO(make_template("metric", "letter", 2, lines=7)))
    assert book["Field sheet"].max_row == 5 + 2 * 7
    assert book["Plots"].max_row == 5 + 2
    assert int(book["Plots"].page_setup.paperSize) == 1


@pytest.mark.parametrize(
    ("units", "paper", "plots", "lines", "said"),
    [
        ("imperial", "a4", 1, None, "metric or us"),
        ("us", "a3", 1, None, "a4 or letter"),
        ("us", "a4", 0, None, "1 to 20,000 plots"),
        ("us", "a4", 1, 0, "1 to 500,000 lines"),
    ],
)
def test_wrong_arguments_are_refused(
    units: str, paper: str, plots: int, lines: int | None, said: str
) -> None:
    with pytest.raises(WorkbookError, match=said):
        make_template(units, paper, plots, lines)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", STORED)
def test_the_stored_template_is_not_stale(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    system, paper = STORED[name]
    made = io.BytesIO(make_template(system, paper, STORED_PLOTS))
    with zipfile.ZipFile(PROJECT / "templates" / name) as stored, zipfile.ZipFile(made) as fresh:
        assert stored.namelist() == fresh.namelist()
        stale = [part for part in fresh.namelist() if stored.read(part) != fresh.read(part)]
    assert stale == [], "write templates/ anew with xlhelpers.template.make.write_templates"


@pytest.mark.slow
def test_write_templates_writes_both_systems(tmp_path: Path) -> None:
    paths = write_templates(tmp_path / "templates")
    assert [path.name for path in paths] == list(STORED)
    for path, (system, _) in zip(paths, STORED.values(), strict=True):
        tab, address = named_cell(openpyxl.load_workbook(path), "xlh_rule_units")
        assert tab[address].value == system


ALWAYS_RECALCULATE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""


@pytest.mark.slow
@pytest.mark.libreoffice
@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
def test_libreoffice_counts_what_is_keyed(tmp_path: Path) -> None:
    book = openpyxl.load_workbook(io.BytesIO(make_template("metric", "a4", 5)))
    plots, lines = book["Plots"], book["Field sheet"]
    columns = {field.name: i for i, field in enumerate(FIELD_SHEET.fields, 1)}
    counted = [field.name for field in PLOTS.fields].index("trees_counted") + 1
    progress = [field.name for field in PLOTS.fields].index("progress") + 1
    # plot, tree, set-up, look at
    keyed = [
        (1, 1, None, None),
        (1, 2, 1, "a warning"),
        (1, 2, 2, "a warning"),
        (1, 3, None, ""),
        ("A-7", 1, None, None),
        # the same number keyed as a text on one of the two sheets
        ("1", 4, "1", None),
        (8, 1, None, None),
        ("8x", 1, None, None),
    ]
    for row, entry in enumerate(keyed, 6):
        for name, value in zip(("plot", "tree", "setup", "live_warning"), entry, strict=True):
            lines.cell(row, columns[name]).value = value
    for row, (plot, trees) in enumerate([(1, 4), ("A-7", None), (3, 0), ("8", None)], 6):
        plots.cell(row, 1).value = plot
        plots.cell(row, counted).value = trees
    book.save(tmp_path / "keyed.xlsx")
    profile = tmp_path / "profile"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(ALWAYS_RECALCULATE)
    command = ["soffice", f"-env:UserInstallation={profile.as_uri()}", "--headless"]
    command += ["--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(tmp_path / "out")]
    subprocess.run([*command, str(tmp_path / "keyed.xlsx")], check=True, capture_output=True)
    shown = openpyxl.load_workbook(tmp_path / "out" / "keyed.xlsx", data_only=True)["Plots"]
    texts = [shown.cell(row, progress).value or "" for row in range(6, 11)]
    assert texts == [
        progress_text(4, 4, 2),
        progress_text(1, None, 0),
        progress_text(0, 0, 0),
        progress_text(1, None, 0),
        "",
    ]
    assert texts[0] == "4 of 4 entered, 2 to check before you leave"


def test_copied_rows_are_as_if_each_had_been_written(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows beyond the first some hundred are copies of the last of these."""

    def parts_of(data: bytes) -> dict[str, bytes]:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return {name: archive.read(name) for name in archive.namelist()}

    lines = layout.ROWS_WRITTEN + 120
    copied = parts_of(make_template("metric", "a4", 2, lines))
    monkeypatch.setattr(layout, "ROWS_WRITTEN", lines)
    assert copied == parts_of(make_template("metric", "a4", 2, lines))


def test_far_rows_hold_their_formulas_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout, "ROWS_WRITTEN", 10)
    monkeypatch.setattr(field_sheet, "WHOLE_ROWS", 20)
    package = Package.from_bytes(make_template("us", "letter", 2, 15))
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    grid = read_grid(package, part)
    column = FIELD_SHEET.fields.index(FIELD_SHEET["live_total"]) + 1
    assert [row for row, _ in grid.formulas.of_column(column)] == list(range(6, 36))
    assert not grid.uncalculated
    assert (grid.styles[20:35, 0] == -1).all()
    assert (grid.styles[5:20, 0] >= 0).all()
