"""The record of the job `fill`."""

from xlhelpers.jobs.job import JSON, Job, Option, books, flag

JOB = Job(
    "fill",
    "Fill workbooks",
    "Compute heights, check readings, write the summary tabs",
    "xlhelpers.jobs.fill.fill:run",
    (
        books(),
        Option(
            "out",
            "new file or folder",
            "Save copies in",
            "save the filled copy here: a file, or a folder for several workbooks",
            metavar="PLACE",
            suffixes=(".xlsx", ".xlsm"),
        ),
        flag("restore_formulas", "Restore formulas", "put back formulas that were typed over"),
        JSON,
    ),
    about="The workbook is filled in place and the previous version is kept as a backup in the "
    "same folder. With --out the workbook is not changed. Save and close it in other programs "
    "first.",
    one_by_one=True,
)
