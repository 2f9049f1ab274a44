"""The record of the job `export`."""

from xlhelpers.jobs.job import Job, Option, book, flag, units

JOB = Job(
    "export",
    "Save as CSV",
    "Save the survey as CSV files for others",
    "xlhelpers.jobs.export.export:run",
    (
        book(),
        Option(
            "out",
            "new folder",
            "Save in",
            "new folder for the files",
            required=True,
            metavar="FOLDER",
        ),
        units("units of the numbers (default: the survey's)"),
        flag("with_notes", "Include notes", "include notes and groups"),
        flag(
            "with_places",
            "Include places",
            "include positions, bearings, distances from the plot centre and plot notes",
        ),
        flag(
            "with_people", "Include people", "include initials of crews and clerks, and eye heights"
        ),
        flag(
            "geojson",
            "Add a map file",
            "also save trees.geojson: the trees that have latitude and longitude (GeoJSON, RFC "
            "7946)",
        ),
    ),
    about="A data dictionary describes every column (Frictionless Data Package). Notes, places and "
    "initials are left out unless you ask for them. Texts that start like a formula get an "
    "apostrophe in front.",
)
