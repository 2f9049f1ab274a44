"""The record of one column and of one sheet."""

from dataclasses import dataclass, field
from typing import Literal

from xlhelpers.errors import SpecificationError
from xlhelpers.fields.quantities import QUANTITIES, Quantity, Units

Kind = Literal["identifier", "text", "number", "choice", "tick", "date", "stems", "computed"]
Required = Literal["always", "when it applies", "no"]
FilledBy = Literal["crew", "office", "program"]


@dataclass(frozen=True)
class Field:
    """One column of a sheet, or one line of the survey rules.

    `low` and `high` bound what is possible at all, in the inner unit; a value outside is refused
    with a finding. `choices` names an entry of `xlhelpers.fields.choices.CHOICES`. `former` is the
    label in workbooks made before it changed; it still finds the column, as the `synonyms` do.
    `headed` is the heading where it says more than the label, `source` where a limit comes from.
    """

    name: str
    label: str
    kind: Kind
    help: str
    quantity: str | None = None
    required: Required = "no"
    filled_by: FilledBy = "crew"
    choices: str | None = None
    low: float | None = None
    high: float | None = None
    synonyms: tuple[str, ...] = ()
    block: str = "main"
    width: float = 9.0
    default: float | str | None = None
    former: str = ""
    headed: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse a record that contradicts itself."""
        if self.quantity is not None and self.quantity not in QUANTITIES:
            raise SpecificationError(f"field {self.name}: no quantity is called {self.quantity}")
        if (self.kind == "choice") != (self.choices is not None):
            raise SpecificationError(f"field {self.name}: choices and the kind choice go together")

    @property
    def measured_in(self) -> Quantity | None:
        """Return the quantity's record, None for a text."""
        return None if self.quantity is None else QUANTITIES[self.quantity]

    def shown_bounds(self, units: Units) -> tuple[float | None, float | None]:
        """Return the least and the greatest possible value in the unit that is shown."""
        factor = 1.0 if self.measured_in is None else self.measured_in.factor(units)
        low, high = self.low, self.high
        return None if low is None else low / factor, None if high is None else high / factor

    def heading(self, units: Units) -> str:
        """Return the heading as the sheet shows it: label and unit."""
        quantity = self.measured_in
        unit = "" if quantity is None else quantity.unit(units)
        words = self.headed or self.label
        return f"{words} ({unit})" if unit else words

    @property
    def labels(self) -> tuple[str, ...]:
        """Return what heads the column in workbooks of this program, of now and before."""
        return tuple(dict.fromkeys(word for word in (self.label, self.headed, self.former) if word))


@dataclass(frozen=True)
class Sheet:
    """One sheet of the workbook: its key in defined names, its tab and its columns.

    The heading cell of each column carries the defined name `xlh_<key>_<field name>`; on the
    survey rules, which run down the page, the cell of the value does. `retired` are columns of
    formulas that earlier workbooks have and new ones do not; only their names find them.
    """

    key: str
    tab: str
    title: str
    purpose: str
    fields: tuple[Field, ...]
    row_word: str = "line"
    prepared_rows: int = 40
    retired: tuple[Field, ...] = ()
    index: dict[str, Field] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        """Index the fields by name and refuse doubles."""
        for record in (*self.fields, *self.retired):
            if record.name in self.index:
                raise SpecificationError(f"sheet {self.key}: field {record.name} is listed twice")
            self.index[record.name] = record

    def __getitem__(self, name: str) -> Field:
        """Return the field of this name."""
        return self.index[name]

    def defined_name(self, name: str) -> str:
        """Return the defined name that anchors the column of this field."""
        return f"xlh_{self.key}_{self.index[name].name}"
