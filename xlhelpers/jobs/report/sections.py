"""The subjects of the council's report that speak of trees: each a sentence, a table, a chart."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import DIAMETER_CLASS, NO_DIAMETER, NOT_STATED
from xlhelpers.fields.quantities import ACRE_M2
from xlhelpers.jobs.report import words as words
from xlhelpers.jobs.report.facts import ON_ONE_PLOT, Facts, is_even
from xlhelpers.jobs.report.numbers import (
    cell_format,
    in_cell,
    percent,
    unit_in_heading,
    write_ends,
)
from xlhelpers.pages.plan import (
    BarLook,
    Cell,
    ChartPlan,
    Section,
    Series,
    Span,
    Table,
    bars,
)
from xlhelpers.wording import plural

NO_BREAK = "\N{NO-BREAK SPACE}"
MEASURED, DOUBTFUL = "Trees measured", "Doubtful"
_TOWN = "Whole town"
_LAND = "Share of the land under crowns"
_COVERS = ("Side by side", "If overlapping at random")
_MOST_STRATA = 12
# a bar whose margin is more than so many times its length shows nothing
_MOST_MARGIN = 2.0
_AXIS_ENDS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


def how_many(facts: Facts) -> Section:
    """Return the trees, in the parts of the town where there are several."""
    sentences, title = (words.how_many(facts),), "How many trees?"
    if facts.mode == "measured":
        return Section("trees", title, sentences, notes=(facts.reason,))
    rows = facts.by_stratum("trees", "total")
    notes = [_per_area(facts)]
    if len(rows) > _MOST_STRATA:
        order = np.argsort(-rows["value"].fillna(-1.0).to_numpy(), kind="stable")[:_MOST_STRATA]
        notes.append(f"The {_MOST_STRATA} of {len(rows)} parts with the most trees.")
        rows = rows.iloc[order]
    table, chart = _figures(
        facts,
        [rows],
        ("Part of the town", "Trees"),
        total=(_TOWN, [facts.town("trees", "total")]),
        title="Trees in each part of the town",
    )
    return Section("trees", title, sentences, table, chart, tuple(note for note in notes if note))


def _per_area(facts: Facts) -> str:
    row = facts.town("trees", "per area")
    if not words.has_value(row):
        return ""
    size, name = (10_000.0, "hectare") if facts.units == "metric" else (ACRE_M2, "acre")
    per = row.copy()
    scaled = ["value", "margin", "low", "high"]
    per[scaled] = [float(row[key]) * size for key in scaled]
    return f"That is {words.give_or_take(facts, per, f'per {name}')}."


def how_many_dead(facts: Facts) -> Section:
    """Return living and dead trees."""
    rows = pd.DataFrame(
        [
            facts.town(name, "total").to_dict() | {"domain": label}
            for name, label in (("living_trees", "Living"), ("dead_trees", "Dead"))
        ]
    )
    table, chart = _figures(facts, [rows], ("Condition", "Trees"), title="Living and dead trees")
    note = (
        "Heights, crowns, mean diameter and crown cover are of living trees only. Basal area is "
        "given for living trees, and with the dead ones. This report does not rate tree risk. "
        "Local codes and licensed arborists decide."
    )
    title = "How many trees are dead?"
    return Section("dead", title, (words.how_many_dead(facts),), table, chart, (note,))


def how_tall(facts: Facts) -> Section:
    """Return mean heights by diameter class."""
    table, chart = _figures(
        facts,
        [_classes(facts, "mean_height", "mean")],
        ("Stem diameter", "Mean height"),
        total=("All living trees", [facts.town("mean_height", "mean")]),
        title="Mean height of living trees by stem diameter",
    )
    return Section("height", "How tall are the trees?", (words.how_tall(facts),), table, chart)


def how_deep_and_wide(facts: Facts) -> Section:
    """Return mean crown depth and width by diameter class."""
    names = ("mean_crown_depth", "mean_crown_width")
    totals = [facts.town(name, "mean") for name in names]
    table, chart = _figures(
        facts,
        [_classes(facts, name, "mean") for name in names],
        ("Stem diameter", "Crown depth", "Crown width"),
        total=("All living trees", totals),
        title="Mean crown depth and width by stem diameter",
    )
    notes = (
        "Crown depth is the part of the height that has leaves, from the lowest living foliage to "
        "the highest living shoot.",
        *(
            f"Crown {word}: {_count_measured(row)}"
            for word, row in zip(("depth", "width"), totals, strict=True)
        ),
    )
    sentences = (words.how_deep_and_wide(facts),)
    title = "How large are the crowns?"
    return Section("crowns", title, sentences, table, chart, notes if table else ())


def _count_measured(row: pd.Series) -> str:
    measured, doubtful = plural(int(row["trees"]), "tree"), int(row["open_trees"])
    left_out = int(row["left_out"])
    more = (f", {doubtful:,} doubtful" if doubtful else "") + _say_left_out(left_out)
    return f"{measured} measured{more}."


def _say_left_out(count: int) -> str:
    return f", {count:,} left out" if count else ""


def which_species(facts: Facts) -> Section:
    """Return the most common species and the index of diversity."""
    every = words.species_rows(facts)
    every_sentence = (
        words.which_species(facts),
        words.top_share(facts),
        words.simpson_index(facts)[2],
    )
    table, chart = _figures(
        facts,
        [every.head(words.TOP)],
        ("Species", "Share of all trees"),
        title="The most common species" if len(every) > words.TOP else "The species",
    )
    rows = facts.rows("share_of_trees", "share", "species")
    unknown = int(rows.loc[rows["domain"] == NOT_STATED, "trees"].sum())
    notes = [f"{words.count_found(unknown)} entered without a species."] if unknown else []
    if len(every) > words.TOP:
        more = len(every) - words.TOP
        notes.append(f"{more} more species {'is' if more == 1 else 'are'} not shown here.")
    sentences = tuple(sentence for sentence in every_sentence if sentence)
    return Section("species", "Which species?", sentences, table, chart, tuple(notes))


def size_classes(facts: Facts) -> Section:
    """Return the shares of the diameter classes."""
    rows = _classes(facts, "share_of_trees", "share")
    table, chart = _figures(
        facts, [rows], ("Stem diameter", "Share of all trees"), title="Trees by stem diameter"
    )
    known = rows[np.isfinite(rows["value"]) & (rows["domain"] != NO_DIAMETER)]
    mean = facts.town("mean_diameter", "mean")
    if len(known) == 0 or not words.has_value(mean):
        text = f"We cannot report diameters. {words.full_reason(mean)}"
    else:
        largest = known.loc[known["value"].idxmax()]
        text = (
            f"The most common stem diameter is {largest['domain']}, with "
            f"{words.share_of_trees(facts, largest)}. The mean stem diameter of living trees is "
            f"{words.give_or_take(facts, mean)}."
        )
    return Section("sizes", "Size classes", (text,), table, chart)


def whose(facts: Facts) -> Section:
    """Return the shares of the groups as the crews wrote them."""
    rows, title = facts.groups("share_of_trees", "share"), "Whose trees?"
    if len(rows) == 0:
        return Section(
            "groups", title, ("No group was written down for the trees on these plots.",)
        )
    table, chart = _figures(
        facts, [rows], ("Group, as written down", "Share of all trees"), title="Trees by group"
    )
    named = rows[~rows["domain"].isin((NOT_STATED, ON_ONE_PLOT)) & np.isfinite(rows["value"])]
    without = rows[rows["domain"] == NOT_STATED]
    sentences = []
    if len(named):
        first = named.loc[named["value"].idxmax()]
        share = words.share_of_trees(facts, first)
        sentences.append(f"The largest group is “{first['domain']}”, with {share}.")
    elif len(without) < len(rows):
        sentences.append("No group was found on more than one plot.")
    if len(without):
        trees = plural(int(without["trees"].iloc[0]), "tree")
        sentences.append(f"For {trees} no group was written down.")
    return Section("groups", title, (" ".join(sentences),), table, chart)


def crown_cover(facts: Facts) -> Section:
    """Return crown cover, as added up and with random overlap, by part of the town."""
    sentences, title = (words.how_much_cover(facts),), "Crown cover"
    if facts.mode == "measured":
        return Section("cover", title, sentences)
    names = ("crown_cover", "crown_cover_random_overlap")
    totals = [facts.town(name, "share") for name in names]
    parts = [facts.by_stratum(name, "share") for name in names]
    if 0 < len(parts[0]) <= _MOST_STRATA:
        headings, whole = ("Part of the town", *_COVERS), (_TOWN, totals)
        table, chart = _figures(facts, parts, headings, total=whole, title=_LAND)
    else:
        parts = [row.to_frame().T.assign(domain=_TOWN) for row in totals]
        table, chart = _figures(facts, parts, ("", *_COVERS), title=_LAND)
    if table is None:
        return Section("cover", title, sentences)
    notes = (
        "Each whole crown counts where its stem is. Trees in clumps cover less than crowns placed "
        "at random. Trees planted apart in rows cover more.",
        _count_measured(totals[0]),
    )
    return Section("cover", title, sentences, table, chart, notes)


def _classes(facts: Facts, quantity: str, kind: str) -> pd.DataFrame:
    """Return the rows of the diameter classes that hold any tree."""
    rows = facts.rows(quantity, kind, DIAMETER_CLASS)
    return rows[(rows["trees"] + rows["trees_without"]) > 0].reset_index(drop=True)


def _has_bar(facts: Facts, row: pd.Series) -> bool:
    if not words.is_worth_showing(facts, row):
        return False
    return not facts.has_margins or bool(row["margin"] <= _MOST_MARGIN * row["value"])


def _figures(
    facts: Facts,
    frames: Sequence[pd.DataFrame],
    headings: tuple[str, ...],
    *,
    title: str,
    total: tuple[str, Sequence[pd.Series]] | None = None,
) -> tuple[Table | None, ChartPlan | None]:
    """Return the table of one or two figures a row, and the chart of the complete rows."""
    # `frames` has a frame a figure, `total` the last row. Rows with bars come first. The table of
    # one figure also counts the trees behind it.
    rows = [[frame.iloc[at] for frame in frames] for at in range(len(frames[0]))]
    charted = [values for values in rows if all(_has_bar(facts, row) for row in values)]
    rest = [values for values in rows if not all(_has_bar(facts, row) for row in values)]
    listed = [(str(values[0]["domain"]), values) for values in (*charted, *rest)]
    if total is not None:
        listed.append((total[0], list(total[1])))
    if not any(words.is_worth_showing(facts, row) for _, values in listed for row in values):
        return None, None
    quantity = listed[0][1][0]["unit_quantity"]
    unit = unit_in_heading(quantity, facts.units)
    looks: tuple[BarLook, ...] = ("crown", "height only") if len(frames) > 1 else ("plain",)
    columns, series = [headings[0]], []
    arms: list[list[float]] = []
    for which, (name, look) in enumerate(zip(headings[1:], looks, strict=True)):
        at = len(columns)
        even = is_even(listed[0][1][which])
        margin = at + 1 if facts.has_margins and even else None
        one = bars(name, len(charted), at, margin, look)
        if facts.has_margins and not even:
            spans = [Span(arms_key(title), str(len(arms) + way), 0, len(charted)) for way in (0, 1)]
            arms += _arms(facts, [values[which] for values in charted])
            one = replace(one, arms=(spans[0], spans[1]))
        series.append(one)
        columns.append(f"{name} ({unit})" if unit else name)
        columns += [margin_heading(facts, even=even)] if facts.has_margins else []
    if len(frames) == 1:
        columns += [MEASURED, DOUBTFUL]
    body = []
    for name, values in listed:
        cells = [cell for row in values for cell in _value_cells(facts, row)]
        if len(frames) == 1:
            cells += [Cell(float(values[0]["trees"]), "#,##0"), _doubt_cell(values[0])]
        body.append((Cell(name), *cells))
    table = Table(tuple(columns), tuple(body), total=total is not None and len(body) > 1)
    chart = _chart(facts, title, table, tuple(series), len(charted), quantity, arms)
    return table, chart


def _doubt_cell(row: pd.Series) -> Cell:
    """Return how many values are in doubt, and how many are left out where any are."""
    doubtful, left_out = int(row["open_trees"]), int(row["left_out"])
    if left_out:
        return Cell(f"{doubtful:,}{_say_left_out(left_out)}", right=True)
    return Cell(float(doubtful), "#,##0")


def _value_cells(facts: Facts, row: pd.Series) -> tuple[Cell | None, ...]:
    """Return the cells of a value and, with sampling, its margin; words where there is none."""
    quantity, number = row["unit_quantity"], cell_format(row["unit_quantity"], facts.units)
    if not words.is_worth_showing(facts, row):
        text = Cell(words.short_reason(row))
        return (text, None) if facts.has_margins else (text,)
    value = Cell(in_cell(row["value"], quantity, facts.units), number)
    if not facts.has_margins:
        return (value,)
    if not np.isfinite(row["margin"]):
        return (value, Cell("not known", right=True))
    if not is_even(row):
        ends = write_ends(float(row["low"]), float(row["high"]), quantity, facts.units)
        return (value, Cell(ends, right=True))
    return (value, Cell(in_cell(row["margin"], quantity, facts.units), number))


def _arms(facts: Facts, rows: Sequence[pd.Series]) -> tuple[list[float], list[float]]:
    """Return how far the lower and the upper ends are from the figures, as shown in cells."""
    down, up = (
        [
            in_cell(abs(float(row[end]) - float(row["value"])), row["unit_quantity"], facts.units)
            for row in rows
        ]
        for end in ("low", "high")
    )
    return down, up


def margin_heading(facts: Facts, *, even: bool) -> str:
    """Return the heading of a margin, or of both ends where they are not equally far away."""
    sure = percent(facts.confidence).replace(" ", NO_BREAK)
    return f"Give or{NO_BREAK}take ({sure})" if even else f"From{NO_BREAK}… to ({sure})"


def _chart(
    facts: Facts,
    title: str,
    table: Table,
    series: tuple[Series, ...],
    count: int,
    quantity: str,
    arms: list[list[float]],
) -> ChartPlan | None:
    """Return the chart of the first rows of a table, None for a single bar."""
    if count * len(series) < 2:
        return None
    margins = " Thin lines show the margins." if facts.has_margins else ""
    what = " and ".join(one.name.lower() for one in series)
    axis = table.headings[int(series[0].values.column)]
    if len(series) > 1:
        axis = "% of the land" if quantity == "percent" else unit_in_heading(quantity, facts.units)
    return ChartPlan(
        "",
        "bars",
        title,
        f"Bars: {what} by {table.headings[0].lower() or 'town'}. The figures are in the table "
        f"above.{margins}",
        "",
        axis,
        series,
        cell_format(quantity, facts.units).replace(".0", ""),
        _axis_end(table, series, count, arms),
        height=min(120 + 30 * count * len(series), 370),
        data=_arms_table(arms) if arms else None,
    )


def arms_key(title: str) -> str:
    """Return the key of the table with the lengths of the error bars of a chart."""
    return f"arms {title}"


def _arms_table(arms: list[list[float]]) -> Table:
    """Return the lengths of error bars in the units shown, two columns a series."""
    headings = tuple(("To the lower end", "To the upper end")[at % 2] for at in range(len(arms)))
    rows = tuple(tuple(Cell(value) for value in row) for row in zip(*arms, strict=True))
    return Table(headings, rows)


def _axis_end(
    table: Table, series: tuple[Series, ...], count: int, arms: list[list[float]]
) -> float:
    """Return the end of the axis, so that no margin is cut off: 1, 2, 2.5 or 5 times a power."""
    longest = 0.0
    for at, row in enumerate(table.rows[:count]):
        for one in series:
            spans = (span for span in (one.values, one.spread) if span is not None)
            ends = [row[int(span.column)] for span in spans]
            end = sum(float(cell.value) for cell in ends if cell is not None)
            longest = max(longest, end + (arms[int(one.arms[1].column)][at] if one.arms else 0.0))
    if longest <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(longest))
    return power * min(step for step in _AXIS_ENDS if step * power >= longest * (1 - 1e-9))
