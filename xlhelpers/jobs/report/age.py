"""Age and diversity: young and old trees by the size of their stems, and how much is alike.

The size of a stem stands for age by a stated rule. The largest shares of one species, genus and
family are held against limits of the town's own choosing, where it has any.
"""

import math

import numpy as np
import pandas as pd

from xlhelpers.estimates.domains import NOT_STATED, by_species
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.report import words
from xlhelpers.jobs.report.facts import AGE, FAMILY, GENUS, YOUNG_TO_OLD, Facts
from xlhelpers.jobs.report.figures import figures, margin_heading
from xlhelpers.jobs.report.numbers import percent, write_ends, write_value
from xlhelpers.jobs.report.verdicts import HEADING, in_cell, verdict
from xlhelpers.pages.plan import Cell, Section, Table
from xlhelpers.wording import list_words, plural

YOUNG, BETWEEN, OLD, NO_DIAMETER, DEAD = YOUNG_TO_OLD
# a species with fewer living trees with a diameter is not called only young or only old; this
# project's own rule
FEWEST = 5
_RANKS = (("species", "limit_species"), (GENUS, "limit_genus"), (FAMILY, "limit_family"))


def young_and_old(facts: Facts) -> Section:
    """Return the shares of young and old trees, and how many of each species are which."""
    title = "Young and old trees"
    rows = facts.labelled(AGE)
    bounds = _bounds(facts)
    known = rows[rows["domain"].isin((YOUNG, BETWEEN, OLD))]
    if not known["trees"].sum():
        text = "We cannot tell young trees from old ones: no living tree here has a diameter."
        return Section("age", title, (text,))
    table, chart, note = figures(
        facts, [rows], ("Age by stem size", "Share of all trees"), title="Young and old trees"
    )
    text = f"{_age_sentence(facts, rows)} Young means a stem under {bounds[0]} thick, old means "
    text += f"{bounds[1]} or more."
    usual = facts.is_usual("young_below") and facts.is_usual("old_from")
    origin = "common practice, with no source" if usual else "this town's own choice"
    notes = [
        "Stem size stands for age, although species grow at different rates. The two diameters "
        f"are survey rules: {origin}."
    ]
    return Section("age", title, (text,), table, chart, tuple(filter(None, (note, *notes))))


def _bounds(facts: Facts) -> tuple[str, str]:
    record = QUANTITIES["diameter"]
    young, old = (
        f"{facts.rule(name) / record.factor(facts.units):.3g} {record.unit(facts.units)}"
        for name in ("young_below", "old_from")
    )
    return young, old


def _age_sentence(facts: Facts, rows: pd.DataFrame) -> str:
    parts = []
    seen = rows.loc[rows["trees"] > 0, "domain"].tolist()
    if YOUNG not in seen and OLD not in seen:
        return f"Neither young nor old trees were found {facts.on_plots}."
    for label in (YOUNG, OLD):
        age_rows = rows[(rows["domain"] == label) & (rows["trees"] > 0)]
        if len(age_rows) == 0:
            parts.append(f"No {label} trees were found {facts.on_plots}.")
        else:
            share = words.share_of_trees(facts, age_rows.iloc[0])
            parts.append(words.capital(f"{share} are {label}."))
    return " ".join(parts)


def ages_of_species(facts: Facts) -> Section:
    """Return how many living trees of each species are young and old, the most common first."""
    title = "Which species are young, which are old?"
    counts = _species_ages(facts)
    judged = counts[counts[[YOUNG, BETWEEN, OLD]].sum(axis=1) >= FEWEST]
    if len(judged) == 0:
        text = f"No species has {FEWEST} living trees with a diameter, so none is judged."
        return Section("ages", title, (text,))
    text = _only_sentence(judged, facts.on_plots)
    body = [_age_row(str(name), row) for name, row in counts.head(words.TOP).iterrows()]
    rest = counts.iloc[words.TOP :]
    notes = []
    if len(rest):
        body.append(_age_row(f"{len(rest)} other species", rest.sum()))
    few = len(counts) - len(judged)
    if few:
        verb = "is" if few == 1 else "are"
        notes.append(
            f"{few} species with fewer than {FEWEST} living trees with a diameter {verb} not "
            "judged. That number is this project's own rule."
        )
    headings = ("Species", "Young", "Between", "Old", "No diameter")
    notes.append(f"The table counts living trees {facts.on_plots}. Dead trees are not in it.")
    return Section("ages", title, (text,), Table(headings, tuple(body)), notes=tuple(notes))


def _age_row(name: str, row: pd.Series) -> tuple[Cell, ...]:
    counts = (Cell(float(row[age]), "#,##0") for age in (YOUNG, BETWEEN, OLD, NO_DIAMETER))
    return (Cell(name), *counts)


def _species_ages(facts: Facts) -> pd.DataFrame:
    """Return the living trees of each species by age, a row a species, the most common first."""
    trees = facts.outcome.trees[facts.inside].reset_index(drop=True)
    ages = np.array(facts.ages, dtype=object)[facts.inside]
    species = by_species(trees)
    names = np.array(words.common_names(facts, list(species.names)), dtype=object)[species.code]
    living = (ages != DEAD) & (names != NOT_STATED)
    table = pd.crosstab(names[living], ages[living])
    table = table.reindex(columns=[YOUNG, BETWEEN, OLD, NO_DIAMETER], fill_value=0)
    order = np.lexsort((table.index.to_numpy().astype(str), -table.sum(axis=1).to_numpy()))
    return table.iloc[order]


