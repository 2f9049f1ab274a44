"""The mistakes that are planted in the invented town, and the check that must find each."""

from typing import Any

from town_acts import (
    another_plot,
    as_fractions,
    base_in_dead_top,
    below_a_plain_tree,
    blank_plot,
    copied,
    dead_tops,
    dragged,
    empty_plots,
    has_earlier,
    in_yard,
    left_out,
    measured_plots,
    misspelt,
    no_widths,
    repeated,
    same_number,
    second_tip,
    starts_a_run,
    too_near,
    trees,
)
from town_mistakes import Mistake, Where, cell, plot_cell, swapped
from town_places import Row


def _foot_below(line: Row) -> bool:
    return bool(line.get("foot_reading", 0) < -2)


def _recorded(line: Row) -> bool:
    return "recorded_depth" in line


def _tall(line: Row) -> bool:
    return bool(line["distance"] > 14)


def _near_tip(line: Row) -> int:
    return max(1, int(0.08 * (line["tip_reading"] - line["foot_reading"])))


def _blank(line: Row) -> None:
    return None


_LEVEL = trees(_foot_below, kind="level")
_PERCENT = trees(_foot_below, scale="percent", kind="level")
_DEGREES = trees(_foot_below, scale="degrees", kind="level")
_TOPO = trees(_foot_below, scale="topographic", kind="level")
_SINE = trees(_foot_below, kind="straight to the foot")
_UPHILL = trees(kind="along slope")
_SHOWN = trees(scale="height")


def _two(kind: str, check: str, words: str, *rest: Any) -> tuple[Mistake, ...]:
    """Plant the same mistake on two trees."""
    return (Mistake(kind, check, words, *rest), Mistake(kind, check, words, *rest))


def _missing(name: str, check: str, words: str, where: Where) -> Mistake:
    return Mistake("missing entry", check, words, where, cell(name, _blank))


_MISSING = (
    _missing("tip_reading", "tip-blank", "the reading to the tip was not entered", _PERCENT),
    _missing("tip_reading", "tip-blank", "the height on the display was not entered", _SHOWN),
    _missing("foot_reading", "foot-blank", "the reading to the foot was not entered", _DEGREES),
    _missing("foot_reading", "foot-blank", "the reading to the foot was not entered", _TOPO),
    _missing("base_reading", "base-blank", "the reading to the crown base was not entered", _SINE),
    _missing("distance", "distance-blank", "the distance was not entered", _LEVEL),
    _missing("diameter", "diameter-blank", "the diameter was not entered", _LEVEL),
    _missing("species", "species-blank", "the species was not entered", _LEVEL),
    _missing(
        "slope_reading",
        "slope-reading-blank",
        "a distance along the slope without its slope",
        _UPHILL,
    ),
    _missing(
        "slope_reading",
        "slope-reading-blank",
        "a distance along the slope without its slope",
        _UPHILL,
    ),
    Mistake("blank plot", "plot-missing", "the plot was left blank, as above", trees(), blank_plot),
)

_ORDER = (
    *_two(
        "base above tip",
        "base-above-top",
        "the readings to the crown base and the tip are in each other's box",
        _LEVEL,
        swapped("base_reading", "tip_reading"),
    ),
    Mistake(
        "base above crown top",
        "base-above-top",
        "the crown base lies in the dead top",
        dead_tops(lambda ln: "base_reading" in ln and "base_straight" not in ln),
        base_in_dead_top,
    ),
    Mistake(
        "crown top above tip",
        "top-above-tip",
        "the readings to the crown top and the tip are in each other's box",
        dead_tops(),
        swapped("top_reading", "tip_reading"),
    ),
    *_two(
        "dead top without crown top",
        "dead-top-without-reading",
        "T, but the reading to the crown top was not entered",
        dead_tops(),
        cell("top_reading", _blank),
    ),
    *_two(
        "crown top without dead top",
        "reading-without-dead-top",
        "a reading to the crown top, but the T was not entered",
        dead_tops(),
        cell("condition", _blank),
    ),
)

_FOOT = (
    *_two(
        "sign without tick",
        "foot-plus-unticked",
        "the minus of the foot reading was not entered",
        _PERCENT,
        cell("foot_reading", lambda ln: abs(ln["foot_reading"])),
    ),
    Mistake(
        "sign without tick",
        "foot-plus-unticked",
        "the minus of the foot reading was not entered",
        _DEGREES,
        cell("foot_reading", lambda ln: abs(ln["foot_reading"])),
    ),
    Mistake(
        "wrong foot reading",
        "eye-height",
        "another digit in front of the foot reading",
        _PERCENT,
        cell("foot_reading", lambda ln: ln["foot_reading"] - 20),
    ),
    Mistake(
        "wrong foot reading",
        "eye-height",
        "another digit in front of the foot reading",
        _DEGREES,
        cell("foot_reading", lambda ln: ln["foot_reading"] - 10),
    ),
)

