"""Formulas by cell, as small as may be, behave as a plain mapping does."""

from __future__ import annotations

import random

import pytest

from xlhelpers.package.formula_map import FormulaMap


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
    assert len(found.texts) == 3


def test_what_is_not_there() -> None:
    found = FormulaMap.of({(2, 2): "A1"})
    for place in ((1, 2), (3, 2), (2, 1)):
        assert place not in found
        with pytest.raises(KeyError):
            found[place]
    assert list(found.of_column(9)) == []
    assert FormulaMap.of({}) == {}
