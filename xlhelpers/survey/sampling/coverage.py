"""How often intervals called 95 % hold the truth when plots are few, as measured.

Student's t supposes sums by plot that spread evenly about their mean. Trees do not: few plots
hold many. The shares here were measured with `python -m tests.simulation.sampled_towns`.
"""

import numpy as np

# plots: share of intervals for totals, and for means over trees, that held the true value; the
# least of the quantities in 4,000 surveys of each of four towns
MEASURED: dict[int, tuple[float, float]] = {
    5: (0.925, 0.973),
    8: (0.916, 0.963),
    10: (0.913, 0.955),
    15: (0.921, 0.943),
    20: (0.927, 0.945),
    30: (0.932, 0.939),
    60: (0.937, 0.940),
    120: (0.940, 0.945),
}
STATED_CONFIDENCE = 0.95
ENOUGH_PLOTS = 30
# what all intervals reach from there on
AS_GOOD_AS = 0.93


def held(plots: int, confidence: float, *, is_total: bool) -> float:
    """Return the measured share of intervals that held the truth, between the plots measured.

    Parameters
    ----------
    plots : int
        Number of plots behind the interval.
    confidence : float
        What the interval is called; it was measured for 0.95 alone.
    is_total : bool
        Whether it is of a total or a value by area, rather than of a mean or a share.

    Returns
    -------
    float
        NaN for fewer plots than were tried, from ENOUGH_PLOTS on, and at another confidence.
    """
    tried = sorted(MEASURED)
    if confidence != STATED_CONFIDENCE or not tried[0] <= plots < ENOUGH_PLOTS:
        return float("nan")
    shares = [MEASURED[n][0 if is_total else 1] for n in tried]
    return float(np.interp(plots, tried, shares))
