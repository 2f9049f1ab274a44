"""The survey for others: CSV files, a data dictionary, and a list of what to hand over."""

import json
import shutil
import tempfile
from pathlib import Path

from xlhelpers import __version__
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.export import words
from xlhelpers.jobs.export.data_dictionary import csv_bytes, data_package
from xlhelpers.jobs.export.geojson import MAP_FILE, count_places, geojson_bytes
from xlhelpers.jobs.export.records import About, TidyTable
from xlhelpers.jobs.export.tables import tidy_tables
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.time_stamp import now
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.outcome import Outcome


def run(
    book: Path,
    out: Path,
    units: Units | None,
    with_notes: bool,
    with_places: bool,
    with_people: bool,
    geojson: bool,
    progress: Progress,
) -> Done:
    """Save one survey in a new folder; the exit code is 1 where findings are open."""
    wanted: dict[About, bool] = {"notes": with_notes, "places": with_places, "people": with_people}
    left_out = frozenset(about for about, is_wanted in wanted.items() if not is_wanted)
    outcome, tables = export(book, out, left_out, units, with_map=geojson)
    sentences = words.say_exported(out, outcome, len(tables), left_out)
    if geojson:
        sentences.append(words.say_map(count_places(outcome.trees), len(outcome.trees)))
    code = TO_CHECK if outcome.open_findings else NOTHING_TO_CHECK
    return Done(sentences, code, (out,))


def export(
    book: Path,
    folder: Path,
    left_out: frozenset[About],
    units: Units | None = None,
    *,
    with_map: bool = False,
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
    with_map : bool
        Also write the trees that have a position as GeoJSON.

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
        "created": now().isoformat(timespec="seconds"),
        "version": __version__,
    }
    dictionary = data_package(tables, files, units, facts)
    texts = {f"{table.name}.csv": data for table, data in zip(tables, files, strict=True)}
    texts[words.DICTIONARY] = (json.dumps(dictionary, indent=2, ensure_ascii=False) + "\n").encode()
    if with_map:
        trees = next(table for table in tables if table.name == "trees")
        texts[MAP_FILE] = geojson_bytes(trees, outcome.trees, units)
    texts["README.txt"] = words.write_readme(book, outcome, tables, left_out, units).encode()
    _write_folder(folder, texts)
    return outcome, tables


def _refuse_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise WorkbookError(words.OUT_IS_FILE.format(folder=folder))
    if folder.is_dir() and any(folder.iterdir()):
        raise WorkbookError(words.OUT_NOT_EMPTY.format(folder=folder))
    if not folder.absolute().parent.is_dir():
        raise WorkbookError(words.OUT_NO_PARENT.format(folder=folder, parent=folder.parent))


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
        why = error.strerror or error
        raise WorkbookError(words.NOT_WRITTEN.format(folder=folder, why=why)) from error
