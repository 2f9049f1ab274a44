"""The page of a card: drawing above, five steps below, the example as it is written on paper."""

from collections.abc import Sequence

from xlsxwriter import Workbook

from xlhelpers.fields.cautions import CAUTIONS
from xlhelpers.jobs.paper.card import Card
from xlhelpers.jobs.paper.cards import CARDS
from xlhelpers.jobs.paper.crew_rules import CrewRules
from xlhelpers.jobs.paper.field_page import Sizes
from xlhelpers.jobs.paper.scene import Points
from xlhelpers.pages.paper_page import (
    ROW,
    UNIT_PIXELS,
    Box,
    Line,
    Page,
    Shelf,
    height_of_text,
    points_down,
    text_line,
    units_across,
    write_pages,
)

# points; a program breaks the words of a low drawing early
_LEAST_DRAWING, _USUAL_DRAWING, _GREATEST_DRAWING = 200.0, 270.0, 330.0
# lines as long as a page have more letters than the usual estimate, which is made for short ones
_LONG_LINE = 1.12
_DRAWING_PLACE = 2
_STEP_UNITS = 7


def write_cards(
    book: Workbook, shelf: Shelf, sizes: Sizes, rules: CrewRules, keys: Sequence[str]
) -> None:
    """Write a tab for each of these cards; the points of all drawings are on one hidden tab."""
    width = units_across(sizes.paper, landscape=False) * UNIT_PIXELS
    cards = [(book.add_worksheet(f"Card {key}"), CARDS[key](rules)) for key in keys]
    points = Points(book)
    for sheet, card in cards:
        page = card_page(card, sizes)
        write_pages(sheet, [page], sizes.paper, shelf, landscape=False)
        height = round(page[_DRAWING_PLACE].height * 96 / 72)
        sheet.insert_chart(
            _DRAWING_PLACE,
            0,
            points.chart(card.drawing, width - 4, height - 4),
            {"x_offset": 2, "y_offset": 2, "description": card.drawing.description},
        )


def card_page(card: Card, sizes: Sizes) -> Page:
    """Return the page of a card; the drawing takes the room that the words leave."""
    across = units_across(sizes.paper, landscape=False)
    above = (
        Line(ROW * 1.4, (Box(across, card.title, look="title"),)),
        text_line(card.when, across, "large_text"),
    )
    below = (
        *(_step(word, text, across) for word, text in card.steps),
        Line(ROW, (Box(across, "Written like this", look="section"),)),
        *_example(card, across),
        text_line(card.result, across, "result"),
        Line(ROW, (Box(across, "Take care", look="section"),)),
        *(_caution(text, across) for text in CAUTIONS),
    )
    room = points_down(sizes.paper, landscape=False)
    room -= sum(line.height for line in (*above, *below))
    # whole pixels, so that no program adds one
    natural = across * UNIT_PIXELS * 0.75 * card.drawing.aspect()
    wanted = min(max(natural, _USUAL_DRAWING), _GREATEST_DRAWING)
    height = 0.75 * int(min(max(room, _LEAST_DRAWING), wanted) / 0.75)
    return *above, Line(height, (Box(across, look="box"),)), *below


def _step(word: str, text: str, across: int) -> Line:
    rest = across - _STEP_UNITS
    return Line(
        max(ROW, height_of_text(text, int(rest * _LONG_LINE), 11)),
        (Box(_STEP_UNITS, word, look="step"), Box(rest, text, look="large_text")),
    )


def _caution(text: str, across: int) -> Line:
    height = max(ROW, height_of_text(text, int(across * _LONG_LINE)))
    return Line(height, (Box(across, text, look="caution"),))


def _example(card: Card, across: int) -> Page:
    width, rest = divmod(across, len(card.entries))
    headings, values = [], []
    for place, (label, value) in enumerate(card.entries):
        headings.append(Box(width + (place < rest), label, look="heading"))
        values.append(Box(width + (place < rest), value, look="example"))
    needed = max(height_of_text(box.label, box.width) for box in headings)
    lines = [Line(max(ROW, needed), tuple(headings)), Line(ROW * 1.2, tuple(values))]
    if card.second:
        again = (
            Box(box.width, value, look="example")
            for box, value in zip(values, card.second, strict=True)
        )
        lines.append(Line(ROW * 1.2, tuple(again)))
    return tuple(lines)
