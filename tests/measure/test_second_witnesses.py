"""Independent ways to the same numbers: automatic propagation, and integration of solids."""

import math

import numpy as np
import pytest
from scipy import integrate
from uncertainties import ufloat, umath

from xlhelpers.measure import crowns, lean_uncertainty, solids, uncertainty
from xlhelpers.measure.accuracy import Accuracy, Sight

# half-width of the outline at a share z of the depth, for a widest half-width of 1
OUTLINES = {
    "cylinder": lambda z: 1.0,
    "ellipsoid": lambda z: math.sqrt(1 - (2 * z - 1) ** 2),
    "half-ellipsoid": lambda z: math.sqrt(1 - z**2),
    "paraboloid": lambda z: math.sqrt(1 - z),
    "cone": lambda z: 1 - z,
    "neiloid": lambda z: (1 - z) ** 1.5,
}


@pytest.mark.parametrize("shape", solids.SOLIDS)
def test_solid_agrees_with_integration(shape):
    width, depth = 7.3, 11.9
    cut = lambda z: math.pi * (width / 2 * OUTLINES[shape](z / depth)) ** 2  # noqa: E731
    volume, _ = integrate.quad(cut, 0, depth)
    assert crowns.volume(shape, width, depth) == pytest.approx(volume, rel=1e-7)


U_READING, U_ZERO, RELATIVE, FIXED = 0.3, 0.2, 0.01, 0.15
ACCURACY = Accuracy(U_READING, U_ZERO, RELATIVE, FIXED)
CASES = [(25, 40, -4, 9), (18, 52, 6, -12), (30, -3, -20, 4), (12, 60, -15, 0)]


class Field:
    """Random and common errors of one set-up as uncertain numbers."""

    def __init__(self):
        self.bias = ufloat(1, RELATIVE)
        self.zero = ufloat(0, math.radians(U_ZERO))
        self.random = []

    def distance(self, length):
        error = ufloat(0, FIXED)
        self.random.append(error)
        return length * self.bias + error

    def aim(self, degrees):
        error = ufloat(0, math.radians(U_READING))
        self.random.append(error)
        return math.radians(degrees) + self.zero + error

    def parts(self, height):
        """Standard uncertainties from the common and from the random errors."""
        by_error = height.error_components()
        reading = sum(v**2 for k, v in by_error.items() if k in self.random)
        common = sum(v**2 for k, v in by_error.items() if k not in self.random)
        return math.sqrt(common), math.sqrt(reading)


def tangent(degrees):
    return math.tan(math.radians(degrees))


def check(parts, witness, field):
    common, reading = field.parts(witness)
    assert parts.common == pytest.approx(common, rel=1e-9)
    assert parts.reading == pytest.approx(reading, rel=1e-9)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
def test_sighting_at_a_level_distance(distance, top, foot, line):
    field = Field()
    a, b = field.aim(top), field.aim(foot)
    witness = field.distance(distance) * (umath.tan(a) - umath.tan(b))
    check(
        uncertainty.of_sighting(Sight(distance, tangent(top), tangent(foot)), ACCURACY),
        witness,
        field,
    )


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
def test_sighting_over_a_slope_distance(distance, top, foot, line):
    field = Field()
    along = distance / math.cos(math.radians(line))
    level = field.distance(along) * umath.cos(field.aim(line))
    witness = level * (umath.tan(field.aim(top)) - umath.tan(field.aim(foot)))
    sight = Sight(distance, tangent(top), tangent(foot), tangent(line))
    check(uncertainty.of_sighting(sight, ACCURACY), witness, field)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
def test_straight_distance_to_the_foot(distance, top, foot, line):
    field = Field()
    a, b = field.aim(top), field.aim(foot)
    straight = field.distance(distance / math.cos(math.radians(foot)))
    witness = straight * umath.cos(b) * (umath.tan(a) - umath.tan(b))
    sight = Sight(distance, tangent(top), tangent(foot))
    check(uncertainty.of_straight_distance(sight, ACCURACY), witness, field)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
def test_crown_depth_over_a_straight_distance_to_the_foot(distance, top, foot, line):
    """The foot's reading cancels out of the heights but stays in the distance."""
    field = Field()
    base = top - 10
    straight = field.distance(distance / math.cos(math.radians(foot)))
    level = straight * umath.cos(field.aim(foot))
    b = field.aim(foot)  # a foot reading that both heights share
    top_height = level * (umath.tan(field.aim(top)) - umath.tan(b))
    base_height = level * (umath.tan(field.aim(base)) - umath.tan(b))
    sight = Sight(distance, tangent(top), tangent(base), tangent(foot))
    check(uncertainty.of_sighting(sight, ACCURACY), top_height - base_height, field)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
