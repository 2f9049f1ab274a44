"""Names of cells and sheets, and formulas taken apart."""

from __future__ import annotations

import pytest

from xlhelpers.package.formulas.formula_text import points_into, rename, tokens
from xlhelpers.package.sheet.references import (
    cell_name,
    column_letters,
    parse_area,
    parse_cell,
    parse_target,
    quote_sheet,
    sheet_prefix,
)


@pytest.mark.parametrize(
    ("name", "place"),
    [("A1", (1, 1)), ("J12", (12, 10)), ("$AA$3", (3, 27)), ("XFD1048576", (1048576, 16384))],
)
def test_cell_names_go_both_ways(name: str, place: tuple[int, int]) -> None:
    assert parse_cell(name) == place
    assert cell_name(*place) == name.replace("$", "")


@pytest.mark.parametrize("text", ["", "A", "1", "A0", "XFE1", "A1048577", "A1:B2", "plot"])
def test_what_is_no_cell_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        parse_cell(text)


@pytest.mark.parametrize("column", [0, 16385])
def test_columns_outside_the_sheet_are_refused(column: int) -> None:
    with pytest.raises(ValueError):
        column_letters(column)


def test_areas_are_put_in_order() -> None:
    assert parse_area("D9:$B$2") == (2, 2, 9, 4)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("'Field sheet'!$A$5", ("Field sheet", 5, 1)),
        ("Trees!$B$2:$B$9", ("Trees", 2, 2)),
        ("='It''s'!C3", ("It's", 3, 3)),
        ("#REF!$A$1", None),
        ("'[2]Other'!$A$1", None),
        ("[2]Other!$A$1", None),
        ("12.5", None),
        ("OFFSET(Trees!$A$1,1,1)", None),
        ("Trees!#REF!", None),
    ],
)
def test_targets_of_names(text: str, expected: tuple[str, int, int] | None) -> None:
    assert parse_target(text) == expected


def test_sheet_names_are_quoted() -> None:
    assert quote_sheet("It's") == "'It''s'"
    plain = [sheet_prefix(name) for name in ("Trees", "By plot", "AB12", "R1C1", "2024", "Bäume")]
    assert plain == ["Trees", "'By plot'", "'AB12'", "'R1C1'", "'2024'", "Bäume"]


FORMULAS = [
    "SUM(Trees!A1:B2)*LOG10(2)+Trees!$A:$A",
    "IF(A1=\"it's Trees!A1\",'By plot'!C3,[1]Trees!A1)",
    "SUM(Tree_results[[#This Row],[a']b]])+'Trees:By plot'!A1",
    '#REF!+Trees!#REF!-1.5E-3%&"x""y"',
]


@pytest.mark.parametrize("formula", FORMULAS)
def test_tokens_joined_are_the_formula(formula: str) -> None:
    assert "".join(token.text for token in tokens(formula)) == formula


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        (FORMULAS[0], "SUM('Trees (2)'!A1:B2)*LOG10(2)+'Trees (2)'!$A:$A"),
        (FORMULAS[1], FORMULAS[1]),
        (FORMULAS[2], "SUM(Tree_results_2[[#This Row],[a']b]])+'Trees (2):By plot'!A1"),
        (FORMULAS[3], '#REF!+\'Trees (2)\'!#REF!-1.5E-3%&"x""y"'),
        ("trees!A1", "'Trees (2)'!A1"),
        ("Tree_results()+tree_results", "Tree_results()+Tree_results_2"),
    ],
)
def test_renaming_follows_sheets_and_tables_only(formula: str, expected: str) -> None:
    sheets, names = {"trees": "Trees (2)"}, {"tree_results": "Tree_results_2"}
    assert rename(formula, sheets, names) == expected


@pytest.mark.parametrize(
    ("formula", "wanted", "expected"),
    [
        ("SUM(TREES!A1:B2)", {"trees"}, True),
        ("SUM('By plot:Trees'!A1)", {"trees"}, True),
        ("'It''s'!A1", {"it's"}, True),
        ("STRASSE!A1+1", {"stra\N{LATIN SMALL LETTER SHARP S}e".casefold()}, True),
        ('"Trees!A1"', {"trees"}, False),
        ("[1]Trees!A1", {"trees"}, False),
        ("Plots!A1+trees", {"trees"}, False),
        ("trees+1", {"trees"}, False),
        ("Trees!A1", set(), False),
    ],
)
def test_a_formula_points_into_the_sheets_that_it_names(
    formula: str, wanted: set[str], expected: bool
) -> None:
    assert points_into(formula, wanted) is expected
