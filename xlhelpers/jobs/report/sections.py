"""The subjects of the council's report that speak of trees: each a sentence, a table, a chart."""

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import DIAMETER_CLASS, NO_DIAMETER, NOT_STATED
from xlhelpers.jobs.report import words as words
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import cell_format, in_cell, percent, unit_in_heading
from xlhelpers.pages.plan import BarLook, Cell, ChartPlan, Section, Series, Table, bars

NO_BREAK = "\N{NO-BREAK SPACE}"
MARGIN, MEASURED, DOUBTFUL = f"give or{NO_BREAK}take", "Trees measured", "Of these on open findings"
_MOST_STRATA = 12
# a bar whose margin is more than so many times its length shows nothing
_MOST_MARGIN = 2.0


def how_many(facts: Facts) -> Section:
    """Return the trees, in the parts of the town where there are several."""
    town = facts.town("trees", "total")
    rows, left_out = _parts(facts.by_stratum("trees", "total"))
    notes = [_per_area(facts)] if facts.mode in ("sample", "census") else []
    notes += [left_out] if left_out else []
    notes += [facts.because] if facts.mode == "measured" else []
    table, chart = _figures(
        facts,
        rows,
        ("Part of the town", "Trees"),
        total=("Whole town", town),
        title="Trees in each part of the town",
    )
    if facts.mode == "measured":
        table, chart = None, None
    return Section(
        "trees",
        "How many trees",
        (words.how_many(facts),),
        table,
        chart,
        tuple(note for note in notes if note),
    )


def how_many_dead(facts: Facts) -> Section:
    """Return living and dead trees."""
    rows = pd.DataFrame(
        [
            facts.town(name, "total").to_dict() | {"domain": label}
            for name, label in (("living_trees", "Living"), ("dead_trees", "Dead"))
        ]
    )
    table, chart = _figures(facts, rows, ("Condition", "Trees"), title="Living and dead trees")
    return Section(
        "dead",
        "How many are dead",
        (words.how_many_dead(facts),),
        table,
        chart,
        (
            "Dead trees are counted and enter no other figure. This says nothing of the risk from "
            "any tree; local codes and licensed arborists decide on that.",
        ),
    )


def how_tall(facts: Facts) -> Section:
    """Return mean heights by diameter class."""
    rows = _classes(facts.rows("mean_height", "mean", DIAMETER_CLASS))
    table, chart = _figures(
        facts,
        rows,
        ("Stem diameter", "Mean height"),
        total=("All living trees", facts.town("mean_height", "mean")),
        title="Mean height of living trees by stem diameter",
    )
    return Section("height", "How tall", (words.how_tall(facts),), table, chart)


def how_deep_and_wide(facts: Facts) -> Section:
    """Return mean crown depth and width by diameter class."""
    names = ("mean_crown_depth", "mean_crown_width")
    both = [_classes(facts.rows(name, "mean", DIAMETER_CLASS)) for name in names]
    totals = [facts.town(name, "mean") for name in names]
    table, chart = _two(
        facts,
        both,
        ("Stem diameter", "Crown depth", "Crown width"),
        total=("All living trees", totals),
        title="Mean crown depth and width by stem diameter",
    )
    notes = [
        f"Crown {word}: {int(row['trees']):,} trees measured, {int(row['open_trees']):,} of them "
        "on open findings."
        for word, row in zip(("depth", "width"), totals, strict=True)
    ]
    return Section(
        "crowns",
        "How deep and wide the crowns",
        (words.how_deep_and_wide(facts),),
        table,
        chart,
        (_DEPTH, *notes) if table else (),
    )


_DEPTH = (
    "Crown depth is the part of the height that carries leaves, from the lowest living foliage "
    "to the highest living shoot."
)


def which_species(facts: Facts) -> Section:
    """Return the most counted species and the index of diversity."""
    found = words.kinds(facts)
    said = [words.which_species(facts), words.top_share(facts), words.of_one_kind(facts)[2]]
    table, chart = _figures(
        facts,
        found.head(words.TOP),
        ("Species", "Share of all trees"),
        title="The most counted species" if len(found) > words.TOP else "The species",
    )
    rows = facts.rows("share_of_trees", "share", "species")
    unknown = int(rows.loc[rows["domain"] == NOT_STATED, "trees"].sum())
    notes = [f"{words.counted(unknown)} keyed without a species."] if unknown else []
    if len(found) > words.TOP:
        notes.append(f"{len(found) - words.TOP} more kinds were met and are not shown here.")
    return Section(
        "species", "Which species", tuple(s for s in said if s), table, chart, tuple(notes)
    )


def size_classes(facts: Facts) -> Section:
    """Return the shares of the diameter classes."""
    rows = _classes(facts.rows("share_of_trees", "share", DIAMETER_CLASS))
    table, chart = _figures(
        facts, rows, ("Stem diameter", "Share of all trees"), title="Trees by stem diameter"
    )
    return Section("sizes", "Size classes", (_sizes_said(facts, rows),), table, chart)


