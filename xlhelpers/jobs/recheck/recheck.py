"""Trees measured again: the random choice of trees, and the report on both measurements."""

import secrets
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.estimates.remeasured import (
    DEFAULTS,
    Judged,
    agreement_sentence,
    crews_of,
    draw,
    is_measured,
    judge_pairs,
    pair_trees,
)
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.jobs.recheck import words
from xlhelpers.jobs.recheck.book import plan_book
from xlhelpers.jobs.recheck.tabs import render_report
from xlhelpers.jobs.recheck.words import PlanFacts
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.reading.objectives import read_objectives
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.typed.folding import fold

_GREATEST_SEED = 10**9


def run_plan(
    book: Path, out: Path, share: float, seed: int | None, with_places: bool, progress: Progress
) -> Done:
    """Choose trees at random and write the workbook for measuring them again."""
    seed = secrets.randbelow(_GREATEST_SEED) if seed is None else seed
    facts = plan(book, out, share, seed, with_places)
    return Done(words.say_planned(out, facts), files=(out,))


def plan(book: Path, out: Path, share: float, seed: int, with_places: bool = False) -> PlanFacts:
    """Draw trees and write the workbook for their second measurement.

    Parameters
    ----------
    book, out : Path
        The survey, which stays as it is, and the workbook to write, which must not exist yet.
    share : float
        Share of each crew's trees, above 0 and at most 1.
    seed : int
        Draws the same trees each time.
    with_places : bool
        Whether bearing and distance from the plot centre are given, to find the trees.

    Raises
    ------
    WorkbookError
        An argument is wrong, the survey cannot be read or has no tree, or nothing is written.
    """
    if not 0 < share <= 1:
        raise WorkbookError(words.SHARE_OUTSIDE.format(share=share))
    refuse_new_book(out)
    crew_book = open_crew_book(book)
    outcome = evaluate(crew_book.survey)
    drawn = draw(crew_book.survey, outcome.trees, share, seed)
    if not len(drawn):
        raise WorkbookError(words.NO_TREES.format(name=book.name))
    trees = outcome.trees.iloc[drawn]
    crews = {fold(crew) for crew in crews_of(crew_book.survey, trees)}
    facts = PlanFacts(share, seed, len(drawn), len(outcome.trees), len(crews), with_places)
    write_book(out, plan_book(crew_book, trees, facts).to_bytes(), backup=False)
    return facts


def run_report(first: Path, again: Path, out: Path, known: bool, progress: Progress) -> Done:
    """Compare two measurements; the exit code is 1 where an objective is missed."""
    judged, units = report(first, again, out, known)
    whole = [one for one in judged if not one.by]
    missed = any(one.verdict.startswith("not met") for one in whole)
    sentences = [agreement_sentence(one, units) for one in whole]
    sentences.append(words.SAVED_REPORT.format(out=out))
    return Done(sentences, TO_CHECK if missed else NOTHING_TO_CHECK, (out,))


def report(first: Path, again: Path, out: Path, known: bool = False) -> tuple[list[Judged], Units]:
    """Compare two measurements of the same trees and write the report.

    Parameters
    ----------
    first, again : Path
        The survey, and the second measurement or the known values of a training plot; both stay
        as they are. The objectives are read from the second, else the first, else the defaults.
    out : Path
        The report; it must not exist yet.
    known : bool
        Whether the second values are taken as true.

    Raises
    ------
    WorkbookError
        A workbook cannot be read, they share no tree, or nothing is written.
    """
    refuse_new_book(out)
    if first.exists() and again.exists() and first.samefile(again):
        raise WorkbookError(words.GIVEN_TWICE.format(path=first))
    packages = []
    for path in (first, again):
        refuse_unreadable(path)
        packages.append(Package.open(path))
    outcomes = [compute(package) for package in packages]
    units = outcomes[0].survey.units
    objectives = DEFAULTS
    for package, outcome in zip(packages, outcomes, strict=True):  # the second's, if it has any
        objectives = read_objectives(package, outcome.survey.units) or objectives
    pairs = pair_trees(outcomes[0], outcomes[1], [one.key for one in objectives])
    if not is_measured(outcomes[1].trees).any():
        raise WorkbookError(words.NOTHING_ENTERED.format(name=again.name))
    if pairs.empty:
        raise WorkbookError(words.NO_COMMON_TREE.format(first=first.name, again=again.name))
    judged = judge_pairs(pairs, objectives)
    data = render_report(pairs, judged, units, (first.name, again.name), known=known)
    write_book(out, data, backup=False)
    return judged, units
