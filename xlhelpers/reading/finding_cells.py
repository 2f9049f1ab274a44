"""The cells that a finding is about: which they are, what they hold, and which one is meant.

They are found in the survey as it is read now, so a row that has moved is followed. A finding on
several lines has cells only where its lines are the set-ups of one tree, told apart by number.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.workbook import KEYED_SHEETS, TABLE_OF
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.findings import as_typed
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.words import fold_word

BLANK_CELL = "blank"
BY_NAME = "name the cell"
_MOST_LINES, _MOST_CELLS = 3, 12
_BETWEEN = "; "
_TOKENS = re.compile(r"[\w-]+")
# stays on one line; a plain hyphen finds it as well
_SET_UP = "Set\N{NON-BREAKING HYPHEN}up"


@dataclass(frozen=True)
class FindingCell:
    """One cell of a finding: its field, its place, and its name in the row of the finding."""

    field: Field
    sheet: str
    row: int
    column: int
    name: str

    @property
    def address(self) -> str:
        """Return the address, such as "J12"."""
        return cell_name(self.row, self.column)

    @property
    def text(self) -> str:
        """Return how the log names it, such as "Field sheet J12 Tip reading"."""
        return f"{self.sheet} {self.address} {self.field.label}"


@dataclass(frozen=True)
class FindingCells:
    """The cells of one finding; `own` is the one that a value without a name goes to, if any."""

    cells: tuple[FindingCell, ...] = ()
    own: FindingCell | None = None

    def own_as_shown(self, row_text: str) -> FindingCell | None:
        """Return the cell that a value without a name goes to, by what the row showed, if it did.

        The likeliest cause may be another one by now; whoever typed went by the row.
        """
        if not row_text:
            return self.own
        return next((cell for cell in self.cells if row_text.startswith(f"{cell.name}: ")), None)

    def find(self, name: str) -> FindingCell | None:
        """Return the cell that a name or an address means, None where it means none or several."""
        folded = fold_word(name).replace("$", "")
        tokens = set(_TOKENS.findall(folded))
        if not tokens:
            return None
        names = {cell: fold_word(cell.name) for cell in self.cells}
        for cell, known in names.items():
            if folded in (cell.address.casefold(), known):
                return cell
        # a part of the name is enough where it is in one name only
        fitting = [cell for cell, known in names.items() if tokens <= set(_TOKENS.findall(known))]
        return fitting[0] if len(fitting) == 1 else None


class CellsOfFindings:
    """Finds the cells of the findings of one outcome, and what they hold in the workbook."""

    def __init__(self, package: Package, outcome: Outcome) -> None:
        """Begin with an opened workbook and what was computed from it."""
        self._package = package
        self._outcome = outcome
        self._parts = {part.name: part for part in sheets(package)}

    def of(self, finding: Finding) -> FindingCells:
        """Return the cells of a finding; none where it is not about single cells."""
        cells = tuple(self._cells(finding))
        if not 0 < len(cells) <= _MOST_CELLS:
            return FindingCells()
        return FindingCells(cells, cells[0] if len(cells) == 1 else _probable(finding, cells))

    def grid(self, sheet: str) -> Grid:
        """Return the cells of a sheet."""
        return read_grid(self._package, self._parts[sheet], keep=True)

    def describe_content(self, cell: FindingCell) -> str:
        """Return what a cell holds, as it is shown: 85% as such, a blank cell as "blank"."""
        grid = self.grid(cell.sheet)
        value = grid.value(cell.row, cell.column)
        if value is None or value == "":
            return BLANK_CELL
        if isinstance(value, float) and grid.is_percent(cell.row, cell.column):
            return f"{as_typed(round(value * 100, 9))}%"
        return as_typed(value)

    def shows(self, cell: FindingCell) -> str:
        """Return the name of a cell and what it holds, such as "Tip reading: 70"."""
        return f"{cell.name}: {self.describe_content(cell)}"

    def text(self, finding: Finding) -> str:
        """Return the cells of a finding in words, that of a value without a name first."""
        cells = self.of(finding)
        if not cells.cells:
            return ""
        others = _BETWEEN.join(self.shows(cell) for cell in cells.cells if cell != cells.own)
        if cells.own is None:
            return f"({BY_NAME}) {others}"
        first = self.shows(cells.own)
        return f"{first}\n({BY_NAME}) {others}" if others else first

    def is_as_shown(self, cell: FindingCell, row_text: str) -> bool:
        """Return whether a cell holds what the row of its finding showed; True where it did not."""
        if f"{cell.name}: " not in row_text:
            return True
        now = re.escape(self.shows(cell))
        return re.search(rf"(?:^|\) |; |\n){now}(?:$|; |\n)", row_text) is not None

    def _cells(self, finding: Finding) -> Sequence[FindingCell]:
        record = self._records.get(finding.sheet)
        if record is None or finding.row is None:
            return ()
        if record is not FIELD_SHEET or len(finding.lines) <= 1:
            if (finding.sheet, finding.row) not in self._rows:
                return ()
            return self._cells_in_row(finding, record, finding.sheet, finding.row, "")
        return self._cells_of_setups(finding)

    def _cells_of_setups(self, finding: Finding) -> Sequence[FindingCell]:
        """Return the cells of several lines, if they are the set-ups of one tree."""
        outcome, names = self._outcome, {what for what, _ in finding.subject}
        at = list(finding.lines)
        numbers = outcome.setups["setup_number"].to_numpy(int)[at].tolist()
        trees = set(outcome.setups["tree_position"].to_numpy(int)[at].tolist())
        is_one_tree = {"plot", "tree"} <= names and len(set(numbers)) == len(numbers)
        if not is_one_tree or len(trees) > 1 or len(numbers) > _MOST_LINES:
            return ()
        lines = outcome.survey.lines.iloc[at]
        places = zip(numbers, lines["_sheet"].tolist(), lines["_row"].tolist(), strict=True)
        cells: list[FindingCell] = []
        for number, sheet, row in places:
            cells += self._cells_in_row(finding, FIELD_SHEET, sheet, row, f"{_SET_UP} {number} ")
        return cells

    def _cells_in_row(
        self, finding: Finding, record: Sheet, sheet: str, row: int, before: str
    ) -> Sequence[FindingCell]:
        columns = self._outcome.survey.columns
        fields = {item.name: item for item in record.fields if item.kind != "computed"}
        return [
            FindingCell(fields[name], sheet, row, columns[sheet, name], before + fields[name].label)
            for name in dict.fromkeys(finding.fields)
            if name in fields and (sheet, name) in columns
        ]

    @cached_property
    def _records(self) -> dict[str, Sheet]:
        """Return the record of each sheet that is read as a table."""
        survey = self._outcome.survey
        return {
            str(sheet): record
            for record in KEYED_SHEETS
            if record is not RULES
            for sheet in getattr(survey, TABLE_OF[record.key])["_sheet"].unique()
        }

    @cached_property
    def _rows(self) -> frozenset[tuple[str, int]]:
        """Return the rows of data that are there once: sheet and row."""
        survey = self._outcome.survey
        tables = [getattr(survey, TABLE_OF[key]) for key in TABLE_OF]
        counted = Counter(
            place for table in tables for place in zip(table["_sheet"], table["_row"], strict=True)
        )
        return frozenset((str(sheet), int(row)) for (sheet, row), n in counted.items() if n == 1)


def _probable(finding: Finding, cells: Sequence[FindingCell]) -> FindingCell | None:
    """Return the one cell that the likeliest cause corrects, None where it is not just one."""
    if not finding.causes:
        return None
    fits = [cell.field.name == finding.causes[0].field for cell in cells]
    return cells[fits.index(True)] if sum(fits) == 1 else None
