"""The record of the job `new`."""

from xlhelpers.jobs.job import PAPER, Job, Option, units

JOB = Job(
    "new",
    "New workbook",
    "Make a blank workbook",
    "xlhelpers.jobs.new.new:run",
    (
        Option(
            "book",
            "new workbook",
            "Save as",
            "new workbook to write",
            required=True,
            positional=True,
            metavar="TOWN.xlsx",
        ),
        units("m and cm, or ft and in", "metric"),
        PAPER,
        Option(
            "plots", "whole number", "Plots", "prepare rows for this many plots", 40, metavar="N"
        ),
    ),
)
