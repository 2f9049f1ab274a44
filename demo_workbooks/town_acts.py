"""Which trees and plots a mistake can befall, and mistakes that are more than one wrong cell."""

from collections.abc import Callable
from typing import Any

from town_crews import readings, stand_for
from town_mistakes import Act, Change, Draft, Where
from town_places import STREET, YARD, Row
from town_survey import Key
from town_trees import plot_generator

# what makes a line fit only for mistakes that are about it
_SPECIAL = (
    "condition",
    "missing_because",
    "mark_above_foot",
    "base_by_pole",
    "tip_offset",
    "instrument",
    "other_stems",
)


def trees(*needs: Callable[[Row], Any], scale: str = "", kind: str = "") -> Where:
    """Choose plain living trees, measured once and not the first of their plot, not in the yard.

    Each of `needs` must hold of the line; `scale` and `kind` are those of the plot.
    """

    def where(draft: Draft, key: Key) -> bool:
        lines = draft.lines_of(key)
        if key[1] in ("", "1") or len(lines) != 1 or any(name in lines[0] for name in _SPECIAL):
            return False
        plot = draft.plot(key[0])
        if key[0] == YARD:
            return False
        if (scale and plot["scale"] != scale) or (kind and plot["distance_kind"] != kind):
            return False
        line = lines[0]
        whole = isinstance(line.get("width_across"), float) and "tip_reading" in line
        return bool(whole and all(need(line) for need in needs))

    return where


def dead_tops(*needs: Callable[[Row], Any]) -> Where:
    """Choose trees with a dead top, measured once and not the first of their plot."""

    def where(draft: Draft, key: Key) -> bool:
        lines = draft.lines_of(key)
        if len(lines) != 1 or key[1] == "1" or lines[0].get("condition") != "T":
            return False
        whole = "tip_reading" in lines[0] and "base_by_pole" not in lines[0]
        return whole and all(need(lines[0]) for need in needs)

    return where


def in_yard(*needs: Callable[[Row], Any]) -> Where:
    """Choose living trees of the yard."""

    def where(draft: Draft, key: Key) -> bool:
        lines = draft.lines_of(key)
        return key[0] == YARD and len(lines) == 1 and all(need(lines[0]) for need in needs)

    return where


def repeated(draft: Draft, key: Key) -> bool:
    """Choose sighted trees with a second set-up."""
    lines = draft.lines_of(key)
    return len(lines) == 2 and key[1] != "1" and {"foot_reading", "tip_reading"} <= set(lines[0])


def measured_plots(*needs: Callable[[Row], Any]) -> Where:
    """Choose plots, but neither street nor yard, that were measured."""

    def where(draft: Draft, key: Key) -> bool:
        row = draft.plot(key[0])
        right = key[1] == "" and row["status"] == "measured" and key[0] not in (STREET, YARD)
        return right and all(need(row) for need in needs)

    return where


def empty_plots(draft: Draft, key: Key) -> bool:
    """Choose plots without a tree on the field sheet, and without a count that says so."""
    row = draft.plot(key[0])
    return key[1] == "" and row["status"] != "measured" and "trees_counted" not in row


def same_number(draft: Draft, key: Key) -> Change:
    """Give a tree the number of an earlier tree of another species."""
    line = draft.lines_of(key)[0]
    other = _earlier_of_another_species(draft, key)
    line["tree"] = other
    return Change("tree", key[1], other, also=((key[0], other),), plots=(key[0],))


def _earlier_of_another_species(draft: Draft, key: Key) -> str:
    species = draft.lines_of(key)[0].get("species")
    for number in range(int(key[1]) - 1, 1, -1):
        other = (key[0], str(number))
        lines = draft.lines_of(other)
        if other not in draft.used and len(lines) == 1 and lines[0].get("species") != species:
            return other[1]
    return ""


def has_earlier(draft: Draft, key: Key) -> bool:
    """Choose plain trees that have such an earlier tree."""
    return trees()(draft, key) and _earlier_of_another_species(draft, key) != ""


def left_out(draft: Draft, key: Key) -> Change:
    """Leave the only line of a tree out."""
    draft.lines.remove(draft.lines_of(key)[0])
    return Change("tree", key[1], None, plots=(key[0],))


def blank_plot(draft: Draft, key: Key) -> Change:
    """Leave the plot out, as if it meant "as above"."""
    draft.lines_of(key)[0]["plot"] = None
    return Change("plot", key[0], None, plots=(key[0],))


