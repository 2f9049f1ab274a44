"""Which findings touch which tree: its gravest severity, and what was found in plain words."""

from dataclasses import dataclass

import numpy as np

from xlhelpers.survey.identity import finding_ids
from xlhelpers.survey.outcome import Outcome

_GRAVITY = {"note": 1, "warning": 2, "error": 3}
_WORDS = np.array(["", "", "warning", "error"], dtype=object)
BETWEEN = "  |  "


@dataclass(frozen=True)
class FindingsOfTrees:
    """One entry a tree, in the order of the trees table.

    `gravest` is "error", "warning" or "" where nothing is open; `open` and `notes` are texts.
    """

    gravest: np.ndarray
    open: np.ndarray
    notes: np.ndarray


def findings_of_trees(outcome: Outcome) -> FindingsOfTrees:
    """Gather the findings by tree through the lines of the field sheet that they touch."""
    count = len(outcome.trees)
    of_line = outcome.setups["tree_position"].to_numpy(int)
    gravity = np.zeros(count, dtype=int)
    said: dict[bool, dict[int, list[str]]] = {True: {}, False: {}}
    identities = finding_ids(outcome.findings)
    for identity, finding in zip(identities, outcome.findings, strict=True):
        is_open = finding.severity != "note"
        text = f"{finding.severity} {identity}: {finding.message}" if is_open else finding.message
        touched = {int(of_line[line]) for line in finding.lines if 0 <= line < len(of_line)}
        for tree in touched - {-1}:
            gravity[tree] = max(gravity[tree], _GRAVITY[finding.severity])
            said[is_open].setdefault(tree, []).append(text)
    return FindingsOfTrees(_WORDS[gravity], _joined(said[True], count), _joined(said[False], count))


def _joined(texts: dict[int, list[str]], count: int) -> np.ndarray:
    joined = np.full(count, "", dtype=object)
    for tree, several in texts.items():
        joined[tree] = BETWEEN.join(dict.fromkeys(several))
    return joined
