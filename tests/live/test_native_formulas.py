"""The native formulas against the Python functions, recalculated by LibreOffice from nothing.

With XLH_FORMULA_LINES=20000 in the environment the two unit systems take 20,000 lines each; the
slow proofs take a twentieth of that, and the usual run 300 lines in metric units.
"""

import os
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.jobs.books import GOOD, PLOT, keyed
from tests.live.formula_books import ALL, stored, without_results
from tests.live.formula_lines import FEET, make_book, texts_of
from xlhelpers.errors import SpecificationError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.live.evaluate import keyed_cells, line_cells, live_values, lookup_values
from xlhelpers.live.formulas import FORMULAS, WITH_FILL
from xlhelpers.live.functions import Repeats, evaluate
from xlhelpers.live.lookups import LOOKUPS, figures
from xlhelpers.live.syntax import LONGEST, SAFE_FUNCTIONS, parse, render
from xlhelpers.live.values import cell_values
from xlhelpers.package.parts.parts import defined_names, sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.template.keyed_rows import key_rows

LINES = int(os.environ.get("XLH_FORMULA_LINES", "1000"))
FEW = 300
FIRST = 6
HEIGHTS = ("live_distance", "live_base", "live_top", "live_total", "live_depth")


@dataclass(frozen=True)
class Proof:
    """One workbook: what was keyed, what LibreOffice, the twin and the set-ups make of it."""

    units: str
    keyed: list[dict]
    given: dict[str, NDArray]
    twin: dict[str, NDArray]
    own: dict[str, NDArray]
    leaning: NDArray

    @property
    def count(self) -> int:
        return len(self.keyed)


@pytest.fixture(scope="module")
def converter(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Path], Path]:
    """One LibreOffice profile for the module; every workbook is recalculated on loading."""
    import subprocess

    from tests.conftest import RECALCULATE_ALWAYS

    program = shutil.which("soffice") or shutil.which("libreoffice")
    if program is None:
        if os.environ.get("CI") == "true":
            pytest.fail("LibreOffice (soffice) is not installed")
        pytest.skip("LibreOffice (soffice) is not installed")
    folder = tmp_path_factory.mktemp("libreoffice")
    (folder / "user").mkdir()
    (folder / "user" / "registrymodifications.xcu").write_text(RECALCULATE_ALWAYS)

    def convert(book: Path) -> Path:
        out = folder / "converted"
        command = [program, f"-env:UserInstallation={folder.as_uri()}", "--headless"]
        command += ["--convert-to", "xlsx", "--outdir", str(out), str(book)]
        subprocess.run(command, capture_output=True, timeout=600, check=True)
        return out / book.name

    return convert


@pytest.fixture(
    scope="module",
    params=[
        f"metric {FEW}",
        *(pytest.param(f"{u} {LINES}", marks=pytest.mark.slow) for u in ("metric", "us")),
    ],
)
def proof(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    converter: Callable[[Path], Path],
) -> Proof:
    units, count = str(request.param).split()[0], int(str(request.param).split()[1])
    book = tmp_path_factory.mktemp(units) / "lines.xlsx"
    keyed = make_book(book, units, count, seed=5 if units == "metric" else 6)
    twin, own = by_python(book, units, count)
    assert without_results(book) > count * len(FORMULAS)
    given = stored(converter(book), ALL, FIRST, count)
    offsets = [line.get("tip_offset") for line in keyed]
    leaning = np.array([isinstance(offset, float) and offset != 0 for offset in offsets])
    return Proof(units, keyed, given, twin, own, leaning)


