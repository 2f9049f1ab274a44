"""What is to be printed, and on what paper."""

from dataclasses import dataclass

from xlhelpers.fields.quantities import Units
from xlhelpers.workbook.paper.page import PaperSize


@dataclass(frozen=True)
class Sizes:
    """The paper that is printed on and the units that are written in."""

    paper: PaperSize
    units: Units
