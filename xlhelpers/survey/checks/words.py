"""Words that the workbook does not know: proposed for, never replaced. One finding a word."""

import difflib
from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.choices import CHOICES, CLOSING_WORDS, EYE_HEIGHT_WORDS
from xlhelpers.measure.instruments import KINDS
from xlhelpers.survey.checks.facts import Facts, Texts, any_of, grouped, same
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, NOTHING, Check, Hits, hits
from xlhelpers.survey.checks.wording import listed
from xlhelpers.survey.typed.folding import Flags, codes_of, fold, fold_column, positions_in
from xlhelpers.survey.typed.species_names import (
    LEAST_LIKENESS,
    fold_species,
    match_species,
    nearest_names,
)
from xlhelpers.survey.typed.words import closing_word, identifier_key, initials_in


def nearest(word: str, known: Iterable[str], count: int = 3) -> tuple[str, ...]:
    """Return the known words that are most like a word, the nearest first."""
    shown = {fold(name): name for name in known if name}
    near = difflib.get_close_matches(fold(word), list(shown), count, LEAST_LIKENESS)
    return tuple(shown[name] for name in near)


def _proposal(names: tuple[str, ...]) -> str:
    return f"Nearest: {listed(names)}." if names else "Nothing on it is near."


def _by_word(
    words: Texts, unknown: Flags, kind: str, propose: Callable[[str], tuple[str, ...]]
) -> Hits:
    """One hit for each different unknown word, at the first row that has it."""
    rows = np.flatnonzero(unknown)
    if len(rows) == 0:
        return NOTHING
    folded = fold_column(words[rows], fold_species if kind == "species" else identifier_key)
    groups = list(grouped(codes_of(folded), rows).values())
    first = np.array([group[0] for group in groups])
    shown = [str(words[row]) for row in first]
    return Hits(
        first,
        {
            "word": shown,
            "count": np.array([len(group) for group in groups]),
            "proposal": [_proposal(propose(word)) for word in shown],
        },
        lines=groups,
        subjects=[((kind, word),) for word in shown],
        evidence=[(f"{kind} {word}",) for word in shown],
    )


def _on_plots(facts: Facts, found: Hits) -> Hits:
    """Turn hits over rows of the plots sheet into such that touch the lines of these plots."""
    if len(found.rows) == 0:
        return found
    on_plot = facts.lines_of_plots()
    plots = found.lines or ()
    touched = [tuple(line for plot in group for line in on_plot.get(plot, ())) for group in plots]
    return Hits(
        found.rows, found.values, touched, plots, found.subjects, found.fields, found.evidence
    )


def species_unknown(facts: Facts) -> Hits:
    """Names that are not on the species sheet."""
    words = facts.text("species")
    unknown = ~same(words, "") & (match_species(words, facts.survey.species) < 0)
    return _by_word(
        words, unknown, "species", lambda word: nearest_names(word, facts.survey.species)
    )


def plot_unknown(facts: Facts) -> Hits:
    """Plots of the field sheet that are not on the plots sheet."""
    words = facts.text("plot")
    unknown = ~same(words, "") & (facts.plot_position < 0)
    known = facts.column("plots", "plot")
    return _by_word(words, unknown, "plot", lambda word: nearest(word, known))


def line_instrument_unknown(facts: Facts) -> Hits:
    """Instruments named on lines that are not on the instruments sheet."""
    known = facts.column("instruments", "instrument")
    words = facts.text("instrument")
    return _by_word(
        words, facts.line_instrument_unknown, "instrument", lambda word: nearest(word, known)
    )


def plot_instrument_unknown(facts: Facts) -> Hits:
    """Instruments named for plots that are not on the instruments sheet."""
    known = facts.column("instruments", "instrument")
    words = facts.column("plots", "instrument")
    unknown = ~same(words, "") & (facts.plot_instrument < 0)
    found = _by_word(words, unknown, "instrument", lambda word: nearest(word, known))
    return _on_plots(facts, found)


def stratum_unknown(facts: Facts) -> Hits:
    """Strata of plots that are not on the strata sheet; without that sheet none is asked about."""
    known = facts.column("strata", "stratum")
    words = facts.column("plots", "stratum")
    unknown = ~same(words, "") & (positions_in(words, known, identifier_key) < 0)
    unknown = unknown & (len(known) > 0)
    return _on_plots(facts, _by_word(words, unknown, "stratum", lambda word: nearest(word, known)))


