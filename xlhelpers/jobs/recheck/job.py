"""The record of the job `recheck`."""

from xlhelpers.jobs.job import SEED, Job, Option, book, flag, out

_PLAN = Job(
    "plan",
    "Choose trees to remeasure",
    "Choose trees at random and make the workbook for measuring them again",
    "xlhelpers.jobs.recheck.recheck:run_plan",
    (
        book(),
        out("RECHECK.xlsx", required=True),
        Option("share", "number", "Share", "share of each crew's trees", 0.05),
        SEED,
        flag(
            "with_places",
            "Help to find the trees",
            "give tag, position, bearing and distance from the plot centre, to find the trees",
        ),
    ),
    about="At least one tree of each crew is chosen. The workbook does not contain the first "
    "values. The same seed chooses the same trees, in whatever order the rows are.",
)
_REPORT = Job(
    "report",
    "Compare remeasured trees",
    "Compare both measurements with the quality objectives",
    "xlhelpers.jobs.recheck.recheck:run_report",
    (
        book(name="first", metavar="SURVEY.xlsx", label="Survey"),
        book(
            "workbook with the second measurement; it is not changed",
            "again",
            "RECHECK.xlsx",
            "Second measurement",
        ),
        out("REPORT.xlsx", required=True),
        flag(
            "known",
            "Second values are known",
            "the second workbook has known values, for example of a training plot",
        ),
    ),
    about="It shows bias, spread, limits of agreement and the share within tolerance, by crew, "
    "person and instrument. The objectives are on the tab Quality objectives of the second "
    "workbook. You can edit them there.",
    codes="Exit codes: 0: no objective missed. 1: an objective missed. 2: a workbook could not be "
    "read or written.",
)
JOB = Job(
    "recheck",
    "Remeasure trees",
    "Choose trees at random for remeasuring, then compare",
    actions=(_PLAN, _REPORT),
)
