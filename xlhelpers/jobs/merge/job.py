"""The record of the job `merge`."""

from xlhelpers.jobs.job import Job, books, out, units

JOB = Job(
    "merge",
    "Combine workbooks",
    "Combine several crews' workbooks",
    "xlhelpers.jobs.merge.merge:run",
    (
        books("CREW.xlsx"),
        out("SURVEY.xlsx", required=True),
        units("units of the new workbook (default: those of the first workbook)"),
    ),
    about="Units and lists of names may differ. No line is dropped, each keeps its origin, and a "
    "tab lists where the workbooks disagree. If one cannot be read, the others are combined.",
    codes="Exit codes: 0: combined. 1: combined, but the workbooks disagree. 2: a workbook could "
    "not be read, or nothing was written.",
)