_NUMBERS = (
    *_two(
        "number used twice",
        "duplicate-number",
        "the number of an earlier tree of another species",
        has_earlier,
        same_number,
    ),
    *_two(
        "line left out", "trees-counted", "the line of this tree was not entered", trees(), left_out
    ),
    *_two(
        "trees counted",
        "trees-counted",
        "the number of trees counted was entered one too high",
        measured_plots(),
        plot_cell("trees_counted", lambda row: row["trees_counted"] + 1),
    ),
    Mistake(
        "plot without lines",
        "plot-without-lines",
        "no line and no status for this plot",
        empty_plots,
        plot_cell("status", _blank),
    ),
    Mistake(
        "unknown plot", "plot-unknown", "one 0 too many in the plot number", trees(), another_plot
    ),
)

_READINGS = (
    *_two(
        "first tip",
        "first-tip-other-scale",
        "the first tip on the other scale was misread by a tenth",
        measured_plots(lambda row: "other_scale_tip" in row),
        plot_cell("other_scale_tip", lambda row: round(row["other_scale_tip"] * 1.1)),
    ),
    Mistake(
        "stood too near", "too-close", "measured from 0.4 tree heights", _PERCENT, too_near(0.4)
    ),
    Mistake(
        "stood too near", "too-close", "measured from 0.4 tree heights", _DEGREES, too_near(0.4)
    ),
    Mistake(
        "under the crown",
        "under-crown",
        "the decimal point of the distance slipped to the left",
        trees(_foot_below, _tall, lambda ln: ln["width_widest"] > 6, kind="level"),
        cell("distance", lambda ln: round(ln["distance"] / 10, 1)),
    ),
    *_two(
        "repeats disagree",
        "repeats-disagree-tip",
        "the tip of the second set-up was misread by a fifth",
        repeated,
        second_tip,
    ),
    Mistake(
        "recorded depth",
        "recorded-depth-differs",
        "the crown depth on the paper was worked out wrongly",
        trees(_recorded),
        cell("recorded_depth", lambda ln: round(ln["recorded_depth"] + 1.0, 2)),
    ),
    *_two(
        "recorded width",
        "recorded-width-differs",
        "the mean width on the paper was worked out wrongly",
        trees(_recorded),
        cell("recorded_width", lambda ln: round(ln["recorded_width"] - 0.5, 2)),
    ),
    *_two(
        "line copied",
        "copied-line",
        "the figures of the tree above were entered again",
        below_a_plain_tree,
        copied,
    ),
    *_two(
        "column dragged",
        "dragged-column",
        "the diameter was dragged down, 1 cm more on each line",
        starts_a_run,
        dragged,
    ),
)

_SLIPS = (
    *_two(
        "height over the limit",
        "height-over-limit",
        "the decimal point of the distance slipped to the right",
        trees(_foot_below, _tall, scale="percent", kind="level"),
        cell("distance", lambda ln: round(ln["distance"] * 10, 1)),
    ),
    Mistake(
        "diameter over the limit",
        "diameter-over-limit",
        "the decimal point of the diameter slipped to the right",
        trees(lambda ln: 26 < ln["diameter"] < 90),
        cell("diameter", lambda ln: round(ln["diameter"] * 10, 1)),
    ),
    Mistake(
        "out of range",
        "value-impossible",
        "a digit too many in the diameter",
        trees(),
        cell("diameter", lambda ln: round(ln["diameter"] * 100 + 1000)),
    ),
    Mistake(
        "out of range",
        "value-impossible",
        "the decimal point of the tip reading slipped to the right",
        trees(lambda ln: ln["tip_reading"] > 61, scale="percent", kind="level"),
        cell("tip_reading", lambda ln: ln["tip_reading"] * 10),
    ),
    Mistake(
        "wrong unit",
        "value-impossible",
        "the distance was entered with cm after it",
        _LEVEL,
        cell("distance", lambda ln: f"{ln['distance']} cm"),
    ),
    Mistake(
        "a hundredth",
        "reading-hundredth",
        "the readings were entered as fractions",
        trees(_foot_below, scale="percent", kind="level"),
        as_fractions,
    ),
    Mistake(
        "widths",
        "width-across-wider",
        "the two crown widths are in each other's box",
        trees(lambda ln: ln["width_widest"] > ln["width_across"] + 0.5),
        swapped("width_widest", "width_across"),
    ),
    Mistake("widths", "widths-blank", "the crown widths were not entered", trees(), no_widths),
    Mistake(
        "further stems",
        "stems-out-of-order",
        "a further stem is thicker than the diameter",
        trees(lambda ln: ln["diameter"] > 20),
        cell("other_stems", lambda ln: f"{ln['diameter'] + 8:g} 12"),
    ),
    Mistake(
        "under the smallest diameter",
        "diameter-under-smallest",
        "the decimal point of the diameter slipped to the left",
        trees(lambda ln: 12 < ln["diameter"] < 45),
        cell("diameter", lambda ln: round(ln["diameter"] / 10, 1)),
    ),
)

