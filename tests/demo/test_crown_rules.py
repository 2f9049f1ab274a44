"""The two small workbooks of other crown rules: they show what they are for, and are up to date."""

import math
from pathlib import Path

import make_crown_rules
import pytest
from make_crown_rules import FIXED_DIRECTIONS, FOUR_RADII, STREETS, Street

from xlhelpers.package.parts import parts
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import check
from xlhelpers.survey.outcome import Outcome

FOLDER = Path(make_crown_rules.__file__).parent
FOOT = 0.3048


def outcome_of(street: Street) -> Outcome:
    return check(FOLDER / street.file)


def to_check(outcome: Outcome) -> list[str]:
    return [found.check for found in outcome.findings if found.severity != "note"]


def test_four_radii_give_width_area_and_the_place_of_the_crown() -> None:
    """The mean of two diameters, four quarters of ellipses, and the middle of both diameters."""
    outcome = outcome_of(FOUR_RADII)
    assert to_check(outcome) == ["radii-missing"]
    trees = outcome.trees
    for at, row in enumerate(FOUR_RADII.trees[:-1]):
        north, east, south, west = (float(str(radius)) * FOOT for radius in row[-4:])
        assert trees["mean_width"][at] == pytest.approx((north + east + south + west) / 2)
        quarters = math.pi / 4 * (north * east + east * south + south * west + west * north)
        assert trees["projection_area"][at] == pytest.approx(quarters)
        off = math.hypot(north - south, east - west) / 2
        assert trees["crown_offset"][at] == pytest.approx(off)
    assert math.isnan(trees["mean_width"].iloc[-1])


def test_fixed_directions_have_no_finding_about_their_order() -> None:
    outcome = outcome_of(FIXED_DIRECTIONS)
    assert not to_check(outcome)
    larger = outcome.trees["width_across"] > outcome.trees["width_widest"]
    assert larger.sum() >= 5
    assert outcome.trees["diameter"][0] == pytest.approx(114 / math.pi)


@pytest.mark.parametrize("street", STREETS, ids=lambda street: street.file)
def test_the_kept_workbooks_hold_what_the_script_writes(street: Street, tmp_path: Path) -> None:
    kept, fresh = (
        {
            part.name: read_grid(package, part).values.tolist()
            for part in parts.sheets(package)
            if part.kind == "worksheet"
        }
        for package in (
            Package.open(FOLDER / street.file),
            Package.open(make_crown_rules.write_street(street, tmp_path)),
        )
    )
    assert list(kept) == list(fresh)
    for tab in fresh:
        assert kept[tab] == fresh[tab], f"{tab}: run demo_workbooks/make_crown_rules.py again"
    assert {file.name for file in tmp_path.iterdir()} == {street.file}
