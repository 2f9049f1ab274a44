"""The record of the job `compare`."""

from xlhelpers.jobs.job import Job, book, out

JOB = Job(
    "compare",
    "Compare two entries",
    "Compare two entries of the same paper sheets",
    "xlhelpers.jobs.compare.compare:run",
    (
        book("first entry; it is not changed", "first", "FIRST.xlsx", "First entry"),
        book("second entry; it is not changed", "second", "SECOND.xlsx", "Second entry"),
        out("MERGED.xlsx", "also write a workbook with the agreed values and a list of the others"),
    ),
    about="Lines are matched even if one person skipped or swapped some. Check each difference "
    "against the paper sheet. Do not just make the two entries match: that adds new errors.",
    codes="Exit codes: 0: no difference. 1: some cells differ. 2: a workbook could not be read or "
    "written.",
)
