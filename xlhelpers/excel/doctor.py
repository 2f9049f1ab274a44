"""Looks for every known trouble of a set-up and says in a sentence what to do about it."""

from collections.abc import Iterable
from dataclasses import dataclass

from xlhelpers.excel.doctor_checks import CHECKS, Check, Verdict
from xlhelpers.excel.machine import Machine

NOT_TRIED = {"windows": "not tried on Windows", "macos": "not tried on macOS"}
_HEADS = {"look": "LOOK", "fine": "fine", "unseen": "cannot be seen"}


@dataclass(frozen=True)
class Looked:
    """One check and what came of it."""

    check: Check
    verdict: Verdict


def examine(machine: Machine, checks: Iterable[Check] = CHECKS) -> list[Looked]:
    """Make every check that belongs to the system; one that fails is told and stops no other."""
    found = []
    for check in checks:
        if machine.system not in check.systems:
            continue
        try:
            verdict = check.look(machine)
        except Exception as error:  # a doctor that stumbles helps nobody
            verdict = Verdict("unseen", f"the check itself failed: {error}")
        found.append(Looked(check, verdict))
    return found


def say(machine: Machine, looked: Iterable[Looked]) -> list[str]:
    """Return one paragraph for each check, those to look at first."""
    order = list(_HEADS)
    ranked = sorted(looked, key=lambda one: order.index(one.verdict.state))
    tried = NOT_TRIED.get(machine.system)
    said = []
    for one in ranked:
        seen = f": {one.verdict.found}" if one.verdict.found else ""
        line = f"{_HEADS[one.verdict.state]:<15} {one.check.name}{seen}"
        if one.verdict.state != "fine":
            line += f"\n{'':<16}Do: {one.check.action}"
        said.append(line)
    count = sum(one.verdict.state == "look" for one in ranked)
    summary = f"{count} of {len(ranked)} to look at." if count else "Nothing to look at."
    return [*said, f"{summary}{f' These checks were {tried}.' if tried else ''}"]
