"""What the predicates look at: the survey's tables as arrays, each made once.

Only a plain blank can be missing: a cell with a reason, or one that the reader refused, is not.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.fields.field_sheet import MAIN_READINGS
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, VALUE, Survey
from xlhelpers.survey.setups.instruments import InstrumentTable, instrument_table
from xlhelpers.survey.typed.folding import Flags, Positions, fold, fold_column, positions_in
from xlhelpers.survey.typed.words import identifier_key, subject_words

Numbers = NDArray[np.float64]
Texts = NDArray[np.object_]
# any of these on a line shows that somebody measured the tree
MEASURED = (
    *MAIN_READINGS,
    "distance",
    "base_by_pole",
    "base_straight",
    "top_straight",
    "tip_straight",
)


@dataclass(frozen=True)
class Facts:
    """A survey with its set-ups and trees; the properties are arrays aligned to the lines."""

    survey: Survey
    setups: pd.DataFrame
    trees: pd.DataFrame
    _arrays: dict[tuple[str, str], NDArray[Any]] = field(default_factory=dict, repr=False)

    # ---- columns

    def table(self, name: str) -> pd.DataFrame:
        """Return one of the tables by its name."""
        if name in ("setups", "trees"):
            return self.setups if name == "setups" else self.trees
        frame: pd.DataFrame = getattr(self.survey, name)
        return frame

    def column(self, table: str, name: str) -> NDArray[Any]:
        """Return one column as an array: numbers and ticks as such, all else as objects."""
        key = (table, name)
        if key not in self._arrays:
            column = self.table(table)[name]
            plain = column.dtype.kind in "fiubM" if isinstance(column.dtype, np.dtype) else False
            self._arrays[key] = column.to_numpy() if plain else column.to_numpy(dtype=object)
        return self._arrays[key]

    def number(self, name: str) -> Numbers:
        """Return a number column of the field sheet."""
        return self.column("lines", name)

    def text(self, name: str) -> Texts:
        """Return a text column of the field sheet."""
        return self.column("lines", name)

    def tick(self, name: str) -> Flags:
        """Return a tick column of the field sheet."""
        return self.column("lines", name).astype(np.bool_)

    def setup(self, name: str) -> Numbers:
        """Return a number column of the set-ups."""
        return self.column("setups", name)

    def setup_text(self, name: str) -> Texts:
        """Return a text column of the set-ups."""
        return self.column("setups", name)

    def setup_flag(self, name: str) -> Flags:
        """Return a yes-or-no column of the set-ups."""
        return self.column("setups", name).astype(np.bool_)

    def tree(self, name: str) -> Numbers:
        """Return a number column of the trees."""
        return self.column("trees", name)

    def tree_text(self, name: str) -> Texts:
        """Return a text column of the trees."""
        return self.column("trees", name)

    def of_tree(self, name: str) -> Numbers:
        """Return a number column of the trees, spread over their lines."""
        return spread(self.column("trees", name), self.tree_position, np.nan)

    def of_tree_text(self, name: str) -> Texts:
        """Return a text column of the trees, spread over their lines."""
        return spread(self.column("trees", name), self.tree_position, "")

    def of_plot(self, name: str) -> Numbers:
        """Return a number column of the plots sheet, spread over the lines of each plot."""
        return spread(self.column("plots", name), self.plot_position, np.nan)

    def rule(self, name: str) -> Any:
        """Return a survey rule in the inner unit."""
        return self.survey.rules[name]

    def limit(self, name: str) -> float:
        """Return a survey rule that is a number, in the inner unit."""
        return float(self.survey.rules[name])

    # ---- what was in a cell

    def state(self, table: str, name: str) -> NDArray[np.int8]:
        """Return BLANK, VALUE, CLOSED or REFUSED for each cell of one column."""
        key = (f"states of {table}", name)
        if key not in self._arrays:
            states = self.survey.states.get(table)
            if states is not None and name in states:
                self._arrays[key] = states[name].to_numpy()
            else:
                frame = self.table(table)
                there = frame[name].notna() & (frame[name] != "")
                self._arrays[key] = np.where(there, VALUE, BLANK)
        return self._arrays[key]

    def has_state(self, table: str, name: str, state: int) -> Flags:
        """Return where the cells of one column are BLANK, VALUE, CLOSED or REFUSED."""
        return np.asarray(self.state(table, name) == state, dtype=np.bool_)

    def is_missing(self, name: str) -> Flags:
        """Return where a cell of the field sheet is blank without a reason."""
        return self.has_state("lines", name, BLANK) & ~self.has_reason

    def is_refused(self, name: str, table: str = "lines") -> Flags:
        """Return where the reader refused the cell."""
        return self.has_state(table, name, REFUSED)

    def has_value(self, name: str) -> Flags:
        """Return where a cell of the field sheet holds a value."""
        return self.has_state("lines", name, VALUE)

    @cached_property
    def has_reason(self) -> Flags:
        """Return where the line itself says why something is missing, in whatever words."""
        reason = self.text("missing_because")
        if same(reason, "").all():
            return np.zeros(len(reason), dtype=bool)
        folded = fold_column(reason)
        declared: Flags = np.array([fold(EYE_HEIGHT_WORDS) in text for text in folded])
        return ~same(folded, "") & ~declared

    @cached_property
    def is_measured(self) -> Flags:
        """Return where any distance or reading was entered, be it refused."""
        entered = [np.isin(self.state("lines", name), (VALUE, REFUSED)) for name in MEASURED]
        return any_of(entered)

    @cached_property
    def has_closed_reading(self) -> Flags:
        """Return where a word closes the distance or a reading."""
        closed = [self.state("lines", name) == CLOSED for name in ("distance", *MAIN_READINGS)]
        return any_of(closed)

    # ---- which tree, plot and person

    @cached_property
    def plot_position(self) -> Positions:
        """Return the position in the plots sheet of each line's plot, -1 where it is not there."""
        return self.setup("plot_position").astype(np.int64)

    @cached_property
    def tree_position(self) -> Positions:
        """Return the position in the trees of each line's tree, -1 for none."""
        return self.setup("tree_position").astype(np.int64)

    @cached_property
    def is_first(self) -> Flags:
        """Return which lines are the first of their tree."""
        return self.setup_flag("first")

    @cached_property
    def condition(self) -> Texts:
        """Return the condition of each line's tree: "", "T", "C" or "D"."""
        return self.setup_text("condition")

    @cached_property
    def first_lines(self) -> Positions:
        """Return the position of each tree's first line, aligned to the trees."""
        return self.column("trees", "first_line").astype(np.int64)

    @cached_property
    def has_numbers(self) -> Flags:
        """Return which lines have both a plot and a tree number."""
        return ~self.setup_flag("unnumbered")

    @cached_property
    def instruments(self) -> InstrumentTable:
        """Return the instruments, blanks filled from their kinds; the last is for none."""
        return instrument_table(self.survey)

    @cached_property
    def shows_height(self) -> Flags:
        """Return where the instrument shows the height itself: no distance, no foot reading."""
        return same(self.setup_text("scale"), "height")

    @cached_property
    def line_instrument_unknown(self) -> Flags:
        """Return where a line names an instrument that is not on the instruments sheet."""
        named = ~same(self.text("instrument"), "")
        known = self.column("instruments", "instrument")
        listed = positions_in(self.text("instrument"), known, identifier_key)
        return named & (listed < 0)

    @cached_property
    def plot_instrument(self) -> Positions:
        """Return for each plot the position of its instrument, -1 for none or unknown."""
        known = self.column("instruments", "instrument")
        return positions_in(self.column("plots", "instrument"), known, identifier_key)

    def lines_of_plots(self, mask: Flags | None = None) -> dict[int, tuple[int, ...]]:
        """Return the positions of the lines of each plot, of those where the mask is true."""
        chosen = np.flatnonzero(self.plot_position >= 0 if mask is None else mask)
        chosen = chosen[self.plot_position[chosen] >= 0]
        return group_members(self.plot_position[chosen], chosen)

    def place(self, line: int) -> str:
        """Return where a line is, such as "plot 7 tree 12 (row 95)"."""
        names = subject_words(
            (("plot", self.text("plot")[line]), ("tree", self.text("tree")[line]))
        )
        sheets = self.text("_sheet")
        sheet = "" if same(sheets, sheets[line]).all() else f" of {sheets[line]}"
        return f"{names} (row {int(self.number('_row')[line])}{sheet})"