def by_python(book: Path, units: str, count: int) -> tuple[dict[str, NDArray], dict[str, NDArray]]:
    """What the twin of the formulas gives, and what the set-ups are, in the unit shown."""
    package = Package.open(book)
    grids = {part.name: read_grid(package, part) for part in sheets(package)}
    survey = read_survey(package)
    columns = {name: at for (tab, name), at in survey.columns.items() if tab == FIELD_SHEET.tab}
    keyed = keyed_cells(defined_names(package), grids)
    cells = line_cells(grids[FIELD_SHEET.tab], columns, np.arange(FIRST, FIRST + count))
    assert keyed is not None
    assert cells is not None
    found = live_values(cells, lookup_values(keyed, units))  # type: ignore[arg-type]
    twin = {name: values.python(count) for name, values in found.items()}
    setups = compute_setups(survey)
    # a base near the foot is set to 0 by its uncertainty, which no formula knows
    base = np.where(setups["base_set_to_zero"], setups["base_sighted"], setups["crown_base"])
    depth = setups["crown_top"].to_numpy() - base
    inner = {
        "live_distance": setups["level_distance"].to_numpy(),
        "live_base": base,
        "live_top": setups["crown_top"].to_numpy(),
        "live_total": setups["total_height"].to_numpy(),
        "live_depth": np.where(depth > 0, depth, np.nan),
    }
    factor = FEET if units == "us" else 1.0
    own = {name: np.full(count, np.nan) for name in inner}
    at = survey.lines["_row"].to_numpy(dtype=int) - FIRST
    for name, values in inner.items():
        own[name][at] = values * factor
    return twin, own


def same(one: object, other: object) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= 1e-9 * max(1.0, abs(other))
    return (one in (None, "") and other in (None, "")) or (type(one), one) == (type(other), other)


@pytest.mark.libreoffice
@pytest.mark.parametrize("name", ALL)
def test_libreoffice_and_the_twin_agree_in_every_cell(proof: Proof, name: str) -> None:
    pairs = zip(proof.given[name].tolist(), proof.twin[name].tolist(), strict=True)
    wrong = [(row, *pair) for row, pair in enumerate(pairs, FIRST) if not same(*pair)]
    assert not wrong[:5]


@pytest.mark.libreoffice
@pytest.mark.parametrize("name", HEIGHTS)
def test_formulas_equal_the_functions_of_measure(proof: Proof, name: str) -> None:
    wrong, numbers = [], 0
    for at, (given, own) in enumerate(zip(proof.given[name], proof.own[name], strict=True)):
        if given == WITH_FILL or proof.given["helper_odd"][at] == "text, not a number":
            continue
        if proof.given["helper_fill"][at] not in (None, ""):
            continue  # the line says so, and waits for the program
        value = np.nan if given in (None, "") else given
        numbers += bool(np.isfinite(own))
        both_none = np.isnan(value) and np.isnan(own)
        if not both_none and not abs(value - own) <= 1e-9 * max(1.0, abs(own)):
            wrong.append((at + FIRST, given, own))
    assert not wrong[:5]
    assert numbers > 0.3 * proof.count  # the ways are mixed with lines that lack something


@pytest.mark.slow
@pytest.mark.libreoffice
def test_lean_and_straight_distances_come_with_fill(proof: Proof) -> None:
    said = np.array([value == WITH_FILL for value in proof.given["live_total"]])
    straight = np.array([isinstance(line.get("tip_straight"), float) for line in proof.keyed])
    assert said.any()
    # what a height rests on may come with fill as well
    rests = np.array(
        [
            WITH_FILL in told
            for told in zip(proof.given["live_distance"], proof.given["helper_eye"], strict=True)
        ]
    )
    assert not (said & ~(straight | proof.leaning | rests)).any()
    # where it is said, the program has the height; where it is not, nothing is left out
    assert np.isfinite(proof.own["live_total"][said & ~rests]).all()
    left = (straight | proof.leaning) & ~said & (proof.given["helper_scale"] != "height")
    left &= proof.given["helper_odd"] != "text, not a number"  # the program may understand it
    left &= np.array([text in (None, "") for text in proof.given["helper_fill"]])
    assert np.isnan(proof.own["live_total"][left]).all()


@pytest.mark.libreoffice
def test_texts_and_errors_are_said_and_give_no_number(proof: Proof) -> None:
    checked = 0
    for line, odd in zip(proof.keyed, proof.given["helper_odd"], strict=True):
        typed = set(texts_of(line).values())
        if typed & {"abc"}:
            assert odd == "text, not a number"
        elif typed & {"an error value"}:
            assert odd == "formula error in a cell"
        elif typed:  # numbers with a comma or a unit, words that close a blank, and blanks
            assert odd in ("", "value not possible")
        checked += bool(typed)
    assert checked > 0.02 * proof.count
    for at, line in enumerate(proof.keyed):
        if texts_of(line).get("distance") not in (None, "12,5", "12 m"):
            assert proof.given["live_distance"][at] in (None, "")


