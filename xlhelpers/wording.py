"""Small words that every job's sentences need."""


def plural(number: int, word: str, many: str = "") -> str:
    """Return "1 tree", "2 trees"."""
    return f"{number:,} {word if number == 1 else many or word + 's'}"
