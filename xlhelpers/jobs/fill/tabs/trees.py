"""The tab Trees: one row a tree, with its findings."""

from dataclasses import replace

import numpy as np
import pandas as pd

from xlhelpers.jobs.fill.tabs.places import place_column, places_by_plot
from xlhelpers.pages.plan import DOUBTFUL, Block, Column, FillFacts, TabPlan
from xlhelpers.pages.survey_columns import take_quantities
from xlhelpers.pages.values import natural_order
from xlhelpers.survey.columns import TREES
from xlhelpers.survey.counted import left_out_texts
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding, Survey
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.outcome_words import shorten_message
from xlhelpers.survey.trees.widths import COMPASS, DIRECTIONS, FIXED, RADII, widths_rule
from xlhelpers.survey.typed.words import subject_words

_GRAVITY = {"warning": 1, "error": 2}
_WORDS = np.array(["", "warning", "error"], dtype=object)
BETWEEN = "  |  "
# by tree and id: what is written of a finding, and the id of the one that it is under
_OfTrees = dict[int, dict[str, tuple[str, str]]]


def findings_of_trees(outcome: Outcome) -> dict[str, np.ndarray]:
    """Return texts of findings by tree, through the field sheet lines that they touch.

    Returns
    -------
    dict of str to array of text
        `gravest` is "error", "warning" or "" where nothing is in doubt; `open`, `settled`
        (accepted, or a missing value that is NOT SAFE, with the decision) and `notes` are the
        findings, `BETWEEN` between two of them.
    """
    count = len(outcome.trees)
    of_line = outcome.setups["tree_position"].to_numpy(int)
    gravity = np.zeros(count, dtype=int)
    texts: dict[str, _OfTrees] = {"open": {}, "settled": {}, "notes": {}}
    identities = finding_ids(outcome.findings)
    every = zip(identities, outcome.findings, outcome.standings, strict=True)
    for identity, finding, stands in every:
        kind = "notes" if stands.state == "note" else "open" if stands.is_doubtful else "settled"
        touched = {int(of_line[line]) for line in finding.lines if 0 <= line < len(of_line)} - {-1}
        text = _name_finding(identity, finding, len(touched))
        if kind != "notes" and not stands.is_open:
            text = f"{stands.decision.sentence or stands.sentence} — {text}"
        for tree in touched:
            if stands.is_doubtful:
                gravity[tree] = max(gravity[tree], _GRAVITY[finding.severity])
            texts[kind].setdefault(tree, {})[identity] = (text, finding.under)
    joined = {kind: _join_texts(of_tree, count) for kind, of_tree in texts.items()}
    return {"gravest": _WORDS[gravity], **joined}


def _name_finding(identity: str, finding: Finding, trees: int) -> str:
    """Return a finding in short; one of many trees only says where it is."""
    note = finding.severity == "note"
    start = "" if note else f"{finding.severity} {identity}: "
    if trees > 1:
        where = "About this fill" if note else "To check"
        return f"{start}{subject_words(finding.subject)}, see {where}"
    return f"{start}{shorten_message(finding.message)}"


def _join_texts(texts: _OfTrees, count: int) -> np.ndarray:
    """Return one text a tree; a finding under another one of the tree is that one."""
    joined = np.full(count, "", dtype=object)
    for tree, several in texts.items():
        pieces = [text for text, under in several.values() if under not in several]
        joined[tree] = BETWEEN.join(dict.fromkeys(pieces))
    return joined


CONDITIONS = {"": "living", "T": "dead top", "C": "cut back", "D": "dead"}
_TREE, _HEIGHT, _REACHED = "The tree", "Heights above the foot", "How they were measured"
_INSTRUMENT, _OBSERVER = "± instrument's part (standard)", "± observer"
_CROWN, _STEM, _FOUND = "Crown", "Stem", "What to check"


def _height(key: str, label: str) -> Column:
    return Column(key, label, band=_HEIGHT, width=8)


def _part(key: str, label: str) -> Column:
    return Column(key, label, band=_INSTRUMENT, width=9, more_decimals=1)


