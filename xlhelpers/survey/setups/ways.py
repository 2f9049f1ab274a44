"""Which instrument, scale and kind of distance each line was read with.

The line's own entry goes before the plot's, and the instrument's only scale fills what both leave
blank. An entry that was refused or closed is not replaced: the plot's may not hold there.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, Survey
from xlhelpers.survey.setups.instruments import InstrumentTable, Texts, Values, instrument_table
from xlhelpers.survey.typed.folding import Flags, Positions, fold, fold_column, positions_in
from xlhelpers.survey.typed.words import closing_word, identifier_key, initials_in

NO_DISTANCE = "none"
BY_EYE = "eye height"
LEVEL, ALONG_SLOPE, STRAIGHT = "level", "along slope", "straight to the foot"


@dataclass(frozen=True)
class Ways:
    """How each line was read: positions of plot and instrument, and the resolved words.

    `foot_by_eye` marks lines that declare the eye height in place of a foot reading, `closed_text`
    those that say why something is missing; `eye_height` is that of the plot's first initials.
    `eye_of_plot` marks those of them that only the plot's rule makes so, `ground` the slope up to
    which their ground counts as level. `to_bark` says whether distances end at the bark.
    """

    plot_position: Positions
    instrument_position: Positions
    instrument: Texts
    scale: Texts
    distance_kind: Texts
    foot_by_eye: Flags
    closed_text: Flags
    eye_height: Values
    instruments: InstrumentTable
    eye_of_plot: Flags
    ground: Values
    to_bark: Flags


def state_of(survey: Survey, table: str, column: str) -> NDArray[np.int8]:
    """Return what the cells of a column were; BLANK throughout where the survey does not say."""
    states = survey.states.get(table)
    if states is None or column not in states:
        return np.full(len(getattr(survey, table)), BLANK, dtype=np.int8)
    return states[column].to_numpy(dtype=np.int8)


def resolve_ways(survey: Survey) -> Ways:
    """Return how each line of a survey was read.

    Parameters
    ----------
    survey : Survey
        Looked at are lines, plots, instruments and people.

    Returns
    -------
    Ways
        Columns aligned to `survey.lines`; "" and -1 where nothing is known. A distance kind
        that is blank on the line and on the plot is "level"; with the scale "height" and no own
        entry it is "none".
    """
    plot = positions_in(survey.lines["plot"], survey.plots["plot"], identifier_key)
    table = instrument_table(survey)
    instrument = _own_or_plots(survey, "instrument", plot)
    position = positions_in(instrument, survey.instruments["instrument"], identifier_key)
    scale = _scale(survey, plot, position, table)
    reasons = survey.lines["missing_because"]
    declared = _mark_texts(reasons, lambda text: fold(EYE_HEIGHT_WORDS) in fold(text))
    eye_of_plot = _eye_of_plot(survey, plot) & ~declared
    return Ways(
        plot_position=plot,
        instrument_position=position,
        instrument=instrument,
        scale=scale,
        distance_kind=_distance_kind(survey, plot, scale),
        foot_by_eye=declared | eye_of_plot,
        closed_text=_mark_texts(reasons, lambda text: closing_word(text) != ""),
        eye_height=_eye_height(survey, plot),
        instruments=table,
        eye_of_plot=eye_of_plot,
        ground=_ground(survey, plot),
        to_bark=_to_bark(survey, plot, table.to_bark[position]),
    )


def _eye_of_plot(survey: Survey, plot: Positions) -> Flags:
    """Mark the lines without a foot reading on plots where the eye height stands for it."""
    asked = _texts(survey, "plots", "foot_by")[plot] == BY_EYE
    blank = np.isnan(survey.lines["foot_reading"].to_numpy(dtype=float))
    blank &= state_of(survey, "lines", "foot_reading") == BLANK
    return np.asarray(asked & blank, dtype=bool)


def _ground(survey: Survey, plot: Positions) -> Values:
    """Return the slope of each line's plot, or where it is not stated the steepest level ground."""
    slope = np.append(np.abs(survey.plots["slope"].to_numpy(dtype=float)), np.nan)[plot]
    return np.where(np.isnan(slope), float(survey.rules["limit_level"]), slope)


def _to_bark(survey: Survey, plot: Positions, by_instrument: Flags) -> Flags:
    """Mark the distances that end at the bark: as the plot says, else as its instrument does."""
    ends = _texts(survey, "plots", "distance_to")[plot]
    has_end = np.isin(ends, ("bark", "centre"))
    return np.asarray(np.where(has_end, ends == "bark", by_instrument), dtype=bool)


def _texts(survey: Survey, table: str, column: str) -> Texts:
    """Return a column of texts with one more blank at the end, for the position -1."""
    values = getattr(survey, table)[column].to_numpy(dtype=object)
    return np.append(values, "").astype(object)


def _unusable(survey: Survey, table: str, column: str) -> Flags:
    """Mark the cells that hold something that is not to be replaced, False at the end."""
    return np.append(np.isin(state_of(survey, table, column), (REFUSED, CLOSED)), False)


def _own_or_plots(survey: Survey, column: str, plot: Positions) -> Texts:
    own = _texts(survey, "lines", column)[:-1]
    unusable = _unusable(survey, "lines", column)[:-1]
    return np.where((own != "") | unusable, own, _texts(survey, "plots", column)[plot])


def _scale(survey: Survey, plot: Positions, position: Positions, table: InstrumentTable) -> Texts:
    """Return the scale read; the plot's does not count for an instrument that has no such scale."""
    own = _texts(survey, "lines", "scale")[:-1]
    plots = _texts(survey, "plots", "scale")[plot]
    other = _texts(survey, "lines", "instrument")[:-1] != ""
    for scale in set(plots[other]) - {""}:
        has = np.array([not scales or scale in scales for scales in table.scales], dtype=bool)
        plots = np.where(other & (plots == scale) & ~has[position], "", plots)
    refused = _unusable(survey, "lines", "scale")[:-1]
    refused |= _unusable(survey, "plots", "scale")[plot] & (own == "")
    only = np.where(refused, "", table.only_scale[position])
    line_scales = np.where((own != "") | refused, own, np.where(plots != "", plots, only))
    return np.asarray(line_scales, dtype=object)


def _distance_kind(survey: Survey, plot: Positions, scale: Texts) -> Texts:
    own = _texts(survey, "lines", "distance_kind")[:-1]
    unusable = _unusable(survey, "lines", "distance_kind")[:-1]
    unusable |= _unusable(survey, "plots", "distance_kind")[plot] & (own == "")
    plots = _texts(survey, "plots", "distance_kind")[plot]
    usual = np.where(scale == HEIGHT_SCALE, NO_DISTANCE, np.where(plots == "", LEVEL, plots))
    return np.asarray(np.where((own != "") | unusable, own, usual), dtype=object)


def _mark_texts(texts: Iterable[str], holds: Callable[[str], bool]) -> Flags:
    """Mark the texts for which something holds; each different text is asked once."""
    return fold_column(texts, lambda text: holds(text) if text else False).astype(bool)


def _eye_height(survey: Survey, plot: Positions) -> Values:
    """Return the eye height of the first initials of each line's plot."""
    crew = ["".join(initials_in(text)[:1]) for text in _texts(survey, "plots", "crew")]
    person = positions_in(crew, survey.people["initials"], identifier_key)
    heights = np.append(survey.people["eye_height"].to_numpy(dtype=float), np.nan)
    return heights[person][plot]
