"""What was typed for an option, as the value that its job takes."""

from collections.abc import Callable, Sequence
from typing import Any

from xlhelpers.jobs.job import Option
from xlhelpers.wording import list_words

# how a kind of number is read, what it is called, and an example
NUMBERS: dict[str, tuple[Callable[[str], float], str, float]] = {
    "number": (float, "a number", 0.5),
    "whole number": (int, "a whole number", 7),
}
TEXTS = ("text", "texts")


def is_path(option: Option) -> bool:
    """Return whether an option takes a file or folder, or several."""
    return option.kind not in (*NUMBERS, *TEXTS, "choice", "flag")


def read_value(option: Option, text: str, name: str) -> Any:
    """Return the value of an option as typed: a number, a text, or else a path.

    Parameters
    ----------
    option : Option
        Its record; not a flag.
    text : str
        What was typed; one text of several.
    name : str
        What the door calls the option, for the sentence.

    Raises
    ------
    ValueError
        It is not a number or not one of the choices, with what to type instead.
    """
    if option.kind in NUMBERS:
        read, what, example = NUMBERS[option.kind]
        try:
            return read(text)
        except ValueError:
            like = _number_like(text, read) or f"{option.default or example:g}"
            raise ValueError(
                f"{name} {text} is not {what}. Type a number such as {like}."
            ) from None
    if option.choices and text not in option.choices:
        raise ValueError(f"{name} {text} is not known.{offer(text, option.choices)}")
    if option.choices or option.kind in TEXTS:
        return text
    from pathlib import Path  # not needed for the help

    return Path(text)


def offer(word: str, words: Sequence[str]) -> str:
    """Return the sentences that name the words there are, and the one that was probably meant."""
    near = near_word(word, words) if word else ""
    return f"{near} Choose {list_words(words, 'or')}."


def near_word(word: str, words: Sequence[str]) -> str:
    """Return " Did you mean fill?", or "" where no word is near."""
    from difflib import get_close_matches  # only needed for a mistake

    near = get_close_matches(word, words, 1)
    return f" Did you mean {near[0]}?" if near else ""


def _number_like(text: str, read: Callable[[str], float]) -> str:
    """Return the number that was probably meant, as in "10,5" or "10 %"; "" for none."""
    meant = text.replace(",", ".").replace("%", "").strip()
    try:
        return meant if read(meant) == read(meant) else ""
    except ValueError:
        return ""
