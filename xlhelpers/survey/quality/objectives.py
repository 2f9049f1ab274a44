"""Quality objectives: how near a second measurement must come, in what share of the trees."""

from dataclasses import dataclass
from typing import Literal

from xlhelpers.survey.quality.intervals import binomial_cdf

Verdict = Literal[
    "met",
    "met so far, not yet certain",
    "not met so far, not yet certain",
    "not met",
    "no objective",
    "no pairs",
]
# chance of a wrong verdict that is accepted, on one side
TAIL = 0.05
_MOST_PAIRS = 5000


@dataclass(frozen=True)
class Objective:
    """One objective.

    `tolerance` is in the inner unit (NaN: the two must be the same word); `share` of the trees
    that must lie within; NaN in either leaves the quantity without an objective. `source` says
    where both numbers come from and whether they were seen there.
    """

    key: str
    label: str
    quantity: str
    tolerance: float
    share: float
    source: str
    words: bool = False

    @property
    def is_set(self) -> bool:
        """Return whether there is something to be met."""
        return self.share == self.share and (self.words or self.tolerance == self.tolerance)


_NONE = float("nan")
_SEEN = "Tolerance: Schilling, in USDA Forest Service PSW-GTR-155, section 8 (seen)."
_MEMORY = "from memory (USDA Forest Service national core field guide), not looked up"

DEFAULTS: tuple[Objective, ...] = (
    Objective("total_height", "Total height", "length", 1.0, 0.90, f"{_SEEN} Share: {_MEMORY}."),
    Objective("crown_base", "Crown base", "length", _NONE, _NONE, "No published figure was seen."),
    Objective("crown_depth", "Crown depth", "length", _NONE, _NONE,
              "No published figure was seen."),
    Objective("live_crown_ratio", "Live crown ratio", "percent", 0.05, 0.90,
              f"{_SEEN} Share: {_MEMORY}."),
    Objective("diameter", "Diameter", "diameter", 0.2, 0.95, f"{_SEEN} Share: {_MEMORY}."),
    Objective("mean_width", "Mean crown width", "length", _NONE, _NONE,
              "No published figure was seen."),
    Objective("species", "Species", "number", _NONE, 0.95, f"Share: {_MEMORY}.", words=True),
    Objective("condition", "Condition", "number", _NONE, 0.95, f"Share: {_MEMORY}.", words=True),
)  # fmt: skip


def judge(within: int, pairs: int, share: float) -> Verdict:
    """Return whether an objective is met, and whether that is certain.

    Certain means: the exact one-sided 95 % confidence limit of the share lies on that side.

    Parameters
    ----------
    within, pairs : int
        So many of so many pairs lie within the tolerance.
    share : float
        The share wanted, 0 to 1.
    """
    if pairs == 0:
        return "no pairs"
    if share != share:
        return "no objective"
    if _surely_met(pairs - within, pairs, share):
        return "met"
    if binomial_cdf(within, pairs, share) < TAIL:
        return "not met"
    is_met = within >= share * pairs - 1e-9
    return "met so far, not yet certain" if is_met else "not met so far, not yet certain"


def _surely_met(misses: int, pairs: int, share: float) -> bool:
    """Return whether so few outside would be rare if just the wanted share lay within."""
    return binomial_cdf(misses, pairs, 1 - share) <= TAIL


def pairs_to_pass(share: float, misses: int = 0) -> int | None:
    """Return how many pairs it takes until a pass is certain, with so many outside and no more.

    None where no number below 5,000 does, or no share is wanted.

    References
    ----------
    Wilks1941
    """
    if not 0 < share < 1:
        return None
    low, high = misses + 1, _MOST_PAIRS
    if not _surely_met(misses, high, share):
        return None
    while low < high:
        middle = (low + high) // 2
        if _surely_met(misses, middle, share):
            high = middle
        else:
            low = middle + 1
    return low


def pairs_to_fail(share: float) -> int | None:
    """Return how many pairs, all outside, it takes at the least until a failure is certain."""
    if not 0 < share < 1:
        return None
    return next((n for n in range(1, _MOST_PAIRS) if binomial_cdf(0, n, share) < TAIL), None)
