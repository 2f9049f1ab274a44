"""The sentences of the council's report, made from the numbers of its tables and nothing else."""

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import NOT_STATED, SPECIES
from xlhelpers.estimates.intervals import AS_GOOD_AS, interval_cover
from xlhelpers.estimates.quantities import CROWN_COVER
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.jobs.report.facts import Facts, is_even, is_order_of_magnitude
from xlhelpers.jobs.report.numbers import percent, round_figure, write_margin, write_value
from xlhelpers.jobs.report.verdicts import ROUGH, verdict, why_rough
from xlhelpers.wording import plural

TOO_FEW = "too few plots to say"
NO_TOWN = "There is no figure for the whole town."
TOP = 10
# half the distance of the ends of a share that still says something; 0.5 is from nothing to all
_WIDEST_SHARE = 0.45
MOST_NAMED = 3
# a figure is named on the first page if values in doubt move it by more; the height always is
_MUCH = 0.1
_MOVED = (
    ("mean_height", "mean", "mean height"),
    ("mean_crown_depth", "mean", "mean crown depth"),
    ("mean_crown_width", "mean", "mean crown width"),
    ("basal_area", "total", "stem area (basal area)"),
)


def has_value(row: pd.Series) -> bool:
    """Return whether a row has a number."""
    return bool(np.isfinite(float(row["value"])))


def is_worth_showing(facts: Facts, row: pd.Series) -> bool:
    """Return whether a row has a number, and a margin that leaves it some sense.

    It has none where the margin of a mean exceeds it, or the ends of a share span nearly all. The
    sum of crowns, which can be several times the land, has one if its margin is below it.
    """
    if not has_value(row):
        return False
    if not facts.has_margins or row["kind"] not in ("mean", "share"):
        return True
    most = row["value"] if row["kind"] == "mean" else _WIDEST_SHARE
    if row["quantity"] == CROWN_COVER:
        most = max(1.0, float(row["value"]))
    return not row["margin"] >= most


def short_reason(row: pd.Series) -> str:
    """Return in a few words why a row has no number, or none that is worth showing."""
    if row["trees"] == 0:
        return "none measured"
    is_few = has_value(row) or str(row["words"]).startswith("Too few plots")
    return TOO_FEW if is_few else "not known"


def full_reason(row: pd.Series) -> str:
    """Return why a number is missing, as the estimates say it."""
    if has_value(row):
        return "The margin is larger than the figure."
    text = str(row["words"]).split(". ")[0].strip().rstrip(".")
    return f"{text}." if text else "Not known."


def give_or_take(facts: Facts, row: pd.Series, noun: str = "") -> str:
    """Return a value with its ends: "about 4,300 trees (from 3,510 to 5,290)".

    A mean has a margin instead: "about 14.2 m tall, give or take 0.8 m". A total or a share whose
    verdict is an order of magnitude says so. Where a total is smaller than its margin, the upper
    end is named: "about 1,470 trees (an order of magnitude), but not more than 3,050". Without
    sampling there is no margin, and counts keep all their digits.
    """
    quantity, units = row["unit_quantity"], facts.units
    value, margin = float(row["value"]), float(row["margin"])
    noun = f" {noun}" if noun else ""
    if not facts.has_margins:
        return write_value(value, quantity, units, None) + noun
    about = f"about {write_value(value, quantity, units)}{noun}"
    if not math.isfinite(margin):
        return f"{about} (no margin can be given)"
    if is_even(row):
        return f"{about}, give or take {write_margin(margin, quantity, units)}"
    low, high = (write_value(float(row[end]), quantity, units) for end in ("low", "high"))
    is_rough = verdict(facts, row) == ROUGH
    if margin >= value and row["kind"] != "share":
        return f"{about}{f' ({ROUGH})' if is_rough else ''}, but not more than {high}"
    return f"{about} ({f'{ROUGH}, ' if is_rough else ''}from {low} to {high})"


