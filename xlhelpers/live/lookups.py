"""What the live columns look up: plots, instruments and limits, as tables on the hidden sheet.

Each table has one row for every row that its keyed sheet may hold, in the same order, and takes
its cells by their number; so rows of the keyed sheet may be sorted, added and deleted. The tables
are named by column, the single figures by cell.
"""

from __future__ import annotations

from dataclasses import dataclass

from xlhelpers.fields.choices import SPELLINGS, choice
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.fields.quantities import FOOT_M, QUANTITIES, Units
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES, US_DEFAULTS
from xlhelpers.live.parts import (
    NOT_UNDERSTOOD,
    first_initials,
    first_that_holds,
    position,
    text,
    when_number,
    word,
)
from xlhelpers.measure.instruments import KINDS

POSITION = "position"


@dataclass(frozen=True)
class Lookup:
    """One table: the keyed sheet whose rows it follows, and name -> formula of its columns.

    In the formulas `{position}` is the number of the row, counted from 1, and any other named
    cell a column of the same table.
    """

    sheet: Sheet
    columns: dict[str, str]


def cells_name(sheet: Sheet, field: str) -> str:
    """Return the name of all cells of a column of a keyed sheet."""
    return f"xlh_cells_{sheet.key}_{sheet[field].name}"


# keyed columns that the tables and the live columns read
KEYED: tuple[tuple[Sheet, str], ...] = (
    *((PLOTS, name) for name in ("plot", "scale", "distance_kind", "instrument", "crew", "slope")),
    *((PLOTS, name) for name in ("distance_to", "foot_by")),
    *(
        (INSTRUMENTS, name)
        for name in ("instrument", "kind", "scale_1", "scale_2", "scale_distance", "distance_to")
    ),
    (PEOPLE, "initials"),
    (PEOPLE, "eye_height"),
)


def _cell(sheet: Sheet, field: str) -> str:
    return f"INDEX({cells_name(sheet, field)},{{{POSITION}}})"


def _plots() -> dict[str, str]:
    names = cells_name(INSTRUMENTS, "instrument")
    person = position("{xlh_of_plot_initials}", cells_name(PEOPLE, "initials"))
    eye = f"INDEX({cells_name(PEOPLE, 'eye_height')},{{xlh_of_plot_person}})"
    scale, kind = _cell(PLOTS, "scale"), _cell(PLOTS, "distance_kind")
    unknown = text(NOT_UNDERSTOOD)
    slope = _cell(PLOTS, "slope")
    ends = word(_cell(PLOTS, "distance_to"), choice("distance ends at"))
    foot = word(_cell(PLOTS, "foot_by"), choice("foot"))
    return {
        "xlh_of_plot_scale": word(scale, choice("scale"), unknown),
        "xlh_of_plot_distance_kind": word(kind, choice("distance kind"), unknown),
        "xlh_of_plot_instrument": position(_cell(PLOTS, "instrument"), names),
        "xlh_of_plot_initials": first_initials(_cell(PLOTS, "crew")),
        "xlh_of_plot_person": person,
        "xlh_of_plot_eye": when_number(eye, PEOPLE["eye_height"], eye),
        "xlh_of_plot_slope": f"IF(ISNUMBER({slope}),ABS({slope})/100,0)",
        "xlh_of_plot_to_bark": f'IF({ends}="bark",1,IF({ends}="centre",0,""))',
        "xlh_of_plot_by_eye": f'IF({foot}="eye height",1,0)',
        # what holds for a line that states none of its own
        "xlh_of_plot_line_scale": _scale_of_lines(),
        "xlh_of_plot_line_kind": first_that_holds(
            [
                ('{xlh_of_plot_distance_kind}=""', '"level"'),
                (f"{{xlh_of_plot_distance_kind}}={unknown}", '""'),
            ],
            "{xlh_of_plot_distance_kind}",
        ),
    }


def _scale_of_lines() -> str:
    """Return the scale of a plot, or the only one of its instrument."""
    scale, instrument = "{xlh_of_plot_scale}", "{xlh_of_plot_instrument}"
    only = f'IF({instrument}="","",INDEX(xlh_of_instrument_only,{instrument}))'
    return first_that_holds(
        [(f"{scale}={text(NOT_UNDERSTOOD)}", '""'), (f'{scale}=""', only)], scale
    )


