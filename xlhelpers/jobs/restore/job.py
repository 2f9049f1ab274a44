"""The record of the job `restore`."""

from xlhelpers.jobs.job import Job, Option, book

JOB = Job(
    "restore",
    "Restore a backup",
    "List the backups of a workbook, and bring one back",
    "xlhelpers.jobs.restore.restore:run",
    (
        book("workbook whose backups are in the same folder"),
        Option(
            "bring_back",
            "choice",
            "Bring back",
            "bring back the first backup or the latest (default: only list them)",
            choices=("first", "latest"),
        ),
    ),
    about="It shows when each backup was made and how many cells differ from the workbook now. "
    "The workbook as it is now is kept as the latest backup, in place of the earlier one. The "
    "first backup is never replaced.",
)
