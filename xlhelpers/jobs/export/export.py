"""A survey handed on: tidy CSV files, a data dictionary, and a list of what belongs together."""

import argparse
import json
import shutil
import sys
import tempfile
from pathlib import Path

from xlhelpers import __version__
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.export.data_dictionary import DICTIONARY, csv_bytes, data_package
from xlhelpers.jobs.export.records import About, TidyTable
from xlhelpers.jobs.export.tables import tidy_tables
from xlhelpers.package.time_stamp import now
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.outcome import Outcome

DONE, OPEN_FINDINGS, FAILED = 0, 1, 2
_CHECKLIST = """\
{title}
{rule}
Handed on {day}, from the workbook {book} ({lines} lines, {trees} trees, {open} open findings).

WHAT BELONGS TOGETHER WHEN A SURVEY IS HANDED OVER
[ ] the keyed workbook itself, as it was filled last; these files are an extract of it
[ ] its backups, and where the paper sheets (or their scans) are kept, for how long, by whom
[ ] the survey rules as agreed before the start: rules.csv, and what was agreed by word of mouth
[ ] how the plots were chosen: map, list, seed of the draw, plots replaced and why
[ ] plots that were refused, not safe or outside: plots.csv, column status
[ ] instruments and their checks: instruments.csv, instrument_checks.csv
[ ] the species list that was used: species.csv
[ ] the findings and what was decided about them: findings.csv, tab To check of the workbook
[ ] the trees measured again and the report on them, if any
[ ] who may answer questions, and until when
[ ] who may use the data and for what; who decides about notes, places and names
[ ] the version of the program: xlhelpers {version}

WHAT IS HERE
{files}
  {dictionary}: what every column means, its type, unit and limits (Data Package with
  Table Schemas of the Frictionless Data project)

Units: {units}. A blank cell is a missing value; 0 is a value.
Numbers marked doubtful rest on a finding that is still open.
{neutral}
Left out: {left_out}
Names of plots and strata are kept, because they tie the tables together; a plot may be named
after its street.

These are measurements, not a judgement of any tree's safety: that is for local rules and
licensed arborists to decide. Whoever measures again: watch the traffic, keep poles and tapes
away from wires, do not walk under dead or hung tops, and leave out what is not safe.
"""
_LEFT: dict[About, str] = {
    "notes": "notes, groups and words of explanation (--with-notes)",
    "places": "bearings, distances from the plot centre and plot notes (--with-places)",
    "people": "initials and eye heights (--with-people)",
}


def run(options: argparse.Namespace) -> int:
    """Hand on one workbook into a new folder and return the exit code."""
    wanted: dict[About, bool] = {
        "notes": options.with_notes,
        "places": options.with_places,
        "people": options.with_people,
    }
    left_out = frozenset(about for about, is_wanted in wanted.items() if not is_wanted)
    try:
        outcome, tables = export(options.book, options.out, left_out, options.units)
    except (WorkbookError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    print(
        f"Wrote {len(tables)} tables, {DICTIONARY} and README.txt into {options.out}: "
        f"{len(outcome.survey.lines):,} lines, {len(outcome.trees):,} trees."
    )
    print(f"Left out: {_said(left_out)}")
    if outcome.open_findings:
        print(f"{len(outcome.open_findings):,} findings are open; what rests on them is marked.")
    return OPEN_FINDINGS if outcome.open_findings else DONE


def export(
    book: Path, folder: Path, left_out: frozenset[About], units: Units | None = None
) -> tuple[Outcome, tuple[TidyTable, ...]]:
    """Write the tables of a workbook, their dictionary and the list into a new folder.

    Parameters
    ----------
    book : Path
        The keyed workbook; it stays as it is.
    folder : Path
        Made by this; an existing one must be empty.
    left_out : set of "notes", "places", "people"
        What is not handed on.
    units : {"metric", "us"}, optional
        Units of the numbers; those of the survey unless stated.

    Raises
    ------
    WorkbookError
        The workbook cannot be read, or the folder holds something; nothing is then written.
    """
    _refuse_folder(folder)
    crew_book = open_crew_book(book)
    outcome = compute(Package.open(book))  # with what the office decided
    shown: Units = units or ("us" if outcome.survey.units == "us" else "metric")
    tables = tidy_tables(outcome, crew_book.typed["lines"], left_out)
    files = [csv_bytes(table, shown) for table in tables]
    title = str(outcome.survey.rules["survey_name"]) or book.stem
    facts = {
        "title": title,
        "description": "A tree survey: keyed readings, and the heights and crowns computed.",
        "created": now().isoformat(timespec="seconds"),
        "version": __version__,
    }
    dictionary = data_package(tables, files, shown, facts)
    texts = {f"{table.name}.csv": data for table, data in zip(tables, files, strict=True)}
    texts[DICTIONARY] = (json.dumps(dictionary, indent=2, ensure_ascii=False) + "\n").encode()
    texts["README.txt"] = _readme(book, outcome, tables, left_out, shown).encode()
    _write_folder(folder, texts)
    return outcome, tables


def _refuse_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise WorkbookError(f"--out {folder} is a file; name a folder that is not there yet.")
    if folder.is_dir() and any(folder.iterdir()):
        raise WorkbookError(f"--out {folder} holds something already; name a new folder.")
    if not folder.absolute().parent.is_dir():
        raise WorkbookError(f"--out {folder}: there is no folder {folder.parent}; make it first.")


def _write_folder(folder: Path, texts: dict[str, bytes]) -> None:
    """Write all files beside the folder first, so that it is there whole or not at all."""
    try:
        scratch = Path(tempfile.mkdtemp(prefix=".writing ", dir=folder.absolute().parent))
        try:
            for name, data in texts.items():
                (scratch / name).write_bytes(data)
            scratch.chmod(0o755)
            if folder.exists():
                folder.rmdir()
            scratch.rename(folder)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise WorkbookError(
            f"{folder} was not written: {error.strerror or error}; choose another place."
        ) from error


def _said(left_out: frozenset[About]) -> str:
    said = [text for about, text in _LEFT.items() if about in left_out]
    return "; ".join(said) + "." if said else "nothing."


def _file_line(table: TidyTable) -> str:
    purpose = table.purpose.split(". ")[0].rstrip(".")
    return f"  {table.name}.csv: {len(table.rows):,} rows. {purpose}."


def _readme(
    book: Path,
    outcome: Outcome,
    tables: tuple[TidyTable, ...],
    left_out: frozenset[About],
    units: Units,
) -> str:
    title = str(outcome.survey.rules["survey_name"]) or book.stem
    return _CHECKLIST.format(
        title=title,
        rule="=" * len(title),
        day=f"{now():%Y-%m-%d}",
        book=book.name,
        lines=f"{len(outcome.survey.lines):,}",
        trees=f"{len(outcome.trees):,}",
        open=f"{len(outcome.open_findings):,}",
        version=__version__,
        files="\n".join(map(_file_line, tables)),
        dictionary=DICTIONARY,
        units="m and cm" if units == "metric" else "ft and in",
        neutral="Texts that could run as a formula have an apostrophe put before them; see the "
        "dictionary.",
        left_out=_said(left_out),
    )
