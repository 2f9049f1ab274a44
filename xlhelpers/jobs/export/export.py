"""The survey for others: CSV files, a data dictionary, and a list of what to hand over."""

import json
import shutil
import tempfile
from pathlib import Path

from xlhelpers import __version__
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.export.data_dictionary import DICTIONARY, csv_bytes, data_package
from xlhelpers.jobs.export.records import About, TidyTable
from xlhelpers.jobs.export.tables import tidy_tables
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.time_stamp import now
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.counted import name_left_out
from xlhelpers.survey.outcome import Outcome
from xlhelpers.wording import plural

_README = """\
{title}
{rule}
Saved on {day} from the workbook {book} ({lines} lines, {trees} trees, {open} open findings).

WHAT TO HAND OVER WITH A SURVEY
[ ] the workbook itself, as it was last filled; these files are only part of it
[ ] its backups, and where the paper sheets (or their scans) are kept, for how long, by whom
[ ] the survey rules as agreed at the start: rules.csv, and anything else that was agreed
[ ] how the plots were chosen: map, list, seed, plots replaced and why
[ ] plots that were refused, not safe or outside: plots.csv, column status
[ ] instruments and their checks: instruments.csv, instrument_checks.csv
[ ] the species list that was used: species.csv
[ ] the findings and the decisions about them: findings.csv, tab To check of the workbook
[ ] the remeasured trees and the report on them, if any
[ ] who can answer questions, and until when
[ ] who may use the data and for what; who decides about notes, places and names
[ ] the version of the program: xlhelpers {version}

WHAT IS HERE
{files}
  {dictionary}: what every column means, its type, unit and limits (Data Package with
  Table Schemas of the Frictionless Data project)

Units: {units}. A blank cell is a missing value; 0 is a value.
Numbers marked doubtful have a finding that is still open, or NOT SAFE and never accepted.
{left_out_values}
Texts that start like a formula get an apostrophe in front; see the dictionary.
Left out: {left_out}
Names of plots and strata are included, because they connect the tables. A plot may be named
after its street.

These are measurements. They do not rate the risk of any tree; local codes and licensed arborists
decide. If you measure again: watch the traffic, keep poles and tapes away from wires, do not walk
under dead or hung tops, and leave out what is not safe.
"""
_LEFT_OUT: dict[About, str] = {
    "notes": "notes, groups and explanations (--with-notes)",
    "places": "bearings, distances from the plot centre and plot notes (--with-places)",
    "people": "initials and eye heights (--with-people)",
}


def run(
    book: Path,
    out: Path,
    units: Units | None,
    with_notes: bool,
    with_places: bool,
    with_people: bool,
    progress: Progress,
) -> Done:
    """Save one survey in a new folder; the exit code is 1 where findings are open."""
    wanted: dict[About, bool] = {"notes": with_notes, "places": with_places, "people": with_people}
    left_out = frozenset(about for about, is_wanted in wanted.items() if not is_wanted)
    outcome, tables = export(book, out, left_out, units)
    sentences = [
        f"Saved {len(tables)} tables, {DICTIONARY} and README.txt in {out}: "
        f"{plural(len(outcome.survey.lines), 'line')}, {plural(len(outcome.trees), 'tree')}.",
        f"Left out: {_name_left_out(left_out)}",
    ]
    count = len(outcome.open_findings)
    if count:
        findings = f"{plural(count, 'finding')} {'is' if count == 1 else 'are'} open."
        sentences.append(f"{findings} Numbers based on open findings are marked doubtful.")
    sentences.append(_say_left_out(outcome))
    return Done(sentences, TO_CHECK if count else NOTHING_TO_CHECK, (out,))


def export(
    book: Path, folder: Path, left_out: frozenset[About], units: Units | None = None
) -> tuple[Outcome, tuple[TidyTable, ...]]:
    """Save the tables of a workbook, their dictionary and the list in a new folder.

    Parameters
    ----------
    book : Path
        The workbook; it is not changed.
    folder : Path
        Made by this; an existing one must be empty.
    left_out : set of "notes", "places", "people"
        What is left out.
    units : {"metric", "us"}, optional
        Units of the numbers; those of the survey unless stated.

    Raises
    ------
    WorkbookError
        The workbook cannot be read, or the folder is not empty; nothing is then written.
    """
    _refuse_folder(folder)
    crew_book = open_crew_book(book)
    outcome = compute(Package.open(book))  # with what the office decided
    units = units or outcome.survey.units
    tables = tidy_tables(outcome, crew_book.typed["lines"], left_out)
    files = [csv_bytes(table, units) for table in tables]
    title = str(outcome.survey.rules["survey_name"]) or book.stem
    facts = {
        "title": title,
        "description": "A tree survey: readings as entered, and computed heights and crowns.",
        "created": now().isoformat(timespec="seconds"),
        "version": __version__,
    }
    dictionary = data_package(tables, files, units, facts)
    texts = {f"{table.name}.csv": data for table, data in zip(tables, files, strict=True)}
    texts[DICTIONARY] = (json.dumps(dictionary, indent=2, ensure_ascii=False) + "\n").encode()
    texts["README.txt"] = _readme(book, outcome, tables, left_out, units).encode()
    _write_folder(folder, texts)
    return outcome, tables


def _refuse_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise WorkbookError(f"--out {folder} is a file. Give a new folder.")
    if folder.is_dir() and any(folder.iterdir()):
        raise WorkbookError(f"--out {folder} is not empty. Give a new folder.")
    if not folder.absolute().parent.is_dir():
        raise WorkbookError(
            f"--out {folder}: the folder {folder.parent} does not exist. Make it first."
        )


def _write_folder(folder: Path, texts: dict[str, bytes]) -> None:
    """Write all files next to the folder first, so that it is complete or not there."""
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
            f"{folder} was not written: {error.strerror or error}. Choose another place."
        ) from error


def _name_left_out(left_out: frozenset[About]) -> str:
    texts = [text for about, text in _LEFT_OUT.items() if about in left_out]
    return f"{'; '.join(texts)}." if texts else "nothing."


def _say_left_out(outcome: Outcome) -> str:
    flags = outcome.counted.named_left_out
    named = name_left_out({quantity: int(these.sum()) for quantity, these in flags.items()})
    if not named:
        return "No value is left out of means and sums."
    return (
        f"Values that cannot be right, such as a negative height: {named}. Leave them out of means "
        "and sums (trees.csv, column left_out)."
    )


def _file_line(table: TidyTable) -> str:
    purpose = table.purpose.split(". ")[0].rstrip(".")
    return f"  {table.name}.csv: {plural(len(table.rows), 'row')}. {purpose}."


def _readme(
    book: Path,
    outcome: Outcome,
    tables: tuple[TidyTable, ...],
    left_out: frozenset[About],
    units: Units,
) -> str:
    title = str(outcome.survey.rules["survey_name"]) or book.stem
    return _README.format(
        title=title,
        rule="=" * len(title),
        day=f"{now():%Y-%m-%d}",
        book=book.name,
        lines=f"{len(outcome.survey.lines):,}",
        trees=f"{len(outcome.trees):,}",
        open=f"{len(outcome.open_findings):,}",
        left_out_values=_say_left_out(outcome),
        version=__version__,
        files="\n".join(map(_file_line, tables)),
        dictionary=DICTIONARY,
        units="m and cm" if units == "metric" else "ft and in",
        left_out=_name_left_out(left_out),
    )
