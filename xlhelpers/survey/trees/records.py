"""What is written of each tree beside its readings: tag, position, heights from elsewhere.

Also which trees cannot be judged by their diameter: a tree that was cut back is lower and narrower
than its stem, and a diameter from elsewhere than breast height is another diameter.
"""

from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.trees.groups import first_known
from xlhelpers.survey.typed.folding import Flags, Positions

CUT_BACK = "C"
ESTIMATED = "estimated by eye"
USED_BY_EYE = "used where none is measured"
# two heights of a diameter that differ by less are one (m)
SAME_HEIGHT = 0.005


def place_columns(survey: Survey, setups: pd.DataFrame) -> dict[str, Any]:
    """Return what was recorded of each tree: the first set-up that has it counts.

    Parameters
    ----------
    survey : Survey
        Its lines and the breast height of its rules.
    setups : DataFrame
        The trees and numbers of the set-ups of these lines.

    Returns
    -------
    dict of arrays
        One value a tree. `diameter_at` (m, NaN at breast height or not stated), `height_by_eye`
        and `recorded_height` (m), `latitude` and `longitude` (degrees, of one line; NaN unless
        both are known), `tag` ("" for none).
    """
    at = _numbers(survey, "diameter_at")
    at = np.where(np.abs(at - float(survey.rules["breast_height"])) < SAME_HEIGHT, np.nan, at)
    tags = survey.lines["tag"].to_numpy(dtype=object)
    latitude, longitude = _numbers(survey, "latitude"), _numbers(survey, "longitude")
    placed = _first_lines(setups, np.isfinite(latitude + longitude))
    return {
        "diameter_at": _first(setups, at),
        "height_by_eye": _first(setups, _numbers(survey, "height_by_eye")),
        "recorded_height": _first(setups, _numbers(survey, "recorded_height")),
        "tag": np.append(tags, "")[_first_lines(setups, tags != "")],
        "latitude": np.append(latitude, np.nan)[placed],
        "longitude": np.append(longitude, np.nan)[placed],
    }


def use_heights_by_eye(columns: dict[str, Any]) -> None:
    """Put the heights estimated by eye in place of those that nobody measured.

    Parameters
    ----------
    columns : dict of arrays
        The columns of the trees so far; `total_height`, `way_total` and `no_height_because` are
        changed. An estimate has no uncertainty and counts as no set-up.
    """
    by_eye = columns["height_by_eye"]
    used = np.isnan(columns["total_height"]) & np.isfinite(by_eye)
    columns["total_height"] = np.where(used, by_eye, columns["total_height"])
    for name, word in (("way_total", ESTIMATED), ("no_height_because", "")):
        columns[name] = np.where(used, word, columns[name]).astype(object)


def is_judged_by_diameter(condition: Texts, diameter_at: Values) -> Flags:
    """Return which trees have the height and width that their diameter lets expect.

    Parameters
    ----------
    condition : array of text
        Condition of each tree.
    diameter_at : ndarray
        Height of its diameter (m), NaN at breast height.
    """
    return np.asarray((condition != CUT_BACK) & np.isnan(diameter_at), dtype=np.bool_)


def _numbers(survey: Survey, name: str) -> Values:
    return survey.lines[name].to_numpy(dtype=float)


def _first(setups: pd.DataFrame, values: Values) -> Values:
    return np.append(values, np.nan)[_first_lines(setups, np.isfinite(values))]


def _first_lines(setups: pd.DataFrame, known: Flags) -> Positions:
    tree, number = setups["tree_position"].to_numpy(), setups["setup_number"].to_numpy()
    return first_known(tree, number, np.asarray(known, dtype=bool))
