"""What the decisions of a list were read as, in sentences."""

from collections import Counter
from collections.abc import Iterable, Iterator

from xlhelpers.survey.decisions.decisions import LISTED, Standing, decision_word
from xlhelpers.survey.decisions.kind_words import kind_word
from xlhelpers.survey.typed.words import closing_word
from xlhelpers.wording import list_words, plural

_NAMED = 5


def say_decisions(standings: Iterable[Standing]) -> Iterator[str]:
    """Yield what decisions in other words were read as, and which words are no decision.

    Parameters
    ----------
    standings : iterable of Standing
        Where the findings stand, each with its decision.
    """
    words = (stands.decision.word for stands in standings)
    counts = Counter(word for word in words if word)
    read: list[str] = []
    unknown: list[str] = []
    for word, count in counts.items():
        meant = decision_word(word)
        if not meant:
            unknown.append(f"“{word}” ({plural(count, 'row')})")
        elif not kind_word(word)[1] and not closing_word(word):
            read.append(f"“{word}” was read as {meant} ({plural(count, 'row')})")
    if read:
        yield f"To check: {_few(read)}"
    if unknown:
        one = len(unknown) == 1
        verb = "is not a decision. It stays" if one else "are not decisions. They stay"
        rows = sum(count for word, count in counts.items() if not decision_word(word))
        open_ones = "the finding is open" if rows == 1 else "the findings are open"
        yield f"To check: {_few(unknown)} {verb} as typed, and {open_ones}. Choose {LISTED}"


def _few(texts: list[str]) -> str:
    more = len(texts) - _NAMED
    return list_words([*texts[:_NAMED], *([f"{more:,} more"] if more > 0 else [])])