@pytest.mark.libreoffice
def test_every_way_and_every_warning_is_among_the_lines(proof: Proof) -> None:
    scales = set(proof.given["helper_scale"])
    assert {"percent", "degrees", "topographic", "fixed distance", "height"} <= scales
    assert {"level", "along slope", "straight to the foot", "none"} <= set(
        proof.given["helper_kind"]
    )
    said = set(proof.given["live_warning"])
    for words in ("distance missing", "foot reading: minus missing?", "100 times too small?",
                  "too close or too steep", "crown base above crown top"):  # fmt: skip
        assert words in said
    assert any(re.fullmatch(r"eye -?\d+\.\d (m|ft) above the foot\?", text) for text in said)


def test_formulas_are_short_and_safe_everywhere() -> None:
    letters = {field.name: "AB" for field in FIELD_SHEET.fields}
    for formula in FORMULAS.values():
        assert len(render(formula, letters, 100_000)) < LONGEST
        used = set(re.findall(r"([A-Z]+)\(", re.sub(r'"[^"]*"', "", formula)))
        assert used <= SAFE_FUNCTIONS
    for lookup in LOOKUPS:
        for formula in (*lookup.columns.values(), *figures("us").values()):
            assert len(formula) < LONGEST
            parse(formula)
    with pytest.raises(SpecificationError, match="XLOOKUP"):
        parse('XLOOKUP("a",xlh_names,xlh_values)')


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("1+2*3-4/2", 5.0),
        ('"a"&1.5&TRUE', "a1.5TRUE"),
        ('IF({blank}="","none","some")', "none"),
        ("{blank}=0", True),
        ("{text}>5", True),  # a text counts as more than any number: never compare unguarded
        ('IFERROR({text}+1,"error")', "error"),
        ("ISNUMBER({text})", False),
        ("COUNTA({text},{blank},{number})-COUNT({text},{blank},{number})", 1.0),
        ("MAX({text},{number},{blank})", 7.0),
        ('IF(AND({number}>1,{text}="ABC"),FIXED({number}/2,1,TRUE),"")', "3.5"),
        ("ROUND(2.5,0)+ROUND(-2.5,0)", 0.0),
        ('IFERROR(MATCH({number}&"",{texts},0),0)', 0.0),
        ("INDEX({texts},1)", "abc"),
    ],
)
def test_values_follow_the_rules_of_spreadsheets(formula: str, value: object) -> None:
    cells = {
        "blank": cell_values([None]),
        "text": cell_values(["abc"]),
        "number": cell_values([7.0]),
        "texts": cell_values(["abc", "x"]),
    }
    # a range is given by name; in this table it stands as a cell for short
    assert evaluate(formula, cells, {}).python(1)[0] == value


@pytest.mark.slow
@pytest.mark.libreoffice
def test_a_further_setup_may_leave_the_condition_blank(
    tmp_path: Path, converter: Callable[[Path], Path]
) -> None:
    first = GOOD | {"tree": 1, "condition": "T", "top_reading": 60}
    again = GOOD | {"tree": 1, "setup": 2, "top_reading": 61, "species": None, "diameter": None}
    dead = GOOD | {"tree": 2, "setup": 2, "base_reading": None}
    book = keyed(tmp_path / "setups.xlsx", [first, again, dead])
    without_results(book)
    given = stored(converter(book), ("live_top", "live_warning"), FIRST, 3)
    assert [round(height, 9) for height in given["live_top"]] == [16.5, 16.75, 19.0]
    assert [text or "" for text in given["live_warning"]] == ["", "", ""]