def _instruments() -> dict[str, str]:
    kind_at = "{xlh_of_instrument_kind}"
    first, second = "{xlh_of_instrument_scale_1}", "{xlh_of_instrument_scale_2}"
    given = f'{first}&{second}<>""'

    def of_kind(column: str) -> str:
        return f'IF({kind_at}="","",INDEX(xlh_kind_{column},{kind_at})&"")'

    to_bark = f'IF({kind_at}="",0,INDEX(xlh_kind_to_bark,{kind_at}))'
    made_for = _cell(INSTRUMENTS, "scale_distance")
    unit = f'IF({kind_at}="",0,INDEX(xlh_kind_unit,{kind_at}))'
    unit = f"IF({unit}=0,xlh_unit,{unit})"
    of_kinds = f"INDEX(xlh_kind_base,{kind_at})"
    base = f'IF({kind_at}="","",IF({of_kinds}>0,{of_kinds},""))'
    only = first_that_holds([(f'OR({second}="",{first}={second})', first), (f'{first}=""', second)])
    ends = f"TRIM({_cell(INSTRUMENTS, 'distance_to')})"
    scale = INSTRUMENTS["scale_distance"]
    return {
        "xlh_of_instrument_kind": position(_cell(INSTRUMENTS, "kind"), "xlh_list_instrument_kind"),
        "xlh_of_instrument_scale_1": word(_cell(INSTRUMENTS, "scale_1"), choice("scale")),
        "xlh_of_instrument_scale_2": word(_cell(INSTRUMENTS, "scale_2"), choice("scale")),
        "xlh_of_instrument_scales": (
            f'IF({given},"|"&{first}&"|"&{second}&"|",{of_kind("scales")})'
        ),
        "xlh_of_instrument_only": f"IF({given},{only},{of_kind('only')})",
        "xlh_of_instrument_to_bark": first_that_holds(
            [(f'{ends}="bark"', "1"), (f'{ends}="centre"', "0")], to_bark
        ),
        "xlh_of_instrument_base": when_number(
            made_for, scale, f"ROUND({made_for}*xlh_unit/{unit},6)", base
        ),
    }


def _safe(formulas: dict[str, str]) -> dict[str, str]:
    return {name: f'IFERROR({formula},"")' for name, formula in formulas.items()}


LOOKUPS: tuple[Lookup, ...] = (
    Lookup(PLOTS, _safe(_plots())),
    Lookup(INSTRUMENTS, _safe(_instruments())),
)
_LIMITS = {
    "xlh_limit_angle": "limit_angle",
    "xlh_limit_share": "limit_distance_share",
    "xlh_limit_eye": "limit_eye",
    "xlh_limit_height": "limit_height",
}


def figures(units: Units) -> dict[str, str]:
    """Return name -> formula of the single figures; a blank rule has its usual value."""
    feet = ["us", *(typed for typed, meant in SPELLINGS["units"].items() if meant == "us")]
    is_us = ",".join(f"TRIM(xlh_rule_units)={text(item)}" for item in feet)
    usual = QUANTITIES["length"].factor(units)
    of_units = f'IF(TRIM(xlh_rule_units)="",{usual:g},IF(OR({is_us}),{FOOT_M:g},1))'
    inch = QUANTITIES["diameter"].us_factor / 100
    stem = f'IF(xlh_unit=1,0.01,{inch:g})/IF(TRIM(xlh_rule_diameter_typed_as)="girth",PI(),1)'
    return {
        "xlh_unit": of_units,
        "xlh_diameter_unit": stem,
        **{name: _limit(rule, units) for name, rule in _LIMITS.items()},
    }


def _limit(rule: str, units: Units) -> str:
    record = RULES[rule]
    quantity = record.measured_in
    assert quantity is not None
    usual = US_DEFAULTS.get(rule, record.default) if units == "us" else record.default
    cell = f"xlh_rule_{rule}"
    share = "/100" if quantity.name == "percent" else ""
    inner = float(usual or 0.0) / (1.0 if share else quantity.factor(units))
    return f"IF(ISNUMBER({cell}),{cell}{share},{inner:.15g})"


def kinds_table() -> dict[str, list[str | float]]:
    """Return name -> column of what the kinds of instruments bring with them, in their order.

    `xlh_kind_unit` is the metres of the unit of fixed-distance scales, 0 for that of the workbook;
    `xlh_kind_base` the one distance that they are made for, 0 where there are none or several.
    """
    names = [tuple(dict.fromkeys(scale.name for scale in kind.scales)) for kind in KINDS.values()]
    units, bases = [], []
    for kind in KINDS.values():
        fixed = [scale for scale in kind.scales if scale.base_distance is not None]
        known = {FOOT_M if scale.unit == "ft" else 1.0 for scale in fixed}
        made_for = {float(scale.base_distance or 0.0) for scale in fixed}
        units.append(known.pop() if len(known) == 1 else 0.0)
        bases.append(made_for.pop() if len(made_for) == 1 else 0.0)
    return {
        "xlh_kind_scales": ["|" + "|".join(listed) + "|" for listed in names],
        "xlh_kind_only": [listed[0] if len(listed) == 1 else "" for listed in names],
        "xlh_kind_to_bark": [float(kind.distance_to == "bark") for kind in KINDS.values()],
        "xlh_kind_unit": list(units),
        "xlh_kind_base": list(bases),
    }
