"""The sentences of the council's report, made from the numbers of its tables and nothing else."""

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import NOT_STATED, SPECIES
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import percent, said, said_margin

TOO_FEW = "too few plots to say"
NOTHING_OF_THE_TOWN = "Nothing is said of the town as a whole."
TOP = 10
MOST_NAMED = 3
# a figure that open findings move by more is told of on the first page; heights always are
_MUCH = 0.1
_MOVED = (
    ("mean_height", "mean", "the mean height"),
    ("mean_crown_depth", "mean", "the mean crown depth"),
    ("mean_crown_width", "mean", "the mean crown width"),
    ("basal_area", "total", "the basal area"),
)


def short_reason(row: pd.Series) -> str:
    """Return in a few words why a row has no number, or none that is worth telling."""
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
    """Return a value with its margin: "about 4,300 trees, give or take 900 (95 %)".

    Where the margin is larger than the value, the upper end is named alone. Without sampling
    there is no margin, and counts keep all their digits.
    """
    quantity, units = row["unit_quantity"], facts.units
    value, margin = float(row["value"]), float(row["margin"])
    noun = f" {noun}" if noun else ""
    if not facts.has_margins:
        return said(value, quantity, units, exact=True) + noun
    sure = f"({percent(facts.confidence)})"
    if not math.isfinite(margin):
        return f"about {said(value, quantity, units)}{noun} (no margin can be given)"
    if margin >= value:
        return f"at most about {said(row['high'], quantity, units)}{noun} {sure}"
    about = f"about {said(value, quantity, units)}{noun}"
    return f"{about}, give or take {said_margin(margin, quantity, units)} {sure}"


def is_told(facts: Facts, row: pd.Series) -> bool:
    """Return whether a row's number is worth telling.

    Not where the margin of a mean exceeds it, or that of a share spans all there is.
    """
    if not has_value(row):
        return False
    if not facts.has_margins or row["kind"] not in ("mean", "share"):
        return True
    most = row["value"] if row["kind"] == "mean" else 1.0
    return not row["margin"] >= most


def share_of_trees(facts: Facts, row: pd.Series) -> str:
    """Return a share for the middle of a sentence, or that there are too few plots to say it."""
    of_what = "of the trees measured" if facts.mode == "measured" else "of the trees"
    return give_or_take(facts, row, of_what) if is_told(facts, row) else f"a share that {_FEW}"


_FEW = "too few plots tell"


def has_value(row: pd.Series) -> bool:
    """Return whether a row has a number."""
    return bool(np.isfinite(float(row["value"])))


def how_many(facts: Facts) -> str:
    """Return how many trees there are."""
    row = facts.town("trees", "total")
    count = int(row["trees"])
    if facts.mode == "nothing":
        return f"{facts.because} {NOTHING_OF_THE_TOWN}"
    if facts.mode == "measured":
        return f"{counted(count)} measured. {NOTHING_OF_THE_TOWN}"
    if facts.mode == "census":
        return (
            f"{counted(count)} counted. Every tree was to be measured, so there is no sampling "
            "margin."
        )
    return f"{capital(give_or_take(facts, row, 'trees'))}."


def how_tall(facts: Facts) -> str:
    """Return how tall the living trees are on average."""
    row = facts.town("mean_height", "mean")
    if not is_told(facts, row):
        return f"Nothing can be said of heights. {full_reason(row)}"
    return f"{_living(facts)} are on average {give_or_take(facts, row, 'tall')}."


def how_sure(facts: Facts) -> str:
    """Return how many trees rest on open findings and what they do to the figures, "" for none."""
    row, height = facts.town("trees", "total"), facts.town("mean_height", "mean")
    doubtful, count = int(row["open_trees"]), int(row["trees"])
    if not doubtful:
        return ""
    one = doubtful == 1
    text = (
        f"{doubtful:,} of the {count:,} {'tree' if count == 1 else 'trees'} "
        f"{'rests' if one else 'rest'} on open findings; settle {'it' if one else 'them'} first."
    )
    if not is_told(facts, height):
        return text
    without, them = ("Without this tree", "it") if one else ("Without these trees", "them")
    if not math.isfinite(facts.settled("mean_height", "mean")):
        return f"{text} {without} nothing can be said of heights."
    moved = [
        f"{label} {'is ' if place == 0 else ''}{settled} (with {them} {whole})"
        for place, (label, settled, whole) in enumerate(_moved(facts))
    ]
    joined = f"{', '.join(moved[:-1])} and {moved[-1]}" if len(moved) > 1 else moved[0]
    return f"{text} {without} {joined}."


def _moved(facts: Facts) -> list[tuple[str, str, str]]:
    """Return of each figure that is told of its name, and it without and with the trees."""
    told = []
    for quantity, kind, label in _MOVED:
        row, settled = facts.town(quantity, kind), facts.settled(quantity, kind)
        value = float(row["value"])
        much = math.isfinite(settled) and abs(settled - value) > _MUCH * abs(value)
        if quantity == "mean_height" or (has_value(row) and much):
            without, whole = (
                said(each, row["unit_quantity"], facts.units) for each in (settled, value)
            )
            told.append((label, without, whole))
    return told


def how_deep_and_wide(facts: Facts) -> str:
    """Return the mean crown depth and width of the living trees."""
    depth, width = (facts.town(name, "mean") for name in ("mean_crown_depth", "mean_crown_width"))
    parts = [
        give_or_take(facts, row, word)
        for row, word in ((depth, "deep"), (width, "wide"))
        if is_told(facts, row)
    ]
    if not parts:
        return f"Nothing can be said of crowns. {full_reason(depth)}"
    joined = ", and " if facts.has_margins else " and "
    whose = "Their crowns" if has_value(facts.town("mean_height", "mean")) else "Crowns"
    whose += " (of the trees measured)" if facts.mode == "measured" else ""
    return f"{whose} are on average {joined.join(parts)}."


