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
    r"\bstands? (?:twice|\d|two|three|apart|beside|on|in|at(?! least)|there|still)\b": "is",
    r"\blies?\b": "is",
    r"\bholds? (?:a formula|the formula|no|none|more|only|values|something)\b": "has, is",
    r"\blacks?\b|\bcarries\b": "does not have",
    r"\btold of\b|\bit is said\b|\bis said\b": "is shown; name the sheet that says so",
    r"\bwhether\b": "if",
    r"\bsettled?\b": "resolve, check against, confirm",
    r"\bdoubts?\b|\bslips?\b": "doubtful reading; typing mistake",
    r"\b(?:likelier|asked about|looks? as if|carried across|sighted)\b": "probably; aimed at",
    r"\bof (?:ours|yours)\b|\bthe office's\b|[;,] ours\b": "your formulas; the computed value",
    r"\bfrom outside\b|\bvalues alone\b|\bgives? nothing\b|\bcomes? of these\b": "only values",
    r"\b(?:hence|thereof|thereby|wherein|upon)\b": "so, of it, by that, in which, on",
    r"\bgr[ea]y\b|\bmetres?\b": "shaded; m",
    r"\bcomputer person\b|\blooks after the computers\b|\banswers for\b": "IT support",
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
    r"(?<!there )\bis no (?!longer\b)\w": "is not a",
    r"\bat the least\b": "at least",
    r"\bare meant\b|\bis meant\b": "if it is",
    r"\bbeside it\b": "in the same folder",
    r"\bnothing of\b|\bnothing is said\b": "say what is missing",
    r"\bfurther\b": "another, more",
    r"\bwants? (?:a look|a second)\b": "needs",
    r"\banew\b": "again",
    r"\bticked?\b": "marked",
}
# texts that are data: words in workbooks of earlier versions, which are read for ever
DATA = {
    "Diameters are other trees' below": "former label of a rule",
    "foot above eye is ticked, but its reading is not +": "former words of the first warning",
    "its tree is no longer keyed": "former word of a decision",
    "No check of the instrument stands in the workbook.": "evidence that fingerprints are made of",
    "Rests on": "former heading of a column",
    "Keyed twice": "name of a tab",
    "Keying rates": "name of a tab",
    "per cent": "a unit that people type",
}
PLACEHOLDER = re.compile(r"\{[^{}]*\}")


def texts(path: Path) -> Iterator[tuple[int, str]]:
    """Yield the texts of a module, without docstrings, single words and former labels."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    statements = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    former = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.keyword) and node.arg == "former"
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        if id(node) not in statements | former and " " in node.value.strip():
            # the names of placeholders are not shown to anybody
            yield node.lineno, PLACEHOLDER.sub("…", node.value)


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
