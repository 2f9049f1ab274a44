"""Small words that every job's sentences need."""

from collections.abc import Sequence


def plural(number: int, word: str, many: str = "") -> str:
    """Return "1 tree", "2 trees"."""
    return f"{number:,} {word if number == 1 else many or word + 's'}"


def list_words(words: Sequence[str], between: str = "and") -> str:
    """Return "a", "a and b", "a, b and c"."""
    return f" {between} ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))
