"""The cells of our tabs in which the office chooses or types something for the whole tab.

They are found by their defined names; what stands there is no addition to the tab.
"""

from collections.abc import Iterator

from xlhelpers.package.parts.parts import SheetPart, defined_names, sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.plan import Chosen

PLOT_NAME = "xlh_glance_plot"
FIRST_TREE_NAME = "xlh_glance_first_tree"
# initials and date for all decisions of To check
INITIALS_NAME = "xlh_all_initials"
DATE_NAME = "xlh_all_date"
_NAMES = (PLOT_NAME, FIRST_TREE_NAME, INITIALS_NAME, DATE_NAME)


def chosen_cells(package: Package, sheet: SheetPart) -> Iterator[tuple[str, int, int]]:
    """Yield name, row and column (from 1) of the cells of a sheet that are chosen in."""
    for name in defined_names(package):
        target = parse_target(name.text) if name.name in _NAMES else None
        if target is not None and target[0].casefold() == sheet.name.casefold():
            yield name.name, target[1], target[2]


def read_choices(package: Package) -> Chosen:
    """Return what is chosen in an opened workbook."""
    choices: dict[str, float | str] = {}
    for sheet in sheets(package):
        cells = list(chosen_cells(package, sheet)) if sheet.part else []
        for name, row, column in cells:
            value = read_grid(package, sheet).value(row, column)
            if isinstance(value, str):
                value = value.strip()
            if type(value) is float or (isinstance(value, str) and value):
                choices[name] = value
    return Chosen(choices.get(PLOT_NAME), choices.get(FIRST_TREE_NAME))
