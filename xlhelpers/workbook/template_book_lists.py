"""The lists of a fresh template emptied, where only the names of a survey are wanted."""

from xlhelpers.fields.species import SPECIES
from xlhelpers.fields.species_list import species_list
from xlhelpers.package import parts
from xlhelpers.package.cell_edit import CellWrite, write_cells
from xlhelpers.package.container import Package
from xlhelpers.workbook.template_layout import FIRST_ROW


def clear_species(package: Package) -> None:
    """Take the names of the template out of its species sheet."""
    part = parts.sheet_named(package, SPECIES.tab)
    assert part is not None  # it is the template's
    first = FIRST_ROW + 1
    columns = range(1, len(SPECIES.fields) + 1)
    rows = range(first, first + len(species_list()))
    write_cells(package, part, [CellWrite(row, column, None) for row in rows for column in columns])
