"""The subjects of the council's report that speak of trees: each a sentence, a table, a chart."""

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import DIAMETER_CLASS, NO_DIAMETER, NOT_STATED
from xlhelpers.fields.quantities import ACRE_M2
from xlhelpers.jobs.report import words as words
from xlhelpers.jobs.report.facts import ON_ONE_PLOT, Facts
from xlhelpers.jobs.report.figures import figures, say_left_out
from xlhelpers.jobs.report.numbers import write_density
from xlhelpers.pages.plan import Section
from xlhelpers.wording import plural

TOWN = "Whole town"
_LAND = "Share of the land under crowns"
_COVERS = ("Under crowns", "Sum of crowns")
_MOST_STRATA = 12
# fewer trees on a hectare or an acre are shown with a decimal
_FEW_PER_AREA = 10
# what a tree must have for a figure
_NOUNS = {
    "mean_height": "height",
    "mean_crown_depth": "crown depth",
    "mean_crown_width": "crown width",
    "mean_diameter": "diameter",
    "crown_cover_random_overlap": "crown width",
}


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
    table, chart, left_out = figures(
        facts,
        [rows],
        ("Part of the town", "Trees"),
        total=(TOWN, [facts.town("trees", "total")]),
        title="Trees in each part of the town",
    )
    notes += [left_out, *facts.estimates.lonely[:1]]
    return Section("trees", title, sentences, table, chart, tuple(note for note in notes if note))


def _per_area(facts: Facts) -> str:
    row = facts.town("trees", "per area")
    if not words.has_value(row):
        return ""
    size, name = (10_000.0, "hectare") if facts.units == "metric" else (ACRE_M2, "acre")
    per = row.copy()
    scaled = ["value", "standard_error", "margin", "low", "high"]
    per[scaled] = [float(row[key]) * size for key in scaled]
    if not facts.has_margins:
        return f"That is {write_density(per['value'])} per {name}."
    if float(per["value"]) < _FEW_PER_AREA and np.isfinite(per["margin"]):
        low, high = (write_density(per[end]) for end in ("low", "high"))
        return f"That is about {write_density(per['value'])} per {name} (from {low} to {high})."
    return f"That is {words.give_or_take(facts, per, f'per {name}')}."


def how_many_dead(facts: Facts) -> Section:
    """Return living and dead trees."""
    rows = pd.DataFrame(
        [
            facts.town(name, "total").to_dict() | {"domain": label}
            for name, label in (("living_trees", "Living"), ("dead_trees", "Dead"))
        ]
    )
    # no chart: of two bars the one for dead trees would hardly show
    table = figures(facts, [rows], ("Condition", "Trees"), title="Living and dead trees").table
    note = (
        "Heights, crowns, mean diameter and crown cover are of living trees only. Basal area is "
        "given for living trees, and with the dead ones."
    )
    title = "How many trees are dead?"
    return Section("dead", title, (words.how_many_dead(facts),), table, notes=(note,))


def how_tall(facts: Facts) -> Section:
    """Return mean heights by diameter class."""
    table, chart, left_out = figures(
        facts,
        [_classes(facts, "mean_height", "mean")],
        ("Stem diameter", "Mean height"),
        total=("All living trees", [facts.town("mean_height", "mean")]),
        title="Mean height of living trees by stem diameter",
    )
    notes = tuple(filter(None, (left_out, _missing_values(facts.town("mean_height", "mean")))))
    title = "How tall are the trees?"
    return Section("height", title, (words.how_tall(facts),), table, chart, notes)