def any_of(flags: Sequence[Flags]) -> Flags:
    """Return where at least one of several columns of yes and no says yes."""
    return np.asarray(np.logical_or.reduce(list(flags)), dtype=np.bool_)


def same(texts: Texts, word: str) -> Flags:
    """Return where a column of texts is this word."""
    return np.asarray(texts == word, dtype=np.bool_)


def spread(column: NDArray[Any], positions: Positions, otherwise: Any) -> NDArray[Any]:
    """Return the entries of a column at positions; `otherwise` where the position is -1."""
    if len(column) == 0:
        dtype = object if isinstance(otherwise, str) else None
        return np.full(len(positions), otherwise, dtype=dtype)
    taken = column[np.maximum(positions, 0)]
    outside = positions < 0
    return np.where(outside, otherwise, taken) if outside.any() else taken


def group_members(codes: Positions, members: Positions) -> dict[int, tuple[int, ...]]:
    """Return the members of each code, in their order."""
    order = np.argsort(codes, kind="stable")
    codes, members = codes[order], members[order]
    if len(codes) == 0:
        return {}
    starts = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]])
    ends = [*starts[1:].tolist(), len(codes)]
    values = members.tolist()
    return {
        code: tuple(values[start:end])
        for code, start, end in zip(codes[starts].tolist(), starts.tolist(), ends, strict=True)
    }
