"""What only shows over many lines: one distance for all, rounded digits, no repeats, instruments.

Each is proposed as a finding; nothing is applied.

References
----------
WhippleUndated
"""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from xlhelpers.fields.quantities import Units
from xlhelpers.measure.slopes import slope
from xlhelpers.survey.checks.facts import group_members
from xlhelpers.survey.checks.record import NO_HITS, Hits
from xlhelpers.survey.checks.wording import write_apart, write_value
from xlhelpers.survey.doubt.expected import code_people
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.weigh import Usual
from xlhelpers.survey.instrument_history import OUT_OF_ORDER, check_history, spells
from xlhelpers.survey.setups.instruments import Texts
from xlhelpers.survey.typed.folding import Flags, Positions, positions_in
from xlhelpers.survey.typed.words import identifier_key

Counts = NDArray[np.int64]


def final_digits(values: ArrayLike, step: float) -> Counts:
    """Return how often each final digit 0 to 9 stands at the end of values.

    Parameters
    ----------
    values : array_like
        Values as typed, NaN where missing; signs do not matter.
    step : float
        Worth of the final digit in the unit of the values, such as 1 or 0.1.
    """
    size = np.abs(np.asarray(values, dtype=float))
    whole = np.round(size[np.isfinite(size)] / step).astype(np.int64)
    return np.bincount(whole % 10, minlength=10).astype(np.int64)


def whipple_index(counts: ArrayLike) -> float:
    """Return the index of digits 0 and 5: 100 where they are a fifth, 500 where they are all.

    Parameters
    ----------
    counts : array_like
        Counts of the digits 0 to 9.

    Returns
    -------
    float
        NaN without any.
    """
    count = np.asarray(counts, dtype=float)
    total = count.sum()
    return float(500 * (count[0] + count[5]) / total) if total else float("nan")


Limits = Mapping[str, float]
# heights that differ by less than this factor may well be sighted from one distance
HEIGHTS_DIFFER = 1.5
# trees for each one that the rules would have measured twice, before none is worth a word
TIMES_WANTED = 3.0
# in standard uncertainties: when a zero error is an error, and what is usual for an instrument
SURE, USUAL_ZERO = 3.0, 2.0
ORDINARY_ZERO, ORDINARY_AIM = 0.2, 0.25
# the difference of the two squares of secants that a zero error must act on to be seen
LEAST_LEVER = 0.3


def find_patterns(usual: Usual, limits: Limits) -> tuple[tuple[str, Hits], ...]:
    """Return the patterns of a survey: the id of each check, with its hits."""
    return (
        ("one-distance-for-all", plots_with_one_distance(usual, limits)),
        ("instrument-out-of-adjustment", instruments_out_of_adjustment(usual)),
        ("instrument-not-checked", instruments_without_check(usual, limits)),
        ("no-repeats", people_without_repeats(usual)),
        ("digits-heaped", heaped_digits(usual, limits)),
    )


def plots_with_one_distance(usual: Usual, limits: Limits) -> Hits:
    """Plots with the same distance on every line, though the trees differ."""
    distance = usual.survey.lines["distance"].to_numpy(dtype=float)
    plot = usual.setups["plot_position"].to_numpy(dtype=np.int64)
    height = usual.seen.total
    lines = np.flatnonzero(np.isfinite(distance) & (plot >= 0) & (height > 0))
    plots, groups = [], []
    for at, group in group_members(plot[lines], lines).items():
        own = distance[list(group)]
        low, high = np.percentile(height[list(group)], (10, 90))
        many = len(group) >= limits["same_distance_lines"]
        if many and np.ptp(own) == 0 and high > HEIGHTS_DIFFER * low:
            plots.append(at)
            groups.append(group)
    return Hits(
        np.array(plots, dtype=np.int64),
        {
            "count": [len(group) for group in groups],
            "distance": [distance[group[0]] for group in groups],
            "least": [height[list(group)].min() for group in groups],
            "most": [height[list(group)].max() for group in groups],
        },
        lines=groups,
    )


def people_without_repeats(usual: Usual) -> Hits:
    """People who measured many trees and none of them twice, where the rules ask for some."""
    wanted = float(usual.survey.rules["repeats_wanted"] or 0)
    if not wanted > 0:
        return NO_HITS
    names, person, _ = code_people(usual.survey, usual.setups)
    first = usual.setups["first"].to_numpy(dtype=bool)
    trees = np.bincount(person[first & np.isfinite(usual.seen.total)], minlength=len(names))
    further = np.bincount(person[~first], minlength=len(names))
    rows = np.flatnonzero((trees * wanted >= TIMES_WANTED) & (further == 0) & (names != ""))
    texts = [(str(names[row]), str(trees[row])) for row in rows]
    return _hits_of_people(rows, names, {"person": names[rows], "trees": trees[rows]}, texts)