def how_deep_and_wide(facts: Facts) -> Section:
    """Return mean crown depth and width by diameter class."""
    names = ("mean_crown_depth", "mean_crown_width")
    totals = [facts.town(name, "mean") for name in names]
    table, chart, left_out = figures(
        facts,
        [_classes(facts, name, "mean") for name in names],
        ("Stem diameter", "Crown depth", "Crown width"),
        total=("All living trees", totals),
        title="Mean crown depth and width by stem diameter",
    )
    notes = (
        *([left_out] if left_out else []),
        *(["The verdict is the weaker of the two."] if facts.mode != "measured" else []),
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
    more = (f", {doubtful:,} doubtful" if doubtful else "") + say_left_out(left_out)
    return f"{measured} measured{more}. {_missing_values(row)}".strip()


def _missing_values(row: pd.Series) -> str:
    """Return how many trees lack the value and what is taken in its place, "" where none does."""
    without = int(row["trees_without"])
    if not without or not words.has_value(row):
        return ""
    verb, them = ("has", "it") if without == 1 else ("have", "them")
    noun = _NOUNS[str(row["quantity"])]
    return (
        f"{plural(without, 'living tree')} {verb} no {noun}. We take {them} to be like the others."
    )


def which_species(facts: Facts) -> Section:
    """Return the most common species and the index of diversity."""
    every = words.species_rows(facts)
    every_sentence = (
        words.which_species(facts),
        words.top_share(facts),
        words.simpson_index(facts)[2],
    )
    table, chart, left_out = figures(
        facts,
        [every.head(words.TOP)],
        ("Species", "Share of all trees"),
        title="The most common species" if len(every) > words.TOP else "The species",
    )
    rows = facts.rows("share_of_trees", "share", "species")
    unknown = int(rows.loc[rows["domain"] == NOT_STATED, "trees"].sum())
    notes = [left_out] if left_out else []
    notes += [f"{words.count_found(unknown)} entered without a species."] if unknown else []
    rest = every.iloc[words.TOP :]
    if len(rest):
        verb, them = ("is", "It has") if len(rest) == 1 else ("are", "Together they have")
        notes.append(
            f"The table lists the {words.TOP} species with the most trees. {len(rest)} more "
            f"{verb} not shown here. {them} {plural(int(rest['trees'].sum()), 'tree')} of those "
            "measured."
        )
    sentences = tuple(sentence for sentence in every_sentence if sentence)
    return Section("species", "Which species?", sentences, table, chart, tuple(notes))


def size_classes(facts: Facts) -> Section:
    """Return the shares of the diameter classes."""
    rows = _classes(facts, "share_of_trees", "share")
    table, chart, left_out = figures(
        facts, [rows], ("Stem diameter", "Share of all trees"), title="Trees by stem diameter"
    )
    known = rows[np.isfinite(rows["value"]) & (rows["domain"] != NO_DIAMETER)]
    mean = facts.town("mean_diameter", "mean")
    if len(known) == 0:
        text = f"We cannot report diameters. {words.full_reason(mean)}"
    else:
        largest = known.loc[known["value"].idxmax()]
        text = (
            f"The most common stem diameter is {largest['domain']}, with "
            f"{words.share_of_trees(facts, largest)}. "
        )
        if words.has_value(mean):
            mean_text = words.give_or_take(facts, mean)
            text += f"The mean stem diameter of living trees is {mean_text}."
        else:
            text += "We cannot report the mean stem diameter of living trees. "
            text += words.full_reason(mean)
    notes = tuple(filter(None, (left_out, _missing_values(mean))))
    return Section("sizes", "Size classes", (text,), table, chart, notes)


def whose(facts: Facts) -> Section:
    """Return the shares of the groups as the crews wrote them."""
    rows, title = facts.groups("share_of_trees", "share"), "Whose trees?"
    if len(rows) == 0:
        return Section(
            "groups", title, (f"No group was written down for the trees {facts.on_plots}.",)
        )
    table, chart, left_out = figures(
        facts, [rows], ("Group, as written down", "Share of all trees"), title="Trees by group"
    )
    named = rows[~rows["domain"].isin((NOT_STATED, ON_ONE_PLOT)) & np.isfinite(rows["value"])]
    without = rows[rows["domain"] == NOT_STATED]
    sentences = []
    if len(named) == len(rows) == 1:
        group = named["domain"].iloc[0]
        sentences.append(f"All trees {facts.on_plots} are in the group “{group}”.")
    elif len(named):
        first = named.loc[named["value"].idxmax()]
        share = words.share_of_trees(facts, first)
        sentences.append(f"The largest group is “{first['domain']}”, with {share}.")
    elif len(without) < len(rows):
        sentences.append("No group was found on more than one plot.")
    if len(without):
        trees = plural(int(without["trees"].iloc[0]), "tree")
        sentences.append(f"For {trees} no group was written down.")
    notes = (left_out,) if left_out else ()
    return Section("groups", title, (" ".join(sentences),), table, chart, notes)


def crown_cover(facts: Facts) -> Section:
    """Return the land under crowns, by part of the town, and the sum of the crowns below."""
    sentence, title = words.how_much_cover(facts), "Crown cover"
    if facts.mode == "measured":
        return Section("cover", title, (sentence,))
    names = ("crown_cover_random_overlap", "crown_cover")
    totals = [facts.town(name, "share") for name in names]
    parts = [facts.by_stratum(name, "share") for name in names]
    many = ""
    if 0 < len(parts[0]) <= _MOST_STRATA:
        headings, whole = ("Part of the town", *_COVERS), (TOWN, totals)
        table, chart, left_out = figures(
            facts, parts, headings, total=whole, title=_LAND, judges_first=True
        )
    else:
        if len(parts[0]):
            many = f"The {len(parts[0])} parts of the town are too many to list here."
        parts = [row.to_frame().T.assign(domain=TOWN) for row in totals]
        table, chart, left_out = figures(
            facts, parts, ("", *_COVERS), title=_LAND, judges_first=True
        )
    if table is None:
        return Section("cover", title, (sentence,))
    notes = (
        left_out,
        many,
        words.sum_of_crowns(facts),
        "Each whole crown counts where its stem is. Trees in clumps cover less than crowns placed "
        "at random. Trees planted apart in rows cover more.",
        f"Crown widths: {_count_measured(totals[0])}",
        _one_width(facts),
    )
    sentences = tuple(filter(None, (sentence, words.land_under_crowns(facts))))
    return Section("cover", title, sentences, table, chart, tuple(filter(None, notes)))


def _one_width(facts: Facts) -> str:
    """Return for how many trees one width counts for both, "" for none."""
    one = facts.outcome.trees["one_width_only"].to_numpy(dtype=bool)
    living = facts.outcome.trees["condition"].to_numpy(dtype=object) != "D"
    count = int((one & living & facts.inside).sum())
    if not count:
        return ""
    verb = "has" if count == 1 else "have"
    return f"{plural(count, 'living tree')} {verb} one crown width only. It counts for both."


def _classes(facts: Facts, quantity: str, kind: str) -> pd.DataFrame:
    """Return the rows of the diameter classes that hold any tree."""
    rows = facts.rows(quantity, kind, DIAMETER_CLASS)
    return rows[(rows["trees"] + rows["trees_without"]) > 0].reset_index(drop=True)
