"""The cards: one page each, a drawing each, and examples that come out right."""

import math
import re

import numpy as np
import pytest

from tests.jobs.paper.printed import assert_fits_its_paper, open_book, pages
from tests.survey.make_survey import make_survey
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.rules import US_DEFAULTS
from xlhelpers.jobs.paper.book import cards_book
from xlhelpers.jobs.paper.card import Card
from xlhelpers.jobs.paper.card_page import card_page
from xlhelpers.jobs.paper.cards import CARDS, cards_for, keys_in_use
from xlhelpers.jobs.paper.crew_rules import CrewRules, crew_rules
from xlhelpers.jobs.paper.field_page import Sizes
from xlhelpers.measure import lean
from xlhelpers.measure.two_stations import SMALLEST_DIFFERENCE
from xlhelpers.pages.paper_page import SIZES, points_down
from xlhelpers.survey.instrument_history import angle_from_level_check

UNITS: tuple[Units, ...] = ("metric", "us")
# the ways of measuring a height, each with a tree of 18 m drawn
HEIGHTS = (
    "percent", "degrees", "topographic", "fixed distance", "along slope", "straight to the foot",
    "height", "two stations", "pole", "eye height", "hidden foot", "leaning", "dead top",
)  # fmt: skip
EVERY_HEIGHT = [(key, units) for key in HEIGHTS for units in UNITS]
EVERY = [(key, units) for key in CARDS for units in UNITS]
# each rule that changes what a crew does, away from its default
RULES: tuple[dict[str, object], ...] = (
    {},
    {"crown_base_rule": "half-way where lopsided", "heights_on": "some trees",
     "crown_widths": "four radii", "diameter_typed_as": "girth"},
    {"crown_widths": "two fixed directions", "crown_base_gap": 0.0, "repeats_wanted": 0.0},
    {"crown_widths": "two fixed directions", "width_directions": "along and across the street"},
    {"crown_widths": "not measured", "crown_depth": "not measured"},
)  # fmt: skip


def rules(units: Units = "metric", **changed: object) -> CrewRules:
    own = US_DEFAULTS if units == "us" else {}
    return crew_rules(make_survey(rules={**own, **changed}).rules, units)


def words_of(card: Card) -> str:
    texts = [card.title, card.when, card.result, *(text for step in card.steps for text in step)]
    drawn = [word.text for word in card.drawing.words]
    return " ".join((*texts, *drawn, *(text for entry in card.entries for text in entry)))


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
    if key == "two stations":
        return of_two_stations(card)
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


def of_two_stations(card: Card) -> float:
    """The height H that solves H = D a and H = (D + step) b with a distance D."""
    seen = [
        (number(card, f"Tip reading{of}") - number(card, f"Foot reading{of}")) / 100
        for of in ("", " 2")
    ]
    step = number(card, "Step to station 2")
    height, _ = np.linalg.solve([[1, -seen[0]], [1, -seen[1]]], [0, seen[1] * step])
    return float(height)


@pytest.mark.parametrize(("key", "units"), EVERY_HEIGHT)
def test_the_example_comes_out_right(key: str, units: Units) -> None:
    card = CARDS[key](rules(units))
    assert total(card) == pytest.approx(heights(key, card), abs=0.051)
    # the tree that is drawn is 18 m, or 59.4 ft, high; whole marks of a scale cost a little
    assert total(card) == pytest.approx(18.0 if units == "metric" else 59.4, rel=0.015)


@pytest.mark.parametrize(("key", "units"), EVERY)
def test_the_units_of_the_survey_are_used_throughout(key: str, units: Units) -> None:
    card = CARDS[key](rules(units))
    said = [card.result, *(word.text for word in card.drawing.words)]
    other = "ft" if units == "metric" else "m"
    assert not any(re.search(rf"\d\s{other}\b", text) for text in said)


@pytest.mark.parametrize(("key", "units"), EVERY_HEIGHT)
def test_each_card_of_a_height_is_drawn_and_says_all_steps(key: str, units: Units) -> None:
    card = CARDS[key](rules(units))
    assert [word for word, _ in card.steps] == ["Stand", "Tape", "Aim", "Read", "Write", "Rules"]
    assert all(text for _, text in card.steps)
    looks = {stroke.look for stroke in card.drawing.strokes}
    assert looks >= {"ground", "stem", "crown", "person", "sight"}
    assert card.drawing.description


