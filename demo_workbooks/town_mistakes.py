"""How mistakes are planted into the clean town: one tree or plot each, and all of it written down.

A mistake is a record: what it is, the check that must find it, which trees it can befall, and
what it does. Where it lands follows from its place in the list and from `shift`, so that the same
mistakes can be planted elsewhere. A tree has at most one planted mistake.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from town_places import Row
from town_survey import Key, Town
from town_trees import Tree

# fraction of the golden section: successive mistakes land far from each other
_STRIDE = 0.6180339887


@dataclass
class Draft:
    """The town while mistakes are being planted into copies of its rows."""

    plots: list[Row]
    lines: list[Row]
    trees: dict[Key, Tree]
    used: set[Key] = field(default_factory=set)
    grouped: dict[Key, list[Row]] = field(default_factory=dict)

    def regroup(self) -> None:
        """Gather the lines of each tree anew; needed after a mistake."""
        self.grouped = {}
        for line in self.lines:
            self.grouped.setdefault((line["plot"], line["tree"]), []).append(line)

    def lines_of(self, key: Key) -> list[Row]:
        """Return the lines of one tree, its first set-up first."""
        return self.grouped.get(key, [])

    def plot(self, number: str) -> Row:
        """Return the row of one plot."""
        return next(row for row in self.plots if row["plot"] == number)


@dataclass(frozen=True)
class Change:
    """What one mistake did: the field, what was right, what was keyed, whom it touches.

    `also` are further trees whose lines take part; `plots` are plots whose count is upset.
    """

    field: str
    right: Any
    keyed: Any
    sheet: str = "Field sheet"
    setup: int = 1
    also: tuple[Key, ...] = ()
    plots: tuple[str, ...] = ()


Where = Callable[[Draft, Key], bool]
Act = Callable[[Draft, Key], Change]


@dataclass(frozen=True)
class Mistake:
    """One mistake to plant. `words` say in plain words what happened."""

    kind: str
    check: str
    words: str
    where: Where
    act: Act


@dataclass(frozen=True)
class Planted:
    """One planted mistake as it is written down, and the trees and plots that it touches."""

    number: int
    mistake: Mistake
    key: Key
    change: Change

    @property
    def places(self) -> frozenset[Key]:
        """Return every tree that takes part, as it stands in the sheet, and plots as (plot, "")."""
        plot, tree = self.key
        keyed = self.change.keyed or ""
        as_keyed = {"plot": (keyed, tree), "tree": (plot, keyed)}.get(self.change.field, self.key)
        upset = {(number, "") for number in self.change.plots}
        return frozenset({self.key, as_keyed, *self.change.also, *upset})


def plant(
    town: Town, mistakes: Sequence[Mistake], shift: int = 0
) -> tuple[Town, tuple[Planted, ...]]:
    """Plant mistakes into copies of the town's rows.

    Parameters
    ----------
    town : Town
        The clean town; it is not changed.
    mistakes : sequence of Mistake
        What to plant, in this order.
    shift : int
        How many suitable trees or plots further on each mistake lands.

    Returns
    -------
    (Town, tuple of Planted)
        The town with its mistakes, and where each one went.
    """
    unmoved = [one.key for one in plant(town, mistakes)[1]] if shift else []
    draft = Draft([{**row} for row in town.plots], [{**row} for row in town.lines], {**town.trees})
    planted: list[Planted] = []
    for number, mistake in enumerate(mistakes, start=1):
        draft.regroup()
        places = [key for key in _places(town) if key not in draft.used]
        places = [key for key in places if mistake.where(draft, key)]
        if not places:
            raise LookupError(f"no place is left for mistake {number}: {mistake.kind}")
        key = places[int(number * _STRIDE % 1 * len(places))]
        if shift:
            key = _further_on(_places(town), places, unmoved[number - 1], shift)
        change = mistake.act(draft, key)
        draft.used |= {key, *change.also}
        planted.append(Planted(number, mistake, key, change))
    return Town(tuple(draft.plots), tuple(draft.lines), town.trees), tuple(planted)


def _places(town: Town) -> list[Key]:
    """Every tree, and every plot as (plot, "")."""
    return [*town.trees, *((row["plot"], "") for row in town.plots)]


def _further_on(everywhere: list[Key], places: list[Key], start: Key, shift: int) -> Key:
    """Return the suitable place so many further on than a start, going round at the end."""
    order = {key: position for position, key in enumerate(everywhere)}
    others = [key for key in places if key != start] or places
    ahead = [key for key in others if order[key] > order[start]]
    return (ahead + others[: len(others) - len(ahead)])[(shift - 1) % len(others)]


def cell(field_name: str, keyed: Callable[[Row], Any], setup: int = 1) -> Act:
    """Make the mistake of one wrong cell: `keyed` gives what was keyed, from the right line."""

    def act(draft: Draft, key: Key) -> Change:
        line = draft.lines_of(key)[setup - 1]
        right, wrong = line.get(field_name), keyed(line)
        line[field_name] = wrong
        return Change(field_name, right, wrong, setup=setup)

    return act


def plot_cell(field_name: str, keyed: Callable[[Row], Any]) -> Act:
    """Make the mistake of one wrong cell on the sheet Plots."""

    def act(draft: Draft, key: Key) -> Change:
        row = draft.plot(key[0])
        right, wrong = row.get(field_name), keyed(row)
        row[field_name] = wrong
        return Change(field_name, right, wrong, sheet="Plots", plots=(key[0],))

    return act


def swapped(one: str, other: str) -> Act:
    """Make the mistake of two readings of a line in each other's column."""

    def act(draft: Draft, key: Key) -> Change:
        line = draft.lines_of(key)[0]
        line[one], line[other] = line[other], line[one]
        return Change(one, line[other], line[one])

    return act
