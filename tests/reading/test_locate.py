"""Columns and sheets are found by name, then by heading, then by synonym; never by position."""

import pytest

from tests.reading.make_grids import (
    LINE,
    MAIN,
    PLOT_ROW,
    checks_of,
    make_grid,
    read_grids,
    rules_grid,
    sheet_rows,
)
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS, STRATA
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES
from xlhelpers.fields.workbook import KEYED_SHEETS
from xlhelpers.package.parts.parts import DefinedName, SheetPart
from xlhelpers.reading import locate
from xlhelpers.reading import rules as read_rules
from xlhelpers.reading.survey import locate_sheets, read_located


def field_grid(*headings, lines=(), row=1, **marks):
    blank = [[None] for _ in range(row - 1)]
    return make_grid([*blank, list(headings), *lines], **marks)


def by_headings(*headings, **marks):
    place = locate.place_by_headings(
        [FIELD_SHEET, PLOTS, STRATA, SPECIES], "Week 2", field_grid(*headings, **marks)
    )
    return None if place is None else (place, place.findings)


def by_names(grid, sheet="Field sheet", **cells):
    claims = {name: cell if isinstance(cell[0], tuple) else (cell,) for name, cell in cells.items()}
    place = locate.place_by_names(FIELD_SHEET, sheet, grid, claims)
    return place, place.findings


@pytest.mark.parametrize(
    ("heading", "key"),
    [
        ("Diameter (cm)", "diameter"),
        ("  DIAMETER\u00a0(cm) ", "diameter"),
        ("Diameter [in]", "diameter"),
        ("Ｄiameter", "diameter"),
        ("Crown\nwidth, widest (m)", "crown width, widest"),
        ("Set\u2011up", "set-up"),
        ("Total height (tree)", "total height (tree)"),
        (12.0, ""),
        (None, ""),
    ],
)
def test_headings_are_folded_and_lose_their_unit(heading, key):
    assert locate.heading_key(heading) == key


def test_names_of_the_workbook_and_of_a_sheet_and_lost_names():
    parts = [SheetPart("Field sheet", 1, "a.xml", "visible", 0, "worksheet"),
             SheetPart("Field sheet (2)", 2, "b.xml", "visible", 1, "worksheet")]  # fmt: skip
    names = [
        DefinedName("xlh_line_plot", "'Field sheet'!$A$5", None, False),
        DefinedName("XLH_LINE_TREE", "'FIELD SHEET'!$B$5:$B$90", None, False),
        DefinedName("xlh_line_plot", "'Field sheet (2)'!$C$7", 1, False),
        DefinedName("xlh_line_species", "#REF!", None, False),
        DefinedName("xlh_line_distance", "'Elsewhere'!$A$1", None, False),
        DefinedName("xlh_line_colour", "'Field sheet'!$D$5", None, False),
        DefinedName("xlh_tab_trees", "'Trees'!$A$1", None, False),
    ]
    assert locate.anchors(names, parts) == {
        "Field sheet": {"line": {"plot": ((5, 1),), "tree": ((5, 2),)}},
        "Field sheet (2)": {"line": {"plot": ((7, 3),)}},
    }
    assert locate.result_sheets(names) == {"trees"}


def test_a_name_beats_the_heading_and_the_position():
    grid = field_grid("Tip of tree", "Our plot", "x", row=5)
    place, findings = by_names(grid, plot=(5, 2), tip_reading=(5, 1), tree=(5, 3))
    assert (place.heading_row, dict(place.columns)) == (
        5,
        {"plot": 2, "tree": 3, "tip_reading": 1},
    )
    assert {f.fields[0] for f in findings if f.check == "column-missing"} == {
        "species", "diameter", "width_widest", "width_across", "distance", "foot_reading",
        "base_reading",
    }  # fmt: skip


def test_without_its_name_a_column_is_found_by_heading_then_by_synonym():
    grid = field_grid("Plot", "Tree no", "DBH (cm)", "Tip reading")
    place, findings = by_names(grid, plot=(1, 1), tip_reading=(1, 4))
    assert place.columns["tree"] == 2
    assert place.columns["diameter"] == 3
    assert not [f for f in findings if set(f.fields) & {"tree", "diameter"}]


def test_exact_heading_beats_a_synonym():
    grid = field_grid("Plot", "Tree", "DBH", "Diameter (cm)", "Tip reading")
    place, _ = by_names(grid, plot=(1, 1))
    assert place.columns["diameter"] == 4


