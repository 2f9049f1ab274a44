"""A space stands between a number and its unit in every number format that the program writes.

The SI brochure (BIPM, 9th edition, 2019), 5.4.3 and 5.4.7, asks for it, for the sign % too.
"""

import ast
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

import xlhelpers
from tests.jobs.books import run
from tests.jobs.estimates import plot, survey, trees_of
from tests.jobs.report.ten_surveys import TEN
from tests.town import filled_town
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.report.book import render_council_report
from xlhelpers.jobs.report.facts import gather
from xlhelpers.jobs.report.numbers import cell_format, unit_in_heading
from xlhelpers.package.parts.styles import BUILT_IN, is_percent
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.looks import column_format, number_format, with_unit
from xlhelpers.pages.plan import Column
from xlhelpers.reading.outcome import compute

UNITS: tuple[Units, ...] = ("metric", "us")
# numbers of formats that files name by number only, with a sign behind a digit
BUILT_IN_TOGETHER = {str(number) for number, code in BUILT_IN.items() if "%" in code}
# what may be a number format: placeholders, and what is shown behind them
FORMAT = re.compile(r"[#,]*0(?:\.0+)?(?:[^\w.,;:)].*|%)?")
STRATA = [{"stratum": "North", "area": 30, "plots_possible": 750}]


def runs_together(code: str) -> bool:
    """Return whether a unit, quoted or not, comes right behind a digit."""
    shown = re.sub(r"\[[^\]]*\]", "", code).replace('"', "").replace("\\", "")
    return re.search(r"[0#?](?:%|°|(?!E[+-])[^\W\d_])", shown) is not None


@pytest.mark.parametrize(
    ("code", "together"),
    [
        ("0%", True), ("0.0%", True), ('0.0"m"', True), ("0.0\\%", True), ('#,##0"°"', True),
        ("0 %", False), ("0.0\\ %", False), ('0.0" m"', False), ("General", False),
        ("0.00E+00", False), ("yyyy-mm-dd", False), ('"► "General;"► "@', False),
    ],
)  # fmt: skip
def test_the_rule_itself(code: str, together: bool) -> None:
    assert runs_together(code) == together


def test_the_functions_that_make_formats_keep_them_apart() -> None:
    for units in UNITS:
        for name in QUANTITIES:
            made = [number_format(name, units), cell_format(name, units)]
            made.append(with_unit(made[1], unit_in_heading(name, units)))
            column = Column("any", "Any", "number", name)
            made += [column_format(replace(column, more_decimals=n), units) for n in range(3)]
            assert not [code for code in made if runs_together(code)]
            # a sign in quotes would not scale
            assert is_percent(column_format(column, units)) == (name == "percent")


def test_no_format_in_the_source_runs_together() -> None:
    """Every text constant that is a number format, such as that of an axis of a chart."""
    room = Path(xlhelpers.__file__).parent
    known = (room / "package/parts/styles.py",)  # what files of other programs name by number
    looked_at = 0
    for path in sorted(set(room.rglob("*.py")) - set(known)):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            text = node.value if isinstance(node, ast.Constant) else None
            if isinstance(text, str) and FORMAT.fullmatch(text):
                looked_at += 1
                assert not runs_together(text), (path.name, text)
    assert looked_at > 20


def formats_of(data: bytes) -> Iterator[str]:
    """Yield the number formats of the cells, rules and charts of a workbook."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for part in archive.namelist():
            if re.fullmatch(r"xl/(?:styles|charts/chart\d+)\.xml", part):
                for item in ElementTree.fromstring(archive.read(part)).iter():
                    yield from filter(None, (item.get("formatCode"),))
                    if item.tag.endswith("}xf") and item.get("numFmtId") in BUILT_IN_TOGETHER:
                        yield BUILT_IN[int(str(item.get("numFmtId")))]
                    if item.tag.endswith("}formatCode"):
                        yield str(item.text)


def small(path: Path, heights: float) -> Path:
    plots = [plot(str(n), 3 + n) for n in range(1, 7)]
    lines = [line for n in range(1, 7) for line in trees_of(str(n), 3 + n)]
    return survey(path, plots, [line | {"diameter": 20 + heights} for line in lines], STRATA)


@pytest.mark.slow
def test_the_workbooks_have_no_such_format(tmp_path: Path) -> None:
    old, new = small(tmp_path / "old.xlsx", 0.0), small(tmp_path / "new.xlsx", 2.0)
    change, plan = tmp_path / "change.xlsx", tmp_path / "plan.xlsx"
    run("change", old, new, "--out", change)
    run("plan", old, "--margin", 10, "--plot-area", 400, "--out", plan)
    report = render_council_report(
        gather(compute(Package.open(TEN["three strata"](tmp_path / "three.xlsx"))), 0.95)
    )
    for data in (change.read_bytes(), plan.read_bytes(), report, filled_town()):
        codes = set(formats_of(data))
        assert any("%" in code for code in codes)
        assert not [code for code in codes if runs_together(code)]
