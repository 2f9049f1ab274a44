"""The record of the job `bring`."""

from xlhelpers.jobs.job import Job, Option, out, units

JOB = Job(
    "bring",
    "Bring in your own sheet",
    "Make a workbook from a sheet that you have already",
    "xlhelpers.jobs.bring.bring:run",
    (
        Option(
            "sheet",
            "file",
            "Your sheet",
            "workbook or table with one line for each tree or set-up; it is not changed",
            required=True,
            positional=True,
            metavar="SHEET",
            suffixes=(".xlsx", ".xlsm", ".ods", ".csv", ".tsv", ".txt"),
        ),
        out("BROUGHT.xlsx", "new workbook to write (default: in the folder of your sheet)"),
        units("units of numbers whose heading gives none (default: found by a trial)"),
        Option(
            "scale",
            "choice",
            "Scale read",
            "scale of the instrument's readings, if the sheet does not say",
            choices=("percent", "degrees", "topographic", "fixed distance"),
        ),
        Option(
            "distance_kind",
            "choice",
            "Kind of distance",
            "how the distances were measured, if the sheet does not say",
            choices=("level", "along slope", "straight to the foot", "none"),
        ),
        Option(
            "eye_height",
            "number",
            "Eye height",
            "eye height in m (ft with --units us), if no reading to the foot was taken",
            metavar="HEIGHT",
        ),
        Option(
            "column",
            "texts",
            "Column",
            "what a column is, if it was read wrongly, such as “Top=Tip reading”; may be repeated",
            metavar="HEADING=FIELD",
        ),
        Option(
            "mapping",
            "file",
            "Mapping file",
            "columns and answers of an earlier run (default: found in the folder of your sheet)",
            metavar="FILE.json",
            suffixes=(".json",),
        ),
        Option(
            "json",
            "new file",
            "Save as JSON",
            "also save columns, questions and counts as JSON",
            metavar="FILE",
        ),
    ),
    about="Headings may be in English, Spanish, French or German. The program proposes what each "
    "column is and asks only what the sheet cannot say. What no column takes goes into the note, "
    "and what is left, such as rows of totals, is listed with its place.",
    codes="Exit codes: 0: brought in. 1: brought in, but some cells were left; or there are "
    "questions, and nothing was written but the mapping file. 2: the sheet could not be read, or "
    "the workbook could not be written.",
)
