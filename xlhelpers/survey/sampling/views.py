"""The trees of a scope told apart by domain: everything estimated is a sum by plot and domain."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from xlhelpers.survey.folding import Flags, Positions
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.sampling.domains import Domains
from xlhelpers.survey.sampling.measuring import Measuring, measuring, within
from xlhelpers.survey.sampling.scopes import Scope
from xlhelpers.survey.setup_instruments import Values
from xlhelpers.survey.summaries import open_trees


@dataclass(frozen=True)
class View:
    """The trees on the plots of a scope, and how they are told apart.

    `trees` are those of the scope alone; `plot` is each tree's plot in the design, `living` and
    `doubtful` (rests on an open finding) are flags of the same length.
    """

    scope: Scope
    trees: pd.DataFrame
    plot: Positions
    living: Flags
    doubtful: Flags
    known: Measuring
    domains: Domains

    @property
    def width(self) -> int:
        """Return the number of domains."""
        return len(self.domains.names)

    @property
    def weight(self) -> Values:
        """Return for each tree what its plot's trees stand for."""
        return np.asarray(self.scope.design.weights[self.plot])

    def sums(self, values: Values) -> Values:
        """Add up tree values by plot and domain; zeros and NaN add nothing."""
        inside = np.isfinite(values) & (values != 0)
        place = self.plot[inside] * self.width + self.domains.code[inside]
        plots = len(self.scope.plots)
        flat = np.bincount(place, values[inside], minlength=plots * self.width)
        return flat.astype(float).reshape(plots, self.width)

    def counted(self, which: Flags) -> Positions:
        """Count trees by domain."""
        return np.bincount(self.domains.code[which], minlength=self.width)

    def population(self, name: str) -> Flags:
        """Return which trees a population holds."""
        everything = np.ones(len(self.living), dtype=bool)
        return {"all": everything, "living": self.living, "dead": ~self.living}[name]

    def by(self, domains: Domains) -> "View":
        """Return the same trees told apart in another way."""
        return replace(self, domains=domains)


def views(outcome: Outcome, scopes: list[Scope]) -> list[View]:
    """Return each scope's trees, not told apart yet."""
    trees = outcome.trees
    doubtful = np.zeros(len(trees), dtype=bool)
    doubtful[sorted(open_trees(outcome))] = True
    living = trees["condition"].to_numpy(dtype=object) != "D"
    known = measuring(outcome)
    found = []
    for scope in scopes:
        # one place more for trees without a listed plot, whose position is -1
        place = np.full(len(outcome.survey.plots) + 1, -1, dtype=np.int64)
        place[scope.plots] = np.arange(len(scope.plots))
        plot = place[trees["plot_position"].to_numpy()]
        at = np.flatnonzero(plot >= 0)
        whole = Domains("", ("",), np.zeros(len(at), dtype=np.int64))
        found.append(
            View(
                scope, trees.iloc[at].reset_index(drop=True), plot[at], living[at], doubtful[at],
                within(known, at, len(trees)), whole,
            )
        )  # fmt: skip
    return found
