"""How many plots a margin needs, in which strata, and a random choice of them."""

import math
import secrets
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.errors import ReadingError, WorkbookError
from xlhelpers.estimates.plot_values import MEASURES, Measure
from xlhelpers.fields.quantities import ACRE_M2, Units
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.jobs.plan.allocation import StrataFigures, Way, whole_town
from xlhelpers.jobs.plan.book import PlanBook, Selection, not_drawn, render_plan
from xlhelpers.jobs.plan.draw import Corrected, draw_places
from xlhelpers.jobs.plan.make_plan import Plan, Wanted, make_plan
from xlhelpers.jobs.plan.pilot import LEFT_OUT_BECAUSE, Pilot, pilot_of
from xlhelpers.jobs.plan.tables import places_from, strata_from
from xlhelpers.jobs.plan.words import percent, say_too_few_trees, sentences
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.list_table import read_list
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import open_trees
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import list_words, plural

_GREATEST_SEED = 10**9
# a figure that needs this many times the planned plots gets a sentence
_FAR_MORE = 2.0
_STRATA_TABLE = "a table with the columns stratum, area and variation (%)"
_PLACES_TABLE = (
    "a table with one row for each place, with a column plot and, for strata, a column stratum"
)
_GIVEN = "With the given variation"


@dataclass(frozen=True)
class PlanOptions:
    """The options of the job, as its record names them; percentages as typed."""

    pilot: Path | None
    margin: float
    confidence: float
    of: str
    allocation: Way
    cost: list[str]
    plots_a_day: int | None
    variation: float | None
    strata: Path | None
    possible: int | None
    draw: Path | None
    seed: int | None
    beside_pilot: bool
    plot_area: float | None
    slope_in: Corrected
    units: Units | None
    out: Path | None


def run(progress: Progress, **options: Any) -> Done:
    """Make the plan; the exit code is 1 where there is something to check."""
    asked = PlanOptions(**options)
    book = plan(asked)
    lines = [*sentences(book.plan, book.subject), *_others(book), *book.remarks]
    lines += [f"Check: {look}" for look in book.looks]
    if book.drawn is not None:
        lines.append(
            f"Chosen at random: {plural(len(book.drawn.rows), 'place')} of "
            f"{book.drawn.places.table.name}. Seed {book.drawn.seed} repeats this selection."
        )
    if asked.out is not None:
        lines.append(f"Saved {asked.out}.")
    code = TO_CHECK if book.looks or book.plan.chosen is None else NOTHING_TO_CHECK
    return Done(lines, code, () if asked.out is None else (asked.out,))


def plan(options: PlanOptions) -> PlanBook:
    """Plan as the options say; write the workbook where a place is given.

    Raises
    ------
    WorkbookError, ReadingError
        An argument is wrong, a table or workbook cannot be read, or it shows no variation; all
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
        book = _from_pilot(options, options.pilot.name, outcome, wanted, costs)
    else:
        book = _from_stated(options, wanted, costs)
    drawn, short = _draw(options, book, outcome)
    radius = None
    if options.plot_area is not None:
        square = ACRE_M2 if book.units == "us" else 1.0
        radius = (options.plot_area * square, options.slope_in)
    book = replace(book, drawn=drawn, radius=radius, looks=(*book.looks, *short))
    if options.out is not None:
        write_book(options.out, render_plan(book), backup=False)
    return book


def _check(options: PlanOptions) -> dict[str, float]:
    """Return the costs by stratum; raise with everything that is wrong with the arguments."""
    problems = []
    stated = [options.variation is not None, options.strata is not None]
    if sum((options.pilot is not None, *stated)) != 1:
        problems.append("Give one of these: a pilot survey, --variation or --strata.")
    problems += _wrong_numbers(options)
    if options.possible is not None and options.variation is None:
        problems.append("--possible needs --variation. If not, the plots that fit are in --strata.")
    if options.draw is not None and options.out is None:
        problems.append("--draw needs --out, the workbook to write the places in.")
    if options.beside_pilot and (options.pilot is None or options.draw is None):
        problems.append("--beside-pilot needs a pilot survey and --draw.")
    costs = {}
    for text in options.cost:
        name, _, number = text.rpartition("=")
        try:
            costs[name.strip()] = float(number)
        except ValueError:
            costs[name.strip()] = math.nan
        if not name.strip() or not 0 < costs[name.strip()] < math.inf:
            problems.append(f"--cost {text}: type STRATUM=COST, with a cost above 0.")
    try:
        if options.out is not None:
            refuse_new_book(options.out)
    except WorkbookError as error:
        problems.append(str(error))
    if problems:
        raise WorkbookError(" ".join(problems))
    return costs


def _wrong_numbers(options: PlanOptions) -> list[str]:
    problems = []
    for name, low, high in _NUMBERS:
        value, flag = getattr(options, name), f"--{name.replace('_', '-')}"
        if value is not None and not low < value < high:
            top = "" if math.isinf(high) else f" and below {high:g}"
            problems.append(f"{flag} must be above {low:g}{top}, not {value:g}.")
        elif name == "margin" and value < _LEAST_MARGIN:
            problems.append(f"{flag} must be at least {_LEAST_MARGIN:g}, not {value:g}.")
    return problems


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
    options: PlanOptions, source: str, outcome: Outcome, wanted: Wanted, costs: dict[str, float]
) -> PlanBook:
    units = options.units or outcome.survey.units
    measure = next(one for one in MEASURES if one.key == options.of)
    pilot = pilot_of(outcome, measure, costs)
    _refuse_costs(costs, pilot.figures)
    unit, factor = measure.find_unit_per_area(units, pilot.has_areas)
    looks, doubtful = list(pilot.looks), _doubtful(outcome, pilot)
    if doubtful:
        verb, them = ("has", "it") if doubtful == 1 else ("have", "them")
        looks.append(
            f"{plural(doubtful, 'pilot tree')} {verb} open findings. Resolve {them} first. They "
            "can make the plan too large."
        )
    made = _plan_from(pilot, wanted)
    few_trees = [] if measure.column else say_too_few_trees(made, pilot.trees_a_plot)
    return PlanBook(
        made,
        source,
        measure.label,
        units,
        unit,
        factor,
        (*few_trees, *pilot.remarks),
        tuple(looks),
        _measures(outcome, wanted, costs, units),
    )


def _plan_from(pilot: Pilot, wanted: Wanted) -> Plan:
    joined = pilot.margin(wanted.confidence)
    return make_plan(pilot.figures, wanted, pilot.measured, joined, pilot.together)


def _doubtful(outcome: Outcome, pilot: Pilot) -> int:
    """Return how many trees on the pilot's plots have open findings."""
    row = outcome.trees["plot_position"].to_numpy()[sorted(open_trees(outcome))]
    return int(np.isin(row, pilot.rows).sum())


