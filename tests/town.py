"""The invented town of the demo, worked out once for all tests that only look at it."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from xlhelpers.commands.compute import compute
from xlhelpers.commands.fill import fill
from xlhelpers.package.container import Package
from xlhelpers.survey.outcome import Outcome

TOWN = Path(__file__).parents[1] / "demo_workbooks" / "town.xlsx"


@cache
def town_outcome() -> Outcome:
    """Return the outcome of the town; whoever changes it works on a copy."""
    return compute(Package.open(TOWN))


@cache
def filled_town() -> bytes:
    """Return the town's workbook after a fill."""
    with TemporaryDirectory() as folder:
        out = Path(folder) / TOWN.name
        fill(TOWN, out)
        return out.read_bytes()
