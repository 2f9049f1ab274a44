"""Formulas by cell, as small as may be, behave as a plain mapping does."""

from __future__ import annotations

import random

import pytest

from xlhelpers.package.formula_map import ROW_MARK, FormulaMap


def test_it_is_the_mapping_that_it_was_made_of() -> None:
    chance = random.Random(1)
    plain = {
        (chance.randrange(1, 50), chance.randrange(1, 9)): chance.choice(["", "A1", "B2*2"])
        for _ in range(200)
    }
    found = FormulaMap.of(plain)
    assert found == plain
    assert len(found) == len(plain)
    assert all(place in found and found[place] == text for place, text in plain.items())
    assert dict(found.of_column(3)) == {r: t for (r, c), t in plain.items() if c == 3}
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
