"""Ten invented surveys for the council's report, each with something that surveys often have."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.jobs.estimates import plot, survey, trees_of
from tests.jobs.reports import NORTH, SOUTH, TWO, town, us_town
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows

SPECIES = ("Quercus robur", "Tilia cordata", "Acer platanoides")
THREE = [{"stratum": "North", "area": 30, "plots_possible": 750},
         {"stratum": "South", "area": 10, "plots_possible": 250},
         {"stratum": "Riverside", "area": 5, "plots_possible": 125}]  # fmt: skip
# trees on each plot of the three parts
THREE_COUNTS = {
    "North": (8, 6, 7, 9, 5, 7), "South": (2, 4, 0, 3, 5), "Riverside": (6, 3, 4, 5, 2),
}  # fmt: skip


def empty(path: Path) -> Path:
    """Nothing is entered but the parts of the town."""
    return survey(path, [], [], TWO)


def one_plot(path: Path) -> Path:
    """One plot of eight trees speaks for a town."""
    return survey(path, [plot("1", 8)], trees_of("1", 8), [{"area": 30, "plots_possible": 750}])


def lonely_stratum(path: Path) -> Path:
    """Two parts of the town; one plot alone was measured in South."""
    return town(path, (NORTH, (4,)))


def all_dead(path: Path) -> Path:
    """Every tree is dead."""
    return town(path, tree={"condition": "D"})


def no_diameters(path: Path) -> Path:
    """No stem was measured."""
    return town(path, tree={"diameter": None})


def census(path: Path) -> Path:
    """Every tree was to be measured; two streets were not reached."""
    return _with_unreached(path, rules={"survey_kind": "every tree"})


def us_units(path: Path) -> Path:
    """Feet, inches and acres."""
    return us_town(path)


def three_strata(path: Path) -> Path:
    """Three parts of the town, several species, thin and thick stems, dead trees and dead tops."""
    plots, lines = [], []
    for stratum, counts in THREE_COUNTS.items():
        for count in counts:
            name = str(len(plots) + 1)
            # two plots a day
            day = f"2025-05-{12 + len(plots) // 2}"
            plots.append(plot(name, count, stratum=stratum, date=day))
            for at, line in enumerate(trees_of(name, count)):
                line["species"] = SPECIES[at % 3]
                # limes are thin, oaks are thick
                line["diameter"] = (70 + at, 10 + at, 35 + at)[at % 3]
                if (len(plots), at) in ((1, 2), (7, 1), (12, 5)):
                    line["condition"] = "D"
                if (len(plots), at) in ((2, 0), (13, 0)):
                    line["condition"] = "T"
                lines.append(line)
    return survey(path, plots, lines, THREE)


def missing_widths(path: Path) -> Path:
    """Some trees have one crown width, some have none."""
    plots, lines = [], []
    for stratum, counts in (("North", NORTH), ("South", SOUTH)):
        for count in counts:
            name = str(len(plots) + 1)
            plots.append(plot(name, count, stratum=stratum))
            for at, line in enumerate(trees_of(name, count)):
                line["width_widest"] = 6 + (at * 5 + count) % 4
                line["width_across"] = 5 + (at * 3 + count) % 3
                if at == 1:
                    line["width_across"] = None
                if at == 2:
                    line["width_widest"] = line["width_across"] = None
                lines.append(line)
    return survey(path, plots, lines, TWO)


def not_reached(path: Path) -> Path:
    """Two plots were not reached, and of one a quarter could not be walked."""
    return _with_unreached(path)


def _with_unreached(path: Path, rules: dict[str, Any] | None = None) -> Path:
    plots, lines = [], []
    for stratum, counts in (("North", NORTH), ("South", SOUTH)):
        for count in counts:
            name = str(len(plots) + 1)
            reached = 300 if name == "1" else 400
            plots.append(plot(name, count, stratum=stratum, area_reached=reached))
            lines += trees_of(name, count, group="city")
    for name, why in (("10", "refused"), ("11", "not safe")):
        plots.append(plot(name, 0, stratum="South", status=why, trees_counted=None))
    survey(path, plots, lines, TWO)
    if rules:
        package = Package.open(path)
        from xlhelpers.fields.rules import RULES

        key_rows(package, RULES, [rules])
        path.write_bytes(package.to_bytes())
    return path


TEN: dict[str, Callable[[Path], Path]] = {
    "empty": empty,
    "one plot": one_plot,
    "one stratum with one plot": lonely_stratum,
    "all dead": all_dead,
    "no diameters": no_diameters,
    "census": census,
    "US units": us_units,
    "three strata": three_strata,
    "missing widths": missing_widths,
    "plots not reached": not_reached,
}