@pytest.mark.parametrize(
    ("paper", "units"),
    [("a4", "metric"), pytest.param("letter", "us", marks=pytest.mark.slow)],
)
@pytest.mark.parametrize("changed", RULES[::4], ids=lambda changed: "-".join(changed) or "default")
def test_each_card_is_one_page(paper: str, units: Units, changed: dict[str, object]) -> None:
    wanted = rules(units, **changed)
    book = open_book(cards_book(Sizes(SIZES[paper], units), wanted), charts=True)
    printed = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    assert [sheet.title for sheet in printed] == [f"Card {key}" for key in cards_for(wanted)]
    assert len(printed) == (16 if "crown_depth" in changed else 19)
    for sheet in printed:
        assert len(pages(sheet)) == 1
        assert_fits_its_paper(sheet)
        assert len(sheet._charts) == 1
        words = " ".join(str(cell.value) for row in sheet.iter_rows() for cell in row if cell.value)
        for caution in ("NOT SAFE", "Treat every wire as live", "licensed arborists"):
            assert caution in words


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("changed", RULES, ids=lambda changed: "-".join(changed) or "default")
def test_no_card_is_higher_than_its_page(
    paper: str, units: Units, changed: dict[str, object]
) -> None:
    room = points_down(SIZES[paper], landscape=False)
    for key in cards_for(wanted := rules(units, **changed)):
        page = card_page(CARDS[key](wanted), Sizes(SIZES[paper], units))
        assert sum(line.height for line in page) <= room, key


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("aspect", [0.37, 0.6])
@pytest.mark.parametrize("changed", RULES, ids=lambda changed: "-".join(changed) or "default")
def test_drawings_are_inside_their_frames(
    units: Units, aspect: float, changed: dict[str, object]
) -> None:
    """Strokes and the points of words; letters of 10 points are at most 2 mm wide on average."""
    for key in cards_for(wanted := rules(units, **changed)):
        drawing = CARDS[key](wanted).drawing
        low, high = drawing.frame(aspect)
        drawn = [point for stroke in drawing.strokes for point in stroke.points]
        letter = 2.0 / 178 * (high[0] - low[0])
        for word in drawing.words:
            way = {"left": -1, "right": 1}.get(word.side, 0)
            # a program breaks a text that is longer than a fifth of the drawing
            drawn.append((word.at[0] + way * letter * min(len(word.text), 15), word.at[1]))
        for x, y in drawn:
            assert low[0] <= x <= high[0], key
            assert low[1] <= y <= high[1], key


def test_a_frame_keeps_the_drawing_in_proportion() -> None:
    drawing = CARDS["percent"](rules()).drawing
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
    always = {
        "diameter", "several stems", "crown width", "crown top", "crown base", "two stations",
    }  # fmt: skip
    assert always | {"instrument check"} <= set(keys)
    assert set(keys_in_use(make_survey(instruments=()))) == set(CARDS)
    without = {"crown_widths": "not measured", "crown_depth": "not measured"}
    keys = keys_in_use(make_survey(rules=without))
    assert not {"crown width", "crown base", "pole"} & set(keys)


def numbers_of(text: str) -> list[float]:
    return [float(found) for found in re.findall(r"\d+(?:\.\d+)?", text.replace("−", "-"))]


@pytest.mark.parametrize("units", UNITS)
def test_girth_and_several_stems_come_out_right(units: Units) -> None:
    """The circle, and the root of the sum of squares, once more by hand."""
    girth, again, _, across = numbers_of(CARDS["diameter"](rules(units)).result)
    assert girth == again
    assert across == pytest.approx(girth / math.pi, abs=0.051)
    card = CARDS["several stems"](rules(units))
    combined = re.search(r"= ([\d.]+)", card.result)
    assert combined is not None
    first, rest = (value for _, value in card.entries)
    stems = numbers_of(f"{first} {rest}")
    assert stems == sorted(stems, reverse=True)
    assert float(combined[1]) == pytest.approx(math.hypot(*stems), abs=0.051)
    with_girth = CARDS["several stems"](rules(units, diameter_typed_as="girth"))
    girths = numbers_of(" ".join(value for _, value in with_girth.entries))
    assert girths == pytest.approx([math.pi * one for one in stems], abs=0.051)


