"""The family of each genus on the species list.

Families of flowering plants are those of the Angiosperm Phylogeny Group (APG IV, 2016), those of
conifers and the ginkgo the usual ones of today. The table was written from memory and not looked
up; a genus that is not on the species list has no family here.
"""

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType


@cache
def families() -> Mapping[str, str]:
    """Return the family of each genus, by the genus as it is written in botanical names."""
    text = files("xlhelpers.fields").joinpath("families.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return MappingProxyType({row["genus"]: row["family"] for row in rows})
