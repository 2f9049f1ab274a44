"""The record of the job `launcher`."""

from xlhelpers.jobs.job import Job, Option

JOB = Job(
    "launcher",
    "Make an icon",
    "Make an icon that opens the window, for work without a command line",
    "xlhelpers.jobs.launcher.launcher:run",
    (
        Option(
            "folder",
            "folder",
            "Folder",
            "where to put it, for example the desktop (default: this folder)",
            ".",
            positional=True,
        ),
        Option(
            "system",
            "choice",
            "System",
            "system it is for (default: this one)",
            choices=("windows", "macos", "linux"),
        ),
    ),
)
