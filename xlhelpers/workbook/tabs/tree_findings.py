"""Which findings touch which tree: its gravest severity, and what was found in plain words."""

from dataclasses import dataclass

import numpy as np

from xlhelpers.survey.identity import finding_ids
from xlhelpers.survey.outcome import Outcome

_GRAVITY = {"warning": 1, "error": 2}
_WORDS = np.array(["", "warning", "error"], dtype=object)
BETWEEN = "  |  "


@dataclass(frozen=True)
class FindingsOfTrees:
    """One entry a tree, in the order of the trees table.

    `gravest` is "error", "warning" or "" where nothing is open; `open`, `settled` (accepted or
    closed, with the decision) and `notes` are texts.
    """

    gravest: np.ndarray
    open: np.ndarray
    settled: np.ndarray
    notes: np.ndarray


def findings_of_trees(outcome: Outcome) -> FindingsOfTrees:
    """Gather the findings by tree through the lines of the field sheet that they touch."""
    count = len(outcome.trees)
    of_line = outcome.setups["tree_position"].to_numpy(int)
    gravity = np.zeros(count, dtype=int)
    said: dict[str, dict[int, list[str]]] = {"open": {}, "settled": {}, "note": {}}
    identities = finding_ids(outcome.findings)
    every = zip(identities, outcome.findings, outcome.standings, strict=True)
    for identity, finding, stands in every:
        kind, text = "note", finding.message
        if stands.state != "note":
            kind = "open" if stands.is_open else "settled"
            text = f"{finding.severity} {identity}: {text}"
            text = text if stands.is_open else f"{stands.decision.said} — {text}"
        touched = {int(of_line[line]) for line in finding.lines if 0 <= line < len(of_line)}
        for tree in touched - {-1}:
            if stands.is_open:
                gravity[tree] = max(gravity[tree], _GRAVITY[finding.severity])
            said[kind].setdefault(tree, []).append(text)
    texts = (_joined(said[kind], count) for kind in ("open", "settled", "note"))
    return FindingsOfTrees(_WORDS[gravity], *texts)


def _joined(texts: dict[int, list[str]], count: int) -> np.ndarray:
    joined = np.full(count, "", dtype=object)
    for tree, several in texts.items():
        joined[tree] = BETWEEN.join(dict.fromkeys(several))
    return joined
