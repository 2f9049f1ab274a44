"""The looks are legible without colour, and number formats keep to what every program knows."""

import io
import re

import pytest
from xlsxwriter import Workbook

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.pages.looks import NUMBER_ROLES, PAPER, ROLES, formats, number_format, with_unit


def luminance(colour: str) -> float:
    # W3C, Web Content Accessibility Guidelines 2.1 (2018), definition of relative luminance
    shares = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.03928 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_of_contrast_itself() -> None:
    # W3C, WCAG 2.1 (2018), definition of contrast ratio: black on white is 21
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.01)  # from memory


@pytest.mark.parametrize("role", ROLES)
def test_text_stands_out_by_7_to_1(role: str) -> None:
    # W3C, WCAG 2.1 (2018), success criterion 1.4.6, level AAA
    properties = ROLES[role]
    assert contrast(properties["font_color"], properties.get("bg_color", PAPER)) >= 7


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("entry", "result"),
        ("heading", "heading_optional"),
        ("heading", "heading_result"),
        ("heading_optional", "heading_result"),
        ("block", "block_result"),
        ("cell", "doubtful"),
        ("cell", "total"),
        ("word", "word_always"),
    ],
)
def test_colour_never_speaks_alone(one: str, other: str) -> None:
    def shape(role: str) -> dict[str, object]:
        colours = {"font_color", "bg_color", "border_color"}
        # False and absent are the same look
        return {k: v for k, v in ROLES[role].items() if k not in colours and v is not False}

    assert shape(one) != shape(other)


@pytest.mark.parametrize(
    ("quantity", "units", "decimals", "expected"),
    [
        ("length", "metric", None, "0.0"),
        ("length", "us", None, "0.0"),
        ("length", "us", 0, "0"),
        ("diameter", "us", None, "0.0"),
        ("crown area", "metric", None, "#,##0"),
        ("basal area", "metric", None, "0.000"),
        ("percent", "metric", None, "0"),
        ("count", "us", None, "0"),
        ("reading", "metric", None, "General"),
    ],
)
def test_number_formats(quantity: str, units: str, decimals: int | None, expected: str) -> None:
    assert number_format(quantity, units, decimals) == expected  # type: ignore[arg-type]


def test_a_unit_in_a_number_format_is_quoted() -> None:
    assert with_unit("0.0", "m") == '0.0" m"'
    assert with_unit("0", "") == "0"


@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_number_format_holds_a_bare_letter(units: str) -> None:
    # an unquoted m or d turns a number into a date
    for quantity in QUANTITIES:
        shown = number_format(quantity, units)  # type: ignore[arg-type]
        assert shown == "General" or re.fullmatch(r"[#,0.]+", shown)


def test_every_role_has_its_format() -> None:
    with Workbook(io.BytesIO()) as book:
        made = formats(book, "us")
        book.add_worksheet()
    assert set(ROLES) <= set(made)
    for role in NUMBER_ROLES:
        assert {f"{role}:{kind}" for kind in (*QUANTITIES, "date", "text")} <= set(made)
    assert made["result:length"].num_format == "0.0"
    assert made["entry:text"].num_format == "@"