# what the tab adds to the table of the trees
ADDED = ("left_out", "gravest", "widths_used", "open", "settled", "notes", "place")
_COLUMNS = (
    Column("plot", "Plot", "identifier", width=8, band=_TREE),
    Column("tree", "Tree", "identifier", width=8, band=_TREE),
    Column("stratum", "Stratum", "identifier", width=13, band=_TREE),
    Column("species", "Species, as entered", "text", width=23, band=_TREE),
    Column("botanical", "Botanical name", "text", width=23, band=_TREE),
    Column("common", "Common name", "text", width=20, band=_TREE),
    Column("kind", "Kind", "text", width=10, band=_TREE),
    Column("condition", "Condition", "text", width=10, band=_TREE),
    Column("gravest", "Open finding", "severity", width=9, band=_TREE),
    _height("total_height", "Total height"),
    _height("crown_top", "Crown top"),
    _height("crown_base", "Crown base"),
    _height("crown_depth", "Crown depth"),
    _height("live_crown_ratio", "Live crown ratio"),
    _height("dead_top_length", "Dead top, length"),
    Column("instruments", "Instrument", "identifier", width=12, band=_REACHED),
    Column("way_total", "Height measured by", "text", width=25, band=_REACHED),
    Column("way_top", "Crown top measured by", "text", width=25, band=_REACHED),
    Column("way_base", "Crown base measured by", "text", width=25, band=_REACHED),
    Column("no_height_because", "Why there is no height", "text", width=28, band=_REACHED),
    Column("n_total", "Set-ups, total height", width=8, band=_REACHED),
    Column("n_top", "Set-ups, crown top", width=8, band=_REACHED),
    Column("n_base", "Set-ups, crown base", width=8, band=_REACHED),
    Column("scatter_total", "Difference between set-ups", band=_REACHED),
    Column("near_edge", "Too high by up to (near edge)", band=_REACHED, width=9),
    _part("u_total", "± total height, instrument"),
    _part("u_top", "± crown top, instrument"),
    _part("u_base", "± crown base, instrument"),
    _part("u_depth", "± crown depth, instrument"),
    _part("u_ratio", "± live crown ratio, instrument"),
    Column("observer_u", "± total height, observer", band=_OBSERVER, width=10, more_decimals=1),
    Column("width_widest", "Crown width, widest", band=_CROWN, width=8),
    Column("width_across", "Crown width, across", band=_CROWN, width=8),
    Column("mean_width", "Mean crown width", band=_CROWN, width=8),
    Column("widths_used", "Crown widths used", "text", band=_CROWN, width=9),
    Column("projection_area", "Crown area", band=_CROWN, width=9),
    Column("outline", "Crown outline", "text", band=_CROWN, width=14),
    Column("volume", "Crown volume", band=_CROWN, width=9),
    Column("leaf_area", "Leaf area (see line 5)", band=_CROWN, width=9),
    Column("leaf_area_because", "Why leaf area is blank", "text", band=_CROWN, width=28),
    Column("diameter", "Diameter", band=_STEM, width=9),
    Column("stem_count", "Stems", band=_STEM, width=7),
    Column("largest_stem", "Largest stem", band=_STEM, width=8),
    Column("basal_area", "Basal area", band=_STEM, width=9),
    Column(
        "height_to_diameter",
        "Height to diameter",
        band=_STEM,
        width=9,
        unit="ratio",
        more_decimals=-1,
    ),
    Column("group", "Group", "text", band=_STEM, width=13),
    Column("left_out", "Left out of means and sums", "wrapped", band=_FOUND, width=16),
    Column("open", "Open findings", "wrapped", band=_FOUND, width=130),
    Column("settled", "Accepted or closed", "wrapped", band=_FOUND, width=60),
    Column("notes", "Notes", "wrapped", band=_FOUND, width=60),
    place_column("place", "Place by plot"),
)
COLUMNS = take_quantities(TREES, _COLUMNS, ADDED)
_WITH_RADII = take_quantities(
    TREES,
    (
        Column("u_mean_width", "± mean crown width", band=_CROWN, width=9, more_decimals=1),
        Column("u_projection_area", "± crown area", band=_CROWN, width=9, more_decimals=1),
        Column("crown_offset", "Centre of the crown from the stem", band=_CROWN, width=10),
        Column("u_crown_offset", "± centre of the crown", band=_CROWN, width=9, more_decimals=1),
    ),
)


