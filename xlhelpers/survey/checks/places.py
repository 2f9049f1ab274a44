"""Where trees and their diameters were taken: tags, positions, the height of a diameter."""

import numpy as np

from xlhelpers.measure.distances import plot_radius
from xlhelpers.measure.positions import distance_between
from xlhelpers.survey.checks.facts import Facts, Numbers, group_members, same
from xlhelpers.survey.checks.record import NO_HITS, Hits, hits_where
from xlhelpers.survey.checks.wording import list_words
from xlhelpers.survey.trees.records import SAME_HEIGHT
from xlhelpers.survey.typed.folding import Flags, codes_of, fold_column
from xlhelpers.survey.typed.words import identifier_key

# a tree may be so many times as far from the middle of its plot as half of its trees are, or as
# its edge is; at least so far, because receivers wander under crowns; own choices, no source
TIMES_SPREAD, LEAST_AWAY, FEWEST_PLACES = 3.0, 50.0, 4


def diameter_elsewhere(facts: Facts) -> Flags:
    """Diameters that were measured at another height than breast height."""
    away = np.abs(facts.number("diameter_at") - facts.limit("breast_height"))
    return (away >= SAME_HEIGHT) & np.isfinite(facts.number("diameter"))


def tags_twice(facts: Facts) -> Hits:
    """Tags that more than one tree has, at the second of them."""
    tags = fold_column(facts.text("tag"), identifier_key)
    rows = np.flatnonzero(~same(tags, ""))
    if len(rows) < 2:
        return NO_HITS
    # one line for each tag of each tree
    rows = rows[np.unique(codes_of(tags[rows], facts.tree_position[rows]), return_index=True)[1]]
    rows = np.sort(rows)
    groups = group_members(codes_of(tags[rows]), rows)
    twice = [group for group in groups.values() if len(group) > 1]
    words = [str(facts.text("tag")[group[0]]) for group in twice]
    return Hits(
        np.array([group[1] for group in twice], dtype=int),
        {
            "word": words,
            "count": np.array([len(group) for group in twice]),
            "which": [list_words([facts.place(line) for line in group], 4) for group in twice],
        },
        lines=twice,
        subjects=[(("tag", word),) for word in words],
    )


def position_incomplete(facts: Facts) -> Hits:
    """Lines with a latitude or a longitude, and the other one blank."""
    has = {name: facts.has_value(name) for name in ("latitude", "longitude")}
    refused = facts.is_refused("latitude") | facts.is_refused("longitude")
    lone = (has["latitude"] != has["longitude"]) & ~refused
    one = np.where(has["latitude"], "latitude", "longitude").astype(object)
    return hits_where(lone, one=one)


def positions_off_plot(facts: Facts) -> Hits:
    """Trees far from the others of their plot."""
    latitude, longitude = facts.tree("latitude"), facts.tree("longitude")
    plots = facts.column("trees", "plot_position").astype(np.int64)
    known = np.isfinite(latitude) & np.isfinite(longitude) & (plots >= 0)
    if not known.any():
        return NO_HITS
    away, allowed = np.full((2, len(plots)), np.nan)
    count = np.zeros(len(plots))
    radius = _radii(facts)
    for plot, members in group_members(plots[known], np.flatnonzero(known)).items():
        if len(members) < FEWEST_PLACES:
            continue
        trees = list(members)
        count[trees] = len(trees)
        away[trees] = _from_the_middle(latitude[trees], longitude[trees])
        spread = np.fmax(np.median(away[trees]), radius[plot])
        allowed[trees] = max(TIMES_SPREAD * float(spread), LEAST_AWAY)
    return hits_where(away > allowed, away=away, allowed=allowed, count=count)


def _radii(facts: Facts) -> Numbers:
    """Return the radius of each plot as a circle (m), NaN where its area is not stated."""
    area = np.fmax(facts.column("plots", "area_inside"), facts.column("plots", "area_reached"))
    return np.asarray(plot_radius(area.astype(float)))


def _from_the_middle(latitude: Numbers, longitude: Numbers) -> Numbers:
    """Return how far places are from their median (m)."""
    # near the date line longitudes are counted from the first one
    east = (longitude - longitude[0] + 180.0) % 360.0 - 180.0
    middle = float(np.median(latitude)), float(np.median(east)) + longitude[0]
    return np.asarray(distance_between(latitude, longitude, *middle))