@pytest.mark.slow
@pytest.mark.libreoffice
def test_a_further_setup_takes_the_diameter_of_its_tree_from_near_by(
    tmp_path: Path, converter: Callable[[Path], Path]
) -> None:
    bare = GOOD | {"species": None, "diameter": None, "instrument": "to the bark"}
    named = GOOD | {"instrument": "to the bark", "diameter": 40, "distance": 20}
    lines = [
        bare | {"tree": 1, "setup": 2, "distance": 20},  # sorted to stand above its first line
        named | {"tree": 2},
        named | {"tree": 1},
        bare | {"tree": 2, "distance": 10},
        bare | {"tree": 2, "setup": 3, "distance": 10, "diameter": 60},
        named | {"tree": 2, "diameter": None, "species": "Tilia cordata"},  # another tree
        named | {"tree": 3, "diameter": None},
        *({"tree": 10 + at} for at in range(5)),
        bare | {"tree": 1, "setup": 3, "distance": 20},
    ]
    book = keyed(tmp_path / "bark.xlsx", lines)
    package = Package.open(book)
    key_rows(package, INSTRUMENTS, [{"instrument": "to the bark", "distance_to": "bark"}])
    book.write_bytes(package.to_bytes())
    without_results(book)
    given = stored(converter(book), ("live_distance",), FIRST, len(lines))["live_distance"]
    # half of 40 cm is 0.2 m; a half of 60 cm stands on its own line alone
    expected = [20.2, 20.2, 20.2, 10.2, 10.3, 20.0]
    assert [round(distance, 9) for distance in given[:6]] == expected
    # no diameter within five rows: the program finds it, or there is none
    assert [given[6], given[-1]] == [WITH_FILL, WITH_FILL]


@pytest.mark.slow
@pytest.mark.libreoffice
def test_instruments_and_plots_far_below_the_prepared_rows_are_found(
    tmp_path: Path, converter: Callable[[Path], Path]
) -> None:
    kind = "clinometer, scales for 20 m and 25 m"
    rows = [{"instrument": f"N{n}", "kind": kind, "scale_distance": 20} for n in range(350)]
    plots = [PLOT | {"plot": f"{n}", "instrument": "N349", "scale": "fixed distance"}
             for n in range(350)]  # fmt: skip
    line = GOOD | {"plot": "349", "tree": "1", "foot_reading": -1, "base_reading": 3}
    book = keyed(tmp_path / "many.xlsx", [line | {"tip_reading": 19}], plots)
    package = Package.open(book)
    key_rows(package, INSTRUMENTS, rows)
    book.write_bytes(package.to_bytes())
    without_results(book)
    given = stored(converter(book), ("live_total", "helper_missing"), FIRST, 1)
    assert given["live_total"][0] == pytest.approx(25.0)  # 20 units of a scale for 20 m from 25 m
    assert given["helper_missing"][0] in (None, "")


@pytest.mark.slow
@pytest.mark.libreoffice
def test_any_reading_that_looks_like_a_share_is_asked_about(
    tmp_path: Path, converter: Callable[[Path], Path]
) -> None:
    told = [{"tip_reading": 0.7}, {"base_reading": 0.12}, {"foot_reading": -0.06}]
    told += [{"condition": "T", "top_reading": 0.62}]
    # near eye level a crown base may well read a few tenths
    usual = [{"base_reading": 0.5}, {"base_reading": -0.3}, {"base_reading": 9.25}, {}]
    lines = [GOOD | {"tree": at} | line for at, line in enumerate([*told, *usual], 1)]
    book = keyed(tmp_path / "shares.xlsx", lines)
    without_results(book)
    (given,) = stored(converter(book), ("live_warning",), FIRST, len(lines)).values()
    assert given.tolist() == ["100 times too small?"] * len(told) + [""] * len(usual)


def test_a_branch_that_no_line_takes_is_not_worked_out() -> None:
    # {nowhere} is not given, so working it out would fail
    formulas = ("IF({a}>0,{a}*2,{nowhere}*2)", "IF({a}<0,{a}*2,{a}*2+1)")
    repeats = Repeats(formulas)
    cells = {"a": cell_values([1.0, 3.0])}
    given = [evaluate(formula, cells, {}, repeats).python(2).tolist() for formula in formulas]
    assert given == [[2.0, 6.0], [3.0, 7.0]]
    mixed = evaluate("IF({a}>1,{a}*2,0)", cells, {})
    assert mixed.python(2).tolist() == [0.0, 6.0]
