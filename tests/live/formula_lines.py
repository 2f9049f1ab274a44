"""Random lines over all ways of measuring, for the proof of the native formulas.

Keyed as a clerk would key them, with blanks, closing words, texts and error values among them.
Figures and names are invented.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.fields.rules import RULES
from xlhelpers.measure.instruments import KINDS
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.zip.container import Package
from xlhelpers.survey.trees.widths import RADII, RADIUS_FIELDS
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

Row = dict[str, Any]
ERROR_MARK = "an error value"
FEET = 1 / 0.3048
TEXTS = ("NOT SAFE", "not seen", "?", "UNREADABLE", "abc", "12 m", "12,5", " ", ERROR_MARK)
_MARKED = re.compile(
    rb'(<c r="[A-Z]+[0-9]+"(?: s="[0-9]+")?) t="inlineStr"><is><t xml:space="preserve">'
    + ERROR_MARK.encode()
    + rb"</t></is></c>"
)


def make_book(path: Path, units: str, count: int, seed: int = 5) -> list[Row]:
    """Write a workbook with random lines and return what was keyed on the field sheet."""
    random = np.random.default_rng(seed)
    length = 1.0 if units == "metric" else FEET
    instruments = _instruments(random, length)
    plots = _plots(random, [row["instrument"] for row in instruments])
    lines = [_line(random, number, length, plots, instruments) for number in range(1, count + 1)]
    _further_setups(random, lines)
    _radii(np.random.default_rng([seed, 1]), lines, length)
    paper = "a4" if units == "metric" else "letter"
    prepared = make_template(units, paper, len(plots), count)  # type: ignore[arg-type]
    package = Package.from_bytes(prepared)
    girth = "girth" if seed % 2 else "diameter"
    rules = {"diameter_typed_as": girth, "crown_widths": RADII}
    key_rows(package, RULES, [rules])
    key_rows(package, PEOPLE, _people(length))
    key_rows(package, INSTRUMENTS, instruments)
    key_rows(package, PLOTS, plots)
    key_rows(package, FIELD_SHEET, lines)
    for part in sheets(package):
        content = package.read(part.part)
        marked = _MARKED.sub(rb'\1 t="e"><v>#N/A</v></c>', content)
        if marked != content:
            package.replace(part.part, marked)
    path.write_bytes(package.to_bytes())
    return lines


def _radii(random: np.random.Generator, lines: list[Row], length: float) -> None:
    """Give every other line crown radii, now and then without one, as a text, or out of range."""
    for line in lines[::2]:
        if "tree" not in line:
            continue
        line |= {name: float(np.round(random.uniform(0, 8), 1)) * length for name in RADIUS_FIELDS}
        fate, name = random.random(), str(random.choice(RADIUS_FIELDS))
        if fate < 0.1:
            del line[name]
        elif fate < 0.2:
            line[name] = random.choice(("4,5", "NOT SEEN", "abc", "3 m", 60.0 * length, -1.0))


def _people(length: float) -> list[Row]:
    return [
        {"initials": "AB", "eye_height": 1.6 * length},
        {"initials": "CD", "eye_height": 1.71 * length},
        {"initials": 7, "eye_height": 1.5 * length},
        {"initials": "XY"},
    ]


def _instruments(random: np.random.Generator, length: float) -> list[Row]:
    """Every kind twice, once as usual for its kind and once with entries of its own."""
    scales = ("percent", "degrees", "topographic", "fixed distance", "height")
    rows: list[Row] = []
    for number, kind in enumerate(KINDS, 1):
        fixed = "fixed distance" in {scale.name for scale in KINDS[kind].scales}
        made_for = float(random.choice((15, 20, 66, 100))) if length > 1 else 20.0
        plain: Row = {"instrument": number, "kind": kind}
        if fixed or random.random() < 0.3:
            plain["scale_distance"] = made_for
        rows.append(plain)
        rows.append({
            "instrument": f"C{number}",
            "kind": kind,
            "scale_1": random.choice(scales),
            "scale_2": random.choice((None, *scales)),
            "scale_distance": random.choice((None, made_for)),
            "distance_to": random.choice((None, "centre", "bark")),
        })  # fmt: skip
    rows.append({"instrument": "odd one", "kind": "something else", "scale_1": "degrees"})
    rows.append({"instrument": "0X", "kind": None})
    return rows


def _plots(random: np.random.Generator, instruments: list[Any]) -> list[Row]:
    scales = (None, "percent", "degrees", "topographic", "fixed distance", "height", "Percent")
    kinds = (None, "level", "level", "along slope", "straight to the foot", "none")
    crews = ("AB CD", "CD/AB", "7", "ab, XY", "XY", "nobody", None, "AB&CD")
    rows = []
    for number in range(1, 81):
        instrument = instruments[int(random.integers(len(instruments)))]
        rows.append({
            "plot": number if number % 3 else str(number) if number % 2 else f"P {number}",
            "status": "measured",
            "crew": random.choice(crews),
            "instrument": None if number % 19 == 0 else instrument,
            "scale": random.choice(scales),
            "distance_kind": random.choice(kinds),
            "slope": random.choice((None, 5.0, 20.0)),
            "distance_to": random.choice((None, None, "centre", "bark", "Bark", "instrument")),
            "foot_by": random.choice((None, None, "read", "eye height")),
        })  # fmt: skip
    return rows


def _line(
    random: np.random.Generator,
    number: int,
    length: float,
    plots: list[Row],
    instruments: list[Row],
) -> Row:
    """One line: mostly whole, with what its way asks for, and now and then something odd."""

    def chance(share: float) -> bool:
        return bool(random.random() < share)

    plot = plots[int(random.integers(len(plots)))]["plot"]
    if isinstance(plot, int) and chance(0.1):
        plot = str(plot)
    distance = float(np.round(random.uniform(4, 45), 2)) * length
    span = float(random.choice((100.0, 40.0, 20.0)))
    tip = float(np.round(random.uniform(0.05, 1.2) * span, 1))
    line: Row = {
        "plot": plot if not chance(0.01) else "no such plot",
        "tree": number,
        "species": "Acer platanoides",
        "condition": random.choice((None, None, None, "T", "D", "C")),
        "diameter": float(np.round(random.uniform(8, 90), 1)),
        "width_widest": float(np.round(random.uniform(2, 14), 1)) * length,
        "width_across": float(np.round(random.uniform(2, 12), 1)) * length,
        "distance": distance,
        "foot_reading": float(np.round(random.uniform(-0.25, 0.04) * span, 1)),
        "base_reading": float(np.round(random.uniform(-0.05, 0.6) * tip, 1)),
        "tip_reading": tip,
    }
    if line["condition"] == "T" or chance(0.02):
        line["top_reading"] = float(np.round(random.uniform(0.6, 1.02) * tip, 1))
    if chance(0.5):
        line["slope_reading"] = float(np.round(random.uniform(-15, 15), 1))
    if line["foot_reading"] > 0 and chance(0.7):
        line["foot_above_eye"] = random.choice(("x", "X", "yes", "no", 1.0))
    if chance(0.1):
        line["mark_above_foot"] = float(np.round(random.uniform(0.3, 4), 2)) * length
        if chance(0.2):
            line["mark_above_foot"] = 0.0
    if chance(0.1):
        line["base_by_pole"] = float(np.round(random.uniform(0, 9), 2)) * length
    if chance(0.05):
        line["tip_offset"] = random.choice((0.0, 1.5 * length, -2.0 * length))
    if chance(0.05):
        line[str(random.choice(("base_straight", "top_straight", "tip_straight")))] = 31.0 * length
    if chance(0.08):
        line["missing_because"] = random.choice(("EYE HEIGHT", "eye height, level", "NOT SAFE"))
        if chance(0.8):
            del line["foot_reading"]
    if chance(0.25):
        line["scale"] = random.choice(("percent", "degrees", "topographic", "fixed distance",
                                       "height", "procent", "Degrees"))  # fmt: skip
    if chance(0.2):
        line["distance_kind"] = random.choice(("level", "along slope", "straight to the foot",
                                               "none", "by eye"))  # fmt: skip
    if chance(0.04):
        line |= {"station_step": 10.0 * length, "second_tip_reading": tip / 2}
        del line["distance"]
    if chance(0.02):
        line["height_by_eye"] = 12.0 * length
    if chance(0.15):
        chosen = instruments[int(random.integers(len(instruments)))]["instrument"]
        line["instrument"] = chosen if chance(0.9) else "no such one"
    return _spoiled(random, line)


def _further_setups(random: np.random.Generator, lines: list[Row]) -> None:
    """Turn some lines into further set-ups of a line before them, near or far, as crews key them.

    Most leave the diameter to the first line; some leave the set-up blank.
    """
    heads: list[Row] = []
    for line in lines:
        known = isinstance(line.get("diameter"), float) and {"plot", "tree"} <= line.keys()
        if not heads or random.random() > 0.15:
            if known:
                heads.append(line | {"_setups": 1})
            continue
        head = heads[-1] if random.random() < 0.5 else heads[int(random.integers(len(heads)))]
        head["_setups"] += 1
        line |= {name: head.get(name) for name in ("plot", "tree", "condition")}
        blank = random.random() < 0.3
        line["setup"] = None if blank else head["_setups"]
        line["species"] = random.choice((head.get("species"), None))
        if line["condition"] != "T":
            line.pop("top_reading", None)
        if blank or random.random() < 0.8:
            line.pop("diameter", None)


def _spoiled(random: np.random.Generator, line: Row) -> Row:
    """Leave out a cell, put a text or an error into one, or a figure out of every range."""
    numbers = [name for name, value in line.items() if isinstance(value, float)]
    fate = random.random()
    name = numbers[int(random.integers(len(numbers)))]
    if fate < 0.06:
        del line[name]
    elif fate < 0.12:
        line[name] = str(random.choice(TEXTS))
    elif fate < 0.15:
        line[name] = float(random.choice((0.0, -700.0, 900.0, 95.0, -90.0)))
    elif fate < 0.16:
        line = {"plot": line["plot"], "tree": line["tree"], "species": line["species"]}
    elif fate < 0.17:
        line = {key: value for key, value in line.items() if key not in ("plot",)}
    elif fate < 0.18:
        line["tip_reading"] = float(np.round(random.uniform(0.1, 1.0), 2))
    return line


def texts_of(line: Mapping[str, Any]) -> dict[str, str]:
    """The texts in cells of a line where a number belongs."""
    return {
        name: value
        for name, value in line.items()
        if isinstance(value, str) and FIELD_SHEET[name].kind == "number"
    }