def _sizes_said(facts: Facts, rows: pd.DataFrame) -> str:
    known = rows[np.isfinite(rows["value"]) & (rows["domain"] != NO_DIAMETER)]
    mean = facts.town("mean_diameter", "mean")
    if len(known) == 0 or not words.has_value(mean):
        return f"Nothing can be said of diameters. {words.full_reason(mean)}"
    largest = known.loc[known["value"].idxmax()]
    return (
        f"The largest class is {largest['domain']} with "
        f"{words.share_of_trees(facts, largest)}; the mean stem diameter "
        f"of living trees is {words.give_or_take(facts, mean)}."
    )


def whose(facts: Facts) -> Section:
    """Return the shares of the groups as the crews wrote them."""
    rows = facts.groups("share_of_trees", "share")
    if len(rows) == 0:
        return Section(
            "groups",
            "Whose trees",
            ("No group was written down for the trees on the plots that count.",),
        )
    table, chart = _figures(
        facts, rows, ("Group, as written down", "Share of all trees"), title="Trees by group"
    )
    named = rows[(rows["domain"] != NOT_STATED) & np.isfinite(rows["value"])]
    silent = rows[rows["domain"] == NOT_STATED]
    said = []
    if len(named):
        first = named.loc[named["value"].idxmax()]
        said.append(
            f"The largest group written down is {first['domain']}, with "
            f"{words.share_of_trees(facts, first)}."
        )
    if len(silent):
        said.append(f"For {int(silent['trees'].iloc[0]):,} trees no group was written down.")
    return Section("groups", "Whose trees", (" ".join(said),), table, chart)


def crown_cover(facts: Facts) -> Section:
    """Return crown cover, as added up and with random overlap, by part of the town."""
    said = (words.how_much_cover(facts),)
    if facts.mode in ("measured", "nothing"):
        return Section("cover", "Crown cover", said)
    names = ("crown_cover", "crown_cover_random_overlap")
    totals = [facts.town(name, "share") for name in names]
    parts = [facts.by_stratum(name, "share") for name in names]
    if len(parts[0]) == 0 or len(parts[0]) > _MOST_STRATA:
        parts = [row.to_frame().T.assign(domain="Whole town") for row in totals]
        table, chart = _two(facts, parts, ("", *_COVERS), title=_LAND)
    else:
        whole = ("Whole town", totals)
        table, chart = _two(facts, parts, ("Part of the town", *_COVERS), total=whole, title=_LAND)
    if table is None:
        return Section("cover", "Crown cover", said)
    measured, doubtful = int(totals[0]["trees"]), int(totals[0]["open_trees"])
    return Section(
        "cover",
        "Crown cover",
        said,
        table,
        chart,
        (
            "Each whole crown counts where its stem stands. Trees in clumps cover less than crowns "
            "at random would, trees planted apart in rows more.",
            f"{measured:,} trees measured, {doubtful:,} of them on open findings.",
        ),
    )


_LAND = "Share of the land under crowns"
_COVERS = ("Added up", "If overlapping at random")


def _per_area(facts: Facts) -> str:
    row = facts.town("trees", "per area")
    if not words.has_value(row):
        return ""
    size, name = (10_000.0, "hectare") if facts.units == "metric" else (4046.8564224, "acre")
    per = row.copy()
    per[["value", "margin", "high"]] = [
        float(row[key]) * size for key in ("value", "margin", "high")
    ]
    return f"That is {words.give_or_take(facts, per)} on each {name}."


