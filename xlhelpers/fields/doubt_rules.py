"""The limits of the doubt: rows of the survey rules, each with what it rests on."""

from xlhelpers.fields.record import Field

BLOCK = "doubt"

TRIED = "Set on open tree data of six cities with simulated mistakes (McPherson et al. 2016)."
PRACTICE = "Common practice, no source."
DIGITS = "Usage of the United Nations for Whipple's index."
BASES = (TRIED, PRACTICE, DIGITS)


def _limit(name: str, label: str, words: str, default: float, quantity: str, low: float) -> Field:
    return Field(
        name,
        label,
        "number",
        words,
        quantity=quantity,
        default=default,
        filled_by="office",
        block=BLOCK,
        low=low,
    )


DOUBT: tuple[Field, ...] = (
    _limit(
        "doubt_odds", "Ask about a line from odds of",
        f"Odds that a mistake was made; lower asks about more lines. {TRIED}",
        0.15, "number", 0.001,
    ),
    _limit(
        "doubt_named", "Name a cause from a share of",
        f"A cause is named if it holds this share of the explanation. {TRIED}",
        0.08, "percent", 0.001,
    ),
    _limit(
        "doubt_beats_unknown", "A cause explains better by",
        f"So many times better than a mistake of which nothing is known. {TRIED}",
        5.0, "number", 0.1,
    ),
    _limit(
        "doubt_settled", "Only state one limit below odds of",
        f"If all else fits, a single exceeded limit is a note and no warning. {TRIED}",
        0.1, "number", 0.0001,
    ),
    _limit(
        "doubt_batch_odds", "Ask about a whole plot from odds of",
        f"Odds that a plot, a day or an instrument was read on another scale. {TRIED}",
        1000.0, "number", 1.0,
    ),
    _limit(
        "doubt_batch_lines", "Fewest lines of such a group",
        f"With fewer lines each is asked about alone. {PRACTICE}",
        5.0, "count", 2.0,
    ),
    _limit(
        "strangers_wanted", "Ask if diameters are the trees' own from",
        f"So many spreads own ones would fit better than dealt ones, or too little shows. {TRIED}",
        6.0, "number", 3.0,
    ),
    _limit(
        "strangers_fit", "Diameters are other trees' below",
        f"So many spreads better than dealt ones; those of other trees fit by about 0. {TRIED}",
        2.5, "number", 0.0,
    ),
    _limit(
        "reference_weight", "Open tree data count as",
        f"So many trees of the survey's own; more of these outweigh them. {TRIED}",
        20.0, "count", 1.0,
    ),
    _limit(
        "habit_weight", "Habits of all count as",
        f"So many lines of a person's own; more of these outweigh them. {TRIED}",
        10.0, "count", 1.0,
    ),
    _limit(
        "heaping_readings", "Look at last digits from",
        f"Fewest readings of one person before their last digits are counted. {PRACTICE}",
        100.0, "count", 10.0,
    ),
    _limit(
        "heaping_index", "Last digits 0 and 5 from index",
        f"100 where they are as frequent as all others, 500 where there are no others. {DIGITS}",
        175.0, "count", 100.0,
    ),
    _limit(
        "same_distance_lines", "One distance for all from",
        f"So many lines of a plot with one distance are asked about. {PRACTICE}",
        8.0, "count", 3.0,
    ),
    _limit(
        "check_days", "Instrument checks last",
        f"Days after which a check of an instrument is not recent. {PRACTICE}",
        366.0, "count", 1.0,
    ),
)  # fmt: skip
