"""A small town of two strata and six plots, and surveys of sample plots as computed."""

from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.estimates.estimates import Estimates
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

STRATA = [
    {"stratum": "North", "area": 100_000.0, "plots_possible": 250},
    {"stratum": "South", "area": 40_000.0, "plots_possible": 100},
]
READ = {"distance": 20.0, "foot_reading": -10.0, "base_reading": 10.0}


def plot(name, stratum="North", status="measured", inside=400.0, reached=400.0, **more):
    return {
        **PLAIN_PLOT,
        "plot": name,
        "stratum": stratum,
        "status": status,
        "area_inside": inside,
        "area_reached": reached,
        **more,
    }


def tree(plot, number, tip=40.0, **more):
    """A tree of 0.2 x (tip + 10) m on a level distance of 20 m."""
    known = {"species": "English oak", "diameter": 20.0, "width_widest": 6.0, "width_across": 4.0}
    return {"plot": plot, "tree": str(number), **READ, "tip_reading": tip, **known, **more}


def trees(plot, count, **more):
    return [tree(plot, i + 1, **more) for i in range(count)]


def outcome_of(lines, plots, strata=(), findings=(), **rules):
    survey = make_survey(lines, plots, strata=strata, rules=rules)
    # the helper takes these words for a closed cell; in a workbook they are a status
    unsafe = [at for at, given in enumerate(plots) if given["status"] == "not safe"]
    survey.plots.loc[unsafe, "status"] = "not safe"
    setups = compute_setups(survey)
    return Outcome(survey, setups, build_trees(survey, setups), tuple(findings))


def row(found: Estimates, quantity, kind, domain="", domain_kind="", scope=""):
    rows = found.select(quantity, kind, domain_kind, scope)
    return rows[rows["domain"] == domain].iloc[0]


PLOTS = [
    *(plot(name) for name in "ABC"),
    plot("D", status="no trees"),
    *(plot(name, "South") for name in "EF"),
]
LINES = [
    *trees("A", 2, tip=40),
    *trees("B", 5, tip=60),
    *trees("C", 1, tip=30, species="Norway maple", diameter=40.0),
    *trees("E", 3, tip=50, species="Norway maple", diameter=40.0),
    *trees("F", 6, tip=50),
]
