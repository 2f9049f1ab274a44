"""Tables by plot and by species, of the trees measured: nothing is expanded to an area here.

Means and sums are over living trees; dead trees are counted apart, and the basal area is also given
with them. Every mean stands with its standard deviation and the number of trees behind it, every
sum with its number of trees. A value that cannot be is in none of them.
"""

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.survey.columns import TREES, Column, Kind, Table, table_of
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.quantities import MEASURED
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.trees.means import mean_by
from xlhelpers.survey.trees.records import CUT_BACK
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of, fold_column
from xlhelpers.survey.typed.species_names import fold_species
from xlhelpers.survey.typed.words import identifier_key

_OF_AVERAGES: tuple[tuple[str, Kind, str], ...] = (
    ("mean", "number", "Mean"),
    ("sd", "number", "Standard deviation (n - 1)"),
    ("n", "count", "Trees in the mean"),
)
_OF_SUMS: tuple[tuple[str, Kind, str], ...] = (
    ("sum", "number", "Sum"),
    ("n", "count", "Trees in the sum"),
)
# name in the summaries -> column of the trees; with mean, standard deviation and number of trees
AVERAGED = {
    "diameter": "diameter",
    "height": "total_height",
    "crown_base": "crown_base",
    "crown_depth": "crown_depth",
    "live_crown_ratio": "live_crown_ratio",
    "width": "mean_width",
}
# the same, without the values that are in doubt
SETTLED = {"settled_height": "total_height", "settled_depth": "crown_depth"}
# name in the summaries -> column of the trees; with sum and number of trees
SUMMED = {"basal_area": "basal_area", "crown_area": "projection_area", "crown_volume": "volume"}
# the same, over living and dead trees
SUMMED_WITH_DEAD = {"basal_area_with_dead": "basal_area"}
_COUNTED = (
    Column("trees", "count", "Trees."),
    Column("share", "number", "Share of all trees.", "percent"),
    Column("living", "count", "Living trees."),
    Column("dead", "count", "Dead trees."),
    Column("dead_tops", "count", "Trees with a dead top."),
    Column("cut_back", "count", "Trees that were cut back."),
    Column("diameters_elsewhere", "count", "Diameters that were not measured at breast height."),
    Column(
        "heights_by_eye", "count", "Trees without a measured height whose height was estimated."
    ),
    Column("duplicates", "count", "Trees that share their number."),
    Column("setups", "count", "Set-ups."),
    Column("open_trees", "count", "Trees with open findings."),
    *(Column(f"doubtful_{one}", "count", f"Trees with a doubtful {one}.") for one in MEASURED),
    *(
        Column(f"left_out_{one}", "count", f"Trees whose {one} cannot be and counts nowhere.")
        for one in MEASURED
    ),
)


def _quantity(kind: Kind, column: str) -> str:
    return "count" if kind == "count" else TREES[column].quantity


_MEASURES = (
    *_COUNTED,
    *(
        Column(f"{name}_{part}", kind, f"{word} of {column}.", _quantity(kind, column))
        for name, column in (AVERAGED | SETTLED).items()
        for part, kind, word in _OF_AVERAGES
    ),
    *(
        Column(f"{name}_{part}", kind, f"{word} of {column}.", _quantity(kind, column))
        for name, column in (SUMMED | SUMMED_WITH_DEAD).items()
        for part, kind, word in _OF_SUMS
    ),
)
BY_PLOT = Table(
    (
        Column("plot", "text", 'As entered, "" for lines without a plot.'),
        Column("stratum", "text", "As entered."),
        Column("status", "text", "As entered."),
        Column("trees_counted", "number", "Trees that the crew counted.", "count"),
        Column("species", "count", "Different species."),
        *_MEASURES,
    )
)
BY_SPECIES = Table(
    (
        Column("species", "text", "Botanical name; as entered where it is not listed."),
        *(TREES[name] for name in ("common", "genus", "kind", "known_species")),
        Column("plots", "count", "Plots on which it was found."),
        *_MEASURES,
    )
)


def open_lines(findings: Iterable[Finding]) -> set[int]:
    """Return the positions of the lines that an error or a warning among these touches."""
    return {line for f in findings if f.severity != "note" for line in f.lines}


def open_trees(outcome: Outcome) -> set[int]:
    """Return the positions of the trees with a finding that is open or leaves a value in doubt."""
    return set(np.flatnonzero(outcome.counted.any_doubt).tolist())


def by_plot(outcome: Outcome) -> pd.DataFrame:
    """Return one row a plot of the plots sheet, in its order, then plots that only lines name.

    Parameters
    ----------
    outcome : Outcome
        The computed survey.

    Returns
    -------
    DataFrame
        With the columns BY_PLOT. Lines without a plot have the last row.
    """
    plots, trees = outcome.survey.plots, outcome.trees
    listed = fold_column(plots["plot"], identifier_key)
    code = codes_of(np.concatenate([listed, fold_column(trees["plot"], identifier_key)]))
    # a plot that stands twice on the plots sheet has two rows; its trees belong to the first
    row_of: dict[int, int] = {}
    for row, listed_code in enumerate(code[: len(plots)].tolist()):
        row_of.setdefault(listed_code, row)
    unlisted = [c for c in dict.fromkeys(code[len(plots) :].tolist()) if c not in row_of]
    blank = set(code[len(plots) :][trees["plot"].to_numpy(dtype=object) == ""].tolist())
    unlisted.sort(key=lambda c: c in blank)
    row_of |= {c: len(plots) + i for i, c in enumerate(unlisted)}
    group = np.array([row_of[c] for c in code[len(plots) :].tolist()], dtype=np.int64)
    rows = len(plots) + len(unlisted)
    names = np.append(plots["plot"].to_numpy(dtype=object), [""] * len(unlisted)).astype(object)
    extra = group >= len(plots)
    names[group[extra][::-1]] = trees["plot"].to_numpy(dtype=object)[extra][::-1]
    return table_of(
        BY_PLOT,
        {
            "plot": names,
            "stratum": _pad(plots["stratum"], rows, ""),
            "status": _pad(plots["status"], rows, ""),
            "trees_counted": _pad(plots["trees_counted"], rows, np.nan).astype(float),
            "species": _count_different(group, _species_of(trees), rows),
            **_measures(outcome, group, rows),
        },
    )