def another_plot(draft: Draft, key: Key) -> Change:
    """Key a plot number that is not on the sheet Plots."""
    wrong = f"{key[0]}0"
    draft.lines_of(key)[0]["plot"] = wrong
    return Change("plot", key[0], wrong, plots=(key[0],))


_COPIED = ("diameter", "width_widest", "width_across", "distance", "foot_reading", "base_reading")


def copied(draft: Draft, key: Key) -> Change:
    """Key the figures of the tree above once more, all but the tip."""
    above = (key[0], str(int(key[1]) - 1))
    line, source = draft.lines_of(key)[0], draft.lines_of(above)[0]
    right = line["diameter"]
    line |= {name: source[name] for name in _COPIED}
    return Change("diameter", right, line["diameter"], also=(above,))


def below_a_plain_tree(draft: Draft, key: Key) -> bool:
    """Choose plain trees whose predecessor is a plain tree too."""
    where = trees(scale="percent")
    if not where(draft, key) or draft.plot(key[0])["distance_kind"] != "level":
        return False
    above = (key[0], str(int(key[1]) - 1))
    return above not in draft.used and where(draft, above)


_RUN = 5


def dragged(draft: Draft, key: Key) -> Change:
    """Drag a diameter down with the mouse: each line below has 1 cm more."""
    run = _run_of(draft, key)
    lines = [draft.lines_of(one)[0] for one in run]
    right = lines[1]["diameter"]
    for step, line in enumerate(lines):
        line["diameter"] = round(lines[0]["diameter"] + step, 1)
    return Change("diameter", right, lines[1]["diameter"], also=tuple(run))


def _run_of(draft: Draft, key: Key) -> list[Key]:
    """Return trees that stand one below the other on the sheet, from this one on."""
    positions = [i for i, line in enumerate(draft.lines) if (line["plot"], line["tree"]) == key]
    if not positions:
        return []
    lines = draft.lines[positions[0] : positions[0] + _RUN]
    return [(line["plot"], line["tree"]) for line in lines]


def starts_a_run(draft: Draft, key: Key) -> bool:
    """Choose trees with four more plain trees of the plot right below them."""
    run = _run_of(draft, key)
    where = trees()
    return len(run) == _RUN and all(
        one[0] == key[0] and one not in draft.used and where(draft, one) for one in run
    )


def too_near(share: float) -> Act:
    """Measure the tree from a place that is too near, all readings being right for it."""

    def act(draft: Draft, key: Key) -> Change:
        line, tree = draft.lines_of(key)[0], draft.trees[key]
        rng = plot_generator(int(key[1]), 3)
        stand = stand_for(tree, draft.plot(key[0]), rng, share)
        right = line["distance"]
        line.pop("foot_above_eye", None)
        line |= readings(tree, stand, rng)
        return Change("distance", right, line["distance"])

    return act


def as_fractions(draft: Draft, key: Key) -> Change:
    """Key every reading of a line as a fraction instead of percent."""
    line = draft.lines_of(key)[0]
    right = line["tip_reading"]
    for name in ("foot_reading", "base_reading", "tip_reading"):
        line[name] = round(line[name] / 100, 2)
    return Change("tip_reading", right, line["tip_reading"])


def no_widths(draft: Draft, key: Key) -> Change:
    """Leave both crown widths out."""
    line = draft.lines_of(key)[0]
    right = line.pop("width_widest")
    del line["width_across"]
    return Change("width_widest", right, None)


def second_tip(draft: Draft, key: Key) -> Change:
    """Misread the tip of the second set-up by a fifth."""
    line = draft.lines_of(key)[1]
    right = line["tip_reading"]
    line["tip_reading"] = round(right * 1.2)
    return Change("tip_reading", right, line["tip_reading"], setup=2)


def base_in_dead_top(draft: Draft, key: Key) -> Change:
    """Put the crown base of a tree with a dead top between its crown top and its tip."""
    line = draft.lines_of(key)[0]
    right = line["base_reading"]
    line["base_reading"] = round((line["top_reading"] + line["tip_reading"]) / 2, 1)
    return Change("base_reading", right, line["base_reading"])


def misspelt(name: str) -> str:
    """Drop the third letter of the second word."""
    genus, species = name.split(" ", 1)
    return f"{genus} {species[:2]}{species[3:]}"
