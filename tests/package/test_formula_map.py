"""Formulas by cell, as small as may be, behave as a plain mapping does."""

from __future__ import annotations

import random
from xml.sax.saxutils import escape

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from xlhelpers.package.formulas.formula_map import ROW_MARK, FormulaCollector, FormulaMap
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.sheet_bytes import plain


def test_it_is_the_mapping_that_it_was_made_of() -> None:
    chance = random.Random(1)
    given_ones = {
        (chance.randrange(1, 50), chance.randrange(1, 9)): chance.choice(["", "A1", "B2*2"])
        for _ in range(200)
    }
    found = FormulaMap.of(given_ones)
    assert found == given_ones
    assert len(found) == len(given_ones)
    assert all(place in found and found[place] == text for place, text in given_ones.items())
    assert dict(found.of_column(3)) == {r: t for (r, c), t in given_ones.items() if c == 3}
    assert all(
        {row: text.replace(ROW_MARK, str(row)) for text, rows in found.patterns_of_column(column)
         for row in rows.tolist()} == dict(found.of_column(column))
        for column in range(1, 9)
    )  # fmt: skip


def test_a_column_filled_down_is_one_text() -> None:
    filled = {(row, 2): f"A{row}*SUM($C${row}:D{row})+7" for row in range(20, 5000)}
    found = FormulaMap.of(filled)
    assert found == filled
    # where the number of the row stands in the formula for another reason there is a second one
    assert len(found.texts) < 5


def test_what_is_not_there() -> None:
    found = FormulaMap.of({(2, 2): "A1"})
    for place in ((1, 2), (3, 2), (2, 1)):
        assert place not in found
        with pytest.raises(KeyError):
            found[place]
    assert list(found.of_column(9)) == []
    assert FormulaMap.of({}) == {}


@given(st.lists(st.tuples(st.integers(1, 130), st.text("A1320\"&<>';\n#", max_size=9))))
def test_formulas_as_they_stand_in_a_file_are_those_given_one_by_one(
    formulas: list[tuple[int, str]],
) -> None:
    one, many = FormulaCollector(), FormulaCollector()
    spelt = []
    for number, (row, text) in enumerate(formulas):
        one.add_one(row, 2, text)
        # some spell a sign by its number, some by its name
        lines = "&#10;" if number % 2 else "\n"
        spelt.append(escape(text, {'"': "&quot;", "'": "&apos;", "\n": lines}).encode())
    rows = np.array([row for row, _ in formulas], dtype=np.int64)
    many.add(rows, np.full(len(formulas), 2), spelt)
    assert many.to_map() == one.to_map()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a&lt;b&gt;&quot;c&quot;&apos;", 'a<b>"c"\''),
        ("&amp;lt;", "&lt;"),
        ("&amp;amp;&amp;", "&amp;&"),
        ("&#65;&#x42;&amp;", "AB&"),
        ("ä&lt;\r\n", "ä<\n"),
    ],
)
def test_entities_are_resolved_once(text: str, expected: str) -> None:
    assert plain(text.encode()) == expected


@pytest.mark.parametrize("text", [b"&nbsp;", b"a & b", b"&lt", b"&amp;&foo;"])
def test_what_is_no_entity_is_refused(text: bytes) -> None:
    with pytest.raises(etree.XMLSyntaxError):
        plain(text)


def test_what_was_typed_counts_as_no_formula_even_if_it_is_stored_as_one() -> None:
    found = FormulaMap.of({(2, 2): "A1", (3, 4): "TRUE()", (4, 4): "FALSE()"})
    assert found.all_in(CellSet.of([(2, 2)]))
    assert not found.all_in(CellSet.of([(3, 4)]))
    assert not FormulaMap.of({(2, 2): "A1", (3, 4): "NOT(TRUE())"}).all_in(CellSet.of([(2, 2)]))
