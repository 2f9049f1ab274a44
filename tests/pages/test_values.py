"""Text that a cell can hold, identifiers, natural order, lines of a wrapped text."""

import pytest

from xlhelpers.pages.values import (
    GREATEST_TEXT,
    clean_text,
    identifier_value,
    lines_of,
    natural_order,
)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("=1+1", "=1+1"),
        ("oak\ttree", "oak\ttree"),
        ("two\r\nlines", "two\nlines"),
        ("bell\x07", "bell\N{REPLACEMENT CHARACTER}"),
        ("half \ud800", "half \N{REPLACEMENT CHARACTER}"),
        ("no \uffff", "no \N{REPLACEMENT CHARACTER}"),
        ("Æsculus 榆树", "Æsculus 榆树"),
        ("<r><t>x</t></r>", "\N{WORD JOINER}<r><t>x</t></r>"),
    ],
)
def test_clean_text_keeps_what_a_cell_can_hold(typed: str, kept: str) -> None:
    assert clean_text(typed) == kept


@pytest.mark.parametrize("sign", ["a", "🌳"])
def test_long_text_is_cut_and_says_so(sign: str) -> None:
    cut = clean_text(sign * (GREATEST_TEXT + 1))
    assert len(cut.encode("utf-16-le")) // 2 <= GREATEST_TEXT
    assert cut.endswith("(cut)")
    assert clean_text("a" * GREATEST_TEXT) == "a" * GREATEST_TEXT


@pytest.mark.parametrize(
    ("typed", "written"),
    [("12", 12.0), ("0", 0.0), ("012", "012"), ("7b", "7b"), ("1e5", "1e5"), ("-3", "-3")],
)
def test_only_plain_whole_numbers_become_numbers(typed: str, written: float | str) -> None:
    assert identifier_value(typed) == written
    assert isinstance(identifier_value(typed), type(written))


def test_natural_order_counts_as_people_do() -> None:
    plots = ["10", "2", "2", "A10", "A9", "2"]
    trees = ["1", "10", "9", "1", "1", "9b"]
    order = natural_order(plots, trees).tolist()
    assert [(plots[i], trees[i]) for i in order] == [
        ("2", "9"),
        ("2", "9b"),
        ("2", "10"),
        ("10", "1"),
        ("A9", "1"),
        ("A10", "1"),
    ]
    assert natural_order([], []).tolist() == []


@pytest.mark.parametrize(
    ("text", "width", "lines"),
    [
        ("short", 10, 1),
        ("three words here", 6, 3),
        ("one\ntwo", 20, 2),
        ("a" * 25, 10, 3),
        ("", 10, 1),
    ],
)
def test_lines_of_a_wrapped_text(text: str, width: float, lines: int) -> None:
    assert lines_of(text, width) == lines
