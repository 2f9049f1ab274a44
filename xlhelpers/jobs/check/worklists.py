"""The open findings as lists for the people who can resolve them: the office, or the crew."""

from textwrap import wrap
from typing import Literal

import numpy as np

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.checks.run import natural
from xlhelpers.survey.decisions.decisions import block_now
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.measure_again import group_again, measure_again
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.outcome_words import finding_paragraph
from xlhelpers.wording import plural

Who = Literal["crew", "office"]
_WIDE, _INDENT = 96, " " * 6
# to be filled in by hand on the printed list
_OFFICE_LINE = f"    Paper says {'_' * 26}   Decision {'_' * 24}   Initials {'_' * 8}"
_CREW_LINE = f"{_INDENT}Answer {'_' * 56}   Initials {'_' * 8}"
_CAUTION = (
    "Before you set up, look for traffic, wires, and dead or hung tops. No safe place? Write NOT "
    "SAFE."
)


def worklist(outcome: Outcome, who: Who) -> list[str]:
    """Return the paragraphs of one list: whole findings for the office, lines for the crew."""
    chosen = _choose(outcome, who)
    ids = finding_ids(outcome.findings) if chosen else ()
    if who == "office":
        return [f"{finding_paragraph(ids[i], outcome.findings[i])}\n{_OFFICE_LINE}" for i in chosen]
    return _for_the_crew(outcome, chosen, ids)


def say_worklist(outcome: Outcome, who: Who, listed: int) -> str:
    """Return the sentence that closes a list."""
    others = len(outcome.open_findings) - listed
    sentence = f"{plural(listed, 'finding')} for the {who}."
    if not others:
        return sentence
    whom = "office" if who == "crew" else "crew"
    return f"{sentence} {others:,} more for the {whom} (--for {whom})."


def count_listed(outcome: Outcome, who: Who) -> int:
    """Return how many findings a list holds."""
    return len(_choose(outcome, who))


def _choose(outcome: Outcome, who: Who) -> list[int]:
    """Return the positions of the findings of one list; what the crew cannot settle is office's."""
    pairs = zip(outcome.findings, outcome.standings, strict=True)
    again = {at for group in group_again(outcome) for at in group}
    chosen = []
    for at, (finding, standing) in enumerate(pairs):
        crew = at in again or block_now(finding, standing) == "crew"
        if standing.is_open and crew == (who == "crew"):
            chosen.append(at)
    return chosen


def _for_the_crew(outcome: Outcome, chosen: list[int], ids: tuple[str, ...]) -> list[str]:
    again = {int(row["position"]): row for row in measure_again(outcome).to_dict("records")}
    # a tree is listed once, with all its points
    once = {at for group in group_again(outcome) for at in group[1:]}
    chosen = [at for at in chosen if at not in once]
    by_plot: dict[str, list[int]] = {}
    for i in chosen:
        plot = dict(outcome.findings[i].subject).get("plot", "")
        by_plot.setdefault(plot, []).append(i)
    paragraphs = [_CAUTION] if chosen else []
    for plot in sorted(by_plot, key=lambda name: (not name, natural(name))):
        lines = [f"PLOT {plot}" if plot else "SEVERAL PLOTS"]
        for i in sorted(by_plot[plot], key=lambda i: _order(outcome.findings[i])):
            finding = outcome.findings[i]
            what = "MEASURE AGAIN" if i in again else "ASK"
            lines.append(f"  {_who_in_plot(finding)}{what}  {ids[i]}")
            words = f"Measure {again[i]['points']}. {again[i]['found']}" if i in again else ""
            lines += wrap(
                words or finding.message, _WIDE, initial_indent=_INDENT, subsequent_indent=_INDENT
            )
            if i in again:
                row = again[i]
                lines += _where_to_stand(float(row["stand_away"]), str(row["place"]), outcome)
            lines.append(_CREW_LINE)
        paragraphs.append("\n".join(lines))
    return paragraphs


def _order(finding: Finding) -> tuple[list[tuple[int, int, str]], ...]:
    subject = dict(finding.subject)
    return natural(subject.get("tree", "")), natural(subject.get("set-up", ""))


def _who_in_plot(finding: Finding) -> str:
    subject = " ".join(f"{name} {value}" for name, value in finding.subject if name != "plot")
    return f"{subject}  " if subject else ""


def _where_to_stand(away: float, place: str, outcome: Outcome) -> list[str]:
    sentences = [f"Where it is: {place.removesuffix('.')}."] if place else []
    if np.isfinite(away):
        length, units = QUANTITIES["length"], outcome.survey.units
        least = np.ceil(away / length.factor(units) - 1e-9)
        sentences.insert(0, f"Stand at least {least:.0f} {length.unit(units)} away.")
    return [_INDENT + " ".join(sentences)] if sentences else []