def _measures(
    outcome: Outcome, wanted: Wanted, costs: dict[str, float], units: Units
) -> pd.DataFrame:
    """Return what every figure of the pilot would need for the same margin."""
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
    plan = _plan_from(pilot, wanted)
    unit, factor = measure.find_unit_per_area(units, pilot.has_areas)
    return {
        "unit": unit,
        "mean": pilot.figures.mean / factor,
        "variation": plan.variation,
        "now": plan.after_pilot[0],
        "plots": np.nan if plan.chosen is None else float(plan.chosen.sum()),
        "said": " ".join(
            text
            for text in (*pilot.looks, *pilot.remarks)
            if text.startswith(("Plot ", LEFT_OUT_BECAUSE))
        ),
    }


def _from_stated(options: PlanOptions, wanted: Wanted, costs: dict[str, float]) -> PlanBook:
    if options.strata is not None:
        figures = strata_from(read_list(options.strata, _STRATA_TABLE))
        source = f"the variation given in {options.strata.name}"
        _refuse_costs(costs, figures)
        folded = {identifier_key(name): cost for name, cost in costs.items()}
        own = zip(figures.names, figures.costs.tolist(), strict=True)
        given = np.array([folded.get(identifier_key(name), cost) for name, cost in own])
        figures = replace(figures, costs=given)
    else:
        variation = (options.variation or math.nan) / 100
        figures = whole_town(variation, options.possible or math.inf)
        source = f"a given variation of {percent(variation)}"
    return PlanBook(make_plan(figures, wanted), source, _GIVEN, options.units or "metric")


def _refuse_costs(costs: dict[str, float], figures: StrataFigures) -> None:
    known = {identifier_key(name) for name in figures.names}
    unknown = [name for name in costs if identifier_key(name) not in known]
    if unknown:
        raise WorkbookError(
            f"--cost: there is no stratum {list_words(unknown, 'or')}. The strata are "
            f"{list_words(figures.names)}."
        )


def _draw(
    options: PlanOptions, book: PlanBook, outcome: Outcome | None
) -> tuple[Selection | None, list[str]]:
    counts = book.plan.chosen
    if options.draw is None or counts is None:
        return None, []
    figures = book.plan.figures
    places = places_from(read_list(options.draw, _PLACES_TABLE), figures.names)
    seed = secrets.randbelow(_GREATEST_SEED) if options.seed is None else options.seed
    in_pilot: set[str] = set()
    if options.beside_pilot and outcome is not None and book.plan.measured is not None:
        counts = np.maximum(counts - book.plan.measured, 0)
        in_pilot = {identifier_key(str(plot)) for plot in outcome.survey.plots["plot"]}
    free = [at for at, name in enumerate(places.names) if identifier_key(name) not in in_pilot]
    rows = draw_places(
        [places.names[at] for at in free],
        [places.strata[at] for at in free],
        dict(zip(figures.names, counts.tolist(), strict=True)),
        seed,
    )
    rows["place"] = [free[at] for at in rows["place"]]
    drawn = Selection(places, seed, rows, len(places.names) - len(free))
    return drawn, not_drawn(drawn, counts.tolist(), figures.names)


def _others(book: PlanBook) -> list[str]:
    """Return what the same margin would need for the pilot's other figures."""
    if book.measures is None:
        return []
    others = book.measures[book.measures["label"] != book.subject]
    needs = [
        f"{row['plots']:,.0f} plots for {str(row['label']).lower()}"
        for row in others[others["plots"].notna()].to_dict("records")
    ]
    # of one plot that alone makes another figure need far more
    planned = math.inf if book.plan.chosen is None else float(book.plan.chosen.sum())
    far_more = others["plots"].isna() | (others["plots"] > _FAR_MORE * planned)
    return [
        *([f"The same margin needs {list_words(needs)}."] if needs else []),
        *(
            f"{row['label']}: {str(row['said'])[0].lower()}{str(row['said'])[1:]}"
            for row in others[far_more & (others["said"] != "")].to_dict("records")
        ),
    ]
