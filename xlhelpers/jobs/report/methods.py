"""The last pages of the council's report: the survey rules, and the methods that were used."""

from collections.abc import Sequence
from dataclasses import replace

from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.verdicts import RULE_OF_KINDS
from xlhelpers.pages.methods import METHODS, Method, rule_value
from xlhelpers.pages.plan import Cell, Section, Table
from xlhelpers.sources import SOURCES

_RULES = (
    "survey_kind",
    "breast_height",
    "smallest_diameter",
    "crown_base_rule",
    "crown_base_gap",
    "crown_depth",
    "crown_widths",
    "heights_on",
    "repeats_wanted",
    "margin_budget",
    "margin_fair",
    "young_below",
    "old_from",
    "limit_species",
    "limit_genus",
    "limit_family",
)
_LIMITS = ("limit_species", "limit_genus", "limit_family")
# for rules whose help speaks to the person who fills in the workbook
_MEANINGS = {
    "survey_kind": "The choices: sample plots, or every tree in a street.",
    "crown_depth": "“Not measured” is for a survey of heights alone.",
    "crown_widths": "The choices: the widest width and the one across it, two fixed directions, "
    "four radii from the stem, or not measured.",
    "heights_on": "With “some trees”, the others are assumed to be like those measured.",
    **dict.fromkeys(_LIMITS, "This town's own choice."),
}
_ESTIMATES = Method(
    "Totals and means of the town",
    "The figures of the plots are scaled up to each part of the town by its {size}. Means and "
    "shares are ratios of such totals. Both ends come from the differences between plots, with "
    "Student's t. The ends of a total are computed on a scale of logarithms, those of a share on a "
    "scale of logits.",
    ("Cochran1977", "Satterthwaite1946", "BucklandOthers2001", "LumleyUndated"),
)
_JOINED = Method(
    "A part of the town with one plot",
    "One plot does not show how plots differ. So for both ends of a figure for the town, such a "
    "part is joined to the part nearest in size.",
    ("Cochran1977",),
)
_COVER = Method(
    "Crown cover with overlaps",
    "If crowns are placed at random, the share of land under them is 1 - exp(-c). Here c is the "
    "sum of the crown areas divided by the land.",
    ("Robbins1944",),
)
_DIVERSITY = Method(
    "Diversity",
    "Simpson's index, 1 - sum n(n - 1) / (N(N - 1)), with n the count of each species and N the "
    "trees measured. Trees without a species are left out.",
    ("Simpson1949",),
)
_FAMILIES = Method(
    "Genus and family",
    "The genus is the first word of the botanical name. Families are those of APG IV, for genera "
    "on the program's list of species.",
    ("APG2016",),
)
_HALF = Method(
    "Plots for half a margin",
    "The variance of a figure falls with the number of plots, and with the share of all plots "
    "possible that is measured. Student's t follows the number of plots.",
    ("Cochran1977",),
)
_VERDICTS = Method("Verdicts from few trees or few plots", RULE_OF_KINDS, ())
_RECHECK = Method(
    "Agreement of two measurements",
    "The share of pairs within the tolerance is compared with the agreed share. The verdict is "
    "certain if the exact one-sided 95 % limit is on the same side.",
    ("ClopperPearson1934", "Wilks1941"),
)


def rules(facts: Facts) -> Section:
    """Return the rules that the crews worked by."""
    survey = facts.outcome.survey
    rows = []
    for field in RULES.fields:
        if field.name not in _RULES:
            continue
        value, source = rule_value(field, survey), field.source
        if field.name in _LIMITS:
            value = "no limit" if value == "—" else value
        elif source and not facts.is_usual(field.name):
            source = "This town's own choice."
        meaning = _MEANINGS.get(field.name, field.help)
        rows.append((field.label, value, f"{meaning} {source}".strip()))
    table = _table(("Rule", "Value", "Meaning"), rows)
    return Section("rules", "The rules of the survey", (), table)


def methods(facts: Facts, rechecked: bool) -> Section:
    """Return the methods that were used, each with its sources."""
    used = [*_measuring(facts), *_estimating(facts)]
    used += [_RECHECK] if rechecked else []
    title = "Methods and sources"
    if not used:
        return Section("methods", title, ("No figure was computed yet.",))
    rows = [(method.what, method.how, _sources(method)) for method in used]
    return Section("methods", title, (), _table(("What", "How it is computed", "Sources"), rows))


def out_of_scope() -> Section:
    """Return what the report leaves to others, and why."""
    sentences = (
        "The value of the trees is not in this report. A value depends on the method, on prices "
        "and on each tree's place, and is a matter of appraisal by professionals.",
        "Tree risk is not in this report. Local codes and licensed arborists decide.",
    )
    return Section("scope", "What this report leaves out", sentences)


def _table(headings: tuple[str, str, str], rows: Sequence[tuple[str, str, str]]) -> Table:
    """Return a table of texts; the second and the third column are several wide."""
    body = tuple((Cell(a), Cell(b), None, Cell(c), None, None) for a, b, c in rows)
    return Table((headings[0], headings[1], "", headings[2], "", ""), body, small=True)


def _sources(method: Method) -> str:
    return "\n".join(SOURCES[key].citation for key in method.sources)


def _estimating(facts: Facts) -> list[Method]:
    if facts.mode == "nothing":
        return []
    used = []
    if facts.mode == "sample":
        has_areas = bool((facts.estimates.strata["area_sampled"] > 0).any())
        size = "area" if has_areas else "number of plots"
        used.append(replace(_ESTIMATES, how=_ESTIMATES.how.format(size=size)))
        used += [_JOINED] if facts.estimates.lonely else []
    cover = facts.town("crown_cover_random_overlap", "share")
    if facts.mode in ("sample", "census") and cover["value"] == cover["value"]:
        used.append(_COVER)
    if facts.town("trees", "total")["trees"] > 1:
        used.append(_DIVERSITY)
    if any(facts.families):
        used.append(_FAMILIES)
    used += [_VERDICTS, _HALF] if facts.mode == "sample" else []
    return used


def _measuring(facts: Facts) -> list[Method]:
    """Return the methods of measuring that any tree of the survey was measured by."""
    outcome = facts.outcome
    trees, setups, lines = outcome.trees, outcome.setups, outcome.survey.lines
    ways = {str(way) for name in ("base_way", "top_way", "tip_way") for way in setups[name] if way}

    def has(name: str) -> bool:
        return bool(trees[name].notna().any())

    is_used = {
        "Heights from readings": any(way.startswith("sighted") for way in ways),
        "Straight distances": any(way.startswith("two straight distances") for way in ways),
        "Distance along the slope": bool(setups["along_slope"].notna().any()),
        "Leaning trees": bool(lines["tip_offset"].notna().any()),
        "Several set-ups": bool((trees["n_total"] > 1).any()),
        "Crown depth, live crown ratio": has("crown_depth"),
        "Crown width and area": has("mean_width"),
        "Several stems": bool((trees["stem_count"] > 1).any()),
        "Uncertainty, the instrument's part": has("u_total"),
        "Uncertainty, the observer's part": has("observer_u"),
    }
    return [method for method in METHODS if is_used.get(method.what)]