@pytest.mark.parametrize(
    ("heading", "name"),
    [
        # the trade's words, as hypsometer manuals and inventory guidelines print them
        ("Tree_No.", "tree"),
        ("tree id", "tree"),
        ("TREE #", "tree"),
        ("Plot No", "plot"),
        ("Diameter, DBH (cm)", "diameter"),
        ("D.B.H. (cm)", "diameter"),
        ("Dbh", "diameter"),
        ("Horiz. distance", "distance"),
        ("Horizontal_distance (m)", "distance"),
        ("Station", "setup"),
        ("Ground line reading", "foot_reading"),
        ("Live crown base reading", "base_reading"),
        ("Live crown top reading", "top_reading"),
        ("Tree top", "tip_reading"),
        ("Height to live crown base (m)", "base_by_pole"),
        ("Slant distance to tree top", "tip_straight"),
        ("Live crown length", "recorded_depth"),
        ("Left out or missing because", "missing_because"),
    ],
)
def test_the_words_of_the_trade_and_of_before_find_a_column(heading, name):
    place, findings = by_names(field_grid("Species", heading), species=(1, 1))
    assert place.columns[name] == 2
    assert name not in {f.fields[0] for f in findings}


@pytest.mark.parametrize("heading", ["Girth", "Height", "Total height of last year", "No.", "#"])
def test_headings_that_mean_something_else_find_no_typed_column(heading):
    place, _ = by_names(field_grid("Species", heading), species=(1, 1))
    assert dict(place.columns) == {"species": 1}


def test_the_plain_heading_beats_one_with_number_and_two_of_these_are_a_finding():
    place, findings = by_names(field_grid("Species", "Tree", "Tree No."), species=(1, 1))
    assert place.columns["tree"] == 2
    assert "column-twice" not in [f.check for f in findings]
    place, findings = by_names(field_grid("Species", "Tree ID", "Tree No."), species=(1, 1))
    assert "tree" not in place.columns
    assert "“Tree” (B and C). Neither was read." in next(
        f.message for f in findings if f.check == "column-twice"
    )


@pytest.mark.parametrize("record", KEYED_SHEETS, ids=lambda record: record.key)
def test_every_label_and_synonym_leads_to_its_own_field(record):
    labels, plain = locate.known_headings(record)
    for field in record.fields:
        for word in field.labels:
            assert labels[locate.heading_key(word)] == field.name
        for word in field.synonyms:
            key = locate.heading_key(word)
            assert (labels.get(key) or plain[locate.plain_heading(key)]) == field.name


def test_rules_are_found_by_the_labels_of_before():
    rows = [[field.former or field.label, field.default] for field in RULES.fields]
    place = read_rules.locate_rules({"Our rules": make_grid(rows)}, {}, ["Our rules"])
    assert place is not None
    assert set(place.cells) == set(RULES.index)


def test_a_missing_column_says_where_and_what_to_do():
    grid = field_grid("Plot", "Tree", "Tip reading", row=5)
    _, findings = by_names(grid, plot=(5, 1), tree=(5, 2))
    lost = next(f for f in findings if f.fields == ("species",))
    assert (lost.check, lost.severity) == ("column-missing", "error")
    assert lost.message == "“Field sheet” has no column “Species”."
    assert lost.action == "Type “Species” as the heading in row 5 and fill again."


def test_two_headings_alike_are_read_by_neither():
    grid = field_grid("Plot", "Tree", "Distance (m)", "Distance", "Tip reading")
    place, findings = by_names(grid, plot=(1, 1), tree=(1, 2))
    twice = [f for f in findings if f.check == "column-twice"]
    assert "distance" not in place.columns
    assert [f.message for f in twice] == [
        "“Field sheet” has two columns called “Distance” (C and D). Neither was read."
    ]


def test_two_names_for_one_field_are_settled_by_the_heading_or_not_at_all():
    grid = field_grid("Plot", "Tree", "Distance (m)", "Paced", "Tip reading")
    place, _ = by_names(grid, plot=(1, 1), distance=((1, 3), (1, 4)))
    assert place.columns["distance"] == 3
    grid = field_grid("Plot", "Tree", "Taped", "Paced", "Tip reading")
    place, findings = by_names(grid, plot=(1, 1), distance=((1, 3), (1, 4)))
    assert "distance" not in place.columns
    assert "column-twice" in [f.check for f in findings]


def test_a_twin_of_a_named_column_is_left_and_said():
    grid = field_grid("Plot", "Tree", "Distance", "Distance", "Tip reading")
    place, findings = by_names(grid, plot=(1, 1), distance=(1, 4))
    assert place.columns["distance"] == 4
    twin = next(f for f in findings if f.check == "column-twin")
    assert twin.severity == "note"
    assert "Column D was read, not C." in twin.message


def test_a_named_column_under_the_heading_of_another_is_an_error():
    grid = field_grid("Plot", "Tree", "Distance", "Diameter", "Tip reading")
    place, findings = by_names(grid, plot=(1, 1), diameter=(1, 3), distance=(1, 4))
    assert (place.columns["diameter"], place.columns["distance"]) == (3, 4)
    wrong = [f for f in findings if f.check == "heading-contradicts"]
    assert [f.column for f in wrong] == [3, 4]
    assert "the column of “Diameter” has the heading “Distance” (C1)" in wrong[0].message


