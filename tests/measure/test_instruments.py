"""The table of kinds of instruments."""

import dataclasses

import pytest

from xlhelpers.errors import SpecificationError
from xlhelpers.measure import instruments
from xlhelpers.measure.instruments import HEIGHT_SCALE, KINDS
from xlhelpers.measure.slopes import SCALES
from xlhelpers.sources import SOURCES


def test_table_covers_the_ways_of_measuring():
    assert len(KINDS) >= 10
    scales = [scale for kind in KINDS.values() for scale in kind.scales]
    assert {scale.name for scale in scales} == {*SCALES, HEIGHT_SCALE}
    fixed = {(s.base_distance, s.unit) for s in scales if s.name == "fixed distance"}
    assert fixed == {(b, "m") for b in (15, 20, 25, 30, 40)} | {(b, "ft") for b in (66, 100)}
    assert {kind.distance_to for kind in KINDS.values()} == {"centre", "bark"}
    assert any(kind.distance_kind == "straight to the foot" for kind in KINDS.values())


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)
def test_record_is_sound(kind):
    figures = (kind.u_reading, kind.u_zero, kind.u_distance_relative, kind.u_distance_fixed)
    assert all(0 <= figure <= 1 for figure in figures)
    assert any(figure > 0 for figure in figures)
    sourced = any(key in kind.origin for key in SOURCES)
    assert sourced or kind.origin in {"from memory", "common practice, no source"}


@pytest.mark.parametrize(
    "change",
    [
        {"scales": ()},
        {"scales": (dataclasses.replace(instruments.PERCENT, name="grads"),)},
        {"scales": (dataclasses.replace(instruments.PERCENT, graduation=0),)},
        {"scales": (dataclasses.replace(instruments.PERCENT, base_distance=20),)},
        {"scales": (dataclasses.replace(instruments.PERCENT, name="fixed distance"),)},
        {"distance_to": "leaf"},
        {"distance_kind": "paces"},
    ],
)
def test_record_that_contradicts_itself_is_refused(change):
    sound = KINDS["pole or tape"]
    with pytest.raises(SpecificationError, match="pole or tape"):
        instruments._check_kinds((dataclasses.replace(sound, **change),))


def test_two_kinds_of_one_name_are_refused():
    with pytest.raises(SpecificationError, match="share a name"):
        instruments._check_kinds((KINDS["pole or tape"], KINDS["pole or tape"]))