def which_species(facts: Facts) -> str:
    """Return how many kinds were met, and the most counted."""
    rows = kinds(facts)
    if len(rows) == 0:
        return "No species is keyed."
    first = rows.iloc[0]
    if len(rows) == 1:
        return f"All trees measured whose species is known are of one: {first['domain']}."
    said_of = f"{len(rows)} kinds were met on the plots"
    equal = rows.loc[rows["trees"] == first["trees"], "domain"].tolist()
    if len(equal) > 1:
        return f"{said_of}; {_most_counted_alike(equal, int(first['trees']))}."
    if not has_value(first):
        return f"{said_of}; the most counted is {first['domain']}."
    share = share_of_trees(facts, first)
    return f"{said_of}; the most counted, {first['domain']}, makes up {share}."


def _most_counted_alike(names: Sequence[str], count: int) -> str:
    """Return the words for several species of which equally many trees were measured."""
    each = f"{count:,} {'tree' if count == 1 else 'trees'} each"
    if len(names) > MOST_NAMED:
        return f"no single one is the most counted: {len(names)} of them have {each}"
    return f"the most counted are {', '.join(names[:-1])} and {names[-1]}, with {each}"


def kinds(facts: Facts) -> pd.DataFrame:
    """Return the rows of the species, the most counted first, without trees of no stated one.

    Each goes by its common name, where the survey's list of species has one, and the botanical.
    """
    rows = facts.rows("share_of_trees", "share", SPECIES)
    rows = rows[(rows["domain"] != NOT_STATED) & (rows["trees"] > 0)]
    trees = facts.outcome.trees
    common = dict(zip(trees["botanical"], trees["common"], strict=True))
    names = [
        f"{capital(common[name])} ({name})" if common.get(name) not in (None, "", name) else name
        for name in rows["domain"]
    ]
    rows = rows.assign(domain=names)
    return rows.sort_values("trees", ascending=False, kind="stable").reset_index(drop=True)


def top_share(facts: Facts) -> str:
    """Return what the most counted species make up together, "" where that cannot be said."""
    rows = kinds(facts)
    shares = rows["value"].head(TOP)
    if len(rows) <= TOP or not np.isfinite(shares).all():
        return ""
    about = "about " if facts.has_margins else ""
    of_what = "of the trees measured" if facts.mode == "measured" else "of the trees"
    together = said(float(shares.sum()), "percent", facts.units)
    return f"The ten most counted together make up {about}{together} {of_what}."


def how_many_dead(facts: Facts) -> str:
    """Return how many of the trees are dead."""
    total, share = facts.town("dead_trees", "total"), facts.town("share_dead", "share")
    seen = int(total["trees"])
    if facts.mode == "nothing":
        return "Nothing can be said of dead trees."
    of_all = int(facts.town("trees", "total")["trees"])
    if seen == 0:
        where = (
            " on the plots, which does not prove that there is none." if facts.has_margins else "."
        )
        return f"No dead tree was seen{where}"
    if not facts.has_margins:
        part = said(float(share["value"]), "percent", facts.units)
        return f"{seen:,} of the {of_all:,} trees {'is' if seen == 1 else 'are'} dead ({part})."
    on_plots = f"{seen:,} of the {of_all:,} trees on the plots"
    if not has_value(total) or not has_value(share):
        return f"Dead: {on_plots}. {full_reason(total if not has_value(total) else share)}"
    return f"{capital(give_or_take(facts, total, 'dead trees'))}; {on_plots} were dead."


def how_much_cover(facts: Facts) -> str:
    """Return the crown cover, as added up and with overlaps at random."""
    if facts.mode in ("measured", "nothing"):
        return "Nothing is said of crown cover, which needs the area of the town."
    added, overlapping = (
        facts.town(name, "share") for name in ("crown_cover", "crown_cover_random_overlap")
    )
    if not (has_value(added) and has_value(overlapping)):
        return f"Nothing can be said of crown cover. {full_reason(added)}"
    land = f"{said(float(added['value']), 'percent', facts.units)} of the land"
    return (
        f"Crowns added up come to {'about ' if facts.has_margins else ''}{land}. Many overlap: if "
        f"they did so at random, the land under crowns would be {give_or_take(facts, overlapping)}."
    )


def of_one_kind(facts: Facts) -> tuple[float, int, str]:
    """Return Simpson's index of the trees measured, how many it rests on, and its sentence.

    It is the chance that two different trees picked at random from those measured are not of one
    species: 1 - sum n (n - 1) / (N (N - 1)); NaN below two trees.

    References
    ----------
    Simpson1949
    """
    counts = kinds(facts)["trees"].to_numpy(dtype=float)
    number = float(counts.sum())
    if number < 2:
        return math.nan, int(number), "Fewer than two trees have a species: no index can be given."
    index = 1.0 - float((counts * (counts - 1)).sum()) / (number * (number - 1))
    sentence = (
        f"Diversity (Simpson's index): {index:.2f}. Of 100 pairs of trees picked at random from "
        f"those measured, about {100 * index:.0f} would be of two different species; 0 means one "
        "species alone, and the nearer to 1 the more mixed."
    )
    return index, int(number), sentence


def counted(count: int) -> str:
    """Return "1 tree was" or "335 trees were"."""
    return "1 tree was" if count == 1 else f"{count:,} trees were"


def capital(text: str) -> str:
    """Return a sentence with its first letter large."""
    return text[:1].upper() + text[1:]


def _living(facts: Facts) -> str:
    return "The living trees measured" if facts.mode == "measured" else "Living trees"
