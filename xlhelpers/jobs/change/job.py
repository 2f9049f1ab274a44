"""The record of the job `change`."""

from xlhelpers.jobs.job import CONFIDENCE, Job, book, out

JOB = Job(
    "change",
    "Compare two surveys",
    "Compare two surveys of the same plots",
    "xlhelpers.jobs.change.change:run",
    (
        book("earlier survey; it is not changed", "old", "OLD.xlsx", "Earlier survey"),
        book("later survey; it is not changed", "new", "NEW.xlsx", "Later survey"),
        out("CHANGE.xlsx", "also write the report to a new workbook"),
        CONFIDENCE,
    ),
    about="It shows trees that grew, died, are gone or are new, growth a year, and the change of "
    "the totals with its margin. Of trees that shrank, it names the survey that is probably wrong. "
    "Trees are matched within each plot by number, place, species and size. Uncertain matches are "
    "listed.",
    codes="Exit codes: 0: nothing to check. 1: something to check. 2: a workbook could not be read "
    "or written.",
)
