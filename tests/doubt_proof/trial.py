"""One trial: mistakes put into a survey, and what the program then finds and names.

The survey goes the way of every survey, `compute_setups` to `with_doubts`; the reference is the
one that was made without the unseen cities, and the mistakes are there while the survey's own
curves are fitted.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from tests.doubt_proof.generator import SETS, Keyed, generate
from tests.doubt_proof.injections import KINDS, STANDS_FOR, single_lines, whole_plots
from tests.doubt_proof.surveys import as_survey, sound_trees, tagged
from tests.survey.doubt.causes import explain
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.doubt.explain import UNLIKELY, Doubts, limits_of, name_causes
from xlhelpers.survey.doubt.find import with_doubts
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.doubt.weigh import weigh_lines, weigh_mistakes, without_pieces
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

SHARE = 0.05
NO_CAUSE = "no explanation found"
# the check of sheets whose diameters are other trees'
OTHER_TREES = "diameters-of-other-trees"

Change = Callable[[pd.DataFrame, np.random.Generator], pd.DataFrame]


@dataclass
class Result:
    """Counts of one kind of mistake in one set, over trials; `size` and `hit` are by mistake."""

    made: int = 0
    found: int = 0
    first: int = 0
    three: int = 0
    trees: int = 0
    false: Counter[str] = field(default_factory=Counter)
    named: Counter[str] = field(default_factory=Counter)
    size: list[float] = field(default_factory=list)
    hit: list[bool] = field(default_factory=list)
    hit_three: list[bool] = field(default_factory=list)

    def add(self, other: "Result") -> None:
        """Count another trial in."""
        for name in ("made", "found", "first", "three", "trees"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("false", "named", "size", "hit", "hit_three"):
            setattr(self, name, getattr(self, name) + getattr(other, name))


def evaluate_lines(
    keyed: Keyed, lines: pd.DataFrame, reference: pd.DataFrame
) -> tuple[Outcome, dict[int, list[str]]]:
    """Return the outcome of keyed lines and the causes named of each line, likeliest first."""
    survey = as_survey(keyed, lines)
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    plain = Outcome(survey, setups, trees, run_checks(survey, setups, trees))
    outcome = with_doubts(plain, reference)
    named: dict[int, list[str]] = {}
    for line, causes in explain(outcome, reference):
        names = [cause.mistake for cause in causes]
        if len(names) > len(named.get(line, ())):
            named[line] = names
    return outcome, named


def trial(
    city: str, setting: str, kind: str, seed: int, reference: pd.DataFrame,
    change: Change | None = None,
) -> Result:  # fmt: skip
    """Put one kind of mistake into a share of the lines of a survey of one city."""
    keyed = generate(sound_trees(city), SETS[setting], seed)
    lines = tagged(keyed)
    random = np.random.default_rng([seed, 7])
    if change is not None:
        lines = change(lines, random)
    before = lines.copy()
    changed = single_lines(lines, kind, random, SHARE)
    outcome, named = evaluate_lines(keyed, lines, reference)
    return _counted(outcome, named, changed, STANDS_FOR[kind], _sizes(before, lines, changed))


def _sizes(before: pd.DataFrame, after: pd.DataFrame, changed: np.ndarray) -> list[float]:
    """Return how much the changed cells changed, as the largest factor of each line."""
    sizes = []
    for at in changed:
        factors = [0.0]
        for name in ("distance", "tip_reading", "diameter"):
            old, new = before[name].to_numpy()[at], after[name].to_numpy()[at]
            if old and new and old != new and np.isfinite([old, new]).all():
                factors.append(abs(np.log(abs(new / old))))
        sizes.append(float(np.exp(max(factors))))
    return sizes


def _counted(
    outcome: Outcome,
    named: dict[int, list[str]],
    changed: np.ndarray,
    right: tuple[str, ...],
    sizes: list[float],
) -> Result:
    # that the diameters are other trees' is said of all lines at once, and of no single one
    open_findings = [f for f in outcome.findings if f.severity != "note" and f.check != OTHER_TREES]
    touched = {line for finding in open_findings for line in finding.lines}
    names = {int(line): named.get(int(line), []) for line in changed if int(line) in touched}
    tree = outcome.setups["tree_position"].to_numpy()
    spoiled = set(tree[changed].tolist())
    three = [any(n in right for n in names.get(int(line), [])) for line in changed]
    return Result(
        made=len(changed),
        found=len(names),
        first=sum(bool(each) and each[0] in right for each in names.values()),
        three=sum(three),
        trees=len(outcome.trees) - len(spoiled),
        false=Counter(
            f.check
            for f in open_findings
            if f.lines and not any(int(tree[line]) in spoiled for line in f.lines)
        ),
        named=Counter(each[0] if each else "no explanation found" for each in names.values()),
        size=sizes,
        hit=[int(line) in touched for line in changed],
        hit_three=three,
    )


def batch_trial(
    city: str, setting: str, kind: str, seed: int, reference: pd.DataFrame
) -> tuple[int, int, int, int]:
    """Read some whole plots on the wrong scale.

    Returns
    -------
    (int, int, int, int)
        Plots made wrong, of these found as a whole with the right scale, other plots, of these
        found.
    """
    keyed = generate(sound_trees(city), SETS[setting], seed)
    lines = tagged(keyed)
    changed = whole_plots(lines, kind, np.random.default_rng([seed, 8]), 0.12)
    outcome, _ = evaluate_lines(keyed, lines, reference)
    names = outcome.survey.plots["plot"].to_numpy()
    wrong = set(lines["plot"].to_numpy()[changed])
    scale = STANDS_FOR[kind][0].removeprefix("scale-")
    whole = [f for f in outcome.findings if f.check == "lines-on-other-scale"]
    right = {names[p] for f in whole if scale in f.message.split(".")[0] for p in f.plots}
    every = {names[p] for f in whole for p in f.plots}
    return len(wrong), len(wrong & right), len(names) - len(wrong), len(every - wrong)


# ---- changes of a survey before the mistakes


def shuffled(lines: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """Deal the diameters out to the trees anew."""
    rows = np.flatnonzero(lines["diameter"].notna())
    lines = lines.copy()
    lines.loc[rows, "diameter"] = lines["diameter"].to_numpy()[rows[random.permutation(len(rows))]]
    return lines


def mismatch_trial(
    trees: pd.DataFrame, setting: str, seed: int, reference: pd.DataFrame
) -> tuple[bool, bool]:
    """Put mistakes of one kind into one line in eight, then deal the diameters out anew.

    Returns
    -------
    (bool, bool)
        Whether the diameters are told as other trees', before and after.
    """
    keyed = generate(trees, SETS[setting], seed)
    lines = tagged(keyed)
    random = np.random.default_rng([seed, 12])
    single_lines(lines, list(KINDS)[seed % len(KINDS)], random, 0.125)
    told = []
    for each in (lines, shuffled(lines, random)):
        outcome, _ = evaluate_lines(keyed, each, reference)
        told.append(any(finding.check == OTHER_TREES for finding in outcome.findings))
    return told[0], told[1]


def with_displays(keyed: Keyed, lines: pd.DataFrame) -> tuple[Keyed, pd.DataFrame]:
    """Return the survey as if a height display had been used: no angle, no distance, no eye."""
    plots = keyed.plots.set_index("plot").reindex(lines["plot"])
    base = plots["scale"].map({"percent": 100.0, "topographic": 66.0}).to_numpy()
    slope = {
        name: np.where(
            np.isnan(base),
            np.tan(np.radians(lines[f"{name}_reading"].to_numpy())),
            lines[f"{name}_reading"].to_numpy() / base,
        )
        for name in ("foot", "base", "tip")
    }
    lines = lines.copy()
    for name in ("base", "tip"):
        height = lines["distance"].to_numpy() * (slope[name] - slope["foot"])
        lines[f"{name}_reading"] = np.maximum(height, 0.0).round(1)
    lines["distance"], lines["foot_reading"], lines["foot_above_eye"] = np.nan, np.nan, False
    shows = pd.DataFrame(
        {"instrument": ["I"], "kind": ["ultrasonic height meter"], "distance_to": ["bark"]}
    )
    sheets = keyed.plots.assign(instrument="I", scale="height", distance_kind="none")
    return replace(keyed, plots=sheets, instruments=shows), lines


def shuffle_trial(
    city: str, kind: str, seed: int, reference: pd.DataFrame, shuffle: bool
) -> Result:
    """Put mistakes into heights of which only the stem and the crown speak, shuffled or not."""
    keyed = generate(sound_trees(city), SETS["near level"], seed)
    keyed, lines = with_displays(keyed, tagged(keyed))
    random = np.random.default_rng([seed, 9])
    changed = single_lines(lines, kind, random, SHARE)
    if shuffle:
        lines = shuffled(lines, random)
    outcome, named = evaluate_lines(keyed, lines, reference)
    return _counted(outcome, named, changed, STANDS_FOR[kind], [1.0] * len(changed))


# evidence that says nothing of the diameter
BESIDE_THE_DIAMETER = ("eye", "stand", "share", "repeat")


def diameter_trial(
    trees: pd.DataFrame, kind: str, seed: int, reference: pd.DataFrame, shuffle: bool
) -> tuple[Result, Counter[str]]:
    """Weigh all lines by height and crown width for their diameter alone, shuffled or not.

    Returns
    -------
    (Result, Counter)
        Of the spoilt lines: how many odds reach the limit, and what is named first of all of
        them; and what is named first of the sound lines that reach it (`trees` of the result).
    """
    keyed = generate(trees, SETS["near level"], seed)
    lines = tagged(keyed)
    random = np.random.default_rng([seed, 10])
    changed = single_lines(lines, kind, random, SHARE)
    if shuffle:
        lines = shuffled(lines, random)
    survey = as_survey(keyed, lines)
    setups = compute_setups(survey)
    limits = limits_of(survey.rules)
    usual = weigh_lines(survey, setups, build_trees(survey, setups), reference, limits)
    usual = without_pieces(usual, BESIDE_THE_DIAMETER)
    weighed = weigh_mistakes(usual, np.arange(len(setups)), MISTAKES)
    doubts = Doubts(usual, weighed, {}, limits, (), np.zeros(len(setups), dtype=bool), usual)
    asked = weighed.odds >= np.log(limits["doubt_odds"])
    first = {}
    for line in np.flatnonzero(asked).tolist():
        causes = name_causes(doubts, line, reported=False)
        first[line] = causes[0].mistake if causes else NO_CAUSE
    spoilt = set(changed.tolist())
    named = Counter(name for line, name in first.items() if line in spoilt)
    result = Result(
        made=len(changed),
        found=sum(named.values()),
        first=sum(named[name] for name in STANDS_FOR[kind]),
        trees=len(setups) - len(changed),
        named=named,
    )
    return result, Counter(name for line, name in first.items() if line not in spoilt)


def invented(
    trees: pd.DataFrame, seed: int, reference: pd.DataFrame, shuffle: bool
) -> tuple[int, int, int]:
    """Survey trees without a mistake, with diameters of their own or dealt out anew.

    Returns
    -------
    (int, int, int)
        Trees, lines that only the weighing asks about, and of these those with a named cause.
    """
    keyed = generate(trees, SETS["near level"], seed)
    lines = tagged(keyed)
    if shuffle:
        lines = shuffled(lines, np.random.default_rng([seed, 11]))
    outcome, _ = evaluate_lines(keyed, lines, reference)
    asked = [f for f in outcome.findings if f.check == UNLIKELY]
    return len(outcome.trees), len(asked), sum(bool(f.causes) for f in asked)
