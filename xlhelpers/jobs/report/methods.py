"""The last pages of the council's report: the survey rules, and the methods that were used."""

from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.pages.methods import METHODS, Method, rule_value
from xlhelpers.pages.plan import Cell, Section, Table
from xlhelpers.sources import SOURCES

_RULES = (
    "survey_kind",
    "breast_height",
    "smallest_diameter",
    "crown_base_rule",
    "crown_base_gap",
    "heights_on",
    "repeats_wanted",
)
_ESTIMATES = Method(
    "Totals and means of the town",
    "What was found on the plots is carried to each part of the town by its area. Means and shares "
    "are ratios of such totals. Margins come from the differences between plots, with Student's t.",
    ("Cochran1977", "Satterthwaite1946"),
)
_COVER = Method(
    "Crown cover with overlaps",
    "If crowns lie at random, the share of land under them is 1 - exp(-c), c being the crowns "
    "added up over the land.",
    ("Robbins1944",),
)
_DIVERSITY = Method(
    "Diversity",
    "Simpson's index, 1 - sum n(n - 1) / (N(N - 1)) over the counts n of the species among N "
    "trees measured; trees without a species are left out.",
    ("Simpson1949",),
)
_RECHECK = Method(
    "Agreement of two measurements",
    "Share of pairs within the tolerance, against the share agreed upon; certain where its exact "
    "one-sided 95 % limit lies on that side.",
    ("ClopperPearson1934", "Wilks1941"),
)
# a method of measuring is told where a tree or set-up has what it gives
_BY_WAY = {
    "Heights from readings": ("sighted",),
    "Straight distances": ("two straight distances",),
}


def rules(facts: Facts) -> Section:
    """Return the rules that the crews worked by."""
    survey = facts.outcome.survey
    body: tuple[tuple[Cell | None, ...], ...] = tuple(
        (Cell(field.label), Cell(rule_value(field, survey)), None, Cell(field.help), None)
        for field in RULES.fields
        if field.name in _RULES
    )
    table = Table(("Rule", "Value", "", "Meaning", ""), body, small=True)
    return Section("rules", "The rules of the survey", (), table)


def methods(facts: Facts, rechecked: bool) -> Section:
    """Return the methods that were used, each with its sources."""
    used = [*_measuring(facts), *_estimating(facts)]
    used += [_RECHECK] if rechecked else []
    body: tuple[tuple[Cell | None, ...], ...] = tuple(
        (Cell(method.what), Cell(method.how), None, Cell(_sources(method)), None) for method in used
    )
    if not body:
        return Section("methods", "Methods and sources", ("No figure was reckoned yet.",))
    table = Table(("What", "How it is reached", "", "Sources", ""), body, small=True)
    return Section("methods", "Methods and sources", (), table)


def _sources(method: Method) -> str:
    return "\n".join(SOURCES[key].citation for key in method.sources)


def _estimating(facts: Facts) -> list[Method]:
    if facts.mode == "nothing":
        return []
    found = [_ESTIMATES] if facts.mode == "sample" else []
    cover = facts.town("crown_cover_random_overlap", "share")
    if facts.mode in ("sample", "census") and cover["value"] == cover["value"]:
        found.append(_COVER)
    if facts.town("trees", "total")["trees"] > 1:
        found.append(_DIVERSITY)
    return found


def _measuring(facts: Facts) -> list[Method]:
    """Return the methods of measuring that any tree of the survey was measured by."""
    outcome = facts.outcome
    trees, setups = outcome.trees, outcome.setups
    ways = {str(way) for name in ("base_way", "top_way", "tip_way") for way in setups[name] if way}
    has = {
        name: bool(trees[name].notna().any())
        for name in ("total_height", "crown_depth", "mean_width", "u_total", "observer_u")
    }
    lines = outcome.survey.lines
    used = {what for what, starts in _BY_WAY.items() if any(way.startswith(starts) for way in ways)}
    used |= {
        what
        for what, is_used in (
            ("Distance along the slope", bool(setups["along_slope"].notna().any())),
            ("Leaning trees", bool(lines["tip_offset"].notna().any())),
            ("Several set-ups", bool((trees["n_total"] > 1).any())),
            ("Crown depth, live crown ratio", has["crown_depth"]),
            ("Crown width and area", has["mean_width"]),
            ("Several stems", bool((trees["stem_count"] > 1).any())),
            ("Uncertainty, the instrument's part", has["u_total"]),
            ("Uncertainty, the observer's part", has["observer_u"]),
        )
        if is_used
    }
    return [method for method in METHODS if method.what in used]
