"""Trees measured again: the sample that is drawn, and the report on both measurements."""

import argparse
import secrets
import sys
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
from xlhelpers.jobs.recheck.book import PlanFacts, plan_book
from xlhelpers.jobs.recheck.tabs import render_report
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.reading.objectives import read_objectives
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.typed.folding import fold

DONE, NOT_MET, FAILED = 0, 1, 2
_GREATEST_SEED = 10**9


def run(options: argparse.Namespace) -> int:
    """Draw the sample or write the report, and return the exit code."""
    try:
        return _plan(options) if options.action == "plan" else _report(options)
    except (WorkbookError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED


def _plan(options: argparse.Namespace) -> int:
    seed = secrets.randbelow(_GREATEST_SEED) if options.seed is None else options.seed
    facts = plan(options.book, options.out, options.share, seed, options.with_places)
    print(
        f"Wrote {options.out}: {facts.drawn} of {facts.of} trees to measure again, of "
        f"{facts.crews} crews, at least one of each; seed {facts.seed}."
    )
    print("It holds none of the first values. Print its field sheet for the crew and key it there.")
    return DONE


def plan(book: Path, out: Path, share: float, seed: int, with_places: bool = False) -> PlanFacts:
    """Draw trees and write the workbook for their second measurement.

    Parameters
    ----------
    book, out : Path
        The survey, which stays as it is, and the workbook to write, which must not be there yet.
    share : float
        Share of each crew's trees, above 0 and at most 1.
    seed : int
        Draws the same trees each time.
    with_places : bool
        Whether bearing and distance from the plot centre are given, to find the trees.

    Raises
    ------
    WorkbookError
        An argument is wrong, the survey cannot be read or holds no tree, or nothing is written.
    """
    if not 0 < share <= 1:
        raise WorkbookError(f"--share {share:g}: give a share above 0 and at most 1, such as 0.05.")
    refuse_new_book(out)
    crew_book = open_crew_book(book)
    outcome = evaluate(crew_book.survey)
    drawn = draw(crew_book.survey, outcome.trees, share, seed)
    if not len(drawn):
        raise WorkbookError(f"{book.name} holds no numbered tree that could be measured again.")
    trees = outcome.trees.iloc[drawn]
    crews = {fold(crew) for crew in crews_of(crew_book.survey, trees)}
    facts = PlanFacts(share, seed, len(drawn), len(outcome.trees), len(crews), with_places)
    write_book(out, plan_book(crew_book, trees, facts).to_bytes(), backup=False)
    return facts


def _report(options: argparse.Namespace) -> int:
    judged, units = report(options.first, options.again, options.out, options.known)
    whole = [one for one in judged if not one.by]
    for one in whole:
        print(agreement_sentence(one, units))
    print(f"Wrote {options.out}: by crew, person and instrument, with charts and all pairs.")
    missed = any(one.verdict.startswith("not met") for one in whole)
    return NOT_MET if missed else DONE


def report(first: Path, again: Path, out: Path, known: bool = False) -> tuple[list[Judged], Units]:
    """Compare two measurements of the same trees and write the report.

    Parameters
    ----------
    first, again : Path
        The survey, and the second measurement or the known values of a training plot; both stay
        as they are. The objectives are read from the second, else the first, else the defaults.
    out : Path
        The report; it must not be there yet.
    known : bool
        Whether the second values are taken as true.

    Raises
    ------
    WorkbookError
        A workbook cannot be read, they share no tree, or nothing is written.
    """
    refuse_new_book(out)
    if first.exists() and again.exists() and first.samefile(again):
        raise WorkbookError(f"{first} is named twice; name both measurements.")
    packages = []
    for path in (first, again):
        refuse_unreadable(path)
        packages.append(Package.open(path))
    outcomes = [compute(package) for package in packages]
    units: Units = "us" if outcomes[0].survey.units == "us" else "metric"
    objectives = DEFAULTS
    for package, outcome in zip(packages, outcomes, strict=True):  # the second's, if it has any
        own: Units = "us" if outcome.survey.units == "us" else "metric"
        objectives = read_objectives(package, own) or objectives
    pairs = pair_trees(outcomes[0], outcomes[1], [one.key for one in objectives])
    if not is_measured(outcomes[1].trees).any():
        raise WorkbookError(
            f"{again.name}: nothing is keyed yet; key what the crew wrote there, "
            "then run recheck report again."
        )
    if pairs.empty:
        raise WorkbookError(
            f"{first.name} and {again.name} hold no tree of the same plot and "
            "number; see that the numbers are alike."
        )
    judged = judge_pairs(pairs, objectives)
    data = render_report(pairs, judged, units, (first.name, again.name, known))
    write_book(out, data, backup=False)
    return judged, units
