"""What the tests of plan and change share: small surveys of several plots."""

from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from tests.blank_books import blank
from tests.jobs.books import PLOT, make_once, varied
from tests.jobs.crews import changed
from tests.town import TOWN
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.template.keyed_rows import key_rows

Row = dict[str, Any]


def plot(name: str, trees: int, **more: Any) -> Row:
    row = PLOT | {"plot": name, "trees_counted": trees, "area_inside": 400, "area_reached": 400,
                  "date": "2025-05-12"}  # fmt: skip
    return row | {"status": "measured" if trees else "no trees"} | more


def trees_of(name: str, count: int, **more: Any) -> list[Row]:
    base = {"species": "Quercus robur", "width_widest": 9, "width_across": 8}
    return [base | line | {"plot": name} | more for line in varied(count)]


def survey(path: Path, plots: list[Row], lines: list[Row], strata: list[Row] | None = None) -> Path:
    """Write a workbook of sample plots; `strata` in the units shown."""
    asked = f"survey {plots} {lines} {strata}"
    path.write_bytes(make_once(asked, lambda: _survey(plots, lines, strata)))
    return path


def _survey(plots: list[Row], lines: list[Row], strata: list[Row] | None) -> bytes:
    # few sizes, so that the same blank workbook serves several surveys
    sizes = {"plots": len(plots) // 5 * 5 + 5, "lines": len(lines) // 20 * 20 + 20}
    package = Package.from_bytes(blank(**sizes))
    key_rows(package, PEOPLE, [{"initials": "AB", "eye_height": 1.5}])
    kind = "clinometer, percent and degrees"
    key_rows(package, INSTRUMENTS, [{"instrument": "C1", "kind": kind}])
    if strata:
        key_rows(package, STRATA, strata)
    key_rows(package, PLOTS, plots)
    key_rows(package, FIELD_SHEET, lines)
    return package.to_bytes()


YEARS = 5
GONE = (("3", "4"), ("9", "2"), ("21", "5"))
DEAD = (("2", "3"), ("14", "6"))
# plot, tree, factor of the height as it was read the second time
SHORT = (("1", "2", 0.5), ("12", "5", 0.6))
THIN = ("19", "3", 0.7)
NEW_NUMBER = "501"
NEW_TREES = (("6", NEW_NUMBER), ("25", NEW_NUMBER))
RENUMBERED = "11"
SWAPPED = ("20", "2", "3")


def growth_of(plot: str, tree: str) -> tuple[float, float]:
    """Return by which factor height and diameter of a tree of the demo town grow in five years."""
    some = (sum(map(ord, f"{plot}/{tree}")) * 37 % 101) / 100
    return 1.03 + 0.05 * some, 1.06 + 0.05 * some


def grown_town(path: Path) -> Path:
    """Write the demo town as it might be keyed five years later: grown, dead, gone and new trees.

    Heights grow with all distances (a height display with its readings), diameters as such.
    """
    survey = open_crew_book(TOWN).survey
    lines, columns = survey.lines, survey.columns
    scales = dict(zip(survey.plots["plot"], survey.plots["scale"], strict=True))
    short = {(plot, tree): factor for plot, tree, factor in SHORT}
    cells: dict[tuple[str, int, int], Any] = {}
    sheet = FIELD_SHEET.tab

    def write(row: int, name: str, value: Any) -> None:
        cells[(sheet, row, columns[sheet, name])] = value

    for line in lines.to_dict("records"):
        key, row = (line["plot"], line["tree"]), int(line["_row"])
        taller, thicker = growth_of(*key)
        taller *= short.get(key, 1.0)
        thicker = THIN[2] if key == THIN[:2] else thicker
        typed = _typed_cells(line["_sheet"], row, columns)
        if key in GONE:
            cells |= {(sheet, row, column): None for column in typed if typed[column] is not None}
            continue
        names = ("foot_reading", "base_reading", "top_reading", "tip_reading")
        shown = scales.get(line["plot"]) == "height"
        lengths = names if shown else ("distance", "base_straight", "top_straight", "tip_straight")
        for name in (*lengths, "width_widest", "width_across"):
            value = typed.get(columns[sheet, name])
            if isinstance(value, float):
                write(row, name, round(value * taller, 2))
        value = typed.get(columns[sheet, "diameter"])
        if isinstance(value, float):
            write(row, "diameter", round(value * thicker, 1))
        if key in DEAD:
            write(row, "condition", "D")
        if key[0] == RENUMBERED and key[1].isdecimal():
            write(row, "tree", float(key[1]) + 40)
        if key in ((SWAPPED[0], SWAPPED[1]), (SWAPPED[0], SWAPPED[2])):
            write(row, "tree", float(SWAPPED[2] if key[1] == SWAPPED[1] else SWAPPED[1]))
    for plot in survey.plots.to_dict("records"):
        if plot["date"] == plot["date"]:
            day = (plot["date"].date() - date(1899, 12, 30)).days + round(365.25 * YEARS)
            cells[(PLOTS.tab, int(plot["_row"]), columns[PLOTS.tab, "date"])] = float(day)
    target = changed(TOWN, path, cells)
    package = Package.open(target)
    key_rows(package, FIELD_SHEET, [
        {"plot": float(plot), "tree": float(tree), "species": "Tilia cordata", "diameter": 7.5,
         "width_widest": 2.1, "width_across": 1.8}
        for plot, tree in NEW_TREES
    ])  # fmt: skip
    target.write_bytes(package.to_bytes())
    return target


@lru_cache(maxsize=1)
def _town_grid() -> Grid:
    package = Package.open(TOWN)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    return read_grid(package, part)


def _typed_cells(sheet: str, row: int, columns: Any) -> dict[int, Any]:
    grid = _town_grid()
    own = {at for (tab, name), at in columns.items()
           if tab == sheet and FIELD_SHEET[name].kind != "computed"}  # fmt: skip
    return {at: grid.value(row, at) for at in own}
