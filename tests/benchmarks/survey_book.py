"""A keyed workbook of a whole survey, made of simulated set-ups, for timing."""

from pathlib import Path

import numpy as np
import pandas as pd

from tests.simulation.sightings import INSTRUMENTS as GENERATED
from tests.simulation.sightings import Sightings, simulate
from tests.simulation.surveys import as_rows, instruments_to_key, population
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.fields.species import species_list
from xlhelpers.package.zip.container import Package
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

SEED = 7
SHARE_TWICE = 0.05


def build(book: Path, lines: int, plots: int) -> None:
    """Write the workbook: so many lines, one tree in twenty measured twice.

    The generator's plots, one an instrument, are each cut into several, so the number of plots is
    a multiple of theirs.
    """
    random = np.random.default_rng(SEED)
    height, base = population()
    drawn = random.integers(0, len(height), round(lines / (1 + SHARE_TWICE)))
    seen = simulate(height[drawn], base[drawn], 2, SEED)
    parts = max(1, plots // GENERATED)
    keyed = _keyed_lines(seen, lines, parts, random)
    cut = [seen.plots.assign(plot=seen.plots["plot"] + f"-{part + 1}") for part in range(parts)]
    places = pd.concat(cut, ignore_index=True)
    template = make_template("metric", "a4", plots=len(places), lines=len(keyed))
    package = Package.from_bytes(template, book.name)
    key_rows(package, PEOPLE, as_rows(seen.people))
    key_rows(package, INSTRUMENTS, instruments_to_key(seen))
    key_rows(package, PLOTS, as_rows(places))
    key_rows(package, FIELD_SHEET, as_rows(keyed))
    book.write_bytes(package.to_bytes())


def _keyed_lines(
    seen: Sightings, lines: int, parts: int, random: np.random.Generator
) -> pd.DataFrame:
    """Return the lines as a clerk keys them: species, diameter and widths on the first set-up."""
    first = seen.lines["setup"] == 1
    second = first[first].index[: lines - int(first.sum())] + 1
    keyed = seen.lines[first | seen.lines.index.isin(second)].reset_index(drop=True)
    number = keyed["tree"].astype(int).to_numpy()
    keyed["plot"] = keyed["plot"] + "-" + pd.Series(number % parts + 1).astype(str)
    within_plot = keyed.groupby("plot")["tree"].transform(lambda of: pd.factorize(of)[0])
    keyed["tree"] = (within_plot.astype(int) + 1).astype(str)
    names = [species.botanical for species in species_list() if species.kind == "broadleaf"]
    height = seen.truth["total_height"].to_numpy()[number - 1]
    width = height * random.uniform(0.4, 0.9, len(keyed))
    keyed["species"] = np.array(names, dtype=object)[number % len(names)]
    keyed["diameter"] = np.round(height * random.uniform(1.5, 4.0, len(keyed)), 1)
    keyed["width_widest"], keyed["width_across"] = np.round(width, 1), np.round(width * 0.9, 1)
    further = keyed["setup"] > 1
    keyed.loc[further, "species"] = ""
    keyed.loc[further, ["diameter", "width_widest", "width_across"]] = np.nan
    keyed["foot_above_eye"] = np.where(keyed["foot_reading"] > 0, True, None)
    return keyed
