"""What the workbook already knows of a plot, as it is printed at the head of its sheets."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.choices import choice
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.pages.values import natural_key
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import InstrumentTable, instrument_table
from xlhelpers.survey.typed.folding import positions_in
from xlhelpers.survey.typed.words import identifier_key, initials_in

# empty sheets in one workbook
MOST_EMPTY = 500


@dataclass(frozen=True)
class PlotFacts:
    """One plot as it is printed; "" for what the crew writes in.

    `scales` are those of its instrument, or all of them where none is stated. `trees` is how
    many were counted, 0 unknown.
    """

    plot: str
    stratum: str
    date: str
    crew: str
    instrument: str
    scales: tuple[str, ...]
    eye_height: str
    note: str
    trees: int
    distance_to: str = ""
    foot_by: str = ""
    distance_kind: str = ""


def choose_plots(
    survey: Survey, plots: tuple[str, ...] = (), empty: int | None = None
) -> tuple[PlotFacts, ...]:
    """Return the plots whose sheets are wanted; a survey without plots gets an empty sheet.

    Parameters
    ----------
    survey : Survey
        Its plots, people and instruments are used.
    plots : tuple of str, optional
        Numbers of plots; all of them unless stated.
    empty : int, optional
        So many empty sheets in place of the plots, 1 to `MOST_EMPTY`.

    Raises
    ------
    WorkbookError
        If one of the plots is not there, or the number is not allowed.
    """
    if empty is None and (plots or (survey.plots["plot"] != "").any()):
        return plot_facts(survey, plots)
    count = 1 if empty is None else empty
    if not 1 <= count <= MOST_EMPTY:
        raise WorkbookError(f"--empty must be from 1 to {MOST_EMPTY}, not {count}.")
    scales = _scales(survey, "", instrument_table(survey))
    return (PlotFacts("", "", "", "", "", scales, "", "", 0),) * count


def plot_facts(survey: Survey, plots: tuple[str, ...] = ()) -> tuple[PlotFacts, ...]:
    """Return what is known of the plots that are asked for, in the order people count in.

    Parameters
    ----------
    survey : Survey
        Its plots, people and instruments are used.
    plots : tuple of str, optional
        Numbers of plots; all of them unless stated.

    Raises
    ------
    WorkbookError
        If the workbook has no plots, or not one of those asked for.
    """
    known = survey.plots[survey.plots["plot"] != ""]
    known = known.loc[~known["plot"].map(identifier_key).duplicated()]
    if known.empty:
        raise WorkbookError(
            "No plot is entered yet. Enter one line for each plot on the sheet Plots first. Cards "
            "can be printed without plots: use --cards."
        )
    if plots:
        places = positions_in(list(plots), known["plot"], identifier_key)
        missing = [plot for plot, place in zip(plots, places.tolist(), strict=True) if place < 0]
        if missing:
            raise WorkbookError(
                f"--plots: the sheet Plots has no plot {', '.join(missing)}. Give plots that are "
                "listed there."
            )
        known = known.iloc[sorted(set(places.tolist()))]
    table = instrument_table(survey)
    facts = [_facts(survey, row, table) for _, row in known.iterrows()]
    return tuple(sorted(facts, key=lambda one: natural_key(one.plot)))


def _facts(survey: Survey, row: pd.Series, table: InstrumentTable) -> PlotFacts:
    date = row["date"]
    trees = float(row["trees_counted"])
    return PlotFacts(
        plot=str(row["plot"]),
        stratum=str(row["stratum"]),
        date="" if pd.isna(date) else f"{date:%Y-%m-%d}",
        crew=str(row["crew"]),
        instrument=str(row["instrument"]),
        scales=_scales(survey, str(row["instrument"]), table),
        eye_height=_eye_height(survey, str(row["crew"])),
        note=str(row["note"]),
        trees=int(trees) if np.isfinite(trees) else 0,
        distance_to=str(row["distance_to"]),
        foot_by=str(row["foot_by"]),
        distance_kind=str(row["distance_kind"]),
    )


def _scales(survey: Survey, instrument: str, table: InstrumentTable) -> tuple[str, ...]:
    place = int(positions_in([instrument], survey.instruments["instrument"], identifier_key)[0])
    known = table.scales[place]
    base = float(table.scale_distance[place])
    scales = []
    for scale in choice("scale"):
        if not known or scale in known:
            made_for = scale == "fixed distance" and np.isfinite(base)
            scales.append(f"{scale} {base:g}" if made_for else scale)
    return tuple(scales)


def _eye_height(survey: Survey, crew: str) -> str:
    first = "".join(initials_in(crew)[:1])
    place = int(positions_in([first], survey.people["initials"], identifier_key)[0])
    height = float(survey.people["eye_height"].iloc[place]) if place >= 0 else np.nan
    if not np.isfinite(height):
        return ""
    length, units = QUANTITIES["length"], survey.units
    decimals = 2 if units == "metric" else 1
    return f"{first}: {height / length.factor(units):.{decimals}f} {length.unit(units)}"