def share_of_trees(facts: Facts, row: pd.Series) -> str:
    """Return a share for the middle of a sentence, or that there are too few plots for one."""
    if is_worth_showing(facts, row):
        return give_or_take(facts, row, _of_trees(facts))
    return f"a share that is not known ({TOO_FEW})"


def _of_trees(facts: Facts) -> str:
    return "of the trees measured" if facts.mode == "measured" else "of the trees"


def how_many(facts: Facts) -> str:
    """Return how many trees there are."""
    row = facts.town("trees", "total")
    count = int(row["trees"])
    if facts.mode == "nothing":
        return f"{facts.because} {NO_TOWN}"
    if facts.mode == "measured":
        return f"{count_found(count)} measured. {NO_TOWN}"
    if facts.mode == "census":
        return (
            f"{count_found(count)} counted. Every tree was to be measured, so there is no sampling "
            "margin."
        )
    return f"The town has {give_or_take(facts, row, 'trees')}. {why_rough(facts, row)}".rstrip()


def how_tall(facts: Facts) -> str:
    """Return how tall the living trees are on average."""
    row = facts.town("mean_height", "mean")
    if not is_worth_showing(facts, row):
        return f"We cannot report heights. {full_reason(row)}"
    who = "The living trees measured" if facts.mode == "measured" else "Living trees"
    return f"{who} are on average {give_or_take(facts, row, 'tall')}."


def still_in_doubt(facts: Facts) -> str:
    """Return how many trees have readings in doubt and what is left out, "" for none."""
    doubtful, count = facts.trees_in_doubt, int(facts.town("trees", "total")["trees"])
    if not doubtful:
        return ""
    which = f"{doubtful:,} of the {plural(count, 'tree')}"
    if doubtful == count > 1:
        which = f"all {count:,} trees"
    text = f"For {which}, some entries are missing or doubtful."
    if facts.left_out:
        text += f" Left out because they cannot be right: {facts.left_out}."
    return text


def how_sure(facts: Facts) -> str:
    """Return how many trees have readings in doubt and what they do to the figures, "" for none."""
    text, height = still_in_doubt(facts), facts.town("mean_height", "mean")
    if not text or not is_worth_showing(facts, height):
        return text
    if not math.isfinite(facts.without_open("mean_height", "mean")):
        return f"{text} Without the doubtful values we cannot report heights."
    moved = _figures_that_move(facts)
    return f"{text} Without the doubtful values, {' and '.join(moved)}." if moved else text


def _figures_that_move(facts: Facts) -> list[str]:
    """Return of the height, and of each figure that values in doubt move much, both values."""
    moved = []
    for quantity, kind, label in _MOVED:
        row, without = facts.town(quantity, kind), facts.without_open(quantity, kind)
        value = float(row["value"])
        much = math.isfinite(without) and abs(without - value) > _MUCH * abs(value)
        is_named = quantity == "mean_height" and row["open_trees"] > 0
        if is_named or (has_value(row) and much):
            new, old = (
                write_value(each, row["unit_quantity"], facts.units) for each in (without, value)
            )
            moved.append(f"the {label} is {new} instead of {old}")
    return moved


def how_deep_and_wide(facts: Facts) -> str:
    """Return the mean crown depth and width of the living trees."""
    rows = [facts.town(name, "mean") for name in ("mean_crown_depth", "mean_crown_width")]
    parts = []
    for row, word in zip(rows, ("deep", "wide"), strict=True):
        if is_worth_showing(facts, row):
            value = write_value(float(row["value"]), row["unit_quantity"], facts.units)
            margin = ""
            if facts.has_margins and math.isfinite(row["margin"]):
                taken = write_margin(float(row["margin"]), row["unit_quantity"], facts.units)
                margin = f" (give or take {taken})"
            parts.append(f"{value} {word}{margin}")
    if not parts:
        return f"We cannot report crowns. {full_reason(rows[0])}"
    whose = " of the trees measured" if facts.mode == "measured" else ""
    return f"The average crown{whose} is {' and '.join(parts)}."


