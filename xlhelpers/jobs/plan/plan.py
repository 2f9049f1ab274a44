"""What to sample: how many plots for a margin, in which strata, and a random draw of them."""

import argparse
import math
import re
import secrets
import sys
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.errors import ReadingError, WorkbookError
from xlhelpers.estimates.plot_values import MEASURES, Measure
from xlhelpers.fields.quantities import ACRE_M2, Units
from xlhelpers.jobs.plan.allocation import StrataFigures, whole_town
from xlhelpers.jobs.plan.book import Drawn, PlanBook, not_drawn, render_plan
from xlhelpers.jobs.plan.draw import draw_places
from xlhelpers.jobs.plan.make_plan import Wanted, make_plan
from xlhelpers.jobs.plan.pilot import Pilot, pilot_of
from xlhelpers.jobs.plan.tables import places_from, strata_from
from xlhelpers.jobs.plan.words import percent, sentences
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.list_table import read_list
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import open_trees
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import plural

PLANNED, TO_LOOK_AT, FAILED = 0, 1, 2
_GREATEST_SEED = 10**9
# from so many times the planned plots on, what asks for them is said
_FAR_MORE = 2.0
_STRATA_TABLE = "a table with the columns stratum, area and variation (per cent)"
_PLACES_TABLE = (
    "a table of places, one row a place, with a column plot and, for strata, a column stratum"
)
_STATED = "With the stated variation"


