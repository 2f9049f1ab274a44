"""How far out each instrument was at its checks, and which trees that touches.

A misadjusted instrument adds one angle e to all its readings. Two kinds of check show it:

- a two-way level check: there it reads t + e, back -t + e, so e is half the sum;
- readings to a known height: the height comes out wrong by dh = D (sec2 a - sec2 b) e, with a and
  b the angles to its upper and lower end. With both ends nearly level this tells next to nothing,
  and then it is said that it cannot tell.

What a display shows has no angle: the height itself is compared.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import Units
from xlhelpers.measure import slopes
from xlhelpers.measure.accuracy import Accuracy, aim_uncertainty
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.measure.units import convert
from xlhelpers.survey.columns import Column, Table, table_of
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.heights import SIGHTED
from xlhelpers.survey.setups.instruments import InstrumentTable, Texts, Values, instrument_table
from xlhelpers.survey.setups.ways import ALONG_SLOPE, STRAIGHT
from xlhelpers.survey.typed.folding import Positions, positions_in
from xlhelpers.survey.typed.words import identifier_key

IN_ORDER, OUT_OF_ORDER, CANNOT_TELL = "in order", "out of order", "cannot tell"
LEVEL_CHECK, KNOWN_HEIGHT, SHOWN_HEIGHT = "level check", "known height", "known height, shown"
# An angle known no better than this (degrees) cannot be called right; common practice, no source
GREATEST_U = 0.5
_COVERAGE = 2.0
HISTORY = Table(
    (
        Column("instrument", "text", "As entered."),
        Column("position", "position", "Row on Instruments."),
        Column("date", "date", "Day of the check."),
        Column("person", "text", "Who checked."),
        Column("scale", "text", "Scale read."),
        Column("way", "text", "Kind of check."),
        Column("error", "number", "Reads too high by.", "angle"),
        Column("u_error", "number", "± error.", "angle"),
        Column("allowed", "number", "Twice the ± of error and zero; m for a shown height."),
        Column("read_height", "number", "Height from the readings.", "length"),
        Column("known_height", "number", "Height by tape.", "length"),
        Column("verdict", "text", "In order, out of order, cannot tell."),
        Column("row", "position", "Row of the sheet, from 1."),
    )
)
TOUCHED_LINES = Table(
    (
        Column("line", "position", "Row of the lines."),
        Column("plot", "text", "As entered."),
        Column("tree", "text", "As entered."),
        Column("setup", "number", "As entered.", "count"),
        Column("date", "date", "Of its plot."),
        Column("when", "text", "between, after or undated."),
        Column("total_height", "number", "As computed.", "length"),
        Column("corrected", "number", "Without the error of the bad check.", "length"),
    )
)


@dataclass(frozen=True)
class Spell:
    """A time in which an instrument was out of order.

    `last_good` is the last check before that found it in order (None: none did), `first_bad` the
    check that found it out, `next_good` the next that found it in order again (None: none did).
    `error` is
    the angle by which it read too high at `first_bad` [degrees, NaN where the check gives none]
    and `u_error` its standard uncertainty.
    """

    instrument: str
    position: int
    last_good: pd.Timestamp | None
    first_bad: pd.Timestamp
    next_good: pd.Timestamp | None
    error: float
    u_error: float


def angle_from_level_check(there: Values, back: Values) -> Values:
    """Return the error of an instrument from a two-way level check [degrees, + reads too high].

    Parameters
    ----------
    there, back : ndarray
        Angles that were read from each post to the other, at the same height over the ground
        [degrees].
    """
    return (there + back) / 2


def angle_from_known_height(
    read_height: Values, known_height: Values, distance: Values, upper: Values, lower: Values
) -> Values:
    """Return the error of an instrument from a known height [degrees, + reads too high].

    Parameters
    ----------
    read_height, known_height, distance : ndarray
        Height as it comes out of the readings, height by tape, level distance [one unit].
    upper, lower : ndarray
        Slopes that were read to the two ends [fraction].

    Returns
    -------
    ndarray
        e of dh = D (sec2 a - sec2 b) e; NaN where the two ends are equally steep. Linear in e:
        at 1 degree the neglected part is a few percent of it.
    """
    lever = distance * (upper**2 - lower**2)  # sec2 = 1 + tan2
    with np.errstate(all="ignore"):
        angle = np.degrees((read_height - known_height) / lever)
    return np.where(np.abs(lever) > 1e-9 * distance, angle, np.nan)


def height_change(distance: Values, upper: Values, lower: Values, error: float) -> Values:
    """Return what an error of the instrument adds to sighted heights, D (sec2 a - sec2 b) e.

    Parameters
    ----------
    distance : ndarray
        Level distance [any unit].
    upper, lower : ndarray
        Slopes to the point and to the foot [fraction].
    error : float
        Error of the instrument [degrees].

    Returns
    -------
    ndarray
        Too high by so much [unit of the distance]; take it off to correct.
    """
    return np.asarray(distance * (upper**2 - lower**2) * np.radians(error), dtype=float)


def check_history(survey: Survey) -> pd.DataFrame:
    """Return what each check says of its instrument, by instrument and date.

    Parameters
    ----------
    survey : Survey
        Looked at are instruments and instrument checks.

    Returns
    -------
    DataFrame
        One row a check and way, with the columns HISTORY. Checks without readings, without a
        date or without a known scale are left out.
    """
    checks = survey.instrument_checks
    table = instrument_table(survey)
    position = positions_in(checks["instrument"], survey.instruments["instrument"], identifier_key)
    scale = np.where(checks["scale"] != "", checks["scale"], table.only_scale[position])
    parts = [
        _history_on_scale(survey, table, position, scale.astype(object), name)
        for name in (*slopes.SCALES, HEIGHT_SCALE)
    ]
    rows = pd.concat(parts, ignore_index=True)
    rows = rows[rows["date"].notna() & (rows["instrument"] != "")]
    keys = rows["instrument"].map(identifier_key)
    order = np.lexsort((rows["way"], rows["row"], rows["date"], keys))
    return rows.iloc[order].reset_index(drop=True)


def spells(history: pd.DataFrame) -> tuple[Spell, ...]:
    """Return the times in which instruments were out of order, in the order of the history.

    A day on which one check found the instrument out and another could not tell counts as out.
    """
    outages: list[Spell] = []
    for _, of_one in history.groupby(history["instrument"].map(identifier_key), sort=False):
        outages += _spells_of_instrument(of_one)
    return tuple(outages)


def touched_lines(survey: Survey, setups: pd.DataFrame, spell: Spell) -> pd.DataFrame:
    """Return the lines that were read with an instrument while it may have been out of order.

    Parameters
    ----------
    survey : Survey
        The keyed survey.
    setups : DataFrame
        Its set-ups, aligned to its lines.
    spell : Spell
        When the instrument was out.

    Returns
    -------
    DataFrame
        One row a line, in the order of the survey, with the columns TOUCHED_LINES. `when` is
        "between" from the last good check to the first bad one, "after" until it was in order
        again. `corrected` supposes that the whole error of the bad check acted on the line; NaN
        where that cannot be said. It is only a proposal.
    """
    plots = survey.plots["date"].reset_index(drop=True)
    dates = plots.reindex(setups["plot_position"].to_numpy(dtype=int)).reset_index(drop=True)
    with_it = setups["instrument_position"].to_numpy(dtype=int) == spell.position
    between = with_it & (dates <= spell.first_bad).to_numpy()
    if spell.last_good is not None:
        between &= (dates >= spell.last_good).to_numpy()
    after = with_it & (dates > spell.first_bad).to_numpy()
    if spell.next_good is not None:
        after &= (dates < spell.next_good).to_numpy()
    undated = with_it & dates.isna().to_numpy()
    when = np.select([between, after, undated], ["between", "after", "undated"], "")
    height = setups["total_height"].to_numpy(dtype=float)
    change = tip_changes(survey, setups, spell.error)
    lines = np.flatnonzero(when != "")
    keyed = survey.lines.iloc[lines]
    return table_of(
        TOUCHED_LINES,
        {
            "line": lines,
            "plot": keyed["plot"].to_numpy(),
            "tree": keyed["tree"].to_numpy(),
            "setup": keyed["setup"].to_numpy(),
            "date": dates.to_numpy()[lines],
            "when": when[lines],
            "total_height": height[lines],
            "corrected": (height - change)[lines],
        },
    )


def tip_changes(survey: Survey, setups: pd.DataFrame, error: float) -> Values:
    """Return what an error of an instrument adds to the tips of the lines that it sighted [m].

    A distance that was made level with a reading of the same instrument, of slope s, comes out
    too long by -D s e; a leaning tip is D - o away.

    Parameters
    ----------
    survey : Survey
        The keyed survey.
    setups : DataFrame
        Its set-ups, aligned to its lines.
    error : float
        Error of the instrument [degrees].

    Returns
    -------
    ndarray
        One value a line [m]; NaN where the tip was not sighted over its foot or a mark.
    """
    columns = ("level_distance", "tip_slope", "foot_slope", "along_slope")
    distance, tip, foot, along = (setups[name].to_numpy(dtype=float) for name in columns)
    kind = setups["distance_kind"].to_numpy()
    used = np.select([kind == ALONG_SLOPE, kind == STRAIGHT], [along, foot], 0.0)
    offset = np.nan_to_num(survey.lines["tip_offset"].to_numpy(dtype=float))
    change = height_change(distance, tip, foot, error)
    of_lean = offset * (1 + tip**2) * np.radians(error)
    of_distance = distance * used * (tip - foot) * np.radians(error)
    sighted = setups["tip_way"].isin(list(SIGHTED.values())).to_numpy()
    return np.where(sighted, change - of_lean - of_distance, np.nan)


def _history_on_scale(
    survey: Survey, table: InstrumentTable, position: Positions, scale: Texts, name: str
) -> pd.DataFrame:
    """Return the rows of the history of the checks that were read on one scale."""
    rows = np.flatnonzero(scale == name)
    checks, places = survey.instrument_checks.iloc[rows], position[rows]
    accuracy = _fill_unknown(table.accuracy_of(places, name))
    if name == HEIGHT_SCALE:
        parts = [_judge_shown_heights(checks, accuracy, survey.units)]
    else:
        parts = [_judge_level_checks(checks, accuracy), _judge_known_heights(checks, accuracy)]
    common = pd.DataFrame(
        {
            "instrument": checks["instrument"].to_numpy(),
            "position": places,
            "date": checks["date"].to_numpy(),
            "person": checks["person"].to_numpy(),
            "scale": name,
            "row": checks["_row"].to_numpy(),
        }
    )
    whole = pd.concat([common.join(part) for part in parts], ignore_index=True)
    return whole.loc[whole["verdict"] != "", list(HISTORY.names)]


def _fill_unknown(accuracy: Accuracy) -> Accuracy:
    """Return the accuracy with 0 for what is unknown; the graduation is always known."""
    known = {
        name: np.nan_to_num(np.asarray(getattr(accuracy, name), dtype=float))
        for name in ("u_reading", "u_zero", "u_distance_relative", "u_distance_fixed", "graduation")
    }
    return Accuracy(**known, scale=accuracy.scale, scale_distance=accuracy.scale_distance)


def _slope(readings: pd.Series, accuracy: Accuracy) -> Values:
    tangents = slopes.slope(readings.to_numpy(dtype=float), accuracy.scale, accuracy.scale_distance)
    return np.asarray(tangents, dtype=float)


def _judge_level_checks(checks: pd.DataFrame, accuracy: Accuracy) -> pd.DataFrame:
    there, back = (_slope(checks[name], accuracy) for name in ("level_there", "level_back"))
    angles = [np.asarray(slopes.angle(slope), dtype=float) for slope in (there, back)]
    u_there, u_back = (np.asarray(aim_uncertainty(slope, accuracy)) for slope in (there, back))
    error = angle_from_level_check(*angles)
    return _judge_angles(LEVEL_CHECK, error, np.hypot(u_there, u_back) / 2, accuracy)


def _judge_known_heights(checks: pd.DataFrame, accuracy: Accuracy) -> pd.DataFrame:
    lower, upper = (_slope(checks[name], accuracy) for name in ("foot_reading", "tip_reading"))
    distance, known = (checks[n].to_numpy(dtype=float) for n in ("distance", "known_height"))
    read = distance * (upper - lower)
    error = angle_from_known_height(read, known, distance, upper, lower)
    aims = [
        distance * (1 + slope**2) * np.radians(np.asarray(aim_uncertainty(slope, accuracy)))
        for slope in (upper, lower)
    ]
    u_distance = np.hypot(
        np.asarray(accuracy.u_distance_fixed), np.asarray(accuracy.u_distance_relative) * distance
    )
    u_read = np.sqrt(aims[0] ** 2 + aims[1] ** 2 + ((upper - lower) * u_distance) ** 2)
    with np.errstate(all="ignore"):
        u_error = np.degrees(u_read / np.abs(distance * (upper**2 - lower**2)))
    judged = _judge_angles(KNOWN_HEIGHT, error, u_error, accuracy)
    # both ends equally steep show no angle, and a wrong height all the same
    off = np.isnan(error) & (np.abs(read - known) > _COVERAGE * u_read)
    verdict = np.where(off, OUT_OF_ORDER, judged["verdict"])
    return judged.assign(read_height=read, known_height=known, verdict=verdict)


def _judge_angles(way: str, error: Values, u_error: Values, accuracy: Accuracy) -> pd.DataFrame:
    allowed = _COVERAGE * np.hypot(u_error, np.asarray(accuracy.u_zero, dtype=float))
    verdict = np.select(
        [np.isnan(error), np.abs(error) > allowed, u_error > GREATEST_U],
        ["", OUT_OF_ORDER, CANNOT_TELL],
        IN_ORDER,
    )
    columns = {"error": error, "u_error": u_error, "allowed": allowed, "verdict": verdict}
    return pd.DataFrame({"way": way, "read_height": np.nan, "known_height": np.nan, **columns})


def _judge_shown_heights(checks: pd.DataFrame, accuracy: Accuracy, units: Units) -> pd.DataFrame:
    """Compare shown heights: upper less lower reading, which is 0 where it was left blank."""
    unit = "m" if units == "metric" else "ft"
    upper, lower = (
        np.asarray(convert(checks[name].to_numpy(dtype=float), unit, "m"), dtype=float)
        for name in ("tip_reading", "foot_reading")
    )
    known = checks["known_height"].to_numpy(dtype=float)
    read = upper - np.nan_to_num(lower)
    of_distance = np.asarray(accuracy.u_distance_relative, dtype=float) * known
    of_step = np.asarray(accuracy.graduation, dtype=float) / np.sqrt(12)
    u_read = np.hypot(np.hypot(accuracy.u_distance_fixed, of_distance), of_step)
    off, allowed = np.abs(read - known), _COVERAGE * u_read
    verdict = np.select([np.isnan(off), off > allowed], ["", OUT_OF_ORDER], IN_ORDER)
    columns = {"read_height": read, "known_height": known, "allowed": allowed, "verdict": verdict}
    return pd.DataFrame({"way": SHOWN_HEIGHT, "error": np.nan, "u_error": np.nan, **columns})


def _spells_of_instrument(history: pd.DataFrame) -> list[Spell]:
    outages: list[Spell] = []
    last_good: pd.Timestamp | None = None
    first_bad: pd.Series | None = None
    for day in history["date"].drop_duplicates():
        of_day = history[history["date"] == day]
        verdicts = set(of_day["verdict"])
        if OUT_OF_ORDER in verdicts:
            first_bad = _worst(of_day) if first_bad is None else first_bad
        elif IN_ORDER in verdicts:
            if first_bad is not None:
                outages.append(_spell(first_bad, last_good, day))
                first_bad = None
            last_good = day
    if first_bad is not None:
        outages.append(_spell(first_bad, last_good, None))
    return outages


def _worst(of_day: pd.DataFrame) -> pd.Series:
    """Return the check of the day that knows the error best, of those that found it out."""
    bad = of_day[of_day["verdict"] == OUT_OF_ORDER]
    return bad.sort_values("u_error", na_position="last").iloc[0]


def _spell(bad: pd.Series, last_good: pd.Timestamp | None, next_good: pd.Timestamp | None) -> Spell:
    return Spell(
        str(bad["instrument"]),
        int(bad["position"]),
        last_good,
        bad["date"],
        next_good,
        float(bad["error"]),
        float(bad["u_error"]),
    )
