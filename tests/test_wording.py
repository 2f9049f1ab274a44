"""No sentence for people uses a phrase that nobody would say aloud."""

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parent.parent / "xlhelpers"
# stiff phrase -> what a colleague would say
STIFF = {
    r"in each other's place": "in each other's box, swapped",
    r"\bof which\b": "name the thing",
    r"\b(?:is|are) to be\b": "say who does it",
    r"\bas allowed\b": "say what is allowed",
    r"\bin the other order\b": "swapped",
    r"\bwith the point moved\b": "the decimal point is in the wrong place",
    r"\bstands? (?:twice|\d|two|three|apart|beside|on|in|at|there|still)\b": "is, is listed",
    r"\blies? (?:above|below|beside|near|between|apart|further|within|in|at)\b": "is",
    r"\bkeyed?\b|\bkeying\b|\bkeyings\b": "type, enter, entered, entry",
    r"\bmend(?:ed|s)?\b": "correct",
    r"\brests? on\b": "is based on, uses, has an open finding",
    r"\bso many\b": "say how many",
    r"\bperhaps\b|\bseems? to\b|\blikely\b": "probably, possibly",
    r"\bper cent\b": "%",
    r"\bwhoever\b|\bthose who\b": "the person who",
    r"\bthe truck\b": "the crew",
    r"\bcarriageway\b|\bcar park\b": "road; paved, level ground",
    r"\breckoned\b|\bborne out\b|\bfar out\b": "computed; confirmed; how inaccurate",
    r"\bdealt\b": "shuffled",
    r"\bother trees'": "mixed up",
    r"\bis no (?:finding|condition|number|kind|code|place|workbook|date|whole)\b": "is not a",
    r"\bat the least\b": "at least",
    r"\bare meant\b|\bis meant\b": "if it is",
    r"\bbeside it\b": "in the same folder",
    r"\bnothing of\b|\bnothing is said\b": "say what is missing",
    r"\bfurther (?:set-up|cause|finding|tree|line)": "another, more",
    r"\bwants? (?:a look|a second)\b": "needs",
    r"\banew\b": "again",
    r"\bticked?\b": "marked",
}
# words of workbooks that are in use, read for ever, and file formats' own words
DATA = {"mended", "key_text"}


def texts(path: Path) -> Iterator[tuple[int, str]]:
    """Yield the texts of a module that are neither docstrings nor single words."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    statements = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if is_text and id(node) not in statements and " " in node.value.strip():
            yield node.lineno, node.value


def stiff_phrases() -> list[str]:
    return [
        f"{path.relative_to(PACKAGE)}:{line}: “{found[0]}” ({better}): {text.strip()[:70]}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for line, text in texts(path)
        for phrase, better in STIFF.items()
        if (found := re.search(phrase, text, re.IGNORECASE)) and text not in DATA
    ]


def test_no_stiff_phrase_is_left() -> None:
    found = stiff_phrases()
    assert not found, f"{len(found)} stiff phrases:\n" + "\n".join(found)


if __name__ == "__main__":
    rows = stiff_phrases()
    print("\n".join(rows))
    print(Counter(row.split(":")[0] for row in rows).most_common(), len(rows))
