"""The words that a cell may hold where a choice is asked for, and the words that close a blank."""

from xlhelpers.errors import SpecificationError

CHOICES: dict[str, tuple[str, ...]] = {
    "units": ("metric", "us"),
    "condition": ("T", "D", "C"),
    "scale": ("percent", "degrees", "topographic", "fixed distance", "height"),
    "distance kind": ("level", "along slope", "straight to the foot", "none"),
    "distance to": ("centre", "bark"),
    "plot status": ("measured", "no trees", "refused", "not safe", "outside", "later"),
    "leaf state": ("in leaf", "bare", "partly"),
    "species kind": ("broadleaf", "conifer", "palm"),
    "outline": ("cylinder", "ellipsoid", "half-ellipsoid", "paraboloid", "cone"),
    "survey kind": ("sample plots", "every tree"),
    "diameter typed as": ("diameter", "girth"),
    "tape reads in": ("metres", "tenths of feet", "feet and inches"),
    "crown base rule": ("lowest living foliage", "half-way where lopsided"),
    "crown depth": ("measured", "not measured"),
    "crown widths": ("widest and across", "two fixed directions", "four radii", "not measured"),
    "width directions": ("north-south and east-west", "along and across the street"),
    "distance ends at": ("centre", "bark", "instrument"),
    "foot": ("read", "eye height"),
    "heights on": ("every tree", "some trees"),
    "slope scale": ("percent", "degrees"),
    "stem point": ("foot", "mark"),
    "heights by eye": ("kept apart", "used where none is measured"),
    "yes": ("yes", "no"),
}
# Words that say why a cell is blank: no finding, but counted. "?" stands for unreadable.
CLOSING_WORDS: tuple[str, ...] = (
    "NOT SAFE",
    "NO ACCESS",
    "NOT SEEN",
    "NOT ASKED",
    "UNREADABLE",
)
# Declares, where closing words stand, that the eye height stands in for the foot reading.
EYE_HEIGHT_WORDS = "EYE HEIGHT"
# What people type for a choice, folded to lower case, and the word that is meant.
SPELLINGS: dict[str, dict[str, str]] = {
    "scale": {
        "%": "percent",
        "pct": "percent",
        "percentage": "percent",
        "deg": "degrees",
        "degree": "degrees",
        "°": "degrees",
        "topo": "topographic",
    },
    "distance kind": {
        "horizontal": "level",
        "slope": "along slope",
        "straight": "straight to the foot",
    },
    "condition": {
        "dead": "D",
        "dead top": "T",
        "living": "",
        "alive": "",
        "live": "",
        "cut back": "C",
        "topped": "C",
        "pollarded": "C",
        "pollard": "C",
        "under wires": "C",
        "wires": "C",
    },
    "units": {"m": "metric", "ft": "us", "feet": "us", "us customary": "us"},
    "distance ends at": {"center": "centre", "stem": "centre"},
    "plot status": {"done": "measured", "empty": "no trees"},
}


def choice(name: str) -> tuple[str, ...]:
    """Return the words of one choice list.

    Raises
    ------
    SpecificationError
        If no list has this name.
    """
    try:
        return CHOICES[name]
    except KeyError:
        raise SpecificationError(f"no list of choices is called {name}") from None