def which_species(facts: Facts) -> str:
    """Return how many species were found, and the most common."""
    rows = species_rows(facts)
    if len(rows) == 0:
        return "No species is entered."
    first = rows.iloc[0]
    if len(rows) == 1:
        return f"We found one species: {first['domain']}."
    text = f"We found {len(rows)} species."
    alike = rows.loc[rows["trees"] == first["trees"], "domain"].tolist()
    each = f"{plural(int(first['trees']), 'tree')} each"
    if len(alike) > MOST_NAMED:
        return f"{text} No single species is the most common: {len(alike)} have {each}."
    if len(alike) > 1:
        return f"{text} The most common are {', '.join(alike[:-1])} and {alike[-1]}, with {each}."
    if not has_value(first):
        return f"{text} The most common is {first['domain']}."
    text += f" The most common, {first['domain']}, makes up {share_of_trees(facts, first)}."
    return f"{text} {why_rough(facts, first)}".rstrip()


def species_rows(facts: Facts) -> pd.DataFrame:
    """Return the rows of the species, the most common first, without trees of no stated one.

    Each goes by its common name, where the survey's list of species has one, and the botanical.
    """
    rows = facts.rows("share_of_trees", "share", SPECIES)
    rows = rows[(rows["domain"] != NOT_STATED) & (rows["trees"] > 0)]
    rows = rows.assign(domain=common_names(facts, rows["domain"].tolist()))
    return rows.sort_values("trees", ascending=False, kind="stable").reset_index(drop=True)


def common_names(facts: Facts, names: Sequence[str]) -> list[str]:
    """Return species as a council knows them: the common name and the botanical."""
    trees = facts.outcome.trees
    common = dict(zip(trees["botanical"], trees["common"], strict=True))
    return [
        f"{capital(common[name])} ({name})" if common.get(name) not in (None, "", name) else name
        for name in names
    ]


def top_share(facts: Facts) -> str:
    """Return what the most common species make up together, "" where that is not known."""
    rows = species_rows(facts)
    shares = rows["value"].head(TOP)
    if len(rows) <= TOP or not np.isfinite(shares).all():
        return ""
    about = "about " if facts.has_margins else ""
    together = write_value(float(shares.sum()), "percent", facts.units)
    return f"The ten most common species make up {about}{together} {_of_trees(facts)}."


def how_many_dead(facts: Facts) -> str:
    """Return how many of the trees are dead."""
    total, share = facts.town("dead_trees", "total"), facts.town("share_dead", "share")
    dead, of_all = int(total["trees"]), int(facts.town("trees", "total")["trees"])
    if dead == 0 and facts.has_margins:
        return f"We found no dead trees {facts.on_plots}. There may still be some in the town."
    if dead == 0:
        return "We found no dead trees."
    all_dead = f"All {of_all:,} trees {facts.on_plots} are dead."
    if dead == of_all > 1 and not (facts.has_margins and has_value(total)):
        return all_dead
    if not facts.has_margins:
        part = write_value(float(share["value"]), "percent", facts.units)
        verb = "is" if dead == 1 else "are"
        return f"{dead:,} of the {plural(of_all, 'tree')} {verb} dead ({part})."
    if not has_value(total) or not has_value(share):
        reason = full_reason(share if has_value(total) else total)
        return f"We found {plural(dead, 'dead tree')} among {of_all:,}. {reason}"
    text = capital(give_or_take(facts, total, "trees are dead"))
    if dead == of_all > 1:
        return f"{text}. {all_dead}"
    text += f". We found {plural(dead, 'dead tree')} among {of_all:,}."
    return f"{text} {why_rough(facts, total)}".rstrip()