_RECORDS = take_quantities(
    TREES,
    (
        Column("diameter_at", "Diameter measured at", band=_STEM, width=9, more_decimals=1),
        Column("recorded_height", "Recorded height", band=_STEM, width=9),
        Column("height_by_eye", "Height by eye", band=_STEM, width=9),
        Column("tag", "Tag", "identifier", band=_STEM, width=10),
        Column("latitude", "Latitude", band=_STEM, width=11),
        Column("longitude", "Longitude", band=_STEM, width=11),
    ),
)


def _with_records(columns: tuple[Column, ...], trees: pd.DataFrame) -> tuple[Column, ...]:
    """Return the columns with what is recorded of some tree, after the group."""
    used = [c for c in _RECORDS if (trees[c.key].notna() & (trees[c.key] != "")).any()]
    after = [column.key for column in columns].index("group") + 1
    return (*columns[:after], *used, *columns[after:])


def columns_of(survey: Survey) -> tuple[Column, ...]:
    """Return the columns for a survey: its crown widths under the names that its rules give."""
    rule = widths_rule(survey.rules)
    if rule not in (FIXED, RADII):
        return COLUMNS
    directions = str(survey.rules["width_directions"]) if rule == FIXED else COMPASS
    named = dict(zip(("width_widest", "width_across"), DIRECTIONS[directions], strict=True))
    columns = []
    for column in COLUMNS:
        if column.key in named:
            columns.append(replace(column, label=f"Crown width, {named[column.key]}"))
        else:
            columns.append(column)
        if column.key == "projection_area" and rule == RADII:
            columns += _WITH_RADII
    return tuple(columns)


_REMARKS = (
    "± is one standard uncertainty. The instrument's part comes from its readings and distances. "
    "The observer's part is the published difference between observers (Luoma et al. 2017).",
    "Leaf area is an estimate for some open-grown broadleaves only (see About this fill). It is "
    "never summed.",
    "Slanted numbers: the tree has a finding that is open, or NOT SAFE and never accepted. The "
    "last columns say which (the whole text is on To check), and which values cannot be right and "
    "are left out of means and sums.",
    "Too high by up to: the most that a wide crown adds to a height if the near edge was aimed at, "
    "not the tip. Only a second place shows it.",
)


def plan_trees(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab: trees by plot and number, in natural order."""
    rows = tree_rows(outcome)
    rows = rows.assign(place=places_by_plot(rows["plot"]))
    return TabPlan(
        "trees",
        "Trees",
        f"{len(rows):,} trees by plot and number, one row each: what was measured and how, how "
        "sure it is, and what to check.",
        (
            Block(
                "trees",
                _with_records(columns_of(outcome.survey), outcome.trees),
                rows,
                if_empty="No tree is entered yet.",
                filtered=True,
            ),
        ),
        remarks=_REMARKS,
        frozen_columns=2,
        pages_wide=3,
    )


def tree_rows(outcome: Outcome) -> pd.DataFrame:
    """Return the trees in plot and tree order with the columns that the tab adds."""
    trees = outcome.trees
    findings = findings_of_trees(outcome)
    added = pd.DataFrame(
        {
            "condition": trees["condition"].map(CONDITIONS).fillna(trees["condition"]),
            "widths_used": _widths_used(trees),
            "left_out": left_out_texts(outcome.counted),
            **findings,
            DOUBTFUL: findings["gravest"] != "",
        },
        index=trees.index,
    )
    rows = trees.drop(columns=["condition"]).join(added)
    return rows.iloc[natural_order(trees["plot"].tolist(), trees["tree"].tolist())]


def _widths_used(trees: pd.DataFrame) -> np.ndarray:
    words = np.where(trees["one_width_only"].to_numpy(bool), "one only", "both")
    return np.where(trees["mean_width"].isna(), "", words).astype(object)
