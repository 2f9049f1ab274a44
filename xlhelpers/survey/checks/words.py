"""Words that the workbook does not know: proposed for, never replaced. One finding a word."""

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from xlhelpers.fields.choices import CHOICES, EYE_HEIGHT_WORDS
from xlhelpers.measure.instruments import KINDS
from xlhelpers.survey.checks.facts import Facts, Texts, any_of, group_members, same
from xlhelpers.survey.checks.record import NO_HITS, Hits, hits_where
from xlhelpers.survey.checks.wording import list_words
from xlhelpers.survey.typed.folding import Flags, codes_of, fold, fold_column, positions_in
from xlhelpers.survey.typed.species_names import (
    LEAST_LIKENESS,
    fold_species,
    match_species,
    nearest_names,
)
from xlhelpers.survey.typed.words import closing_word, identifier_key, initials_in


def find_nearest(word: str, known: Iterable[str], count: int = 3) -> tuple[str, ...]:
    """Return the known words that are most like a word, the nearest first."""
    by_folded = {fold(name): name for name in known if name}
    near = difflib.get_close_matches(fold(word), list(by_folded), count, LEAST_LIKENESS)
    return tuple(by_folded[name] for name in near)


def _propose(names: Sequence[str]) -> str:
    if not names:
        return "No similar name is listed."
    return f"Did you mean {list_words([f'“{name}”' for name in names], joint='or')}?"


def _hits_by_word(
    words: Texts, unknown: Flags, kind: str, nearest: Callable[[str], Sequence[str]]
) -> Hits:
    """One hit for each different unknown word, at the first row that has it."""
    rows = np.flatnonzero(unknown)
    if len(rows) == 0:
        return NO_HITS
    folded = fold_column(words[rows], fold_species if kind == "species" else identifier_key)
    groups = list(group_members(codes_of(folded), rows).values())
    first = np.array([group[0] for group in groups])
    typed = [str(words[row]) for row in first]
    return Hits(
        first,
        {
            "word": typed,
            "count": np.array([len(group) for group in groups]),
            "proposal": [_propose(nearest(word)) for word in typed],
        },
        lines=groups,
        subjects=[((kind, word),) for word in typed],
        evidence=[(f"{kind} {word}",) for word in typed],
    )


def _hits_by_name(words: Texts, unknown: Flags, kind: str, known: Texts) -> Hits:
    return _hits_by_word(words, unknown, kind, lambda word: find_nearest(word, known))


def _touch_lines_of_plots(facts: Facts, hits: Hits) -> Hits:
    """Turn hits over rows of the plots sheet into such that touch the lines of these plots."""
    on_plot, plots = facts.lines_of_plots(), hits.lines or ()
    lines = [tuple(line for plot in group for line in on_plot.get(plot, ())) for group in plots]
    return replace(hits, lines=lines, plots=plots)


def species_unknown(facts: Facts) -> Hits:
    """Names that are not on the species sheet."""
    words, listed = facts.text("species"), facts.survey.species
    unknown = ~same(words, "") & (match_species(words, listed) < 0)
    return _hits_by_word(words, unknown, "species", lambda word: nearest_names(word, listed))


def plot_unknown(facts: Facts) -> Hits:
    """Plots of the field sheet that are not on the plots sheet."""
    words = facts.text("plot")
    unknown = ~same(words, "") & (facts.plot_position < 0)
    return _hits_by_name(words, unknown, "plot", facts.column("plots", "plot"))


def line_instrument_unknown(facts: Facts) -> Hits:
    """Instruments named on lines that are not on the instruments sheet."""
    words, known = facts.text("instrument"), facts.column("instruments", "instrument")
    return _hits_by_name(words, facts.line_instrument_unknown, "instrument", known)


def plot_instrument_unknown(facts: Facts) -> Hits:
    """Instruments named for plots that are not on the instruments sheet."""
    words, known = (facts.column(table, "instrument") for table in ("plots", "instruments"))
    unknown = ~same(words, "") & (facts.plot_instrument < 0)
    return _touch_lines_of_plots(facts, _hits_by_name(words, unknown, "instrument", known))


def stratum_unknown(facts: Facts) -> Hits:
    """Strata of plots that are not on the strata sheet; without that sheet all are accepted."""
    words, known = (facts.column(table, "stratum") for table in ("plots", "strata"))
    unknown = ~same(words, "") & (positions_in(words, known, identifier_key) < 0)
    unknown = unknown & (len(known) > 0)
    return _touch_lines_of_plots(facts, _hits_by_name(words, unknown, "stratum", known))


def person_unknown(facts: Facts) -> Hits:
    """Initials of crews and keyers that are not on the people sheet, if people are listed."""
    known = facts.column("people", "initials")
    if len(known) == 0 or len(facts.survey.plots) == 0:
        return NO_HITS
    places, words = [], []
    for column in ("crew", "keyed_by"):
        for plot, text in enumerate(facts.column("plots", column)):
            for word in initials_in(str(text)):
                places.append(plot)
                words.append(word)
    folded = {identifier_key(name) for name in known}
    unknown = np.array([identifier_key(word) not in folded for word in words], dtype=bool)
    hits = _hits_by_name(np.array(words, dtype=object), unknown, "person", known)
    plot_of = np.array(places, dtype=np.int64)
    plots = [tuple(dict.fromkeys(plot_of[list(each)].tolist())) for each in hits.lines or ()]
    return replace(hits, rows=plot_of[hits.rows], lines=[()] * len(plots), plots=plots)


def kind_unknown(facts: Facts) -> Hits:
    """Kinds of instruments that the program has no record of."""
    words = facts.column("instruments", "kind")
    folded = {fold(kind) for kind in KINDS}
    unknown = np.array([bool(w) and fold(str(w)) not in folded for w in words], dtype=bool)
    rows = np.flatnonzero(unknown)
    proposals = [_propose(find_nearest(str(words[row]), KINDS)) for row in rows]
    return Hits(rows, {"word": words[rows], "proposal": proposals})


def condition_unknown(facts: Facts) -> Hits:
    """Conditions other than blank, T and D."""
    words = facts.text("condition")
    known = any_of([same(words, word) for word in ("", *CHOICES["condition"])])
    return hits_where(~known, word=words)


def reason_in_other_words(facts: Facts) -> Hits:
    """Reasons for a blank that are not one of the listed words."""
    words = facts.text("missing_because")
    if not ~same(words, "").any():
        return NO_HITS
    others = fold_column(words, lambda text: "" if _is_listed_reason(text) else text)
    return hits_where(others != "", word=words)


def _is_listed_reason(reason: str) -> bool:
    return closing_word(reason) != "" or fold(EYE_HEIGHT_WORDS) in fold(reason)