def _hits_of_people(
    rows: Positions, names: Texts, values: Mapping[str, Any], evidence: Sequence[tuple[str, ...]]
) -> Hits:
    subjects = [(("person", str(names[row])),) for row in rows]
    return Hits(rows, values, lines=[()] * len(rows), subjects=subjects, evidence=evidence)


def heaped_digits(usual: Usual, limits: Limits) -> Hits:
    """People whose readings on scales with marks of 1 crowd on the digits 0 and 5."""
    names, person, _ = code_people(usual.survey, usual.setups)
    lines, setups = usual.survey.lines, usual.setups
    position = setups["instrument_position"].to_numpy(dtype=np.int64)
    scale = setups["scale"].to_numpy(dtype=object)
    steps = np.full(len(scale), np.nan)
    for name in ("percent", "degrees", "topographic"):
        steps = np.where(scale == name, usual.ways.instruments.graduation[name][position], steps)
    whole = steps == 1.0
    readings = np.stack(
        [lines[name].to_numpy(dtype=float) for name in ("base_reading", "tip_reading")]
    )
    heaps = []
    for code in np.unique(person[whole]):
        counts = final_digits(readings[:, whole & (person == code)].ravel(), 1.0)
        index, number = whipple_index(counts), int(counts.sum())
        if number >= limits["heaping_readings"] and index >= limits["heaping_index"]:
            heaps.append((int(code), number, index / 500))
    if not heaps:
        return NO_HITS
    codes, numbers, shares = (np.array(column) for column in zip(*heaps, strict=True))
    values = {
        "whose": [f"{names[code]}'s" if names[code] else "the" for code in codes],
        "share": shares,
        "count": numbers,
        "usual": np.full(len(codes), 0.2),
    }
    evidence = [
        (str(names[code]) or "crews without initials", str(share), str(number), "readings", "0.2")
        for code, number, share in heaps
    ]
    return _hits_of_people(codes, names, values, evidence)


# ---- instruments


def zero_errors(usual: Usual) -> pd.DataFrame:
    """Return the zero error by each row of the instrument checks.

    Returns
    -------
    DataFrame
        `instrument` (position), `zero` and `u` (degrees). A two-way level gives half the sum of
        both angles; a known height the error of the height over D (sec² a - sec² b). Of each
        instrument the checks of its last day alone: it may have been set right since the others.
    """
    survey = usual.survey
    checks = _of_last_day(survey.instrument_checks)
    at = positions_in(checks["instrument"], survey.instruments["instrument"], identifier_key)
    table_of = usual.ways.instruments
    scale = checks["scale"].to_numpy(dtype=object)
    scale = np.where(scale == "", table_of.only_scale[at], scale)
    base = table_of.scale_distance[at]

    def tangent(name: str) -> Numbers:
        known = np.isin(scale, ("percent", "degrees", "topographic", "fixed distance"))
        reading = np.where(known, checks[name].to_numpy(dtype=float), np.nan)
        return np.atleast_1d(np.asarray(slope(reading, np.where(known, scale, ""), base)))

    aim = np.nan_to_num(table_of.accuracy["u_reading"][at], nan=ORDINARY_AIM)
    there, back = (np.degrees(np.arctan(tangent(n))) for n in ("level_there", "level_back"))
    low, high = tangent("foot_reading"), tangent("tip_reading")
    distance = checks["distance"].to_numpy(dtype=float)
    lever = (1 + high**2) - (1 + low**2)
    with np.errstate(all="ignore"):
        apart = distance * (high - low) - checks["known_height"].to_numpy(dtype=float)
        by_height = np.degrees(apart / (distance * lever))
        u_height = aim * np.hypot(1 + high**2, 1 + low**2) / np.abs(lever)
    by_height = np.where(np.abs(lever) >= LEAST_LEVER, by_height, np.nan)
    frame = pd.DataFrame(
        {
            "instrument": np.r_[at, at],
            "zero": np.r_[(there + back) / 2, by_height],
            "u": np.r_[aim / np.sqrt(2), u_height],
        }
    )
    return frame[(frame["instrument"] >= 0) & frame["zero"].notna() & (frame["u"] > 0)]


def _of_last_day(checks: pd.DataFrame) -> pd.DataFrame:
    """Return of each instrument the checks of its last day, all where none has a date."""
    last = checks["date"].groupby(checks["instrument"].map(identifier_key)).transform("max")
    return checks[(checks["date"] == last) | last.isna()]