def _parts(rows: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    if len(rows) <= _MOST_STRATA:
        return rows, ""
    order = np.argsort(-rows["value"].fillna(-1.0).to_numpy(), kind="stable")[:_MOST_STRATA]
    return rows.iloc[order], f"The {_MOST_STRATA} of {len(rows)} parts with the most trees."


def _classes(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the classes that hold any tree."""
    return rows[(rows["trees"] + rows["trees_without"]) > 0].reset_index(drop=True)


def _is_charted(facts: Facts, rows: pd.DataFrame) -> np.ndarray:
    """Return which rows get a bar: those with a number, and a margin that leaves it some sense."""
    value, margin = rows["value"].to_numpy(float), rows["margin"].to_numpy(float)
    told = np.array([words.is_told(facts, row) for _, row in rows.iterrows()], dtype=bool)
    return told & (margin <= _MOST_MARGIN * value) if facts.has_margins else told


def _figures(
    facts: Facts,
    rows: pd.DataFrame,
    headings: tuple[str, str],
    *,
    title: str,
    total: tuple[str, pd.Series] | None = None,
) -> tuple[Table | None, ChartPlan | None]:
    """Return the table of one value, those with a number first, and the chart of these."""
    every = [row for _, row in rows.iterrows()] + ([total[1]] if total is not None else [])
    if not any(words.is_told(facts, row) for row in every):
        return None, None
    charted = _is_charted(facts, rows) if len(rows) else np.zeros(0, dtype=bool)
    order = np.argsort(~charted, kind="stable")
    listed = [(str(row["domain"]), row) for _, row in rows.iloc[order].iterrows()]
    listed += [total] if total is not None else []
    quantity = listed[0][1]["unit_quantity"]
    unit = unit_in_heading(quantity, facts.units)
    body = tuple(
        (
            Cell(name),
            *_value_cells(facts, row),
            Cell(float(row["trees"]), "#,##0"),
            Cell(float(row["open_trees"]), "#,##0"),
        )
        for name, row in listed
    )
    heading = f"{headings[1]} ({unit})" if unit else headings[1]
    margin = (margin_heading(facts),) if facts.has_margins else ()
    table = Table(
        (headings[0], heading, *margin, MEASURED, DOUBTFUL),
        body,
        total=total is not None and len(body) > 1,
    )
    count = int(charted.sum())
    series = (bars(headings[1], count, 1, 2 if facts.has_margins else None),)
    chart = _chart(facts, title, table, series, count, quantity)
    return table, chart


def _two(
    facts: Facts,
    both: Sequence[pd.DataFrame],
    headings: tuple[str, str, str],
    *,
    title: str,
    total: tuple[str, Sequence[pd.Series]] | None = None,
) -> tuple[Table | None, ChartPlan | None]:
    """Return the table of two values side by side, and the chart of the rows that have both."""
    first, second = both
    charted = _is_charted(facts, first) & _is_charted(facts, second)
    order = np.argsort(~charted, kind="stable")
    listed = [(str(first.iloc[at]["domain"]), [first.iloc[at], second.iloc[at]]) for at in order]
    listed += [(total[0], list(total[1]))] if total is not None else []
    if not any(words.is_told(facts, row) for _, rows in listed for row in rows):
        return None, None
    quantity = first["unit_quantity"].iloc[0] if len(first) else listed[0][1][0]["unit_quantity"]
    unit = unit_in_heading(quantity, facts.units)
    columns, series = [headings[0]], []
    count = int(charted.sum())
    looks: tuple[BarLook, BarLook] = ("crown", "height only")
    for name, look in zip(headings[1:], looks, strict=True):
        margin = len(columns) + 1 if facts.has_margins else None
        series.append(bars(name, count, len(columns), margin, look))
        columns.append(f"{name} ({unit})" if unit else name)
        columns += [margin_heading(facts)] if facts.has_margins else []
    body = tuple(
        (Cell(name), *_value_cells(facts, rows[0]), *_value_cells(facts, rows[1]))
        for name, rows in listed
    )
    table = Table(tuple(columns), body, total=total is not None and len(body) > 1)
    return table, _chart(facts, title, table, tuple(series), count, quantity)


def _value_cells(facts: Facts, row: pd.Series) -> tuple[Cell | None, ...]:
    """Return the cells of a value and, with sampling, its margin; words where there is none."""
    quantity, number = row["unit_quantity"], cell_format(row["unit_quantity"], facts.units)
    if not words.is_told(facts, row):
        text = Cell(words.short_reason(row))
        return (text, None) if facts.has_margins else (text,)
    value = Cell(in_cell(row["value"], quantity, facts.units), number)
    if not facts.has_margins:
        return (value,)
    if np.isfinite(row["margin"]):
        return (value, Cell(in_cell(row["margin"], quantity, facts.units), number))
    return (value, Cell("not known", right=True))


def margin_heading(facts: Facts) -> str:
    """Return the heading of a margin."""
    sure = percent(facts.confidence).replace(" ", NO_BREAK)
    return f"{words.capital(MARGIN)} ({sure})"


def _chart(
    facts: Facts, title: str, table: Table, series: tuple[Series, ...], count: int, quantity: str
) -> ChartPlan | None:
    """Return the chart of the first rows of a table, None for a single bar."""
    if count * len(series) < 2:
        return None
    margins = " Thin lines show the margins." if facts.has_margins else ""
    what = " and ".join(one.name.lower() for one in series)
    axis = (
        table.headings[int(series[0].values.column)]
        if len(series) == 1
        else _shared_unit(facts, quantity)
    )
    return ChartPlan(
        "",
        "bars",
        title,
        f"Bars: {what} over {table.headings[0].lower() or 'the town'}; the figures stand in the "
        f"table above.{margins}",
        "",
        axis,
        series,
        cell_format(quantity, facts.units).replace(".0", ""),
        _reach(table, series, count),
        height=min(110 + 26 * count * len(series), 340),
    )


def _shared_unit(facts: Facts, quantity: str) -> str:
    return "of the land" if quantity == "percent" else unit_in_heading(quantity, facts.units)


def _reach(table: Table, series: tuple[Series, ...], count: int) -> float:
    """Return the end of the axis, so that no margin is cut off: 1, 2, 2.5 or 5 times a power."""
    longest = 0.0
    for row in table.rows[:count]:
        for one in series:
            spans = (span for span in (one.values, one.spread) if span is not None)
            ends = [row[int(span.column)] for span in spans]
            longest = max(longest, sum(float(cell.value) for cell in ends if cell is not None))
    if longest <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(longest))
    return power * min(step for step in _AXIS_ENDS if step * power >= longest * (1 - 1e-9))


_AXIS_ENDS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