def test_eye_height(distance, top, foot, line):
    field = Field()
    eye = ufloat(1.6, 0.12)
    witness = field.distance(distance) * umath.tan(field.aim(top)) + eye
    check(uncertainty.of_eye_height(Sight(distance, tangent(top)), 0.12, ACCURACY), witness, field)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
def test_mark_above_the_foot(distance, top, foot, line):
    field = Field()
    mark = ufloat(2, 0.05)
    level = field.distance(distance)
    witness = level * (umath.tan(field.aim(top)) - umath.tan(field.aim(foot))) + mark
    sight = Sight(distance, tangent(top), tangent(foot))
    parts = uncertainty.with_common_part(uncertainty.of_sighting(sight, ACCURACY), 0.05)
    check(parts, witness, field)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
def test_two_straight_distances(distance, top, foot, line):
    field = Field()
    witness = field.distance(distance + 9) * umath.sin(field.aim(top)) - field.distance(
        distance
    ) * umath.sin(field.aim(foot))
    parts = uncertainty.of_two_straight_distances(
        distance + 9, tangent(top), distance, tangent(foot), ACCURACY
    )
    check(parts, witness, field)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
@pytest.mark.parametrize("offset", [2.0, -3.0])
def test_leaning_tip(distance, top, foot, line, offset):
    field = Field()
    toward = ufloat(offset, 0.4)
    along = field.distance(distance / math.cos(math.radians(line)))
    level = along * umath.cos(field.aim(line))
    witness = (level - toward) * umath.tan(field.aim(top)) - level * umath.tan(field.aim(foot))
    sight = Sight(distance, tangent(top), tangent(foot), tangent(line), offset)
    check(lean_uncertainty.of_lean(sight, 0.4, ACCURACY), witness, field)


@pytest.mark.parametrize(("distance", "top", "foot", "line"), CASES)
@pytest.mark.parametrize("offset", [2.0, -3.0])
def test_other_point_on_a_leaning_stem(distance, top, foot, line, offset):
    field = Field()
    leaning = ufloat(offset, 0.4) / 30
    along = field.distance(distance / math.cos(math.radians(line)))
    level = along * umath.cos(field.aim(line))
    a, b = umath.tan(field.aim(top)), umath.tan(field.aim(foot))
    witness = level * (a - b) / (1 + leaning * a)
    sight = Sight(distance, tangent(top), tangent(foot), tangent(line), offset)
    check(lean_uncertainty.of_point_on_lean(sight, 30, 0.4, ACCURACY), witness, field)


def test_published_form_agrees_with_automatic_propagation():
    distance = ufloat(25, 0.1)
    top, foot = (
        ufloat(math.radians(40), math.radians(0.25)),
        ufloat(math.radians(-4), math.radians(0.25)),
    )
    witness = distance * (umath.tan(top) - umath.tan(foot))
    found = uncertainty.height_from_angles(25, 40, -4, 0.1, 0.25)
    assert found == pytest.approx(witness.std_dev, rel=1e-9)


@pytest.mark.parametrize(
    ("scale", "graduation", "base"),
    [("percent", 1, np.nan), ("degrees", 1, np.nan), ("topographic", 1, np.nan),
     ("fixed distance", 0.5, 20)],
)  # fmt: skip
def test_graduation_scatters_as_rounded_readings_do(scale, graduation, base):
    """Rounded readings of a fine sweep of slopes scatter as the stated part says."""
    from xlhelpers.measure import accuracy, slopes

    true = np.tan(np.radians(np.linspace(30, 50, 20001)))
    reading = slopes.reading_from_slope(true, scale, base)
    rounded = slopes.slope(np.round(reading / graduation) * graduation, scale, base)
    scatter = np.sqrt(np.mean((slopes.angle(rounded) - slopes.angle(true)) ** 2))
    stated = accuracy.aim_uncertainty(
        true, Accuracy(graduation=graduation, scale=scale, scale_distance=base)
    )
    assert scatter == pytest.approx(np.sqrt(np.mean(stated**2)), rel=0.03)
