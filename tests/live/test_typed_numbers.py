"""Numbers typed as text, by the formulas in LibreOffice and by the reader of the program.

The reader (`survey/typed/numbers.py`) has its own proofs; a formula gives its number or none.
"""

from pathlib import Path

import numpy as np
import pytest

from tests.conftest import Converter
from tests.jobs.books import GOOD, PLOT
from tests.live.formula_books import stored, without_results
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.live.evaluate import keyed_cells, line_cells, live_values, lookup_values
from xlhelpers.live.typed_numbers import NUMBERED, number_name
from xlhelpers.package.parts.parts import defined_names, sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.typed.numbers import understand
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

FIRST = 6
# what the formulas must understand, because the guide tells people to type it
UNDERSTOOD: dict[Units, dict[str, tuple[str, ...]]] = {
    "metric": {
        "distance": ("18,4", "18.4", "18.4 m", "18,4m", "60 ft", "60'", "12'6\"", "12 ft 6 in"),
        "diameter": ("32,5", "32.5 cm", "040"),
        "tip_reading": ("62,5", "-12,5", "−12.5"),
    },
    "us": {
        "distance": ("18,4", "60 ft", "60ft", "60'", "12'6\"", "12' 6\"", "12 ft 6 in", "12'11",
                     "18.4 m", "12’6”"),
        "diameter": ("14,5", "14.5 in", '14.5"'),
        "tip_reading": ("62,5", "-12,5"),
    },
}  # fmt: skip
# what they must leave to the program, which refuses some of it
LEFT = ("1,250", "12'6 1/2\"", "12½", "3-4", "1.2.3", "1 2", "12 cm", "1e3", "12'13\"", "m", "-",
        "1m8", "4%5", "12O", "12.5'6\"", "0x1A", "1234567890123456", "18.4 metres", "18.4 ells",
        "5,", ",", "'", "12''", "45°", "+5", "12 m 5", "|5", "~5", "^5", "12,500",
        "99999999 m", "62 %", "62%")  # fmt: skip


def make_book(path: Path, units: Units) -> list[dict[str, str]]:
    texts = {text for known in UNDERSTOOD.values() for of in known.values() for text in of}
    columns = ("distance", "width_widest", "diameter", "tip_reading", "base_reading")
    lines = [{name: text} for name in columns for text in sorted({*texts, *LEFT})]
    package = Package.from_bytes(make_template(units, "a4", 2, len(lines)))
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    kind = "clinometer, percent and degrees"
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": kind}])
    key_rows(package, PLOTS, [PLOT])
    key_rows(package, FIELD_SHEET, [GOOD | {"tree": at} | line for at, line in enumerate(lines)])
    path.write_bytes(package.to_bytes())
    return lines


def factor(name: str, units: Units) -> float:
    quantity = FIELD_SHEET[name].measured_in
    assert quantity is not None
    return 1.0 if quantity.name == "reading" else quantity.factor(units)


@pytest.fixture(params=["metric", pytest.param("us", marks=pytest.mark.slow)])
def units(request: pytest.FixtureRequest) -> Units:
    return request.param  # type: ignore[no-any-return]


@pytest.mark.slow
@pytest.mark.libreoffice
def test_a_formula_gives_the_number_of_the_reader_or_none(
    tmp_path: Path, soffice: Converter, units: Units
) -> None:
    book = tmp_path / "typed.xlsx"
    lines = make_book(book, units)
    without_results(book)
    names = (*map(number_name, NUMBERED), "helper_odd", "helper_fill", "live_warning")
    given = stored(soffice(book, recalculate=True), names, FIRST, len(lines))
    understood: dict[str, set[str]] = {}
    for at, line in enumerate(lines):
        ((name, text),) = line.items()
        number = given[number_name(name)][at]
        quantity = QUANTITIES[str(FIELD_SHEET[name].quantity)]
        own = understand(text, quantity, units)
        if isinstance(number, float):
            assert not own.refused, (name, text, number)
            assert number == pytest.approx(own.value / factor(name, units), rel=1e-12), (name, text)
            understood.setdefault(name, set()).add(text)
        elif not own.refused:
            assert given["helper_fill"][at].endswith(": fill will read it"), (name, text)
            assert given["helper_fill"][at].startswith(FIELD_SHEET[name].label)
            assert given["live_warning"][at] not in (None, "")
        else:
            told = (given["helper_fill"][at], given["helper_odd"][at])
            assert any(told), (name, text)
    for name, texts in UNDERSTOOD[units].items():
        assert set(texts) <= understood[name]


def test_the_values_in_python_are_the_same_numbers(tmp_path: Path, units: Units) -> None:
    book = tmp_path / "typed.xlsx"
    lines = make_book(book, units)
    package = Package.open(book)
    grids = {part.name: read_grid(package, part) for part in sheets(package)}
    survey = read_survey(package)
    columns = {name: at for (tab, name), at in survey.columns.items() if tab == FIELD_SHEET.tab}
    keyed = keyed_cells(defined_names(package), grids)
    assert keyed is not None
    rows = np.arange(FIRST, FIRST + len(lines))
    cells = line_cells(grids[FIELD_SHEET.tab], columns, rows)
    assert cells is not None
    found = live_values(cells, lookup_values(keyed, units))
    shown = {name: values.python(len(lines)) for name, values in found.items()}
    for at, line in enumerate(lines):
        ((name, text),) = line.items()
        number = shown[number_name(name)][at]
        if text in UNDERSTOOD[units].get(name, ()):
            assert isinstance(number, float), (name, text)
        if isinstance(number, float):
            own = understand(text, QUANTITIES[str(FIELD_SHEET[name].quantity)], units)
            assert number == pytest.approx(own.value / factor(name, units), rel=1e-12), (name, text)
