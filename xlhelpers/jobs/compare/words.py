"""What people read in a comparison of two entries: results, refusals, and the texts of its tabs.

References
----------
PaulsenEtAl2012, BarchardEtAl2019
"""

from collections.abc import Sequence
from typing import Any

import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.jobs.compare.keyed_twice import NO_LINE, Pair
from xlhelpers.pages.plan import Column
from xlhelpers.wording import plural

GIVEN_TWICE = "{path} is given twice. Give two different workbooks."
NO_LINES = (
    "{name}: the field sheet is empty. Enter the paper sheets there, or give the other entry."
)
NO_ROW, BLANK, NOT_STATED = "(no such line)", "(blank)", "not stated"
ALL_FIELDS = f"all fields of {FIELD_SHEET.tab} and {PLOTS.tab}"
OPEN_TAB, RATES_TAB = "Keyed twice", "Keying rates"
SAVED = f"Saved {{out}}. Open cells are blank. The tab {OPEN_TAB} lists them."
OPEN_TITLE = "Entered twice: cells to check on paper"
OPEN_COLUMNS = (
    Column("page", "Page code", "text", width=11),
    Column("place", "Line on page", "number", "count", width=8),
    Column("plot", "Plot no.", "identifier", width=9),
    Column("tree", "Tree no.", "identifier", width=8),
    Column("setup", "Set-up", "identifier", width=7),
    Column("label", "Field", "wrapped", width=20),
    Column("first", "First entry", "wrapped", width=22),
    Column("second", "Second entry", "wrapped", width=22),
    Column("third", "Paper says something else", "entry", width=16),
    Column("by", "Resolved by", "entry", width=10),
    Column("link", "Type it in", "link", width=20),
    Column("what", "Row of another list", "wrapped", width=18),
    Column("first_cell", "Cell, first entry", "text", width=20),
    Column("second_cell", "Cell, second entry", "text", width=20),
)
OPEN_REMARKS = (
    "Check the paper first, then the two values. People who only make two entries match add new "
    "errors (Barchard, Freeman, Ochoa & Stephens 2019, doi 10.3758/s13428-019-01207-3).",
    "Page codes are on the sheets that the command paper prints. Other paper has none.",
    "To see how often each person was wrong, compare each entry with this workbook after all cells "
    "are resolved.",
)
WIDTHS_DIFFER = (
    "The survey rules differ: crown widths are “{}” in the first entry and “{}” in the second. So "
    "the crown widths cannot be compared. Choose the right rule first."
)
NO_DIFFERENCE = "No cell differs"
RATES_TITLE = "How often the two entries differ"
RATE_COLUMNS = (
    Column("name", "What", "wrapped", width=34),
    Column("cells", "Cells compared", "number", "count", width=12),
    Column("differ", "Differ", "number", "count", width=12),
    Column("rate", "Per 1,000", "number", "number", width=12, more_decimals=-1),
    Column("low", "95 % limits, from", "number", "number", width=12, more_decimals=-1),
    Column("high", "to", "number", "number", width=12, more_decimals=-1),
)
RATES_PURPOSE = "{} and {}: cells filled in at least one entry, on the lines of both."
BY_FIELD, BY_PERSON = "By field", "By person"
WHO_ENTERED = (
    f"Who entered the plot first and second (column {PLOTS['keyed_by'].label} on {PLOTS.tab})."
)
NO_LINES_COMPARED = "No lines were compared."
RATES_REMARKS = (
    "Limits after Wilson, as if cells were independent. Mistakes come in groups, so the true rate "
    "may be a little outside. Each difference is at least one error.",
    "For comparison: entering once left 0.37 errors in 1,000 fields, entering twice 0.046 "
    "(Paulsen, Overgaard & Lauritsen 2012, PLoS ONE 7(4): e35087).",
)
_LISTED_ON_SCREEN = 40


def say_compared(differing: pd.DataFrame, lines: Sequence[Pair], every: pd.Series) -> list[str]:
    """Return the sentences about a comparison.

    Parameters
    ----------
    differing
        A row a differing cell.
    lines
        The pairs of the lines.
    every
        How often the cells differ on the lines that both entries have, with limits per 1,000.
    """
    sentences = [
        f"{_where(row)}: {row.label}: {row.first} | {row.second}  ({row.first_cell} | "
        f"{row.second_cell})"
        for row in differing.head(_LISTED_ON_SCREEN).itertuples(index=False)
    ]
    differ = len(differing)
    if differ > _LISTED_ON_SCREEN:
        sentences.append(f"… and {differ - _LISTED_ON_SCREEN:,} more. Use --out to list them all.")
    cells = f"{plural(differ, 'cell')} {'differs' if differ == 1 else 'differ'}"
    sentences.append(f"{_say_lines(lines)} {cells if differ else NO_DIFFERENCE}.")
    if every["cells"]:
        sentences.append(
            f"On the lines in both entries, {int(every['differ']):,} of {int(every['cells']):,} "
            f"cells differ: {every['rate']:.1f} in 1,000 (95 % limits {every['low']:.1f} to "
            f"{every['high']:.1f})."
        )
    return sentences


def _say_lines(pairs: Sequence[Pair]) -> str:
    both = sum(NO_LINE not in (pair.first, pair.second) for pair in pairs)
    first = sum(pair.second == NO_LINE for pair in pairs)
    second = sum(pair.first == NO_LINE for pair in pairs)
    if not first and not second:
        return f"Both entries have the same {plural(both, 'line')}."
    return (
        f"{plural(both, 'line')} {'is' if both == 1 else 'are'} in both entries, {first:,} only in "
        f"the first, {second:,} only in the second."
    )


def _where(row: Any) -> str:
    parts = [("plot", row.plot), ("tree", row.tree), ("set-up", row.setup)]
    subject = " ".join(f"{word} {value}" for word, value in parts if value)
    return f"{row.tab} {row.what or subject}"


def say_open(names: tuple[str, str], count: int) -> str:
    """Return the purpose of the tab with the differing cells: the entries, how many, what to do."""
    cells = f"{plural(count, 'cell')} {'is' if count == 1 else 'are'} different"
    return (
        f"First entry: {names[0]}. Second entry: {names[1]}. {cells} and blank in this workbook. "
        "Type what the paper says in the cell behind the link."
    )
