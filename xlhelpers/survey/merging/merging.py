"""Several workbooks of one survey put together: nothing dropped, every contradiction listed.

The rule behind all of it: a merge changes no number. Where two workbooks use one name for two
things, one of them gets another name; where two rows of a plot differ, both stay and the lines
say for themselves what the plot said for them.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field
from xlhelpers.fields.rules import RULES
from xlhelpers.survey.columns import SHEETS
from xlhelpers.survey.merging.plots import merge_plots
from xlhelpers.survey.merging.values import (
    Book,
    Conflict,
    Target,
    as_text,
    conflict_on,
    is_blank,
    keyed_frame,
    same_value,
    target_of,
)
from xlhelpers.survey.typed.folding import fold
from xlhelpers.survey.typed.species_names import fold_species, match_species
from xlhelpers.survey.typed.words import identifier_key

# lists that are put together by name: table -> naming field and how names are compared
_LISTS: dict[str, tuple[str, Callable[[str], str]]] = {
    "strata": ("stratum", identifier_key),
    "people": ("initials", identifier_key),
    "instruments": ("instrument", identifier_key),
    "species": ("botanical", fold_species),
}
# a difference in these makes two things of one name: the later one gets another name
_MAKES_ANOTHER: dict[str, tuple[str, ...]] = {
    "people": ("eye_height",),
    "instruments": (
        "kind",
        "scale_1",
        "scale_2",
        "scale_distance",
        "distance_to",
        "u_angle",
        "u_zero",
        "u_distance",
        "u_distance_share",
    ),
}
# where the names of a list are used: list -> (table, field)
_USED_IN: dict[str, tuple[tuple[str, str], ...]] = {
    "people": (("plots", "crew"), ("plots", "keyed_by"), ("instrument_checks", "person")),
    "instruments": (
        ("plots", "instrument"),
        ("lines", "instrument"),
        ("instrument_checks", "instrument"),
    ),
}
_CONVERTED = "the numbers were converted"
_FIRST_RULE = "the first workbook's rule is used"
_OF_WIDTHS = dict.fromkeys(
    ("crown_widths", "width_directions"),
    f"{_FIRST_RULE}, but this workbook's crown widths were taken in another way: do not compare "
    "them",
)
_FULL_NAME = "the joint list has another meaning, or none, for it; the full name is used"
_KEPT = (
    "all lines are kept; the next fill shows if they are set-ups of one tree or two trees "
    "with one number"
)


@dataclass
class Merged:
    """The survey that is written, in shown units; `rows` has a frame a table.

    Each frame has the fields as columns and besides `_file`, `_sheet` and `_row`: its origin.
    """

    target: Target
    rules: dict[str, Any]
    rows: dict[str, pd.DataFrame] = field(default_factory=dict)
    own: pd.DataFrame = field(default_factory=pd.DataFrame)
    conflicts: list[Conflict] = field(default_factory=list)

    @property
    def contradictions(self) -> int:
        """Return how many contradict: units that were converted are listed, and do not."""
        return sum(conflict.done != _CONVERTED for conflict in self.conflicts)


def merge_books(books: Sequence[Book], units: Units | None = None) -> Merged:
    """Put the surveys of several workbooks together.

    Parameters
    ----------
    books : sequence of Book
        In the order in which they were named; where they differ, the first that says something
        stands.
    units : {"metric", "us"}, optional
        Units of the result; those of the first workbook unless stated.

    Returns
    -------
    Merged
        As many lines and instrument checks as all workbooks have together.
    """
    target = target_of(list(books), units)
    frames = [
        {
            name: _with_origin(book, name, keyed_frame(book, name, sheet, target))
            for name, sheet in SHEETS.items()
        }
        for book in books
    ]
    merged = Merged(target, {})
    merged.rules = _merge_rules(books, target, merged.conflicts)
    for table in _LISTS:
        merged.rows[table] = _merge_list(table, books, frames, merged.conflicts)
    _write_full_species(books, frames, merged)
    merged.rows["plots"], conflicts = merge_plots(books, frames)
    merged.conflicts += conflicts
    for table in ("instrument_checks", "lines"):
        merged.rows[table] = pd.concat([frame[table] for frame in frames], ignore_index=True)
    merged.own = pd.concat([book.own for book in books], ignore_index=True)
    merged.conflicts += _shared_trees(merged.rows["lines"])
    return merged


def same_lines(merged: Merged) -> list[tuple[str, str]]:
    """Return the pairs of workbooks whose lines are the same, line for line."""
    fields = [item.name for item in FIELD_SHEET.fields if item.name in merged.rows["lines"]]
    seen: dict[tuple[str, ...], list[tuple[str, pd.DataFrame]]] = {}
    pairs = []
    for name, rows in merged.rows["lines"].groupby("_file", sort=False):
        lines = rows[fields].reset_index(drop=True)
        # only those that begin alike are compared as a whole
        begins = (str(len(lines)), *map(str, lines.iloc[0]))
        alike = seen.setdefault(begins, [])
        first = next((other for other, own in alike if own.equals(lines)), None)
        if first is None:
            alike.append((str(name), lines))
        else:
            pairs.append((first, str(name)))
    return pairs


def _with_origin(book: Book, table: str, frame: pd.DataFrame) -> pd.DataFrame:
    rows = getattr(book.survey, table)
    return frame.assign(_file=book.name, _sheet=rows["_sheet"], _row=rows["_row"])


def _merge_rules(
    books: Sequence[Book], target: Target, conflicts: list[Conflict]
) -> dict[str, Any]:
    of_target = {
        "units": target.units,
        "tape_reads_in": target.tape,
        "diameter_typed_as": "girth" if target.girth else "diameter",
    }
    rules: dict[str, Any] = {}

    def note_other(book: Book, item: Field, other: Any, done: str) -> None:
        origin = {"_file": book.name, "_sheet": RULES.tab, "_row": 0}
        pair = (rules[item.name], other)
        conflicts.append(conflict_on(origin, "rule", "Survey rules", item.label, pair, done))

    for item in RULES.fields:
        quantity = item.measured_in
        factor = quantity.factor(target.units) if quantity else 1.0
        values = [book.survey.rules[item.name] for book in books]
        cells = [v / factor if isinstance(v, float) and np.isfinite(v) else v for v in values]
        rules[item.name] = float(f"{cells[0]:.10g}") if isinstance(cells[0], float) else cells[0]
        for book, value, other in zip(books, values, cells, strict=True):
            if item.name not in of_target and not same_value(value, values[0]):
                note_other(book, item, other, _OF_WIDTHS.get(item.name, _FIRST_RULE))
    rules |= of_target
    for name in of_target:
        for book in books:
            if book.survey.rules[name] != rules[name]:
                note_other(book, RULES[name], book.survey.rules[name], _CONVERTED)
    return rules


@dataclass
class _ListRow:
    """The row of a list to which a name belongs: its workbook, the row as written, its values."""

    book: int
    row: dict[str, Any]
    inner: Mapping[Any, Any]


def _merge_list(
    table: str,
    books: Sequence[Book],
    frames: Sequence[dict[str, pd.DataFrame]],
    conflicts: list[Conflict],
) -> pd.DataFrame:
    name, folding = _LISTS[table]
    listed: dict[str, _ListRow] = {}
    rows: list[dict[Any, Any]] = []
    for number, book in enumerate(books):
        frame, inner = frames[number][table], getattr(book.survey, table)
        renamed: dict[str, str] = {}
        for row, means in zip(frame.to_dict("records"), inner.to_dict("records"), strict=True):
            key = folding(str(means[name]))
            here = listed.get(key)
            if not key or here is None or here.book == number:
                rows.append(row)
                if key and here is None:
                    listed[key] = _ListRow(number, rows[-1], means)
            elif _is_another(table, here.inner, means):
                new = renamed.setdefault(key, _new_name(table, str(means[name]), book, listed))
                done = f"renamed “{new}” everywhere in this workbook"
                conflicts += [
                    conflict_on(row, table, str(means[name]), item.label, values, done)
                    for item, values in _differences(table, here, row, means)
                ]
                rows.append({**row, name: new})
                listed[folding(new)] = _ListRow(number, rows[-1], means)
            else:
                conflicts += _complete(table, here, row, means)
        _rename_uses(table, frames[number], renamed)
    return pd.DataFrame(rows, columns=frames[0][table].columns, dtype=object)


def _is_another(table: str, one: Mapping[Any, Any], other: Mapping[Any, Any]) -> bool:
    return any(
        not same_value(_fold(one[f]), _fold(other[f])) for f in _MAKES_ANOTHER.get(table, ())
    )


def _fold(value: Any) -> Any:
    return fold(value) if isinstance(value, str) else value


def _new_name(table: str, name: str, book: Book, taken: Mapping[str, Any]) -> str:
    stem = PurePath(book.name).stem
    first = f"{name} ({stem})" if table == "instruments" else f"{name}.2"
    new, number = first, 2
    while identifier_key(new) in taken:
        number += 1
        new = f"{name} ({stem} {number})" if table == "instruments" else f"{name}.{number}"
    return new


def _differences(
    table: str, here: _ListRow, row: Mapping[Any, Any], means: Mapping[Any, Any]
) -> list[tuple[Field, tuple[Any, Any]]]:
    """Return the fields that differ, each with the listed value and that of the row."""
    return [
        (item, (here.row[item.name], row[item.name]))
        for item in SHEETS[table].fields
        if item.name in means
        and not same_value(_fold(here.inner[item.name]), _fold(means[item.name]))
    ]


def _complete(
    table: str, here: _ListRow, row: Mapping[Any, Any], means: Mapping[Any, Any]
) -> list[Conflict]:
    """Fill what the listed row leaves blank; return what contradicts it."""
    conflicts, what = [], str(means[_LISTS[table][0]])
    for item, values in _differences(table, here, row, means):
        done = "the first value is used"
        if is_blank(here.row[item.name]):
            here.row[item.name] = row[item.name]
            here.inner = {**here.inner, item.name: means[item.name]}
            done = "the blank was filled with it"
        elif is_blank(row[item.name]):
            done = "blank here; the first value is used"
        conflicts.append(conflict_on(row, table, what, item.label, values, done))
    return conflicts


def _rename_uses(table: str, frames: dict[str, pd.DataFrame], renamed: Mapping[str, str]) -> None:
    if not renamed:
        return
    for used, field_name in _USED_IN[table]:
        cells = frames[used][field_name]
        frames[used][field_name] = [
            _rename_cell(cell, renamed, by_word=field_name == "crew") for cell in cells
        ]


def _rename_cell(cell: Any, renamed: Mapping[str, str], *, by_word: bool) -> Any:
    if cell is None:
        return None
    text = f"{cell:.15g}" if isinstance(cell, float) else str(cell)
    if not by_word:
        return renamed.get(identifier_key(text), cell)
    words = [renamed.get(identifier_key(word), word) for word in text.split()]
    return " ".join(words) if words != text.split() else cell


def _write_full_species(
    books: Sequence[Book], frames: Sequence[dict[str, pd.DataFrame]], merged: Merged
) -> None:
    """Write the botanical name where a keyed name means something else among all species."""
    every = merged.rows["species"].fillna("").astype(str)
    listed = np.array([*(fold_species(name) for name in every["botanical"]), None], dtype=object)
    for book, frame in zip(books, frames, strict=True):
        own = book.survey.species
        names = [str(name) for name in own["botanical"]]
        folded = np.array([*map(fold_species, names), ""], dtype=object)
        keyed = book.survey.lines["species"].to_numpy(dtype=object)
        before, after = match_species(keyed, own), match_species(keyed, every)
        differs = (before >= 0) & (listed[after] != folded[before])
        for at in np.flatnonzero(differs).tolist():
            botanical = names[before[at]]
            frame["lines"].loc[frame["lines"].index[at], "species"] = botanical
            origin = {**book.survey.lines.iloc[at], "_file": book.name}
            label, done = FIELD_SHEET["species"].label, _FULL_NAME
            pair = (botanical, keyed[at])
            merged.conflicts.append(
                conflict_on(origin, "species", str(keyed[at]), label, pair, done)
            )


def _shared_trees(lines: pd.DataFrame) -> list[Conflict]:
    """Return the lines whose tree another workbook holds as well."""
    plot, tree = (lines[name].map(_key_of) for name in ("plot", "tree"))
    key = plot + "\0" + tree
    named = (plot != "") & (tree != "")
    first = lines["_file"].groupby(key).transform("first")
    shared = lines[named & (lines["_file"] != first)]
    label = FIELD_SHEET["tree"].label
    conflicts = []
    for at, row in zip(shared.index.tolist(), shared.to_dict("records"), strict=True):
        what = f"plot {as_text(row['plot'])}, tree {as_text(row['tree'])}"
        files = (f"in {first[at]}", f"in {row['_file']}")
        conflicts.append(conflict_on(row, "tree", what, label, files, _KEPT))
    return conflicts


def _key_of(cell: Any) -> str:
    return "" if cell is None else identifier_key(as_text(cell))