def instruments_out_of_adjustment(usual: Usual) -> Hits:
    """Instruments that were out of order at their last check, as the history of the checks says."""
    if len(usual.survey.instrument_checks) == 0:
        return NO_HITS
    history = check_history(usual.survey)
    now = {s.position: s.first_bad for s in spells(history) if s.next_good is None}
    now.pop(-1, None)
    by_angle = dict(list(zero_errors(usual).groupby("instrument")))
    texts, evidence = [], []
    for row in now:
        bad = history[(history["position"] == row) & (history["verdict"] == OUT_OF_ORDER)]
        own = by_angle.get(row)
        if own is None or bad["error"].isna().all():
            text, basis = _describe_heights(bad, usual.survey.units)
        else:
            text, basis = _describe_angles(own)
        texts.append(text)
        evidence.append((basis,))
    return Hits(np.array(list(now), dtype=np.int64), {"text": texts}, evidence=evidence)


def _describe_angles(checks: pd.DataFrame) -> tuple[str, str]:
    """Return what checks say of a zero error, and what the fingerprint is made of."""
    weight = 1 / checks["u"] ** 2
    zero, u = (checks["zero"] * weight).sum() / weight.sum(), weight.sum() ** -0.5
    count, side = len(checks), "too high" if zero > 0 else "too low"
    size, within = (write_value("angle", abs(value), "metric") for value in (zero, u))
    share = f"{100 * np.radians(abs(zero)):.1f} %"
    checked = write_value("checks", count, "metric")
    text = (
        f"In {checked} the instrument read {size} {side} (± {within}). From one tree height away, "
        f"that changes a height by about {share}."
    )
    return text, f"zero {abs(zero):.2f} from {count} checks"


def _describe_heights(bad: pd.DataFrame, units: Units) -> tuple[str, str]:
    """Return what a check against a known height says, and what the fingerprint is made of."""
    last = bad.iloc[-1]
    heights = (float(last["read_height"]), float(last["known_height"]))
    read, known = write_apart("fine length", heights, units)
    text = f"At its last check, the instrument read {read} at a known height of {known}."
    return text, f"height {heights[0]:.2f} for {heights[1]:.2f}"


def is_zero_error(zero: Numbers, u: Numbers, usually: Numbers) -> Flags:
    """Return which zero errors are certain, and more than is usual for the instrument (degrees)."""
    usually = np.where(np.nan_to_num(usually) > 0, usually, ORDINARY_ZERO)
    return np.asarray((np.abs(zero) > SURE * u) & (np.abs(zero) > USUAL_ZERO * usually))


def zero_hits(
    rows: Positions, zero: Numbers, u: Numbers, count: Numbers, evidence: Sequence[str]
) -> Hits:
    """Return the hits of instruments with a zero error.

    Parameters
    ----------
    rows : ndarray of int
        The instruments.
    zero, u : ndarray
        Their zero errors and standard uncertainties (degrees).
    count : ndarray
        How many checks or trees show each.
    evidence : sequence of str
        What fingerprints are made of.
    """
    return Hits(
        rows,
        {
            "zero": np.abs(zero),
            "u": u,
            "count": count,
            "side": np.where(zero > 0, "too high", "too low"),
            # from one height away the tip is at 45 degrees and the foot near level: sec² differs
            # by one
            "share": [f"{100 * np.radians(abs(each)):.1f} %" for each in zero],
        },
        evidence=[(text,) for text in evidence],
    )


def instruments_without_check(usual: Usual, limits: Limits) -> Hits:
    """Instruments that were used on trees and not checked in the year before."""
    survey, setups = usual.survey, usual.setups
    position = setups["instrument_position"].to_numpy(dtype=np.int64)
    plot = setups["plot_position"].to_numpy(dtype=np.int64)
    dates = np.append(survey.plots["date"].to_numpy(dtype="datetime64[D]"), np.datetime64("NaT"))
    checks = survey.instrument_checks
    at = positions_in(checks["instrument"], survey.instruments["instrument"], identifier_key)
    days = checks["date"].to_numpy(dtype="datetime64[D]")
    rows, texts, evidence = [], [], []
    for own in np.unique(position[(position >= 0) & np.isfinite(usual.seen.eye)]):
        used = dates[plot[position == own]]
        used = used[~np.isnat(used)]
        checked = days[(at == own) & ~np.isnat(days)]
        if len(checked) == 0:
            text = "This instrument has no check on record."
            # fingerprints are made of these two sentences: they stay as they were
            hashed = "No check of the instrument stands in the workbook."
        elif len(used) and (used.max() - checked.max()).astype(int) > limits["check_days"]:
            last, until = checked.max(), used.max()
            text = (
                f"This instrument was last checked on {_write_day(last)} and used until "
                f"{_write_day(until)}."
            )
            hashed = f"The instrument was last checked on {last} and used until {until}."
        else:
            continue
        rows.append(int(own))
        texts.append(text)
        evidence.append((hashed,))
    return Hits(np.array(rows, dtype=np.int64), {"text": texts}, evidence=evidence)


def _write_day(day: np.datetime64) -> str:
    own = day.astype(date)
    return f"{own.day} {own:%B %Y}"