def _only_sentence(judged: pd.DataFrame, where: str) -> str:
    with_diameter = judged[[YOUNG, BETWEEN, OLD]].sum(axis=1)
    parts = []
    if not (judged[[YOUNG, OLD]].eq(with_diameter, axis=0)).any(axis=None):
        return f"No species is only young or only old {where}."
    for age in (YOUNG, OLD):
        only = judged.index[judged[age] == with_diameter]
        named = [f"{name}, {int(with_diameter[name])} trees" for name in only]
        if named:
            parts.append(f"Only {age} {where}: {'; '.join(named)}.")
        else:
            parts.append(f"No species is only {age}.")
    return " ".join(parts)


def largest_shares(facts: Facts) -> Section:
    """Return the commonest species, genus and family, held against the limits of the town."""
    title = "How much of one kind?"
    body: list[tuple[Cell | None, ...]] = []
    sentences: list[str] = []
    for rank, rule in _RANKS:
        rows = _rows_of_rank(facts, rank)
        if len(rows) == 0:
            continue
        limit = facts.rule(rule)
        body.append(_largest_row(facts, rank, rows.iloc[0], limit))
        if math.isfinite(limit):
            sentences.append(_against(facts, rank, rows, limit))
    if not body:
        return Section("kinds", title, ("No species is entered.",))
    if not sentences:
        sentences.append(_commonest_sentence(facts))
    headings = (
        *("The most common", "Share of all trees"),
        *([margin_heading(facts, even=False)] if facts.has_margins else []),
        *("The town's limit", "Trees measured"),
        *([HEADING] if facts.mode != "measured" else []),
    )
    notes = (_without_family(facts), _limits_note(facts))
    table = Table(headings, tuple(body))
    return Section("kinds", title, tuple(sentences), table, notes=tuple(filter(None, notes)))


def _largest_row(facts: Facts, rank: str, row: pd.Series, limit: float) -> tuple[Cell, ...]:
    """Return the line of the commonest species, genus or family."""
    is_shown = words.is_worth_showing(facts, row)
    share = write_value(float(row["value"]), "percent", facts.units) if is_shown else ""
    ends = ""
    if is_shown:
        ends = write_ends(row["low"], row["high"], "percent", facts.units)
        ends = ends if np.isfinite(row["margin"]) else "not known"
    one = verdict(facts, row) if is_shown else ""
    return (
        Cell(f"{words.capital(rank)}: {row['domain']}"),
        Cell(share or words.short_reason(row), right=True),
        *([Cell(ends, right=True)] if facts.has_margins else []),
        Cell(percent(limit) if math.isfinite(limit) else "no limit", right=True),
        Cell(float(row["trees"]), "#,##0"),
        *([Cell(in_cell(one))] if facts.mode != "measured" else []),
    )


def _rows_of_rank(facts: Facts, rank: str) -> pd.DataFrame:
    """Return the rows of species, genera or families, the largest share first."""
    if rank == "species":
        rows = words.species_rows(facts)
    else:
        rows = facts.labelled(rank)
        rows = rows[(rows["domain"] != NOT_STATED) & (rows["trees"] > 0)]
    by = ["value", "trees"]
    return rows.sort_values(by, ascending=False, kind="stable").reset_index(drop=True)


def _commonest_sentence(facts: Facts) -> str:
    rows = _rows_of_rank(facts, GENUS)
    if len(rows) == 0:
        return "No species has a botanical name, so genera and families are not known."
    if len(rows) == 1:
        return f"All trees with a botanical name are of one genus, {rows['domain'].iloc[0]}."
    share = words.share_of_trees(facts, rows.iloc[0])
    return f"The most common genus is {rows['domain'].iloc[0]}, with {share}."


def _against(facts: Facts, rank: str, rows: pd.DataFrame, limit: float) -> str:
    """Return whether the largest share keeps a limit, as far as the margin can tell."""
    first = rows.iloc[0]
    start = f"The town's limit for one {rank} is {percent(limit)}."
    value, low, high = (float(first[name]) for name in ("value", "low", "high"))
    if not words.is_worth_showing(facts, first):
        return f"{start} There are {words.TOO_FEW} if it is kept."
    share = words.share_of_trees(facts, first)
    name = f"{first['domain']} makes up {share}"
    if not facts.has_margins:
        state = "within the limit" if value <= limit else "above the limit"
        return f"{start} {name}: {state}."
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"{start} {name}. Without a margin nobody can say if the limit is kept."
    if high <= limit:
        return f"{start} {name}: within the limit."
    if low > limit:
        above = int((rows["low"] > limit).sum()) - 1
        more = f" So {'is' if above == 1 else 'are'} {above} more." if above else ""
        return f"{start} {name}: above the limit.{more}"
    side = "more" if value > limit else "less"
    return (
        f"{start} {name}. That is {side} than the limit, but the limit is between the two ends: "
        "the plots cannot say if it is kept."
    )


def _limits_note(facts: Facts) -> str:
    with_limit = [rank for rank, rule in _RANKS if math.isfinite(facts.rule(rule))]
    if not with_limit:
        labels = list_words([f"“{RULES[rule].label}”" for _, rule in _RANKS])
        return (
            "This survey sets no limits for such shares. A town may choose its own with the survey "
            f"rules {labels}. Such limits are common practice. No source is claimed for a fixed "
            "share."
        )
    return (
        "The limits are the town's own choice. Such limits are common practice. No source is "
        "claimed for a fixed share."
    )


def _without_family(facts: Facts) -> str:
    """Return how many trees have no genus or no family here, "" where all have both."""
    counts = []
    for labels, what in ((facts.genera, "genus"), (facts.families, "family")):
        without = sum(not label for label, here in zip(labels, facts.inside, strict=True) if here)
        if without:
            counts.append((without, what))
    if not counts:
        return ""
    texts = [f"no {what} is known for {plural(count, 'tree')}" for count, what in counts]
    return f"{words.capital(list_words(texts))}. They count among all trees."
