"""Arguments of the commands around the main job: compare, merge, recheck, export."""

import argparse
from pathlib import Path


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add these commands and their help to the parser."""
    _add_compare(commands)
    _add_merge(commands)
    _add_recheck(commands)
    _add_export(commands)


def _book(parser: argparse.ArgumentParser, name: str = "book", shown: str = "BOOK.xlsx") -> None:
    parser.add_argument(name, type=Path, metavar=shown, help="a keyed workbook; it stays as it is")


def _add_export(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "hand the survey on: CSV files and a data dictionary in an open standard"
    export = commands.add_parser(
        "export",
        help=text,
        description=text.capitalize() + " (Frictionless Data Package). Notes, places and initials "
        "are left out unless asked for. Texts that could run as a formula are made harmless.",
    )
    _book(export)
    export.add_argument(
        "--out", type=Path, required=True, metavar="FOLDER", help="a new folder for the files"
    )
    export.add_argument("--units", choices=("metric", "us"), help="units (default: the survey's)")
    export.add_argument("--with-notes", action="store_true", help="notes and groups too")
    export.add_argument(
        "--with-places",
        action="store_true",
        help="bearings, distances from the plot centre and plot notes too",
    )
    export.add_argument(
        "--with-people", action="store_true", help="initials of crews and clerks, eye heights too"
    )


def _add_merge(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "put the workbooks of several crews together into one"
    merge = commands.add_parser(
        "merge",
        help=text,
        description=text.capitalize() + ". Units and lists of names may differ; contradictions "
        "are listed on a tab, nothing is dropped, and each line keeps its origin. A workbook that "
        "cannot be read does not stop the others.",
        epilog="Exit codes: 0 merged, 1 merged, and contradictions are listed, 2 a workbook could "
        "not be read, or nothing was written.",
    )
    merge.add_argument("books", nargs="+", type=Path, metavar="CREW.xlsx", help="keyed workbooks")
    merge.add_argument(
        "--out", type=Path, required=True, metavar="SURVEY.xlsx", help="the workbook to write"
    )
    merge.add_argument(
        "--units", choices=("metric", "us"), help="units (default: those of the first workbook)"
    )


def _add_compare(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "compare two keyings of the same paper sheets"
    compare = commands.add_parser(
        "compare",
        help=text,
        description=text.capitalize() + ". Lines are matched even where one person skipped or "
        "swapped some. Settle each disagreement against the paper, not one entry against the "
        "other: people who make two entries match bring in new errors (Barchard et al. 2019). "
        "Worth the work: single keying left 0.37 errors in 1,000 fields, keying twice 0.046 "
        "(Paulsen et al. 2012).",
        epilog="Exit codes: 0 alike, 1 something disagrees, 2 could not be read or written.",
    )
    _book(compare, "first", "FIRST.xlsx")
    _book(compare, "second", "SECOND.xlsx")
    compare.add_argument(
        "--out",
        type=Path,
        metavar="MERGED.xlsx",
        help="also write a workbook in which agreed values stand and open ones wait, with a list",
    )


def _add_recheck(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "draw trees to be measured again, and report how well both measurements agree"
    recheck = commands.add_parser("recheck", help=text, description=text.capitalize() + ".")
    actions = recheck.add_subparsers(dest="action", required=True, metavar="plan|report")
    plan = actions.add_parser(
        "plan",
        help="draw a random sample and make the workbook for a blind second measurement",
        description="Draw a random sample, at least one tree of each crew, and make a workbook "
        "for it that holds none of the first values. The same seed draws the same trees, whatever "
        "the order of the rows.",
    )
    _book(plan)
    plan.add_argument("--out", type=Path, required=True, metavar="RECHECK.xlsx", help="to be made")
    plan.add_argument(
        "--share", type=float, default=0.05, help="share of each crew's trees (default: 0.05)"
    )
    plan.add_argument("--seed", type=int, help="draws the same trees again (default: a new one)")
    plan.add_argument(
        "--with-places",
        action="store_true",
        help="give bearing and distance from the plot centre, to find the trees",
    )
    report = actions.add_parser(
        "report",
        help="compare both measurements against the quality objectives",
        description="Compare both measurements: bias, spread, limits of agreement, and the share "
        "within tolerance, by crew, person and instrument. The objectives are those on the tab "
        "Quality objectives of the second workbook, where they can be edited.",
        epilog="Exit codes: 0 no objective missed, 1 one missed, 2 could not be read or written.",
    )
    _book(report, "first", "SURVEY.xlsx")
    _book(report, "again", "RECHECK.xlsx")
    report.add_argument("--out", type=Path, required=True, metavar="REPORT.xlsx", help="to be made")
    report.add_argument(
        "--known",
        action="store_true",
        help="the second workbook holds known values, as of a training plot",
    )
