"""The record of the job `excel`: what Excel needs for the functions and the button."""

from xlhelpers.jobs.job import Job, Option, flag

JOB = Job(
    "excel",
    "Excel",
    "Set up the functions and the button in Excel, and find what stops them",
    actions=(
        Job(
            "install",
            "Set up Excel",
            "Install the add-in, its settings and the macro",
            "xlhelpers.doors.excel.run:run_install",
            (flag("remove", "Remove them", "remove them and put back what was there before"),),
            about="Close Excel first.",
        ),
        Job(
            "doctor",
            "Look for problems",
            "Look for known problems and say what to do; change nothing",
            "xlhelpers.doors.excel.run:run_doctor",
            (
                Option(
                    "book",
                    "workbook",
                    "Workbook",
                    "also look at this workbook",
                    positional=True,
                    metavar="BOOK.xlsx",
                ),
            ),
        ),
        Job(
            "about",
            "Page for IT support",
            "Show the page for IT support",
            "xlhelpers.doors.excel.run:run_about",
        ),
        Job(
            "try",
            "Try it in Excel",
            "Write two workbooks and a page of what to click and what must show",
            "xlhelpers.doors.excel.run:run_try",
            (
                Option(
                    "folder",
                    "folder",
                    "Folder",
                    "where to write them",
                    required=True,
                    positional=True,
                    metavar="FOLDER",
                ),
            ),
        ),
    ),
)
