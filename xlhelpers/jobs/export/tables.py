"""A survey as tidy tables: one row a thing, one column a fact, keys that connect them."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENT_CHECKS, INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES
from xlhelpers.jobs.export.records import About, TidyColumn, TidyTable, keyed_columns
from xlhelpers.jobs.export.words import (
    FINDING_COLUMNS,
    OF_FINDINGS,
    OF_TREES,
    RULE_COLUMNS,
    SETUP_COLUMNS,
    TREE_COLUMNS,
    key_column,
)
from xlhelpers.survey.counted import left_out_texts
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import CLOSED, REFUSED, Survey
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.quantities import MEASURED
from xlhelpers.survey.summaries import open_lines, open_trees
from xlhelpers.survey.typed.words import closing_word

# sheet, name of the table, key
_KEYED: tuple[tuple[Sheet, str, str], ...] = (
    (STRATA, "strata", "stratum_id"),
    (INSTRUMENTS, "instruments", "instrument_id"),
    (INSTRUMENT_CHECKS, "instrument_checks", "check_id"),
    (PLOTS, "plots", "plot_id"),
    (SPECIES, "species", "species_id"),
    (PEOPLE, "people", "person_id"),
)
_USED = {
    "used_instrument": "instrument",
    "used_scale": "scale",
    "used_distance_kind": "distance_kind",
}


def tidy_tables(
    outcome: Outcome, typed: pd.DataFrame, left_out: frozenset[About]
) -> tuple[TidyTable, ...]:
    """Return the tables of a survey.

    Parameters
    ----------
    outcome : Outcome
        The survey and what was computed from it.
    typed : DataFrame
        The cells of the lines as typed, a column a field; for the reasons given for blanks.
    left_out : set of "notes", "places", "people"
        What is left out.

    Returns
    -------
    tuple of TidyTable
        In inner units; the people only where they are not left out.
    """
    survey = outcome.survey
    tables = [_rules(survey)]
    for sheet, name, key in _KEYED:
        if sheet is PEOPLE and "people" in left_out:
            continue
        tables.append(_entered_table(sheet, name, key, getattr(survey, name)))
    tables += [_trees(outcome), _lines(outcome, typed, left_out), _findings(outcome)]
    return tuple(table.without(left_out) for table in tables)


def _running_numbers(count: int) -> Any:
    return np.arange(1, count + 1)


def _entered_table(sheet: Sheet, name: str, key: str, rows: pd.DataFrame) -> TidyTable:
    columns = (key_column(key, own=True), *keyed_columns(sheet))
    numbered = rows.assign(**{key: _running_numbers(len(rows))})
    return TidyTable(name, sheet.title, sheet.purpose, columns, numbered, key)


def _rules(survey: Survey) -> TidyTable:
    rows = []
    for item in RULES.fields:
        value, quantity = survey.rules[item.name], item.measured_in
        if isinstance(value, float) and quantity is not None:
            number = value / quantity.factor(survey.units)
            value = "" if np.isnan(number) else f"{number:.10g}"
        unit = quantity.unit(survey.units) if quantity else ""
        value = "" if value is None else value
        rows.append((item.name, item.label, str(value), unit, f"{item.help} {item.source}".strip()))
    frame = pd.DataFrame(rows, columns=[column.name for column in RULE_COLUMNS])
    return TidyTable("rules", RULES.title, RULES.purpose, RULE_COLUMNS, frame, "rule")


def _plot_ids(positions: Any) -> Any:
    at = np.asarray(positions, dtype=float)
    return np.where(at >= 0, at + 1, np.nan)


def _flags(count: int, positions: set[int]) -> Any:
    flags = np.zeros(count, dtype=bool)
    flags[sorted(positions)] = True
    return flags


def _trees(outcome: Outcome) -> TidyTable:
    trees = outcome.trees
    rows = trees.assign(
        tree_id=_running_numbers(len(trees)),
        plot_id=_plot_ids(trees["plot_position"]),
        doubtful=_flags(len(trees), open_trees(outcome)),
        **{f"doubtful_{one}": outcome.counted.in_doubt[one] for one in MEASURED},
        left_out=left_out_texts(outcome.counted),
    )
    ids = (
        key_column("tree_id", "Tree", own=True),
        key_column("plot_id", "Plot"),
    )
    links = (("plot_id", "plots"),)
    return TidyTable("trees", "Trees", OF_TREES, (*ids, *TREE_COLUMNS), rows, "tree_id", links)


def _lines(outcome: Outcome, typed: pd.DataFrame, left_out: frozenset[About]) -> TidyTable:
    survey, setups = outcome.survey, outcome.setups
    lines = survey.lines
    copied = [
        "level_distance",
        "crown_base",
        "crown_top",
        "total_height",
        "crown_depth",
        "no_height_because",
    ]
    rows = lines.assign(
        line_id=_running_numbers(len(lines)),
        tree_id=setups["tree_position"] + 1,
        plot_id=_plot_ids(setups["plot_position"]),
        **{name: setups[name] for name in copied},
        **{name: setups[source] for name, source in _USED.items()},
        closed=_fields_in(survey, CLOSED, typed),
        refused=_fields_in(survey, REFUSED, None),
        doubtful=_flags(len(lines), open_lines(outcome.doubtful_findings)),
    )
    if "notes" in left_out:  # words of explanation may follow the closing word
        words = {text: closing_word(text) for text in lines["missing_because"].unique()}
        words = {
            text: word or text * (text.casefold() == "eye height") for text, word in words.items()
        }
        rows["missing_because"] = lines["missing_because"].map(words)
    ids = (
        key_column("line_id", "Line", own=True),
        key_column("tree_id", "Tree"),
        key_column("plot_id", "Plot"),
    )
    columns: tuple[TidyColumn, ...] = (*ids, *keyed_columns(FIELD_SHEET), *SETUP_COLUMNS)
    links = (("tree_id", "trees"), ("plot_id", "plots"))
    return TidyTable(
        "lines", FIELD_SHEET.title, FIELD_SHEET.purpose, columns, rows, "line_id", links
    )


def _fields_in(survey: Survey, state: int, typed: pd.DataFrame | None) -> list[str]:
    """Return for each line the fields whose cells are in a state, with their closing words."""
    states = survey.states["lines"].drop(columns=["_sheet", "_row"], errors="ignore")
    named: list[list[str]] = [[] for _ in range(len(states))]
    for row, column in zip(*np.nonzero((states == state).to_numpy()), strict=True):
        name = str(states.columns[column])
        word = "" if typed is None else _word(typed[name].iloc[row], typed, row)
        named[row].append(f"{name}: {word}" if word else name)
    return ["; ".join(fields) for fields in named]


def _word(cell: Any, typed: pd.DataFrame, row: int) -> str:
    """Return the reason for a blank in its cell, else the one of the line for all its blanks."""
    texts = (cell, typed["missing_because"].iloc[row])
    return next((closing_word(text) for text in texts if isinstance(text, str) and text), "")


def _findings(outcome: Outcome) -> TidyTable:
    every: Sequence[tuple[Any, ...]] = [
        (
            identity,
            finding.severity,
            stands.is_open,
            stands.is_doubtful,
            finding.check,
            *_who(finding.subject),
            "; ".join(finding.fields),
        )
        for identity, finding, stands in zip(
            finding_ids(outcome.findings), outcome.findings, outcome.standings, strict=True
        )
    ]
    frame = pd.DataFrame(every, columns=[column.name for column in FINDING_COLUMNS])
    return TidyTable("findings", "Findings", OF_FINDINGS, FINDING_COLUMNS, frame, "finding_id")


def _who(subject: Sequence[tuple[str, str]]) -> tuple[str, str, str]:
    named: Mapping[str, str] = dict(subject)
    return named.get("plot", ""), named.get("tree", ""), named.get("set-up", "")
