"""The cards: one page each, a drawing each, and examples that come out right."""

import math
import re

import pytest

from tests.jobs.paper.printed import assert_fits_its_paper, open_book, pages
from tests.survey.make_survey import make_survey
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper.book import cards_book
from xlhelpers.jobs.paper.cards import CARDS, Card, keys_in_use
from xlhelpers.jobs.paper.field_page import Sizes
from xlhelpers.pages.paper_page import SIZES

UNITS: tuple[Units, ...] = ("metric", "us")
EVERY = [(key, units) for key in CARDS for units in UNITS]


def number(card: Card, label: str) -> float:
    """The number that the example writes under a heading."""
    text = next(value for heading, value in card.entries if label in heading)
    return float(text.replace("−", "-").replace("☒", "").replace("+", ""))


def total(card: Card) -> float:
    found = re.search(r"[Tt]otal height ([\d.]+)", card.result)
    assert found is not None
    return float(found[1])


def heights(key: str, card: Card) -> float:
    """The total height once more, worked out from what the card writes, by plain trigonometry."""
    if key == "height":
        return number(card, "Tip reading")
    distance, tip = number(card, "Distance"), number(card, "Tip reading")
    if key == "eye height":
        seen = re.search(r"eye at ([\d.]+)", card.result)
        assert seen is not None
        return distance * tip / 100 + float(seen[1])
    foot = number(card, "Foot reading")
    if key == "degrees":
        return distance * (math.tan(math.radians(tip)) - math.tan(math.radians(foot)))
    if key == "straight to the foot":
        far = number(card, "Straight distance to tip")
        return far * math.sin(math.radians(tip)) - distance * math.sin(math.radians(foot))
    base = {"topographic": 66.0, "fixed distance": 20.0 if distance < 30 else 66.0}.get(key, 100.0)
    if key == "along slope":
        distance *= math.cos(math.atan(number(card, "Slope reading") / 100))
    rise = distance * (tip - foot) / base
    if key == "hidden foot":
        rise += number(card, "Mark above foot")
    if key == "leaning":
        rise -= number(card, "Tip offset") * tip / 100
    return rise


@pytest.mark.parametrize(("key", "units"), EVERY)
def test_the_example_comes_out_right(key: str, units: Units) -> None:
    card = CARDS[key](units)
    assert total(card) == pytest.approx(heights(key, card), abs=0.051)
    # the tree that is drawn is 18 m, or 59.4 ft, high; whole marks of a scale cost a little
    assert total(card) == pytest.approx(18.0 if units == "metric" else 59.4, rel=0.015)


@pytest.mark.parametrize(("key", "units"), EVERY)
def test_the_units_of_the_survey_are_used_throughout(key: str, units: Units) -> None:
    card = CARDS[key](units)
    said = [card.result, *(word.text for word in card.drawing.words)]
    other = "ft" if units == "metric" else "m"
    assert not any(re.search(rf"\d\s{other}\b", text) for text in said)


@pytest.mark.parametrize(("key", "units"), EVERY)
def test_each_card_is_drawn_and_says_all_five_steps(key: str, units: Units) -> None:
    card = CARDS[key](units)
    assert [word for word, _ in card.steps] == ["Stand", "Tape", "Aim", "Read", "Write"]
    assert all(text for _, text in card.steps)
    looks = {stroke.look for stroke in card.drawing.strokes}
    assert looks >= {"ground", "stem", "crown", "person", "sight"}
    assert card.drawing.description


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("paper", SIZES)
def test_each_card_is_one_page(paper: str, units: Units) -> None:
    book = open_book(cards_book(Sizes(SIZES[paper], units)))
    printed = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    assert len(printed) == len(CARDS) == 12
    for sheet in printed:
        assert len(pages(sheet)) == 1
        assert_fits_its_paper(sheet)
        assert len(sheet._charts) == 1
        words = " ".join(str(cell.value) for row in sheet.iter_rows() for cell in row if cell.value)
        for caution in ("NOT SAFE", "Treat every wire as live", "licensed arborists"):
            assert caution in words


def test_a_frame_keeps_the_drawing_in_proportion() -> None:
    drawing = CARDS["percent"]("metric").drawing
    low, high = drawing.frame(0.5)
    assert (high[1] - low[1]) / (high[0] - low[0]) == pytest.approx(0.5)
    points = [point for stroke in drawing.strokes for point in stroke.points]
    assert all(low[i] <= point[i] <= high[i] for point in points for i in (0, 1))


def test_the_cards_follow_the_instruments() -> None:
    keys = keys_in_use(make_survey())
    assert "percent" in keys
    assert "degrees" in keys
    assert "topographic" not in keys
    assert {"dead top", "leaning", "hidden foot", "pole", "eye height", "along slope"} <= set(keys)
    assert set(keys_in_use(make_survey(instruments=()))) == set(CARDS)