def person_unknown(facts: Facts) -> Hits:
    """Initials of crews and keyers that are not on the people sheet, if people are listed."""
    known = facts.column("people", "initials")
    if len(known) == 0 or len(facts.survey.plots) == 0:
        return NOTHING
    places, words = [], []
    for column in ("crew", "keyed_by"):
        for plot, text in enumerate(facts.column("plots", column)):
            for word in initials_in(str(text)):
                places.append(plot)
                words.append(word)
    folded = {identifier_key(name) for name in known}
    unknown = np.array([identifier_key(word) not in folded for word in words], dtype=bool)
    found = _by_word(
        np.array(words, dtype=object), unknown, "person", lambda word: nearest(word, known)
    )
    if len(found.rows) == 0:
        return NOTHING
    plot_of = np.array(places)
    groups = [tuple(dict.fromkeys(plot_of[list(each)].tolist())) for each in found.lines or ()]
    return Hits(
        plot_of[found.rows],
        found.values,
        [()] * len(groups),
        groups,
        found.subjects,
        evidence=found.evidence,
    )


def kind_unknown(facts: Facts) -> Hits:
    """Kinds of instruments that the program has no record of."""
    words = facts.column("instruments", "kind")
    folded = {fold(kind) for kind in KINDS}
    unknown = np.array([bool(w) and fold(str(w)) not in folded for w in words], dtype=bool)
    proposals = np.array(
        [
            _proposal(nearest(str(w), KINDS)) if u else ""
            for w, u in zip(words, unknown, strict=True)
        ],
        dtype=object,
    )
    return hits(unknown, word=words, proposal=proposals)


def condition_unknown(facts: Facts) -> Hits:
    """Conditions other than blank, T and D."""
    words = facts.text("condition")
    known = np.array(["", *CHOICES["condition"]], dtype=object)
    return hits(~_among(words, known), word=words)


def reason_in_other_words(facts: Facts) -> Hits:
    """Reasons for a blank that are none of the agreed words."""
    words = facts.text("missing_because")
    if not ~same(words, "").any():
        return NOTHING
    agreed = fold_column(words, lambda text: "" if _agreed(text) else text)
    return hits(agreed != "", word=words)


def _agreed(reason: str) -> bool:
    return closing_word(reason) != "" or fold(EYE_HEIGHT_WORDS) in fold(reason)


def _among(words: Texts, known: NDArray[np.object_]) -> Flags:
    return any_of([same(words, word) for word in known])


_SHEET = "Look at the paper sheet; mend the word, or add it to the sheet {sheet}."


def _unknown(
    check: str, table: str, name: str, sheet: str, fails: Callable[[Facts], Hits]
) -> Check:
    return Check(
        id=check,
        severity="error"
        if "species" not in check and sheet in ("Instruments", "Plots")
        else "warning",
        block="paper",
        table="plots" if table == "plots" else "lines",
        compares=(name,),
        message=f"“{{word}}” is not on the sheet {sheet} ({{count:times}}). {{proposal}}",
        action=_SHEET.replace("{sheet}", sheet),
        basis=DEFINITION,
        fails=fails,
    )


WORDS: tuple[Check, ...] = (
    _unknown("plot-unknown", "lines", "plot", "Plots", plot_unknown),
    _unknown(
        "plot-instrument-unknown",
        "plots",
        "plot.instrument",
        "Instruments",
        plot_instrument_unknown,
    ),
    _unknown(
        "line-instrument-unknown", "lines", "instrument", "Instruments", line_instrument_unknown
    ),
    _unknown("stratum-unknown", "plots", "plot.stratum", "Strata", stratum_unknown),
    _unknown("person-unknown", "plots", "plot.crew", "People", person_unknown),
    _unknown("species-unknown", "lines", "species", "Species", species_unknown),
    Check(
        "kind-unknown",
        "error",
        "paper",
        "instruments",
        ("instrument.kind",),
        "“{word}” is no kind of instrument that is known here. {proposal}",
        "Choose the kind from the list, so that its scales and its accuracy are known.",
        DEFINITION,
        kind_unknown,
    ),
    Check(
        "condition-unknown",
        "error",
        "paper",
        "lines",
        ("condition",),
        "“{word}” is no condition: blank is living, T a dead top, D dead.",
        "Look at the paper sheet and key blank, T or D.",
        DEFINITION,
        condition_unknown,
    ),
    Check(
        "reason-in-other-words",
        "warning",
        "paper",
        "lines",
        ("missing_because",),
        "“{word}” is none of the words that say why something is missing. What is blank on this "
        "line is not asked about apart from this.",
        f"Write one of {', '.join(CLOSING_WORDS)} or ?, and the rest in the note.",
        COMMON_PRACTICE,
        reason_in_other_words,
    ),
)
