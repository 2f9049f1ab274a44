"""Columns of the field sheet that the program fills: live on every line, tree on one."""

from xlhelpers.fields.record import Field

# the words of a height that only fill computes are to be read in the cell
_WITH_FILL = 12.0

LIVE = (
    Field(
        "live_distance",
        "Level distance",
        "computed",
        "From this line.",
        quantity="length",
        filled_by="program",
        block="live",
    ),
    Field(
        "live_base",
        "Crown base",
        "computed",
        "Height above the foot, from this line. What comes with fill is on the tab Trees.",
        quantity="length",
        filled_by="program",
        block="live",
        width=_WITH_FILL,
    ),
    Field(
        "live_top",
        "Crown top",
        "computed",
        "Height above the foot, from this line. What comes with fill is on the tab Trees.",
        quantity="length",
        filled_by="program",
        block="live",
        width=_WITH_FILL,
    ),
    Field(
        "live_total",
        "Total height",
        "computed",
        "Height of the tip above the foot, this line. What comes with fill is on the tab Trees.",
        quantity="length",
        filled_by="program",
        block="live",
        width=_WITH_FILL,
    ),
    Field(
        "live_depth",
        "Crown depth",
        "computed",
        "Crown top minus crown base, from this line. What comes with fill is on the tab Trees.",
        quantity="length",
        filled_by="program",
        block="live",
        width=_WITH_FILL,
    ),
    Field(
        "live_warning",
        "Look at",
        "computed",
        "The first thing on this line that does not fit.",
        filled_by="program",
        block="live",
        width=46,
    ),
)

TREE = (
    Field(
        "tree_total",
        "Total height (tree)",
        "computed",
        "Mean over the tree's set-ups.",
        quantity="length",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_top",
        "Crown top (tree)",
        "computed",
        "Mean over the tree's set-ups.",
        quantity="length",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_base",
        "Crown base (tree)",
        "computed",
        "Mean over the tree's set-ups.",
        quantity="length",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_depth",
        "Crown depth (tree)",
        "computed",
        "Mean crown top minus mean crown base.",
        quantity="length",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_ratio",
        "Live crown ratio (tree)",
        "computed",
        "Crown depth over total height.",
        quantity="percent",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_setups",
        "Set-ups (tree)",
        "computed",
        "Set-ups that gave the total height.",
        quantity="count",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_u_total",
        "± total height (tree)",
        "computed",
        "Standard uncertainty of the total height, the instrument's part.",
        quantity="length",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_u_depth",
        "± crown depth (tree)",
        "computed",
        "Standard uncertainty of the crown depth, the instrument's part.",
        quantity="length",
        filled_by="program",
        block="tree",
    ),
    Field(
        "tree_findings",
        "Findings (tree)",
        "computed",
        "What does not fit, in plain words.",
        filled_by="program",
        block="tree",
        width=60,
    ),
)


def _helper(name: str, label: str, help_text: str, width: float = 9.0) -> Field:
    return Field(
        name, label, "computed", help_text, filled_by="program", block="helper", width=width
    )


# Folded away: what the formulas of the live columns rest on, so that each stays short
HELPER = (
    _helper("helper_plot", "Row of the plot", "Row of this plot on the sheet Plots."),
    _helper("helper_instrument", "Row of the instrument", "Row on the sheet Instruments."),
    _helper("helper_scale", "Scale used", "Of the line, else of the plot.", 12),
    _helper("helper_kind", "Kind of distance used", "Of the line, else of the plot.", 12),
    _helper("helper_condition", "Condition used", "Of the line, or as its readings say."),
    _helper("helper_divisor", "Base of the scale", "Reading over base is the slope."),
    _helper("helper_foot", "Slope to the foot", "Tangent of the angle."),
    _helper("helper_base", "Slope to the crown base", "Tangent of the angle."),
    _helper("helper_top", "Slope to the crown top", "Tangent of the angle."),
    _helper("helper_tip", "Slope to the tip", "Tangent of the angle."),
    _helper("helper_along", "Slope of the distance", "Tangent of the angle."),
    _helper("helper_measured", "Tree measured here", "Plot and tree of a line with a diameter."),
    _helper("helper_stem", "Diameter to the bark", "Of the tree, where distances end at the bark."),
    _helper("helper_half", "From bark to centre", "Half the stem where distances end at the bark."),
    _helper("helper_eye", "Eye above the foot", "From the foot reading, or as declared."),
    _helper("helper_odd", "Odd cells", "A keyed cell that holds no number.", 18),
    _helper("helper_missing", "Missing", "What a height or the crown lacks.", 18),
)
