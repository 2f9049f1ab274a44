"""The record of the job `report`."""

from xlhelpers.jobs.job import CONFIDENCE, Job, Option, book, flag, out

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
        CONFIDENCE,
    ),
    about="It shows how many trees there are, how tall they are, their crowns, species, sizes and "
    "groups, dead trees, crown cover, and how sure these figures are. It contains no plots, notes "
    "or names of people.",
    codes="Exit codes: 0: written. 1: written, but findings are open or there is no figure for the "
    "town. 2: a workbook could not be read or written.",
)