@pytest.mark.parametrize("row", [1, 5, 12])
def test_a_sheet_without_names_is_known_by_its_headings(row):
    found = by_headings("Tree", None, "Plot", "Tip reading", "Species", row=row)
    assert found is not None
    place, findings = found
    assert place.by_headings
    assert place.record is FIELD_SHEET
    assert (place.heading_row, place.columns["plot"], place.columns["tree"]) == (row, 3, 1)
    assert "was recognized as “Field sheet” by its headings" in findings[0].message


@pytest.mark.parametrize(
    "headings",
    [
        ("Plot", "Tree", "Species", "Diameter", "Total height"),
        ("Item", "Price"),
        (),
        ("Plot",),
    ],
)
def test_a_sheet_with_other_headings_is_none_of_ours(headings):
    assert by_headings(*headings) is None


def test_under_its_tab_name_a_sheet_needs_fewer_headings():
    grid = field_grid("Plot", "Tree")
    found = locate.place_by_headings([FIELD_SHEET], "field sheet", grid)
    assert found is not None
    assert "column-missing" in [f.check for f in found.findings]


def named(record, row=1):
    return {field.name: ((row, n),) for n, field in enumerate(record.fields, 1)}


def test_several_field_sheets_are_put_together_in_the_order_of_the_tabs():
    grids = {
        tab: make_grid(sheet_rows(FIELD_SHEET, [{**LINE, "tree": tree}]))
        for tab, tree in (("North", 1.0), ("South", 2.0), ("Pasted", 3.0))
    }
    claims = {"North": {"line": named(FIELD_SHEET)}, "South": {"line": named(FIELD_SHEET)}}
    survey = read_located(locate_sheets(grids, claims))
    assert survey.lines["_sheet"].tolist() == ["North", "South", "Pasted"]
    assert survey.lines["tree"].tolist() == ["1", "2", "3"]
    assert survey.lines["_row"].tolist() == [2, 2, 2]
    assert survey.columns["South", "tip_reading"] == MAIN.index("tip_reading") + 1
    assert survey.columns["North", "tree_findings"] == 1 + list(FIELD_SHEET.index).index(
        "tree_findings"
    )
    assert [f.sheet for f in survey.findings if f.check == "sheet-by-headings"] == ["Pasted"]


def test_a_second_plots_sheet_without_names_is_not_read():
    grids = {
        "Plots": make_grid(sheet_rows(PLOTS, [PLOT_ROW])),
        "Plots of last year": make_grid(sheet_rows(PLOTS, [{**PLOT_ROW, "plot": 99.0}])),
        "Field sheet": make_grid(sheet_rows(FIELD_SHEET, [LINE])),
    }
    claims = {"Plots": {"plot": named(PLOTS)}, "Field sheet": {"line": named(FIELD_SHEET)}}
    survey = read_located(locate_sheets(grids, claims))
    assert survey.plots["plot"].tolist() == ["1"]


@pytest.mark.parametrize(
    ("units", "heading", "found"),
    [
        ("metric", "Diameter (in)", True),
        ("metric", "Diameter (mm)", True),
        ("metric", "Diameter (cm)", False),
        ("metric", "Diameter", False),
        ("us", "Diameter (cm)", True),
        ("us", "Diameter (in)", False),
    ],
)
def test_a_heading_with_the_unit_of_the_other_system(units, heading, found):
    rows = sheet_rows(FIELD_SHEET, [LINE], units=units, names=MAIN)
    rows[0][MAIN.index("diameter")] = heading
    grids = {"Field sheet": make_grid(rows), "Survey rules": rules_grid(units=units)}
    wrong = [f for f in read_grids(grids).findings if f.check == "heading-unit"]
    assert len(wrong) == found
    if found:
        assert (wrong[0].severity, wrong[0].lines) == ("error", (0,))
        shown = "cm" if units == "metric" else "inches"
        assert f"the survey uses {units}." in wrong[0].message
        assert f"were read in {shown}" in wrong[0].message


def test_rules_by_name_then_by_label():
    rows = [[None, "Survey rules"], [None, "Units", "us"], [None, "Our tape", "feet and inches"]]
    grid = make_grid(rows)
    claims = {"Rules": {"tape_reads_in": ((3, 3),)}}
    place = read_rules.locate_rules({"Rules": grid}, claims, [])
    assert place is not None
    assert dict(place.cells) == {"units": (2, 3), "tape_reads_in": (3, 3)}


def test_rules_on_two_sheets_take_the_first_and_say_so():
    grids = {"Rules": make_grid([["Units", "us"]]), "Rules (2)": make_grid([["Units", "metric"]])}
    claims = {tab: {"units": ((1, 2),)} for tab in grids}
    place = read_rules.locate_rules(grids, claims, [])
    assert place is not None
    assert place.sheet == "Rules"
    assert [f.check for f in place.findings] == ["rules-twice"]


def test_rules_of_the_workbook_are_never_those_of_a_data_sheet():
    survey = read_grids({"Field sheet": make_grid(sheet_rows(FIELD_SHEET, [LINE], names=MAIN))})
    assert "rules-missing" in checks_of(survey)
    assert RULES.tab in next(f for f in survey.findings if f.check == "rules-missing").message