@pytest.mark.parametrize("units", UNITS)
def test_the_width_card_is_the_one_of_the_rule(units: Units) -> None:
    def card(**changed: object) -> Card:
        return CARDS["crown width"](rules(units, **changed))

    for made in (card(), card(crown_widths="two fixed directions")):
        first, second = (float(value) for _, value in made.entries)
        assert numbers_of(made.result)[-1] == pytest.approx((first + second) / 2, abs=0.051)
    assert "widest" in card().entries[0][0]
    fixed = card(crown_widths="two fixed directions")
    assert [label.split(", ")[1] for label, _ in fixed.entries] == ["north-south", "east-west"]
    assert float(fixed.entries[0][1]) < float(fixed.entries[1][1])  # the second may be larger
    street = card(
        crown_widths="two fixed directions", width_directions="along and across the street"
    )
    assert "along the street" in street.entries[0][0]
    assert "compass" not in words_of(street)
    radii = card(crown_widths="four radii")
    north, east, south, west = (float(value) for _, value in radii.entries)
    *_, mean, offset = numbers_of(radii.result)
    assert mean == pytest.approx((north + east + south + west) / 2, abs=0.051)
    assert offset == pytest.approx(math.hypot(north - south, east - west) / 2, abs=0.051)


@pytest.mark.parametrize("units", UNITS)
def test_the_near_edge_is_worked_out(units: Units) -> None:
    """Both places give the true height; the line that touches the crown gives the wrong one."""
    card = CARDS["crown top"](rules(units))
    first = [float(value.replace("−", "-")) for _, value in card.entries[1:]]
    second = [float(value.replace("−", "-")) for value in card.second[1:]]
    total, edge, wrong, edge_2, wrong_2 = numbers_of(card.result)
    for distance, foot, tip in (first, second):
        assert distance * (tip - foot) / 100 == pytest.approx(total, abs=0.051)
    assert first[0] * (edge - first[1]) / 100 == pytest.approx(wrong, abs=0.051)
    assert second[0] * (edge_2 - second[1]) / 100 == pytest.approx(wrong_2, abs=0.051)
    assert total < wrong_2 < wrong
    # the bound of the near edge: half the width of the crown times the slope
    width = 14.0 if units == "metric" else 14.0 * 3.3
    assert wrong - total <= lean.near_edge_bound(width, edge / 100)


def test_the_line_at_the_near_edge_touches_the_crown() -> None:
    """It meets the ellipse in one point: the nearest of its points is on the outline."""
    drawing = CARDS["crown top"](rules()).drawing
    outline = next(stroke.points for stroke in drawing.strokes if stroke.look == "crown")
    sights = [stroke.points for stroke in drawing.strokes if stroke.look == "measure"]
    eye, touch = sights[0]
    assert min(math.dist(touch, point) for point in outline) < 0.3
    middle = [sum(point[i] for point in outline[:-1]) / (len(outline) - 1) for i in (0, 1)]
    slope = (touch[1] - eye[1]) / (touch[0] - eye[0])
    above = [eye[1] + slope * (x - eye[0]) - y for x, y in outline if y > middle[1]]
    assert min(above) == pytest.approx(0.0, abs=0.15)


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("base", ["lowest living foliage", "half-way where lopsided"])
def test_the_crown_base_is_worked_out_by_the_rule(units: Units, base: str) -> None:
    card = CARDS["crown base"](rules(units, crown_base_rule=base))
    distance, foot, reading = (float(value.replace("−", "-")) for _, value in card.entries)
    height = re.search(r"= ([\d.]+)", card.result)
    assert height is not None
    assert float(height[1]) == pytest.approx(distance * (reading - foot) / 100, abs=0.051)
    metres = {"lowest living foliage": 3.6, "half-way where lopsided": (3.6 + 6.8) / 2}[base]
    assert float(height[1]) == pytest.approx(metres * (1 if units == "metric" else 3.3), abs=0.1)
    assert ("half-way" in words_of(card)) == (base != "lowest living foliage")


