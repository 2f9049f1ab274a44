"""One page of a field sheet: its head, the main run of the columns, and lines for notes below.

The columns and their order come from the records of the field sheet, so that paper and workbook
cannot disagree. This module adds only how wide each is on paper.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from xlhelpers.fields.cautions import SHORT_CAUTIONS
from xlhelpers.fields.choices import choice
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper.crown_columns import USUAL_CROWNS, WIDTHS, CrownRules
from xlhelpers.jobs.paper.plot_facts import PlotFacts
from xlhelpers.pages.page_code import page_code
from xlhelpers.pages.paper_page import (
    LEAST_TYPE,
    LINE_OF_TEXT,
    LOOKS,
    ROW,
    Box,
    Line,
    Page,
    PaperSize,
    height_of_text,
    letters_beside,
    points_down,
    shared_out,
    text_line,
    units_across,
)
from xlhelpers.survey.trees.widths import FIXED, RADIUS_FIELDS


@dataclass(frozen=True)
class Sizes:
    """The paper that is printed on, the units that are written in, and what crowns need."""

    paper: PaperSize
    units: Units
    crowns: CrownRules = USUAL_CROWNS


# units of width on paper; the last column takes what is left over
MAIN_WIDTHS: dict[str, int] = {
    "plot": 4,
    "tree": 4,
    "setup": 4,
    "species": 10,
    "condition": 6,
    "diameter": 6,
    "width_widest": 6,
    "width_across": 6,
    "distance": 6,
    "foot_reading": 8,
    "base_reading": 6,
    "top_reading": 6,
    "tip_reading": 6,
}
# the mark of this column is beside the minus of the foot box
MARKED = "foot_above_eye"
_TICK_UNITS = 3
_FIXED_WIDTH = 8  # units of a crown width whose heading names a direction
# below the run, twice beside each other: what a tree of any plot may need
NOTE_WIDTHS: dict[str, int] = {"other_stems": 11, "missing_because": 12, "note": 8}
KEY_WIDTHS = (3, 4)  # tree and set-up, before each line of another block
_NOTE_LINES = 2
_SECOND_SET_UPS = 1
# measured once for each tree, not at each set-up
_ONCE_A_TREE = frozenset(("species", "diameter", *WIDTHS, *RADIUS_FIELDS))
_FEW_SCALES = 2
_LONGEST_NUMBER = 7
_NOTE_UNITS = 22
_LONG_LINE = 1.12
NOTHING_KNOWN = PlotFacts("", "", "", "", "", (), "", "", 0)
_HINT = (
    "Above eye level +, below −. Foot above your eye: mark ☐+. 0 is a reading. Not read: blank, or "
    "NOT SAFE, NO ACCESS, NOT SEEN, NOT ASKED."
)


def pages_wanted(facts: PlotFacts, sizes: Sizes, repeats: float) -> int:
    """Return how many pages a plot needs; one where nobody has counted its trees yet.

    Parameters
    ----------
    facts : PlotFacts
        The plot; its trees counted are used.
    sizes : Sizes
        Paper and units.
    repeats : float
        Share of the trees that are to be measured from a second place [fraction].
    """
    first, later = (
        min(room - _SECOND_SET_UPS, int(room / (1 + repeats)))
        for room in (lines_on(sizes, page, facts) for page in (1, 2))
    )
    return 1 if facts.trees <= first else 1 + ceil((facts.trees - first) / later)


def lines_on(sizes: Sizes, page: int, facts: PlotFacts = NOTHING_KNOWN) -> int:
    """Return how many lines for set-ups a page has room for; a long note takes of it."""
    around = (*_head(facts, sizes, page, page), *_middle(sizes), *_foot(sizes))
    fixed = sum(line.height for line in around)
    return int((points_down(sizes.paper, landscape=True) - fixed) / ROW)


def field_page(facts: PlotFacts, sizes: Sizes, page: int, pages: int) -> Page:
    """Return one page of the field sheet of a plot."""
    count = lines_on(sizes, page, facts)
    run = tuple(
        _run_line(facts, sizes, second=place >= count - _SECOND_SET_UPS) for place in range(count)
    )
    return (*_head(facts, sizes, page, pages), *_middle(sizes), *run, *_foot(sizes))


def column_number(name: str) -> int:
    """Return the number of a column of the field sheet, as it is printed."""
    typed = [field.name for field in FIELD_SHEET.fields if field.filled_by != "program"]
    return typed.index(name) + 1


def plot_line(facts: PlotFacts, across: int, page: int, pages: int) -> Line:
    """Return the line that says whose page it is; for a page of no plot all is written by hand."""
    code = page_code(facts.plot, page) if facts.plot else ""
    boxes = _fill_line(
        across,
        1,
        _plot_box(facts.plot),
        Box(14, "Stratum", facts.stratum),
        Box(11, "Date", facts.date),
        Box(16, "Crew, reader first", facts.crew),
        Box(10, "Page", f"{page} of {pages}" if pages else ""),
        Box(12, "Code", code, "strong_box"),
    )
    return Line(ROW * 1.2, boxes)


def _head(facts: PlotFacts, sizes: Sizes, page: int, pages: int) -> Page:
    across = units_across(sizes.paper, landscape=True)
    few = len(facts.scales) <= _FEW_SCALES
    boxes = ("    " if few else " ").join(f"☐ {scale}" for scale in facts.scales)
    second = _fill_line(
        across,
        1,
        Box(14 if few else 12, "Instrument", facts.instrument),
        Box(27, "Scale read" if few else "Scale", boxes, "strong_box", "ticks" if few else "label"),
        Box(31, "Distance", _ticks("distance kind"), "box", "label"),
    )
    lines = (plot_line(facts, across, page, pages), Line(ROW, second))
    return lines if page > 1 else (*lines, *_rest_of_head(facts, across, sizes.units))


def _plot_box(plot: str) -> Box:
    """Return the box of the plot's number, large where it is short; it is never cut if it fits."""
    sizes = ((14, "large"), (14, "value"), (20, "label"), (23, "label"))
    for width, look in sizes:
        if len(plot) <= letters_beside("PLOT", width, float(LOOKS[look]["font_size"])):
            break
    return Box(width, "PLOT", plot, "strong_box", look)


