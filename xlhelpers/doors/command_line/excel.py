"""The command `excel` of the command line: what Excel needs for the functions and the button."""

import argparse
from pathlib import Path


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command `excel` with its own commands."""
    text = "set up the functions and the button inside Excel, and find what is in their way"
    excel = commands.add_parser("excel", help=text, description=text.capitalize() + ".")
    parts = excel.add_subparsers(dest="excel_command", required=True, metavar="WHAT")
    text = "put the add-in, its settings and the macro in their places"
    install = parts.add_parser(
        "install", help=text, description=text.capitalize() + ". Close Excel first."
    )
    install.add_argument(
        "--remove", action="store_true", help="take them away again and put back what was there"
    )
    text = "look for known troubles and say what to do; change nothing"
    doctor = parts.add_parser("doctor", help=text, description=text.capitalize() + ".")
    doctor.add_argument(
        "book", nargs="?", type=Path, metavar="BOOK.xlsx", help="a workbook to look at as well"
    )
    text = "print the page for the person who looks after the computers"
    parts.add_parser("about", help=text, description=text.capitalize() + ".")
