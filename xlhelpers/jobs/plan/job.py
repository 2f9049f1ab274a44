"""The record of the job `plan`."""

from xlhelpers.jobs.job import SEED, Job, Option, flag, out, units

_TARGET = (
    Option(
        "pilot",
        "workbook",
        "Pilot survey",
        "workbook of a pilot survey of sample plots; it is not changed",
        positional=True,
        metavar="PILOT.xlsx",
    ),
    Option(
        "margin",
        "number",
        "Margin (%)",
        "target margin, in % of the figure",
        10.0,
        metavar="PERCENT",
    ),
    Option(
        "confidence",
        "number",
        "Confidence (%)",
        "confidence of the margin, in %",
        95.0,
        metavar="PERCENT",
    ),
    Option(
        "of",
        "choice",
        "Planned for",
        "figure to plan for, living trees only",
        "trees",
        ("trees", "basal-area", "crown-area"),
    ),
    Option(
        "allocation",
        "choice",
        "Plots for each stratum",
        "how to divide the plots among strata: by area (proportional), by area and variation "
        "(optimal), or by these and costs",
        "optimal",
        ("proportional", "optimal", "costs"),
    ),
    Option(
        "cost",
        "texts",
        "Cost of a plot",
        "cost of one plot in a stratum, in any unit; the others cost 1; may be repeated",
        metavar="STRATUM=COST",
    ),
    Option(
        "plots_a_day",
        "whole number",
        "Plots a day",
        "also show the field days, and the margin after one more",
        metavar="N",
    ),
)
_STATED = (
    Option(
        "variation",
        "number",
        "Variation (%)",
        "without a pilot: standard deviation of the plots in % of their mean",
        metavar="PERCENT",
    ),
    Option(
        "strata",
        "file",
        "Table of strata",
        "without a pilot: CSV or xlsx with the columns stratum, area, variation (%) and, if known, "
        "plots possible, cost, mean",
        metavar="TABLE",
        suffixes=(".csv", ".xlsx"),
    ),
    Option(
        "possible",
        "whole number",
        "Plots that would fit",
        "with --variation: number of plots that would fit in the town",
        metavar="N",
    ),
)
_SELECTION = (
    Option(
        "draw",
        "file",
        "List of places",
        "choose plot centres at random from this list or grid: CSV or xlsx, one row for each "
        "place, with a column plot (or name, or number) and, for strata, a column stratum",
        metavar="PLACES",
        suffixes=(".csv", ".xlsx"),
    ),
    SEED,
    flag(
        "beside_pilot",
        "Keep the pilot's plots",
        "keep the pilot's plots and choose only the missing ones; the list must name them as the "
        "pilot does",
    ),
    Option(
        "plot_area",
        "number",
        "Plot area",
        "show the radius of a round plot of this area, level and on slopes (m2; acres with "
        "--units us)",
        metavar="AREA",
    ),
    Option(
        "slope_in",
        "choice",
        "On slopes",
        "on slopes, lengthen the radius, or keep it and multiply the result; never both",
        "radius",
        ("radius", "result"),
    ),
    units("units (default: the pilot's, or metric)"),
    out("PLAN.xlsx"),
)
JOB = Job(
    "plan",
    "Plan a survey",
    "Find how many plots you need, and choose them at random",
    "xlhelpers.jobs.plan.plan:run",
    (*_TARGET, *_STATED, *_SELECTION),
    about="Start from a pilot survey, or give the variation.",
    codes="Examples: xlhelpers plan TOWN.xlsx --margin 10 --plots-a-day 6 --out PLAN.xlsx; "
    "xlhelpers plan --variation 45 --margin 10 --draw GRID.csv --seed 7 --out PLAN.xlsx. "
    "Exit codes: 0: planned. 1: planned, but there is something to check. 2: not planned, or a "
    "file could not be read or written.",
)
