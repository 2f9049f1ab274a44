"""What a finding is about: the quantities of a tree that its fields enter.

A wrong reading of the distance makes height and crown wrong and leaves the diameter alone. A
misspelt name makes no number wrong. So a finding puts in doubt what it is about and nothing else.
"""

from collections.abc import Iterable
from typing import Literal, get_args

Quantity = Literal["height", "crown", "width", "diameter", "identity"]
# in the order in which they are listed; identity is what a tree is, where it is, and how many
QUANTITIES: tuple[Quantity, ...] = get_args(Quantity)
MEASURED: tuple[Quantity, ...] = ("height", "crown", "width", "diameter")
# a crown is as deep as its top is above its base, so what moves the height moves the crown too
_HEIGHT: tuple[Quantity, ...] = ("height", "crown")
_OF_FIELDS: dict[str, tuple[Quantity, ...]] = {
    # read at the tree
    **dict.fromkeys(("distance", "foot_reading", "tip_reading", "slope_reading"), _HEIGHT),
    **dict.fromkeys(("mark_above_foot", "tip_offset", "tip_straight"), _HEIGHT),
    **dict.fromkeys(("station_step", "second_tip_reading", "second_foot_reading"), _HEIGHT),
    **dict.fromkeys(("base_reading", "top_reading", "base_by_pole"), ("crown",)),
    **dict.fromkeys(("base_straight", "top_straight", "condition"), ("crown",)),
    **dict.fromkeys(("diameter", "other_stems", "diameter_at"), ("diameter",)),
    **dict.fromkeys(("width_widest", "width_across"), ("width",)),
    **dict.fromkeys(("radius_north", "radius_east", "radius_south", "radius_west"), ("width",)),
    # written elsewhere, and a reading becomes a height by it
    **dict.fromkeys(("foot_above_eye", "scale", "distance_kind", "instrument"), _HEIGHT),
    **dict.fromkeys(("distance_to", "foot_by"), _HEIGHT),
    **dict.fromkeys(("other_scale_tip", "kind", "scale_distance"), _HEIGHT),
    "recorded_height": ("height",),
    "recorded_depth": ("crown",),
    "recorded_width": ("width",),
}
_READ_AT_TREE = frozenset(
    (
        "distance",
        "foot_reading",
        "tip_reading",
        "slope_reading",
        "mark_above_foot",
        "tip_offset",
        "tip_straight",
        "station_step",
        "second_tip_reading",
        "second_foot_reading",
        "base_reading",
        "top_reading",
        "base_by_pole",
        "base_straight",
        "top_straight",
        "condition",
        "diameter",
        "other_stems",
        "diameter_at",
        "width_widest",
        "width_across",
        "radius_north",
        "radius_east",
        "radius_south",
        "radius_west",
    )
)
# columns of the trees -> the quantities that they are made of
OF_COLUMNS: dict[str, tuple[Quantity, ...]] = {
    "total_height": ("height",),
    "crown_top": ("crown",),
    "crown_base": ("crown",),
    "crown_depth": ("crown",),
    "live_crown_ratio": ("height", "crown"),
    "dead_top_length": ("height", "crown"),
    "mean_width": ("width",),
    "projection_area": ("width",),
    "crown_offset": ("width",),
    "volume": ("crown", "width"),
    "diameter": ("diameter",),
    "largest_stem": ("diameter",),
    "basal_area": ("diameter",),
}


def quantities_of(fields: Iterable[str]) -> tuple[Quantity, ...]:
    """Return the quantities that fields enter, in the order of `QUANTITIES`.

    Parameters
    ----------
    fields : iterable of str
        Names of fields, with or without their sheet ("plot.scale" as "scale").

    Returns
    -------
    tuple of str
        A field that enters no measured quantity, such as a name or a count, gives "identity".
    """
    quantities: set[Quantity] = set()
    for name in fields:
        quantities.update(_OF_FIELDS.get(name.rpartition(".")[2], ("identity",)))
    return tuple(quantity for quantity in QUANTITIES if quantity in quantities)


def is_read_at_tree(fields: Iterable[str]) -> bool:
    """Return whether any of these fields is read at the tree, so that safety may forbid it."""
    return any(name.rpartition(".")[2] in _READ_AT_TREE for name in fields)
