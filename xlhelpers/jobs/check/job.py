"""The record of the job `check`."""

from xlhelpers.jobs.job import JSON, Job, Option, books

JOB = Job(
    "check",
    "List findings",
    "List the findings; change nothing",
    "xlhelpers.jobs.check.check:run",
    (
        books(),
        Option(
            "who",
            "choice",
            "Findings for",
            "only what the crew can resolve, in short lines plot by plot, or only what the office "
            "can check against the paper sheets (default: all)",
            choices=("crew", "office"),
            flag="--for",
        ),
        JSON,
    ),
    one_by_one=True,
)
