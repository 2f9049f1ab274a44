"""Which corrections of a doubtful line may be offered."""

import numpy as np

from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.weigh import Usual, Weighed
from xlhelpers.survey.typed.folding import Flags, Positions

# two causes, or two values of one, are about as good if the weaker has this share of the stronger
CLOSE = 0.5


def find_candidates(usual: Usual, weighed: Weighed, row: int, mistake: int) -> Positions:
    """Return the corrections by which one mistake would explain one line, the best first.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    weighed : Weighed
        The doubtful lines.
    row : int
        Which of the doubtful lines.
    mistake : int
        Which of the mistakes that were weighed.

    Returns
    -------
    ndarray of int
        Rows of `weighed.sheet`. Left out are corrections that argue against themselves: they
        would put an eye height or a height that was within the survey's limits beyond them.
    """
    own = np.flatnonzero((weighed.row == row) & (weighed.mistake == mistake))
    own = own[np.argsort(-weighed.gain[own], kind="stable")]
    return own[~_argues_against_itself(usual, weighed, int(weighed.lines[row]), own)]


def _argues_against_itself(usual: Usual, weighed: Weighed, line: int, own: Positions) -> Flags:
    now = np.array([line])
    eye_off = _has_eye_off(usual, line, weighed.seen.eye[own], weighed.seen.level[own])
    eye_was_off = _has_eye_off(usual, line, usual.seen.eye[now], usual.seen.level[now])
    height_off = _has_height_off(usual, weighed.seen.total[own])
    height_was_off = _has_height_off(usual, usual.seen.total[now]) | np.isnan(usual.seen.total[now])
    return np.asarray((eye_off & ~eye_was_off) | (height_off & ~height_was_off))


def _has_eye_off(usual: Usual, line: int, eye: Numbers, level: Numbers) -> Flags:
    """Mark eye heights that differ from the person's own by more than the survey allows."""
    habits, rules = usual.expected.habits, usual.survey.rules
    plot = int(usual.setups["plot_position"].array[line])
    slope = float(usual.survey.plots["slope"].array[plot]) if plot >= 0 else 0.0
    allowed = float(rules["limit_eye"]) + np.nan_to_num(slope) * level
    away = np.abs(eye + habits.along[line] * level - habits.eye[line])
    return np.asarray(away > allowed)


def _has_height_off(usual: Usual, total: Numbers) -> Flags:
    rules = usual.survey.rules
    return np.asarray(
        (total > float(rules["limit_height"])) | (total < float(rules["breast_height"]))
    )