@pytest.mark.parametrize("units", UNITS)
def test_the_checks_of_an_instrument_are_worked_out(units: Units) -> None:
    """The error by the formula that the survey's own history of instruments uses."""
    card = CARDS["instrument check"](rules(units))
    known, distance, lower, upper, out, back = (
        float(value.replace("−", "-")) for _, value in card.entries
    )
    assert distance * (upper - lower) / 100 == pytest.approx(known, abs=0.051)
    degrees = [np.degrees(np.arctan([one / 100])) for one in (out, back)]
    error = float(np.tan(np.radians(angle_from_level_check(*degrees)))[0])
    assert 100 * error == pytest.approx((out + back) / 2, abs=0.01)
    assert f"{(out + back) / 2:g} % too high" in card.result


def test_the_cards_say_the_rules_of_the_survey() -> None:
    base = words_of(CARDS["percent"](rules(crown_base_gap=2.5)))
    assert "more than 2.5 m below the rest" in base.replace("\N{NO-BREAK SPACE}", " ")
    assert "does not count" not in words_of(CARDS["percent"](rules(crown_base_gap=0.0)))
    some = words_of(CARDS["percent"](rules(heights_on="some trees", repeats_wanted=0.1)))
    assert "only on the trees that the survey manager names" in some
    assert "Measure 10 % of them" in some.replace("\N{NO-BREAK SPACE}", " ")
    assert "second place" not in words_of(CARDS["percent"](rules(repeats_wanted=0.0)))
    assert "4.5\N{NO-BREAK SPACE}ft" in words_of(CARDS["diameter"](rules("us")))
    girth = rules(diameter_typed_as="girth")
    assert "writes the girth" in words_of(CARDS["diameter"](girth))
    alone = rules(crown_depth="not measured")
    for key in cards_for(alone):
        assert "rown base reading" not in words_of(CARDS[key](alone))


@pytest.mark.parametrize("key", sorted(set(CARDS) - {"height"}))
def test_every_card_with_a_distance_says_where_the_tape_ends(key: str) -> None:
    """The display alone takes no distance; widths, girths and walls have ends of their own."""
    card = CARDS[key](rules())
    steps = " ".join(text for step in card.steps for text in step)
    assert re.search(r"[Tt]ape", steps)
    assert re.search(r"ends|marked at the top of the sheet|measures to what it hits", steps)
    if any("9 Distance" in label and value for label, value in card.entries):
        assert {"bark"} <= {word.text for word in card.drawing.words}


@pytest.mark.parametrize("units", UNITS)
def test_the_card_of_two_stations_shows_its_limit(units: Units) -> None:
    """The limit, the angle that the readings make, and what one mark does, once more by hand."""
    card = CARDS["two stations"](rules(units))
    tip, tip_2 = number(card, "Tip reading"), number(card, "Tip reading 2")
    apart = math.degrees(math.atan(tip / 100) - math.atan(tip_2 / 100))
    total_, said_apart, one_lower = numbers_of(card.result)
    assert said_apart == round(apart)
    assert apart >= SMALLEST_DIFFERENCE
    assert f"{SMALLEST_DIFFERENCE:.0f}° or more" in words_of(card)
    foot, foot_2, step = (
        number(card, label) for label in ("Foot reading", "Foot reading 2", "Step to station 2")
    )
    near, far = tip - foot, tip_2 - 1 - foot_2
    assert one_lower == pytest.approx(step * far / (near - far) * near / 100, abs=0.051)
    assert total_ - one_lower > 0.5 * (1 if units == "metric" else 3.3)
    for caution in ("Never step back while aiming", "Never lay it across a road", "Leave Distance"):
        assert caution in words_of(card)


def test_a_card_says_what_is_read_on_trees_that_were_cut_back() -> None:
    assert "cut back (topped, pollarded, under wires) write C" in words_of(
        CARDS["dead top"](rules())
    )
