"""The functions of crowns and stems for a spreadsheet's cells; see ``functions`` for the rules."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.doors.excel.cells import Cells, answer, by_name, names, numbers
from xlhelpers.measure import crowns, stems, units
from xlhelpers.measure.arrays import Array, Numbers
from xlhelpers.measure.solids import SOLIDS, volume_over_area

__all__ = [
    "basal_area",
    "combined_diameter",
    "crown_area",
    "crown_depth",
    "crown_mean_width",
    "crown_ratio",
    "crown_volume",
]
DIAMETER_UNITS = {"cm": "m2", "in": "ft2"}
"""Unit of a diameter, and the unit of the basal area that goes with it."""
BASE_ABOVE_TOP = "crown_top must be above crown_base"


def crown_depth(crown_top: Cells, crown_base: Cells) -> Cells:
    """Depth of the living crown.

    Parameters
    ----------
    crown_top, crown_base : cell or range
        Heights above the foot [any length unit, the top above the base].

    Returns
    -------
    number, text or list of rows
        Depth [same unit].

    References
    ----------
    DeYoungUndated, sections 5.3 and 5.7
    """
    arguments = (numbers("crown_top", crown_top), numbers("crown_base", crown_base))
    return answer(arguments, crowns.depth, BASE_ABOVE_TOP)


def crown_ratio(crown_top: Cells, crown_base: Cells, total_height: Cells) -> Cells:
    """Live crown ratio: crown depth over total height.

    Parameters
    ----------
    crown_top, crown_base : cell or range
        Heights above the foot [any length unit, the top above the base].
    total_height : cell or range
        Height of the tip, living or dead [same unit, > 0].

    Returns
    -------
    number, text or list of rows
        Ratio [fraction, above 0 and at most 1].

    References
    ----------
    DeYoungUndated, section 5.7, tree a
    """
    arguments = (
        numbers("crown_top", crown_top),
        numbers("crown_base", crown_base),
        numbers("total_height", total_height, above=0),
    )
    impossible = f"{BASE_ABOVE_TOP}, or the crown reaches beyond total_height"
    return answer(arguments, crowns.ratio, impossible)


def crown_mean_width(width_widest: Cells, width_across: Cells) -> Cells:
    """Mean of two crown widths.

    Parameters
    ----------
    width_widest, width_across : cell or range
        The widest width and the one at right angles to it [any length unit, > 0].

    Returns
    -------
    number, text or list of rows
        Mean width [same unit].

    References
    ----------
    AnuCodeUndated, section 2.3.1
    """
    arguments = (
        numbers("width_widest", width_widest, above=0),
        numbers("width_across", width_across, above=0),
    )
    return answer(arguments, crowns.mean_width, "these numbers give no width")


def crown_area(width_widest: Cells, width_across: Cells) -> Cells:
    """Ground area under the crown, as an ellipse on its two widths.

    Parameters
    ----------
    width_widest, width_across : cell or range
        The widest width and the one at right angles to it [any length unit, > 0].

    Returns
    -------
    number, text or list of rows
        Area [square of that unit].

    References
    ----------
    ZhangEtAl2024, means of axes compared
    """
    arguments = (
        numbers("width_widest", width_widest, above=0),
        numbers("width_across", width_across, above=0),
    )
    return answer(arguments, crowns.projection_area, "these numbers give no area")


def crown_volume(
    crown_outline: Cells, width_widest: Cells, width_across: Cells, depth_of_crown: Cells
) -> Cells:
    """Volume of a crown arguments as a solid over the ellipse of its two widths.

    Parameters
    ----------
    crown_outline : cell or range
        Names of solids [cylinder, ellipsoid, half-ellipsoid, paraboloid, cone, neiloid].
    width_widest, width_across : cell or range
        Crown widths [any length unit, > 0]; the same one twice for a round crown.
    depth_of_crown : cell or range
        Crown depth [same unit, > 0].

    Returns
    -------
    number, text or list of rows
        Volume [cube of that unit].

    References
    ----------
    ZhuKleinnNolke2021, solids of revolution
    """
    arguments = (
        names("crown_outline", crown_outline, SOLIDS),
        numbers("width_widest", width_widest, above=0),
        numbers("width_across", width_across, above=0),
        numbers("depth_of_crown", depth_of_crown, above=0),
    )

    def compute(outline: Any, widest: Array, across: Array, depth: Array) -> Numbers:
        area = crowns.projection_area(widest, across)
        return by_name(outline, lambda name: volume_over_area(name, area, depth))

    return answer(arguments, compute, "these numbers give no volume")


def combined_diameter(stem_diameters: Cells) -> Cells:
    """Diameter of one stem with the basal area of all stems of a tree.

    Parameters
    ----------
    stem_diameters : cell or range
        Diameters of the stems [any length unit, > 0], one tree a row; a blank cell is no stem.

    Returns
    -------
    number, text or list of rows
        Combined diameter [same unit], one a row; "" for a row without a stem.

    References
    ----------
    MultiStemUndated, root of the sum of squares
    """
    arguments = numbers("stem_diameters", stem_diameters, above=0)
    combined = np.atleast_1d(np.asarray(stems.combined_diameter(arguments.values)))
    if arguments.wrong is None and not arguments.single and np.isfinite(combined).all():
        plain: list[Any] = combined[:, None].tolist()
        return plain
    out = combined.astype(object)
    out[np.isnan(combined)] = "these numbers give no diameter"
    out[np.all(arguments.blank, axis=1)] = ""
    if arguments.wrong is not None:
        # the first message of each row, read from the left
        for column in reversed(range(arguments.wrong.shape[1])):
            out = np.where(arguments.wrong[:, column] != "", arguments.wrong[:, column], out)
    answers: list[Any] = out.tolist()
    return answers[0] if arguments.single else [[value] for value in answers]


def basal_area(stem_diameter: Cells, diameter_unit: Cells) -> Cells:
    """Area of a stem's cut at the height of its diameter.

    Parameters
    ----------
    stem_diameter : cell or range
        Diameter [``diameter_unit``, > 0].
    diameter_unit : cell or range
        Unit of the diameter [cm, in].

    Returns
    -------
    number, text or list of rows
        Basal area [m2 for cm, ft2 for in].

    References
    ----------
    SrefUndated, basal area table
    """
    arguments = (
        numbers("stem_diameter", stem_diameter, above=0),
        names("diameter_unit", diameter_unit, DIAMETER_UNITS),
    )

    def of_unit(diameter: Array, unit: str) -> Numbers:
        area = stems.basal_area(units.convert(diameter, unit, "cm"))
        return units.convert(area, "m2", DIAMETER_UNITS[unit])

    def compute(diameter: Array, unit: NDArray[np.str_]) -> Numbers:
        return by_name(unit, lambda name: of_unit(diameter, name))

    return answer(arguments, compute, "these numbers give no area")
