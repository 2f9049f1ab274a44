"""A check that fails on most lines of a survey: one question about the rule, not many findings.

Sixty trees in a hundred whose second width is the larger are no sixty typing mistakes. The crews
measure something else than the survey rules say. One finding then names the rule and asks; the
findings on the lines are left out, and are back as soon as fewer lines fail.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.rules import RULES
from xlhelpers.survey.checks.completeness import foot_missing
from xlhelpers.survey.checks.facts import Facts, any_of, same
from xlhelpers.survey.checks.wording import write_value
from xlhelpers.survey.model import Finding, Survey
from xlhelpers.survey.typed.folding import Flags
from xlhelpers.wording import list_words

CHECK = "rule-to-confirm"
# more than this share of the lines that could fail, and at least so many: common practice
SHARE, FEWEST = 0.5, 10
_NAMED = 3


@dataclass(frozen=True)
class Question:
    """One check that a rule can explain: the rule, the lines that could fail, what to say.

    `could` marks lines or trees, as the check does. `observation` follows the number of those that
    fail; `action` says what to choose. `of_plots` says that the rule is a column of Plots.
    """

    check: str
    rule: str
    could: Callable[[Facts], Flags]
    observation: str
    action: str
    of_plots: bool = False

    @property
    def label(self) -> str:
        """Return the label of the rule."""
        return (PLOTS if self.of_plots else RULES)[self.rule].label


def _with_both_widths(facts: Facts) -> Flags:
    return np.isfinite(facts.tree("width_widest")) & np.isfinite(facts.tree("width_across"))


def _living_measured(facts: Facts) -> Flags:
    return facts.is_measured & ~same(facts.condition, "D")


def _living_first(facts: Facts) -> Flags:
    return facts.is_first & facts.has_numbers & ~same(facts.condition, "D")


def _has_numbers(facts: Facts) -> Flags:
    return facts.has_numbers


def _every_tree(facts: Facts) -> Flags:
    return np.ones(len(facts.trees), dtype=bool)


def _has_readings(facts: Facts) -> Flags:
    read = any_of([facts.has_value(name) for name in ("tip_reading", "foot_reading")])
    return (read & ~facts.shows_height) | foot_missing(facts)


QUESTIONS: tuple[Question, ...] = (
    Question(
        "width-across-wider",
        "crown_widths",
        _with_both_widths,
        "the second crown width is larger than the one called widest",
        "If crews measure in two fixed directions, choose “two fixed directions”. If they "
        "measure the widest first, accept this. The mean width is the same either way.",
    ),
    Question(
        "widths-blank",
        "crown_widths",
        _living_first,
        "both crown widths are missing",
        "If the survey measures no crown widths, choose “not measured”. If it does, enter them.",
    ),
    Question(
        "radii-missing",
        "crown_widths",
        _living_first,
        "the crown radii are missing",
        "If crews measure widths and not radii, choose that. If not, enter the radii.",
    ),
    Question(
        "radii-unasked",
        "crown_widths",
        _every_tree,
        "crown radii are entered, which are not used",
        "If crews measure four radii, choose “four radii”. If not, clear these cells.",
    ),
    Question(
        "base-blank",
        "crown_depth",
        _living_measured,
        "the crown base reading is missing",
        "If the survey measures heights alone, choose “not measured”. If not, enter the readings.",
    ),
    Question(
        "no-readings",
        "heights_on",
        _has_numbers,
        "there are no distance and no readings",
        "If only some trees get a height, choose “some trees”. If not, enter the readings.",
    ),
    Question(
        "foot-blank",
        "foot_by",
        _has_readings,
        "the foot reading is missing, so there is no height",
        "If crews used their eye height on level ground, choose “eye height” for each such "
        "plot. If not, enter the readings.",
        of_plots=True,
    ),
)
_OF_CHECK: Mapping[str, Question] = {question.check: question for question in QUESTIONS}


def ask_about_rules(
    survey: Survey, setups: pd.DataFrame, trees: pd.DataFrame, findings: Sequence[Finding]
) -> tuple[Finding, ...]:
    """Return the findings with one question in place of those that concern most lines.

    Parameters
    ----------
    survey : Survey
        The tables as entered.
    setups, trees : DataFrame
        As `compute_setups` and `build_trees` give them.
    findings : sequence of Finding
        Those of the checks.

    Returns
    -------
    tuple of Finding
        In their order; a question is where the first finding was that it replaces. It touches no
        line, because a rule makes no number doubtful, and it is decided anew when the rule changes.
    """
    facts = Facts(survey, setups, trees)
    asked = {
        check: question
        for check, question in _OF_CHECK.items()
        if _concerns_most(facts, question, [f for f in findings if f.check == check])
    }
    shortlist: list[Finding] = []
    for finding in findings:
        if finding.check not in asked:
            shortlist.append(finding)
        elif not any(f.check == CHECK and f.fields == finding.fields for f in shortlist):
            alike = [f for f in findings if f.check == finding.check]
            shortlist.append(_ask(facts, asked[finding.check], alike))
    return tuple(shortlist)


def _concerns_most(facts: Facts, question: Question, findings: Sequence[Finding]) -> bool:
    if len(findings) < FEWEST:
        return False
    return len(findings) > SHARE * int(question.could(facts).sum())


def _ask(facts: Facts, question: Question, findings: Sequence[Finding]) -> Finding:
    first, survey = findings[0], facts.survey
    could = int(question.could(facts).sum())
    sheet = PLOTS.tab if question.of_plots else RULES.tab
    value = "" if question.of_plots else str(survey.rules[question.rule])
    now = f" It says “{value}”." if value else ""
    there = sheet if (sheet, question.rule) in survey.columns else ""
    unit = "trees" if question.could(facts).shape == (len(facts.trees),) else "lines"
    many = write_value("count", len(findings), survey.units)
    return Finding(
        check=CHECK,
        severity=first.severity,
        block="crew",
        subject=(("rule", question.label),),
        message=f"On {many} of {could} {unit}, {question.observation} "
        f"(first: {_places(findings)}). Is “{question.label}” on {sheet} right?{now}",
        action=question.action,
        fields=first.fields,
        sheet=there,
        column=survey.columns.get((there, question.rule)),
        evidence=(f"{question.rule} {value}".strip(),),
        about=("identity",),
    )


def _places(findings: Iterable[Finding]) -> str:
    named = []
    for finding in list(findings)[:_NAMED]:
        subject = dict(finding.subject)
        named.append(f"plot {subject.get('plot', '')} tree {subject.get('tree', '')}")
    return list_words(named)
