"""The record of the job `report`."""

from xlhelpers.jobs.job import CONFIDENCE, JSON, Job, Option, book, flag, out

JOB = Job(
    "report",
    "Council report",
    "Make a report for the council",
    "xlhelpers.jobs.report.report:run",
    (
        book(),
        out("REPORT.xlsx", "new workbook to write (default: BOOK_report.xlsx in the same folder)"),
        flag("pdf", "Also as PDF", "also make a PDF (needs LibreOffice)"),
        Option(
            "recheck",
            "workbook",
            "Remeasured trees",
            "workbook with remeasured trees; the report then shows how well two crews agree",
            metavar="RECHECKED.xlsx",
        ),
        flag(
            "annex",
            "Also a list for the office",
            "also list the dead trees and dead tops with plot and number, in a file of its own",
        ),
        CONFIDENCE,
        JSON._replace(help="also save the figures with their verdicts as JSON (lengths in m)"),
    ),
    about="It shows how many trees there are, how tall they are, their crowns, species, sizes and "
    "groups, age and diversity, dead trees and crown cover. It says what each figure is good for, "
    "and what would make it better. It contains no plots, notes or names of people.",
    codes="Exit codes: 0: written. 1: written, but findings are open or there is no figure for the "
    "town. 2: a workbook could not be read or written.",
)
