"""What the native formulas of a workbook give: their values from the keyed cells, in Python."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from xlhelpers.fields.quantities import Units
from xlhelpers.measure.instruments import KINDS
from xlhelpers.workbook.native_formulas import FORMULAS
from xlhelpers.workbook.native_formulas_functions import Repeats, evaluate
from xlhelpers.workbook.native_formulas_lookups import LOOKUPS, POSITION, figures, kinds_table
from xlhelpers.workbook.native_formulas_syntax import cells_of, names_of
from xlhelpers.workbook.native_formulas_values import Values, cell_values, numbers

Names = Mapping[str, Values]

# cells of the field sheet and of the survey rules that the formulas read
LINE_CELLS: frozenset[str] = frozenset().union(*map(cells_of, FORMULAS.values())) - set(FORMULAS)
RULE_CELLS: frozenset[str] = frozenset(
    name
    for formula in (*figures("metric").values(), *FORMULAS.values())
    for name in names_of(formula)
    if name.startswith("xlh_rule_")
)


def lookup_values(keyed: Names, units: Units) -> dict[str, Values]:
    """Return the values of every name that the live columns read.

    Parameters
    ----------
    keyed : mapping
        The cells of each column in `KEYED` under its name (`cells_name`), all columns of one
        sheet of one length; and the cells of `RULE_CELLS`.
    units : {"metric", "us"}
        System of the workbook's template.

    Returns
    -------
    dict
        Name -> values: those given, the kinds of instruments, the figures, the tables.
    """
    names = dict(keyed)
    names["xlh_list_instrument_kind"] = cell_values(list(KINDS))
    names |= {name: cell_values(column) for name, column in kinds_table().items()}
    for name, formula in figures(units).items():
        names[name] = evaluate(f'IFERROR({formula},"")', {}, names)
    # instruments first: the plots look them up
    for lookup in reversed(LOOKUPS):
        first = next(name for name in keyed if name.startswith(f"xlh_cells_{lookup.sheet.key}_"))
        count = len(keyed[first])
        table = {POSITION: numbers(np.arange(1.0, count + 1))}
        for name, formula in lookup.columns.items():
            table[name] = names[name] = evaluate(formula, table, names).spread(count)
    return names


def live_values(lines: Names, names: Names) -> dict[str, Values]:
    """Return what each formula of the field sheet gives.

    Parameters
    ----------
    lines : mapping
        The cells of `LINE_CELLS`, one column a field, all of one length.
    names : mapping
        As `lookup_values` gives them.

    Returns
    -------
    dict
        Field -> values, in the order of `FORMULAS`.
    """
    cells, repeats = dict(lines), Repeats(FORMULAS.values())
    for name, formula in FORMULAS.items():
        cells[name] = evaluate(formula, cells, names, repeats)
    return {name: cells[name] for name in FORMULAS}