def _rest_of_head(facts: PlotFacts, across: int, units: Units) -> Page:
    first = (
        Box(14, "Eye height", facts.eye_height),
        Box(12, "Level check: out"),
        Box(8, "back"),
        *_tip_boxes(facts.scales),
        Box(8, PLOTS["slope"].heading(units)),
    )
    second = (
        Box(44, "Status", _ticks("plot status"), "box", "small_ticks"),
        Box(13, "Trees on this plot"),
        Box(9, "Sheets"),
        Box(10, PLOTS["keyed_by"].label),
    )
    # a note may be a warning: one that its box cannot show whole gets lines of its own
    fits = len(facts.note) <= letters_beside("Note", _NOTE_UNITS, LEAST_TYPE)
    third = (
        Box(25, "Leaves", _ticks("leaf state"), "box", "small_ticks"),
        Box(14, PLOTS["area_inside"].heading(units).replace("the ", "")),
        Box(12, PLOTS["area_reached"].heading(units)),
        Box(_NOTE_UNITS, "Note", facts.note if fits else "below", value_look="label"),
    )
    once = (
        Box(30, "Distance to", _ticks("distance ends at", facts.distance_to), value_look="label"),
        Box(38, PLOTS["foot_by"].label, _ticks("foot", facts.foot_by), value_look="label"),
    )
    stretched = ((first, 5), (second, 0), (third, 3), (once, 1))
    note = () if fits else (text_line(f"Note: {facts.note}", across, "large_text"),)
    return (*(Line(ROW, _fill_line(across, at, *boxes)) for boxes, at in stretched), *note)


def _tip_boxes(scales: Sequence[str]) -> tuple[Box, Box]:
    """Return the boxes for the first tip on both scales; a single scale needs no comparison."""
    if len(scales) == 1:
        return Box(20, f"First tip on {scales[0]}"), Box(8, "only scale")
    first, second = scales if len(scales) == _FEW_SCALES else ("one scale", "other scale")
    return Box(15, f"First tip on {first}"), Box(12, f"on {second}")


def _fill_line(across: int, stretched: int, *boxes: Box) -> tuple[Box, ...]:
    widths = shared_out([box.width for box in boxes], across, stretched)
    sized = (replace(box, width=width) for box, width in zip(boxes, widths, strict=True))
    return tuple(_fit_value(box) for box in sized)