def how_much_cover(facts: Facts) -> str:
    """Return the crown cover, with overlaps at random and added up."""
    if facts.mode == "measured":
        return "We cannot report crown cover. It needs figures for the whole town."
    added, overlapping = (
        facts.town(name, "share") for name in ("crown_cover", "crown_cover_random_overlap")
    )
    if not (has_value(added) and has_value(overlapping)):
        return f"We cannot report crown cover. {full_reason(added)}"
    return (
        f"Crowns cover {give_or_take(facts, overlapping, 'of the land')}, if they overlap at "
        "random."
    )


def land_under_crowns(facts: Facts) -> str:
    """Return the land under crowns as an area, "" where the area of the town is not known."""
    row = facts.town("crown_cover_random_overlap", "share")
    total, density = (facts.town("trees", kind)["value"] for kind in ("total", "per area"))
    if not has_value(row) or not density > 0 or not math.isfinite(total):
        return ""
    land, unit = float(total / density), QUANTITIES["stratum area"]
    under, whole = (
        round_figure(area / unit.factor(facts.units)) for area in (land * float(row["value"]), land)
    )
    return f"That is about {under:,g} of {whole:,g} {unit.unit(facts.units)}."


def sum_of_crowns(facts: Facts) -> str:
    """Return what the crowns would cover side by side, and why that is more."""
    row = facts.town("crown_cover", "share")
    added = write_value(float(row["value"]), "percent", facts.units)
    return (
        f"The areas of all crowns add up to {added} of the land. Crowns overlap, so the land under "
        "them is less than that sum."
    )


def what_margins_mean(facts: Facts) -> str:
    """Return what the ends of a figure say, and how sure they are, as trials have shown it."""
    text = (
        "Only some plots were measured, so each figure has two ends. A mean has them equally far "
        "away: that is “give or take”. The upper end of a total is the farther one."
    )
    rows = [facts.town(name, kind) for name, kind in (("trees", "total"), ("mean_height", "mean"))]
    total, mean = (float(row["interval_held"]) for row in rows)
    if is_order_of_magnitude(rows[0]):
        return f"{text} With so few plots, totals are orders of magnitude."
    if not math.isfinite(total):
        return text
    sure = percent(facts.confidence).split()[0]
    share = interval_cover(int(rows[0]["plots"]), facts.confidence, "share").inside
    if round(min(total, mean, share), 2) >= AS_GOOD_AS:
        return f"{text} In about {sure} of 100 such surveys the true value is between them."
    others = "".join(
        f", the true {what} in about {100 * cover:.0f}"
        for what, cover in (("mean", mean), ("share", share))
        if math.isfinite(cover)
    )
    return (
        f"{text} In trials with towns of known trees, the true total was between them in about "
        f"{100 * total:.0f} of 100 surveys{others}."
    )


def simpson_index(facts: Facts) -> tuple[float, int, str]:
    """Return Simpson's index of the trees measured, how many it uses, and its sentence.

    It is the chance that two different trees picked at random from those measured are not of one
    species: 1 - sum n (n - 1) / (N (N - 1)); NaN below two trees.

    References
    ----------
    Simpson1949
    """
    counts = species_rows(facts)["trees"].to_numpy(dtype=float)
    number = float(counts.sum())
    if number < 2:
        return math.nan, int(number), "Fewer than two trees have a species, so there is no index."
    index = 1.0 - float((counts * (counts - 1)).sum()) / (number * (number - 1))
    if index == 0:
        return (
            index,
            int(number),
            "Diversity (Simpson's index): 0.00. All trees are of one species.",
        )
    sentence = (
        f"Diversity (Simpson's index): {index:.2f}. In about {100 * index:.0f} of 100 random pairs "
        "of measured trees, the two trees are of different species. The nearer to 1, the more "
        "mixed the trees are."
    )
    return index, int(number), sentence


def count_found(count: int) -> str:
    """Return "1 tree was" or "335 trees were"."""
    return f"{plural(count, 'tree')} {'was' if count == 1 else 'were'}"


def capital(text: str) -> str:
    """Return a sentence with its first letter large."""
    return text[:1].upper() + text[1:]
