"""Crown widths as the survey takes them: two widths, or four radii from the stem.

The rule “Crown widths are” says what the two width columns mean: the widest and the one across it,
or two fixed directions. With four radii they are not needed: north plus south is the first width,
east plus west the second. Where a tree has no radii its widths count.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from xlhelpers.measure import crown_radii, crowns
from xlhelpers.survey.setups.instruments import Values
from xlhelpers.survey.typed.folding import Flags

WIDEST, FIXED, RADII, NOT_MEASURED = (
    "widest and across",
    "two fixed directions",
    "four radii",
    "not measured",
)
RADIUS_FIELDS = ("radius_north", "radius_east", "radius_south", "radius_west")
COMPASS = "north-south and east-west"
# the rule “Fixed directions are” -> what the first and the second width column hold
DIRECTIONS: Mapping[str, tuple[str, str]] = {
    COMPASS: ("north-south", "east-west"),
    "along and across the street": ("along the street", "across the street"),
}
# standard uncertainty of one radius (m): the edge is judged from below; common practice, no source
U_RADIUS = 0.3
Columns = dict[str, Any]
Radii = tuple[Values, Values, Values, Values]


def widths_rule(rules: Mapping[str, Any]) -> str:
    """Return how a survey takes crown widths: one of the four words of the rule."""
    return str(rules["crown_widths"])


def describe_widths(rules: Mapping[str, Any]) -> str:
    """Return how a survey takes crown widths in words: the rule, and its fixed directions."""
    rule = widths_rule(rules)
    return f"{rule} ({rules['width_directions']})" if rule == FIXED else rule


def widths_differ(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Return whether two surveys take crown widths in two ways, so that none can be compared.

    Parameters
    ----------
    one, other : mapping
        The rules of both surveys. Where one of them takes no widths there is nothing to compare.
    """
    ways = (describe_widths(one), describe_widths(other))
    return NOT_MEASURED not in ways and ways[0] != ways[1]


def width_columns(widest: Values, across: Values, radii: Radii, living: Flags) -> Columns:
    """Return widths and projection area of living crowns, and where these are off the stem.

    One width alone serves twice.

    Parameters
    ----------
    widest, across : ndarray
        The two crown widths of each tree (m), NaN unknown.
    radii : tuple of four ndarray
        The radii of each tree north, east, south and west (m), NaN unknown or not asked for. All
        four together go before the widths.
    living : array of bool
        Trees that have a crown.

    Returns
    -------
    dict of arrays
        `width_widest`, `width_across` as entered or from the radii, `mean_width` (m),
        `one_width_only`, `projection_area` (m2). With four radii also `crown_offset` (m, centre of
        the crown from the stem) and the standard uncertainties `u_mean_width`,
        `u_projection_area`, `u_crown_offset`; NaN for other trees.
    """
    north, east, south, west = radii
    by_radii = np.isfinite(crown_radii.mean_width_from_radii(*radii))
    first = np.where(by_radii, north + south, widest)
    second = np.where(by_radii, east + west, across)
    one = np.where(np.isnan(first), second, first)
    other = np.where(np.isnan(second), first, second)
    crown = np.where(living, 1.0, np.nan)
    with_radii = np.where(living & by_radii, 1.0, np.nan)
    area = np.where(
        by_radii, crown_radii.area_from_radii(*radii), crowns.projection_area(one, other)
    )
    return {
        "width_widest": first,
        "width_across": second,
        "mean_width": np.where(
            by_radii, crown_radii.mean_width_from_radii(*radii), crowns.mean_width(one, other)
        )
        * crown,
        "one_width_only": np.isnan(first) != np.isnan(second),
        "projection_area": area * crown,
        "crown_offset": crown_radii.offset_from_radii(*radii) * with_radii,
        "u_mean_width": crown_radii.mean_width_from_radii_uncertainty(U_RADIUS) * with_radii,
        "u_projection_area": crown_radii.area_from_radii_uncertainty(*radii, U_RADIUS) * with_radii,
        "u_crown_offset": crown_radii.offset_from_radii_uncertainty(U_RADIUS) * with_radii,
    }


def wider_of(columns: Columns, rule: str) -> Values:
    """Return the larger width of each crown (m): under the default rule the one called widest."""
    if rule == WIDEST:
        return np.asarray(columns["width_widest"])
    return np.asarray(np.fmax(columns["width_widest"], columns["width_across"]))