_WORDS = (
    *_two(
        "misspelt species",
        "species-unknown",
        "a letter is missing in the name of the species",
        trees(),
        cell("species", lambda ln: misspelt(ln["species"])),
    ),
    Mistake(
        "unknown instrument",
        "line-instrument-unknown",
        "an instrument that is not on the sheet Instruments",
        _PERCENT,
        cell("instrument", lambda ln: "Clino 7"),
    ),
    Mistake(
        "unknown word",
        "word-unknown",
        "a word that is no scale",
        _PERCENT,
        cell("scale", lambda ln: "procent"),
    ),
    Mistake(
        "unknown word",
        "word-unknown",
        "a condition that is not on the list",
        trees(),
        cell("condition", lambda ln: "X"),
    ),
    Mistake(
        "scale that is not there",
        "line-scale-lacking",
        "a scale that the instrument does not have",
        trees(scale="percent", kind="level"),
        cell("scale", lambda ln: "topographic"),
    ),
    Mistake(
        "second set-up of another species",
        "setup-other-species",
        "the second set-up names another species",
        repeated,
        cell("species", lambda ln: "Ginkgo biloba", setup=2),
    ),
    Mistake(
        "unknown person",
        "person-unknown",
        "initials that are not on the sheet People",
        measured_plots(),
        plot_cell("crew", lambda row: f"{row['crew']} QZ"),
    ),
    Mistake(
        "ambiguous number",
        "number-ambiguous",
        "a comma that may part thousands or decimals",
        trees(lambda ln: ln["distance"] > 10, kind="level"),
        cell("distance", lambda ln: f"{ln['distance']:.3f}".replace(".", ",")),
    ),
    Mistake(
        "no number",
        "number-unread",
        "words in place of a number",
        trees(),
        cell("diameter", lambda ln: f"about {ln['diameter']:.0f}"),
    ),
    Mistake(
        "a date",
        "value-impossible",
        "other stems were entered as 3-4, which the spreadsheet took for a date",
        trees(),
        cell("other_stems", lambda ln: 46115),
    ),
)

_SHAPES: tuple[Mistake, ...] = (
    Mistake(
        "width of another size",
        "widths-differ",
        "the decimal point of one crown width moved",
        trees(lambda ln: ln.get("width_across", 0) > 4),
        cell("width_across", lambda ln: round(ln["width_across"] / 10, 1)),
    ),
    Mistake(
        "base near the tip",
        "crown-shallow",
        "the crown base was read near the tip",
        _PERCENT,
        cell("base_reading", lambda ln: ln["tip_reading"] - _near_tip(ln)),
    ),
)

_BESIDE: tuple[Mistake, ...] = (
    Mistake(
        "diameter elsewhere",
        "diameter-elsewhere",
        "the stem divides at breast height, so it was measured lower down",
        in_yard(
            lambda ln: (
                not {"condition", "missing_because", "station_step", "recorded_height"} & set(ln)
            )
        ),
        cell("diameter_at", lambda ln: 0.8),
    ),
    Mistake(
        "second station",
        "stations-too-near",
        "the second tip was misread: both stations see the tip at nearly the same angle",
        in_yard(lambda ln: "station_step" in ln),
        cell("second_tip_reading", lambda ln: round(ln["tip_reading"] - 8.0, 1)),
    ),
    Mistake(
        "recorded height",
        "recorded-height-differs",
        "the height on the paper was worked out wrongly",
        in_yard(lambda ln: "recorded_height" in ln),
        cell("recorded_height", lambda ln: round(ln["recorded_height"] - 1.6, 2)),
    ),
    Mistake(
        "position",
        "position-off-plot",
        "a digit of the latitude was misread",
        trees(lambda ln: "latitude" in ln),
        cell("latitude", lambda ln: round(ln["latitude"] + 0.09, 6)),
    ),
)

MISTAKES: tuple[Mistake, ...] = (
    *_MISSING,
    *_ORDER,
    *_FOOT,
    *_NUMBERS,
    *_READINGS,
    *_SLIPS,
    *_WORDS,
    *_SHAPES,
    *_BESIDE,
)
