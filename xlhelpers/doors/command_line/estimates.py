"""Arguments of the commands about plots and years, and for the council: plan, change, report."""

import argparse
from pathlib import Path


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add these commands and their help to the parser."""
    _add_plan(commands)
    _add_change(commands)
    _add_report(commands)


def _number(text: str) -> float | str:
    """Return a number; what is none stays as typed, and the command says what to write."""
    try:
        return float(text)
    except ValueError:
        return text


def _add_plan(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "how many plots a wanted margin asks for, in which strata, and a random draw of them"
    plan = commands.add_parser(
        "plan",
        help=text,
        description=text.capitalize() + ". From a pilot survey, or from a variation that is "
        "stated. Student's t is iterated; what is measured of a limited number of plots possible "
        "is taken into account.",
        epilog="Examples: xlhelpers plan TOWN.xlsx --margin 10 --plots-a-day 6 --out PLAN.xlsx; "
        "xlhelpers plan --variation 45 --margin 10 --draw GRID.csv --seed 7 --out PLAN.xlsx. "
        "Exit codes: 0 planned, 1 planned, and something is to be looked at, 2 could not be "
        "planned, read or written.",
    )
    plan.add_argument(
        "pilot",
        type=Path,
        nargs="?",
        metavar="PILOT.xlsx",
        help="a keyed workbook of sample plots; it stays as it is",
    )
    _add_wanted(plan)
    _add_stated(plan)
    _add_draw(plan)
    _add_radius(plan)
    plan.add_argument(
        "--units", choices=("metric", "us"), help="units (default: the pilot's, else metric)"
    )
    plan.add_argument("--out", type=Path, metavar="PLAN.xlsx", help="the workbook to make")


def _add_wanted(plan: argparse.ArgumentParser) -> None:
    plan.add_argument(
        "--margin",
        type=_number,
        default=10.0,
        metavar="PERCENT",
        help="wanted margin, plus or minus so many per cent of the mean (default: 10)",
    )
    plan.add_argument(
        "--confidence",
        type=_number,
        default=95.0,
        metavar="PERCENT",
        help="how many of 100 such surveys keep the margin (default: 95)",
    )
    plan.add_argument(
        "--of",
        choices=("trees", "basal-area", "crown-area"),
        default="trees",
        help="what the plots of a pilot are planned for, living trees only (default: trees)",
    )
    plan.add_argument(
        "--allocation",
        choices=("proportional", "optimal", "costs"),
        default="optimal",
        help="plots to strata by size; by size and variation (default); or by these and costs",
    )
    plan.add_argument(
        "--cost",
        action="append",
        default=[],
        metavar="STRATUM=COST",
        help="cost of one plot of a stratum, in any unit; others cost 1; may be repeated",
    )
    plan.add_argument(
        "--plots-a-day", type=int, metavar="N", help="tells what one more field day buys"
    )


def _add_stated(plan: argparse.ArgumentParser) -> None:
    plan.add_argument(
        "--variation",
        type=_number,
        metavar="PERCENT",
        help="without a pilot: standard deviation of plots in per cent of their mean",
    )
    plan.add_argument(
        "--strata",
        type=Path,
        metavar="TABLE",
        help="without a pilot: CSV or xlsx with the columns stratum, area, variation (per cent) "
        "and, where known, plots possible, cost, mean",
    )
    plan.add_argument(
        "--possible", type=int, metavar="N", help="with --variation: plots the town could hold"
    )


def _add_draw(plan: argparse.ArgumentParser) -> None:
    plan.add_argument(
        "--draw",
        type=Path,
        metavar="PLACES",
        help="draw plot centres from this list or grid, CSV or xlsx: one row a place, with a "
        "column plot (or name, or number) and, for strata, a column stratum",
    )
    plan.add_argument(
        "--seed", type=int, help="draws the same places again (default: a new one, which is said)"
    )
    plan.add_argument(
        "--beside-pilot",
        action="store_true",
        help="the list names the pilot's plots as the pilot does: keep these, draw what is missing",
    )


def _add_radius(plan: argparse.ArgumentParser) -> None:
    plan.add_argument(
        "--plot-area",
        type=_number,
        metavar="AREA",
        help="radii of a round plot of this area (m2; acres with --units us), level and on slopes",
    )
    plan.add_argument(
        "--slope-in",
        choices=("radius", "result"),
        default="radius",
        help="on slopes lengthen the radius (default), or keep it and multiply the result; never "
        "both",
    )


def _add_change(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "what became of the trees between two surveys of the same plots"
    change = commands.add_parser(
        "change",
        help=text,
        description=text.capitalize() + ": grown, dead, gone, new; growth a year with its "
        "uncertainty; trees that shrank, and which of the two measurements is likelier wrong; "
        "the change of the totals with its margin. Trees are matched within each plot by number, "
        "place, species and size taken together; what stays ambiguous is said.",
        epilog="Exit codes: 0 nothing to look at, 1 there is, 2 could not be read or written.",
    )
    for name, shown in (("old", "OLD.xlsx"), ("new", "NEW.xlsx")):
        change.add_argument(
            name, type=Path, metavar=shown, help="a keyed workbook; it stays as it is"
        )
    change.add_argument("--out", type=Path, metavar="CHANGE.xlsx", help="the report to make")
    change.add_argument(
        "--confidence",
        type=float,
        default=95.0,
        metavar="PERCENT",
        help="of the margins (default: 95)",
    )


def _add_report(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "what the survey says of the town, with margins, for a council to read and to print"
    report = commands.add_parser(
        "report",
        help=text,
        description=text.capitalize() + ": how many trees, how tall, their crowns, species, sizes, "
        "groups, dead trees, crown cover, and how sure that is. A workbook of its own, without "
        "names of people, plots or notes.",
        epilog="Exit codes: 0 written, 1 written, but findings are open or nothing can be said of "
        "the town, 2 could not be read or written.",
    )
    report.add_argument(
        "book", type=Path, metavar="BOOK.xlsx", help="a keyed workbook; it stays as it is"
    )
    report.add_argument(
        "--out",
        type=Path,
        metavar="REPORT.xlsx",
        help="the report to make (default: beside the workbook, BOOK_report.xlsx)",
    )
    report.add_argument("--pdf", action="store_true", help="also as PDF, with LibreOffice")
    report.add_argument(
        "--recheck",
        type=Path,
        metavar="RECHECKED.xlsx",
        help="trees measured a second time: the report says how well both agree",
    )
    report.add_argument(
        "--confidence",
        type=float,
        default=95.0,
        metavar="PERCENT",
        help="of the margins (default: 95)",
    )