def by_species(outcome: Outcome) -> pd.DataFrame:
    """Return one row a species as kept, the most counted first.

    Parameters
    ----------
    outcome : Outcome
        The computed survey.

    Returns
    -------
    DataFrame
        With the columns BY_SPECIES. Trees without a species have the row "".
    """
    trees = outcome.trees
    code = _species_of(trees)
    rows = int(code.max()) + 1 if len(code) else 0
    first = np.unique(code, return_index=True)[1]
    head = trees.iloc[first]
    known = head["known_species"].to_numpy(dtype=bool)
    botanical, typed = (head[c].to_numpy(dtype=object) for c in ("botanical", "species"))
    plots = codes_of(fold_column(trees["plot"], identifier_key))
    table = table_of(
        BY_SPECIES,
        {
            "species": np.where(known, botanical, typed).astype(object),
            **{c: head[c].to_numpy(dtype=object) for c in ("common", "genus", "kind")},
            "known_species": known,
            "plots": _count_different(code, plots, rows),
            **_measures(outcome, code, rows),
        },
    )
    order = np.lexsort((fold_column(table["species"]).astype(str), -table["trees"].to_numpy()))
    return table.iloc[order].reset_index(drop=True)


def _measures(outcome: Outcome, group: Positions, groups: int) -> dict[str, Any]:
    """Return counts, means and sums of each group of trees, with the columns _MEASURES."""
    counts_of = outcome.counted
    trees = counts_of.trees
    condition = trees["condition"].to_numpy(dtype=object)
    living = condition != "D"
    counted = np.bincount(group, minlength=groups)
    setups = np.bincount(group, trees["line_count"].to_numpy(), minlength=groups)
    columns: dict[str, Any] = {
        "trees": counted,
        "share": counted / max(len(trees), 1),
        "living": _count(group, living, groups),
        "dead": _count(group, ~living, groups),
        "dead_tops": _count(group, condition == "T", groups),
        "cut_back": _count(group, condition == CUT_BACK, groups),
        "diameters_elsewhere": _count(
            group, trees[["diameter", "diameter_at"]].notna().all(axis=1).to_numpy(), groups
        ),
        "heights_by_eye": _count(
            group, (trees["height_by_eye"].notna() & (trees["n_total"] == 0)).to_numpy(), groups
        ),
        "duplicates": _count(group, trees["duplicate"].to_numpy(dtype=bool), groups),
        "setups": setups.astype(np.int64),
        "open_trees": _count(group, counts_of.any_doubt, groups),
    }
    for one in MEASURED:
        columns[f"doubtful_{one}"] = _count(group, counts_of.in_doubt[one], groups)
        columns[f"left_out_{one}"] = _count(group, counts_of.named_left_out[one], groups)
    for name, column in AVERAGED.items():
        columns |= _average(name, group[living], trees[column].to_numpy()[living], groups)
    for name, column in SETTLED.items():
        settled = living & ~counts_of.doubts_column(column)
        columns |= _average(name, group[settled], trees[column].to_numpy()[settled], groups)
    for name, column in SUMMED.items():
        columns |= _sum(name, group[living], trees[column].to_numpy()[living], groups)
    for name, column in SUMMED_WITH_DEAD.items():
        columns |= _sum(name, group, trees[column].to_numpy(), groups)
    return columns


def _average(name: str, group: Positions, values: Values, groups: int) -> dict[str, Any]:
    known = np.isfinite(values)
    group, values = group[known], values[known]
    n = np.bincount(group, minlength=groups)
    mean = mean_by(group, values, groups)
    squares = np.bincount(group, (values - mean[group]) ** 2, minlength=groups)
    sd = np.where(n > 1, np.sqrt(squares / np.maximum(n - 1, 1)), np.nan)
    return {f"{name}_mean": mean, f"{name}_sd": sd, f"{name}_n": n}


def _sum(name: str, group: Positions, values: Values, groups: int) -> dict[str, Any]:
    known = np.isfinite(values)
    n = np.bincount(group[known], minlength=groups)
    total = np.bincount(group[known], values[known], minlength=groups)
    return {f"{name}_sum": np.where(n > 0, total, np.nan), f"{name}_n": n}


def _count(group: Positions, flags: Flags, groups: int) -> Positions:
    return np.bincount(group[flags], minlength=groups)


def _count_different(group: Positions, code: Positions, groups: int) -> Positions:
    """Return how many different codes each group has."""
    pair = codes_of(group, code)
    return np.bincount(group[np.unique(pair, return_index=True)[1]], minlength=groups)


def _species_of(trees: pd.DataFrame) -> Positions:
    """Return a code for each species as kept: its row of the sheet, else its folded name."""
    row = trees["species_position"].to_numpy()
    folded = codes_of(fold_column(trees["species"], fold_species))
    return codes_of(row, np.where(row >= 0, -1, folded))


def _pad(column: pd.Series, length: int, blank: Any) -> Texts:
    values = np.full(length, blank, dtype=object)
    values[: len(column)] = column.to_numpy(dtype=object)
    return values
