"""Findings of one mistake, put under one of them, so that one decision resolves all.

One wrong distance brings an eye too high, a tree too tall and a stand too close. Where findings
that share a line have the same likeliest cause, they are that one mistake. Crown tops and crown
bases of set-ups that disagree go with the total height.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding

_SEVERITIES = ("error", "warning", "note")
_BLOCKS = ("paper", "crew", "again")
_TOTAL = "repeats-disagree-tip"
_WITH_TOTAL = frozenset(("repeats-disagree-top", "repeats-disagree-base"))


def fold_findings(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the findings, in their order, with those of one mistake under one of them.

    Parameters
    ----------
    findings : sequence of Finding
        All of a survey. Notes, and findings that are under another one already, stay as they are.
    """
    ids = finding_ids(findings)
    order = sorted(
        (i for i, f in enumerate(findings) if f.severity != "note" and not f.under and f.lines),
        key=lambda i: (_SEVERITIES.index(findings[i].severity), _BLOCKS.index(findings[i].block)),
    )
    parents: dict[int, list[int]] = {}
    folded = list(findings)
    for i in order:
        touching = dict.fromkeys(at for line in findings[i].lines for at in parents.get(line, ()))
        parent = _find_parent(findings, i, touching)
        if parent is not None:
            folded[i] = replace(findings[i], under=ids[parent])
            continue
        for line in findings[i].lines:
            parents.setdefault(line, []).append(i)
    return tuple(folded)


def _find_parent(findings: Sequence[Finding], child: int, parents: Iterable[int]) -> int | None:
    return next((at for at in parents if _is_one_mistake(findings[at], findings[child])), None)


def _is_one_mistake(parent: Finding, child: Finding) -> bool:
    if parent.check == _TOTAL and child.check in _WITH_TOTAL:
        return not child.causes or not parent.causes or parent.causes[0] == child.causes[0]
    return bool(parent.causes and child.causes) and parent.causes[0] == child.causes[0]
