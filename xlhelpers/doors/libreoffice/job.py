"""The record of the job `libreoffice`: the menu and the functions inside LibreOffice Calc."""

from xlhelpers.jobs.job import Job, Option

_PROFILE = Option(
    "profile",
    "folder",
    "Profile",
    "folder of the settings of LibreOffice (default: your own)",
    metavar="FOLDER",
)
JOB = Job(
    "libreoffice",
    "LibreOffice",
    "Set up the menu and the functions in LibreOffice, and find what stops them",
    actions=(
        Job(
            "install",
            "Set up LibreOffice",
            "Install the menu and the functions, and prove them with one cell",
            "xlhelpers.doors.libreoffice.run:run_install",
            (_PROFILE,),
            about="Close LibreOffice first.",
        ),
        Job(
            "remove",
            "Remove from LibreOffice",
            "Remove the menu and the functions; your own macros and extensions stay",
            "xlhelpers.doors.libreoffice.run:run_remove",
            (_PROFILE,),
            about="Close LibreOffice first.",
        ),
        Job(
            "doctor",
            "Look for problems",
            "Look for known problems and say what to do; change nothing",
            "xlhelpers.doors.libreoffice.run:run_doctor",
            (_PROFILE,),
        ),
    ),
)
