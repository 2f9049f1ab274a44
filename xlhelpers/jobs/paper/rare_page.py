"""The page of the rarer columns of the field sheet, with many lines each.

Plots whose distances need such a column for every tree have it among their own pages. For all
others one page without a plot is printed, to be copied.
"""

from collections.abc import Mapping, Sequence
from math import ceil

from xlhelpers.jobs.paper.field_page import (
    KEY_WIDTHS,
    NOTHING_KNOWN,
    Sizes,
    caution_line,
    heading_line,
    numbered_heading,
    plot_line,
)
from xlhelpers.jobs.paper.plot_facts import PlotFacts
from xlhelpers.pages.paper_page import (
    ROW,
    Box,
    Line,
    Page,
    height_of_text,
    points_down,
    shared_out,
    text_line,
    units_across,
)
from xlhelpers.survey.setups.ways import ALONG_SLOPE, STRAIGHT

TITLE = "Rare cases"
# the least widths; what a paper has beyond them makes headings lower, and the last column wider
OTHERWISE_WIDTHS: dict[str, int] = {
    "mark_above_foot": 5,
    "instrument": 6,
    "scale": 4,
    "distance_kind": 5,
    "slope_reading": 4,
    "base_by_pole": 7,
    "tip_offset": 4,
    "base_straight": 8,
    "top_straight": 8,
    "tip_straight": 6,
    "station_step": 6,
    "second_tip_reading": 4,
    "second_foot_reading": 4,
}
FURTHER_WIDTHS: dict[str, int] = {
    "other_stems": 7,
    "diameter_at": 6,
    "height_by_eye": 5,
    "bearing": 5,
    "centre_distance": 6,
    "group": 4,
    "recorded_height": 6,
    "tag": 4,
    "latitude": 6,
    "longitude": 6,
    "missing_because": 6,
    "note": 7,
}
# the greater part of the lines: a plot may need them for each of its trees
_OTHERWISE_SHARE = 0.65
_HINT = (
    "Rare cases: write the tree and its set-up, then only the columns that this tree needs. The "
    "numbers are those of the columns on the sheet Field sheet."
)


def every_tree_needs_one(facts: PlotFacts) -> bool:
    """Return whether the plot's kind of distance needs a column of this page for each tree."""
    return facts.distance_kind in (ALONG_SLOPE, STRAIGHT)


def rare_pages_wanted(facts: PlotFacts, sizes: Sizes, repeats: float) -> int:
    """Return how many of these pages a plot needs; one where nobody has counted its trees yet.

    Parameters
    ----------
    facts : PlotFacts
        The plot; its kind of distance and its trees counted are used.
    sizes : Sizes
        Paper and units.
    repeats : float
        Share of the trees that are to be measured from a second place [fraction].
    """
    if not every_tree_needs_one(facts):
        return 0
    return max(1, ceil(facts.trees * (1 + repeats) / _counts(sizes)[0]))


def rare_page(
    sizes: Sizes, facts: PlotFacts = NOTHING_KNOWN, page: int = 0, pages: int = 0
) -> Page:
    """Return the page, of a plot or without one.

    Parameters
    ----------
    sizes : Sizes
        Paper and units.
    facts : PlotFacts
        The plot; nothing known unless stated.
    page, pages : int
        Which of how many pages of the plot; 0 without a plot.
    """
    across = units_across(sizes.paper, landscape=True)
    first, second = _counts(sizes)
    heading, line = _block(OTHERWISE_WIDTHS, across, sizes)
    further, further_line = _block(FURTHER_WIDTHS, across, sizes)
    return (
        plot_line(facts, across, page, pages),
        text_line(_HINT, across, "hint"),
        *(heading, *(line,) * first),
        *(further, *(further_line,) * second),
        caution_line(across),
    )


def _counts(sizes: Sizes) -> tuple[int, int]:
    """Return how many lines the two blocks have."""
    across = units_across(sizes.paper, landscape=True)
    around = (
        plot_line(NOTHING_KNOWN, across, 0, 0),
        text_line(_HINT, across, "hint"),
        *(_block(widths, across, sizes)[0] for widths in (OTHERWISE_WIDTHS, FURTHER_WIDTHS)),
        caution_line(across),
    )
    room = points_down(sizes.paper, landscape=True) - sum(line.height for line in around)
    lines = int(room / ROW)
    first = round(lines * _OTHERWISE_SHARE)
    return first, lines - first


def _block(widths: Mapping[str, int], across: int, sizes: Sizes) -> tuple[Line, Line]:
    """Return the headings of a block and one empty line of it."""
    texts = ["Tree", "Set-up", *(numbered_heading(name, sizes) for name in widths)]
    every = _lower_headings((*KEY_WIDTHS, *widths.values()), texts, across)
    shared = shared_out(every, across, len(every) - 1)
    headings = [
        Box(width, text, look="heading_plain") for width, text in zip(shared, texts, strict=True)
    ]
    return heading_line(headings), Line(ROW, tuple(Box(width, look="write") for width in shared))


def _lower_headings(widths: Sequence[int], texts: Sequence[str], across: int) -> list[int]:
    """Return the widths, some of them larger so that the tallest heading is as low as it can be."""
    lowest = list(widths)
    while True:
        limit = max(map(height_of_text, texts, lowest))
        wider = [
            next((w for w in range(width, across) if height_of_text(text, w) < limit), across)
            for text, width in zip(texts, lowest, strict=True)
        ]
        if sum(wider) > across:
            return lowest
        lowest = wider
