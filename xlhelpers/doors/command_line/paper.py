"""The arguments of the commands for paper and instruments."""

import argparse
from pathlib import Path


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the commands `paper` and `instruments` to the command line."""
    _add_paper(commands)
    _add_instruments(commands)


def _add_paper(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "make field sheets, cards and the list of trees to measure again, for printing"
    paper = commands.add_parser(
        "paper",
        help=text,
        description=text.capitalize() + ". The workbook stays as it is.",
    )
    paper.add_argument("book", type=Path, metavar="BOOK.xlsx", help="the workbook of the survey")
    paper.add_argument("--out", type=Path, metavar="SHEETS.xlsx", help="where to write the sheets")
    paper.add_argument(
        "--paper",
        choices=("a4", "letter"),
        help="paper for printing (default: a4 for metric, letter for us)",
    )
    paper.add_argument("--plots", metavar="1,2,5", help="only the sheets of these plots")
    paper.add_argument(
        "--measure-again",
        action="store_true",
        help="the list of trees to measure again, for the truck",
    )
    paper.add_argument(
        "--cards", action="store_true", help="only the cards, one for each way of measuring"
    )
    paper.add_argument(
        "--pdf", action="store_true", help="also make a PDF, where LibreOffice is installed"
    )
    paper.add_argument(
        "--code",
        metavar="CODE",
        help="say which plot and page the code on a sheet belongs to; nothing is written",
    )


def _add_instruments(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "say how far out each instrument was at its checks, and which trees that touches"
    instruments = commands.add_parser(
        "instruments",
        help=text,
        description=text.capitalize() + ". Nothing is corrected.",
    )
    instruments.add_argument(
        "book", type=Path, metavar="BOOK.xlsx", help="the workbook of the survey"
    )
    instruments.add_argument(
        "--out", type=Path, metavar="HISTORY.xlsx", help="also write the history to a workbook"
    )
