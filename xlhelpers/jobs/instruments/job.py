"""The record of the job `instruments`."""

from xlhelpers.jobs.job import Job, book, out

JOB = Job(
    "instruments",
    "Instrument checks",
    "Show the error of each instrument at its checks, and the trees affected",
    "xlhelpers.jobs.instruments.instruments:run",
    (book(), out("HISTORY.xlsx", "also write the history to a new workbook")),
    about="No reading is corrected.",
)