def _fit_value(box: Box) -> Box:
    """Return the box with its value in smaller type, or cut with a sign, where it has no room."""
    if "☐" in box.value:
        return box
    room = 0
    for look in (box.value_look, "label"):
        room = letters_beside(box.label, box.width, float(LOOKS[look]["font_size"]))
        if len(box.value) <= room:
            return replace(box, value_look=look)
    return replace(box, value=box.value[: max(room - 1, 1)] + "…", value_look="label")


def _ticks(list_name: str, stated: str = "") -> str:
    """Return the words of a list with a box each; the one that the workbook states is marked."""
    return "  ".join(f"{'☒' if word == stated else '☐'} {word}" for word in choice(list_name))


def _middle(sizes: Sizes) -> Page:
    across = units_across(sizes.paper, landscape=True)
    boxes = []
    for name, width in _main_run(sizes).items():
        text = numbered_heading(name, sizes)
        if name == "foot_reading":
            text += f"\n{column_number(MARKED)} ☐+ {FIELD_SHEET[MARKED].label.lower()}"
        field = FIELD_SHEET[name]
        always = field.required == "always" or field.block == "radii"
        boxes.append(Box(width, text, look="heading" if always else "heading_sometimes"))
    return text_line(_HINT, across, "hint"), heading_line(boxes)


def _run_line(facts: PlotFacts, sizes: Sizes, *, second: bool) -> Line:
    short = len(facts.plot) <= _LONGEST_NUMBER
    number = facts.plot if short else facts.plot[: _LONGEST_NUMBER - 1] + "…"
    printed = {"plot": number, "setup": "2" if second else ""}
    boxes: list[Box] = []
    for name, width in _main_run(sizes).items():
        if name == "foot_reading":
            boxes.append(Box(width - _TICK_UNITS, "−", look="minus"))
            boxes.append(Box(_TICK_UNITS, "☐+", look="tick"))
        else:
            shaded = second and name in _ONCE_A_TREE
            look = "write_shaded" if shaded else "write_small" if name == "plot" else "write"
            boxes.append(Box(width, printed.get(name, ""), look=look))
    return Line(ROW, tuple(boxes))


def _foot(sizes: Sizes) -> Page:
    across = units_across(sizes.paper, landscape=True)
    one = (*KEY_WIDTHS, *NOTE_WIDTHS.values())
    halves = [shared_out(one, part, len(one) - 1) for part in (across // 2, across - across // 2)]
    texts = ["Tree", "Set-up", *(numbered_heading(name, sizes) for name in NOTE_WIDTHS)]
    headings = [
        Box(width, text, look="heading_plain")
        for half in halves
        for width, text in zip(half, texts, strict=True)
    ]
    blank = tuple(Box(width, look="write") for half in halves for width in half)
    return (
        heading_line(headings, least=ROW),
        *(Line(ROW, blank) for _ in range(_NOTE_LINES)),
        caution_line(across),
    )


def caution_line(across: int) -> Line:
    """Return the cautions in one box; a line this long has more letters than a short one."""
    height = height_of_text(SHORT_CAUTIONS, int(across * _LONG_LINE))
    return Line(height, (Box(across, SHORT_CAUTIONS, look="caution"),))


def heading_line(boxes: Sequence[Box], least: float = 2 * LINE_OF_TEXT) -> Line:
    """Return a line of headings, high enough for each."""
    lines = max(height_of_text(box.label, box.width) for box in boxes)
    return Line(max(lines, least), tuple(boxes))


def numbered_heading(name: str, sizes: Sizes) -> str:
    """Return the number and the heading of a column of the field sheet."""
    return f"{column_number(name)} {sizes.crowns.heading(name, sizes.units)}"


def _main_run(sizes: Sizes) -> dict[str, int]:
    """Return the columns of the main run that the survey needs, with their widths."""
    run = sizes.crowns.columns(MAIN_WIDTHS)
    across = units_across(sizes.paper, landscape=True)
    wide = run | {name: _FIXED_WIDTH for name in WIDTHS if name in run}
    # the name of a direction is long; species keep their room
    if sizes.crowns.widths == FIXED and sum(wide.values()) <= across:
        run = wide
    widths = shared_out(list(run.values()), across, list(run).index("species"))
    return dict(zip(run, widths, strict=True))
