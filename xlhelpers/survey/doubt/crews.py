"""Who stood at the instrument, on which day, with which instrument."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.folding import Positions, codes_of, positions_in
from xlhelpers.survey.model import Survey
from xlhelpers.survey.words import identifier_key, initials_in


def person_codes(
    survey: Survey, setups: pd.DataFrame
) -> tuple[NDArray[np.object_], Positions, Numbers]:
    """Return who measured, the first initials of the plot's crew.

    Returns
    -------
    (array of text, ndarray of int, ndarray)
        The people's initials ("" for plots without any), the person of each line, and each
        person's eye height by the people sheet (m, NaN not there).
    """
    plot = setups["plot_position"].to_numpy(dtype=np.int64)
    crews = [next(iter(initials_in(str(crew))), "") for crew in survey.plots["crew"]]
    initials = np.array([*crews, ""], dtype=object)
    keys = np.array([identifier_key(name) for name in initials], dtype=object)
    codes = codes_of(keys)
    names = np.full(int(codes.max()) + 1, "", dtype=object)
    names[codes] = initials
    row = positions_in(names, survey.people["initials"], identifier_key)
    heights = np.append(survey.people["eye_height"].to_numpy(dtype=float), np.nan)
    return names, codes[plot], heights[row]


def day_codes(survey: Survey, setups: pd.DataFrame) -> Positions:
    """Return one number for each person's day with one instrument; -1 without a date."""
    plot = setups["plot_position"].to_numpy(dtype=np.int64)
    dates = survey.plots["date"].to_numpy(dtype="datetime64[D]")
    days = np.append(dates, np.datetime64("NaT")).astype(np.int64)[plot]
    dated = np.append(~np.isnat(dates), False)[plot]
    person = person_codes(survey, setups)[1]
    instrument = setups["instrument_position"].to_numpy(dtype=np.int64)
    return np.where(dated, codes_of(days, person, instrument), -1)