def run(options: argparse.Namespace) -> int:
    """Make the plan, say it, and return the exit code: 1 where something is to be looked at."""
    try:
        book = plan(options)
    except (WorkbookError, ReadingError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    for sentence in (*sentences(book.plan, book.subject), *_others(book), *book.remarks):
        print(sentence)
    for look in book.looks:
        print(f"To look at: {look}")
    if book.drawn is not None:
        print(
            f"Drawn: {plural(len(book.drawn.rows), 'place')} of {book.drawn.places.table.name}, "
            f"seed {book.drawn.seed}."
        )
    if options.out is not None:
        print(f"Wrote {options.out}.")
    unreached = book.plan.chosen is None
    return TO_LOOK_AT if book.looks or unreached else PLANNED


def plan(options: argparse.Namespace) -> PlanBook:
    """Plan as the options say; write the workbook where a place is given.

    Parameters
    ----------
    options : Namespace
        As the command line gives it.

    Raises
    ------
    WorkbookError, ReadingError
        An argument is wrong, a table or workbook cannot be read, or it tells of no variation; all
        reasons at once. Nothing is written.
    """
    costs = _check(options)
    wanted = Wanted(
        options.margin / 100, options.confidence / 100, options.allocation, options.plots_a_day
    )
    outcome = None
    if options.pilot is not None:
        refuse_unreadable(options.pilot)
        outcome = compute(Package.open(options.pilot))
        book = _from_pilot(options, outcome, wanted, costs)
    else:
        book = _from_stated(options, wanted, costs)
    drawn, short = _draw(options, book, outcome)
    radius = None
    if options.plot_area is not None:
        square = ACRE_M2 if book.units == "us" else 1.0
        radius = (options.plot_area * square, options.slope_in)
    parts: dict[str, Any] = {**vars(book), "drawn": drawn, "radius": radius}
    book = PlanBook(**(parts | {"looks": (*book.looks, *short)}))
    if options.out is not None:
        write_book(options.out, render_plan(book), backup=False)
    return book


def _check(options: argparse.Namespace) -> dict[str, float]:
    """Return the costs by stratum; raise with everything that is wrong with the arguments."""
    problems, costs = [], {}
    stated = [options.variation is not None, options.strata is not None]
    if options.pilot is not None and any(stated):
        problems.append("name a pilot survey, or state --variation or --strata, not both")
    elif options.pilot is None and sum(stated) != 1:
        problems.append("name a pilot survey, or state either --variation or --strata")
    problems += _wrong_numbers(options)
    if options.possible is not None and options.variation is None:
        problems.append("--possible goes with --variation; otherwise the strata tell it")
    if options.draw is not None and options.out is None:
        problems.append("--draw needs --out, the workbook in which the drawn places stand")
    if options.beside_pilot and (options.pilot is None or options.draw is None):
        problems.append("--beside-pilot needs a pilot survey and --draw")
    for text in options.cost:
        name, _, number = text.rpartition("=")
        try:
            costs[name.strip()] = float(number)
        except ValueError:
            costs[name.strip()] = math.nan
        if not name.strip() or not 0 < costs[name.strip()] < math.inf:
            problems.append(f"--cost {text}: write STRATUM=COST, a number above 0")
    try:
        if options.out is not None:
            refuse_new_book(options.out)
    except WorkbookError as error:
        problems.append(str(error).removesuffix("."))
    if problems:
        raise WorkbookError("; ".join(problems) + ".")
    return costs


def _wrong_numbers(options: argparse.Namespace) -> list[str]:
    problems = []
    for name, low, high in _NUMBERS:
        value, flag = getattr(options, name), f"--{name.replace('_', '-')}"
        if isinstance(value, str):
            problems.append(f"{flag} {value}: give a number such as {_number_like(value)}")
        elif value is not None and not low < value < high:
            top = "" if math.isinf(high) else f" and below {high:g}"
            problems.append(f"{flag} {value:g}: give a number above {low:g}{top}")
        elif name == "margin" and value < _LEAST_MARGIN:
            problems.append(
                f"{flag} {value:g}: smaller than can be planned; give at least {_LEAST_MARGIN:g}"
            )
    return problems


def _number_like(text: str) -> str:
    """Return the number that was probably meant, or an example."""
    meant = text.replace(",", ".").replace("%", "").strip()
    return meant if _PLAIN.fullmatch(meant) else "10.5"


_PLAIN = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_LEAST_MARGIN = 0.1
_NUMBERS = (
    ("margin", 0.0, 100.0),
    ("confidence", 50.0, 100.0),
    ("variation", 0.0, math.inf),
    ("possible", 0.0, math.inf),
    ("plots_a_day", 0.0, math.inf),
    ("plot_area", 0.0, math.inf),
)


def _from_pilot(
    options: argparse.Namespace, outcome: Outcome, wanted: Wanted, costs: dict[str, float]
) -> PlanBook:
    units: Units = options.units or ("us" if outcome.survey.units == "us" else "metric")
    measure = next(one for one in MEASURES if one.key == options.of)
    pilot = pilot_of(outcome, measure, costs)
    _refuse_costs(costs, pilot.figures)
    unit, factor = measure.shown(units, pilot.has_areas)
    looks, doubtful = list(pilot.looks), _doubtful(outcome, pilot)
    if doubtful:
        verb = "rests" if doubtful == 1 else "rest"
        looks.append(
            f"{plural(doubtful, 'tree')} of the pilot {verb} on open findings; "
            "settle those first, they may make plots look more unlike than they "
            "are."
        )
    return PlanBook(
        make_plan(pilot.figures, wanted, pilot.measured),
        options.pilot.name,
        measure.label,
        units,
        unit,
        factor,
        pilot.remarks,
        tuple(looks),
        _measures(outcome, wanted, costs, units),
    )


def _doubtful(outcome: Outcome, pilot: Pilot) -> int:
    """Return how many trees of the pilot's plots rest on open findings."""
    row = outcome.trees["plot_position"].to_numpy()[sorted(open_trees(outcome))]
    return int(np.isin(row, pilot.rows).sum())


def _measures(
    outcome: Outcome, wanted: Wanted, costs: dict[str, float], units: Units
) -> pd.DataFrame:
    """Return what every measure of the pilot would need for the same margin."""
    rows = []
    for measure in MEASURES:
        row = {
            "label": measure.label,
            "unit": "",
            "mean": np.nan,
            "variation": np.nan,
            "now": np.nan,
            "plots": np.nan,
            "said": "",
        }
        try:
            row |= _one_measure(measure, outcome, wanted, costs, units)
        except ReadingError as error:
            row["said"] = str(error).removeprefix(f"{measure.label}: ")
        rows.append(row)
    return pd.DataFrame(rows)


def _one_measure(
    measure: Measure, outcome: Outcome, wanted: Wanted, costs: dict[str, float], units: Units
) -> dict[str, Any]:
    pilot = pilot_of(outcome, measure, costs)
    plan = make_plan(pilot.figures, wanted, pilot.measured)
    unit, factor = measure.shown(units, pilot.has_areas)
    return {
        "unit": unit,
        "mean": pilot.figures.mean / factor,
        "variation": plan.variation,
        "now": plan.after_pilot[0],
        "plots": np.nan if plan.chosen is None else float(plan.chosen.sum()),
        "said": " ".join(look for look in pilot.looks if look.startswith("Plot ")),
    }


def _from_stated(options: argparse.Namespace, wanted: Wanted, costs: dict[str, float]) -> PlanBook:
    units: Units = options.units or "metric"
    if options.strata is None:
        figures = whole_town(options.variation / 100, options.possible or math.inf)
        source = f"a stated variation of {percent(options.variation / 100)}"
    else:
        figures = strata_from(read_list(options.strata, _STRATA_TABLE))
        source = f"the variation stated in {options.strata.name}"
        _refuse_costs(costs, figures)
        folded = {identifier_key(name): cost for name, cost in costs.items()}
        own = zip(figures.names, figures.costs.tolist(), strict=True)
        stated = np.array([folded.get(identifier_key(name), cost) for name, cost in own])
        figures = StrataFigures(**{**vars(figures), "costs": stated})
    return PlanBook(make_plan(figures, wanted), source, _STATED, units)


def _refuse_costs(costs: dict[str, float], figures: StrataFigures) -> None:
    known = {identifier_key(name) for name in figures.names}
    strange = [name for name in costs if identifier_key(name) not in known]
    if strange:
        raise WorkbookError(
            f"--cost names no stratum called {', '.join(strange)}; the strata are "
            f"{', '.join(figures.names)}."
        )


def _draw(
    options: argparse.Namespace, book: PlanBook, outcome: Outcome | None
) -> tuple[Drawn | None, list[str]]:
    counts = book.plan.chosen
    if options.draw is None or counts is None:
        return None, []
    figures = book.plan.figures
    places = places_from(read_list(options.draw, _PLACES_TABLE), figures.names)
    seed = secrets.randbelow(_GREATEST_SEED) if options.seed is None else options.seed
    kept: set[str] = set()
    if options.beside_pilot and outcome is not None and book.plan.measured is not None:
        counts = np.maximum(counts - book.plan.measured, 0)
        kept = {identifier_key(str(plot)) for plot in outcome.survey.plots["plot"]}
    free = [at for at, name in enumerate(places.names) if identifier_key(name) not in kept]
    rows = draw_places(
        [places.names[at] for at in free],
        [places.strata[at] for at in free],
        dict(zip(figures.names, counts.tolist(), strict=True)),
        seed,
    )
    rows["place"] = [free[at] for at in rows["place"]]
    drawn = Drawn(places, seed, rows, len(places.names) - len(free))
    return drawn, not_drawn(drawn, counts.tolist(), figures.names)


def _others(book: PlanBook) -> list[str]:
    """Return what the other measures of the pilot would need."""
    if book.measures is None:
        return []
    needs = []
    for row in book.measures.to_dict("records"):
        if row["label"] != book.subject:
            plots = row["plots"]
            needed = row["said"] if math.isnan(plots) else f"{plots:,.0f} plots"
            needs.append(f"{str(row['label']).lower()}: {needed}")
    return [f"The same margin for {'; for '.join(needs)}.", *_alone(book, book.measures)]


def _alone(book: PlanBook, measures: pd.DataFrame) -> list[str]:
    """Return the measures that ask for far more plots because of one plot."""
    planned = math.inf if book.plan.chosen is None else float(book.plan.chosen.sum())
    more = (measures["plots"] > _FAR_MORE * planned) & (measures["label"] != book.subject)
    return [
        f"{row['label']}: {str(row['said'])[0].lower()}{str(row['said'])[1:]}"
        for row in measures[more & (measures["said"] != "")].to_dict("records")
    ]
