"""The record of the command that opens the window."""

from xlhelpers.jobs.job import Job, Option

JOB = Job(
    "window",
    "Window",
    "Open a window with all jobs, for work without a command line",
    "xlhelpers.doors.window.run:run",
    (
        Option(
            "books",
            "workbooks",
            "Workbooks",
            "workbooks to work on",
            positional=True,
            metavar="BOOK.xlsx",
        ),
    ),
    about="It needs tkinter, which most Pythons bring (Debian, Ubuntu: the package python3-tk). "
    "Drop workbooks on the icon that launcher makes, or choose one in the window. The open window "
    "cannot take what is dropped on it.",
)
