"""The live columns of the field sheet as native formulas, and the folded columns they read.

Every formula reads the cells of its own row, the tables that `lookups` keeps on a hidden sheet, and
a few rows above and below, in which it finds the first line of its tree; nothing else, so rows may
be sorted, copied, added and deleted, and a keystroke is followed by few calculations. Only
functions are used that Excel 2010 and LibreOffice 7.4 know. A blank, an error and a text that is no
number give no number.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from xlhelpers.fields.choices import choice
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.live.former import former_formulas
from xlhelpers.live.parts import (
    NOT_UNDERSTOOD,
    closes,
    first_that_holds,
    in_range,
    is_blank,
    position,
    text,
    when_number,
    word,
)
from xlhelpers.live.slopes import slope_of
from xlhelpers.live.syntax import cells_of
from xlhelpers.live.typed_numbers import DIGITS, SHAPE, number_formulas, number_of, typed_texts
from xlhelpers.live.warnings import (
    BY_EYE,
    BY_STATIONS,
    COUNTED,
    EYE_OF_PLOT,
    FILL_READS,
    FORMER,
    UNREAD,
    missing,
    odd_cells,
    warning,
)
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.measure.slopes import PERCENT_BASE, TOPOGRAPHIC_BASE

WITH_FILL = "comes with fill"
"""In place of a height that only the program can compute; it is on the tab Trees."""
_NAME_OF_TREE = 'TRIM({plot})&"/"&TRIM({tree})'
# in place of the position of a tree whose name has a wild card, which would be taken for many
_UNCLEAR = '"*"'
_FOUND = "{helper_found}"


def _is_typed(cell: str) -> str:
    """Return the condition that something is typed in a cell; a blank one is known at once."""
    return f'IF({cell}="",FALSE,TRIM({cell})<>"")'


def _place_near_by() -> str:
    """Return where, among the lines near by, the one with the tree's diameter is.

    Only lines that need another line have it: those without a diameter, and further set-ups.
    """
    alone = f'IF(ISNUMBER({number_of("diameter")}),N({{setup}})<=1,{{plot}}="")'
    wild = ",".join(f'ISNUMBER(FIND("{sign}",{_NAME_OF_TREE}))' for sign in "*?~")
    near = f"MATCH({_NAME_OF_TREE},[~helper_measured],0)"
    return first_that_holds([(alone, '""'), (f"OR({wild})", _UNCLEAR)], near)


def _of_plot(table: str, otherwise: str = '""') -> str:
    return f'IF({{helper_plot}}="",{otherwise},INDEX({table},{{helper_plot}}))'


def _of_instrument(table: str, otherwise: str = '""') -> str:
    return f'IF({{helper_instrument}}="",{otherwise},INDEX({table},{{helper_instrument}}))'


def _instrument() -> str:
    own = position("{instrument}", "xlh_cells_instrument_instrument")
    return f"IF({_is_typed('{instrument}')},{own},{_of_plot('xlh_of_plot_instrument')})"


def _scale() -> str:
    """Return the line's own scale, the plot's, or the only one that the instrument has."""
    plots, only = "INDEX(xlh_of_plot_scale,{helper_plot})", _of_instrument("xlh_of_instrument_only")
    # the plot's scale does not count for another instrument that has no such scale
    of_other = first_that_holds(
        [
            ('{helper_plot}=""', only),
            (f'{plots}="{NOT_UNDERSTOOD}"', '""'),
            (f'IF({plots}="",TRUE,{_has_no_scale(plots)})', only),
        ],
        plots,
    )
    of_plot = f"IF({_is_typed('{instrument}')},{of_other},{_of_plot('xlh_of_plot_line_scale')})"
    return f"IF({_is_typed('{scale}')},{word('{scale}', choice('scale'))},{of_plot})"


def _has_no_scale(scale: str) -> str:
    """Return the condition that an instrument has scales and that this is none of them."""
    scales = _of_instrument("xlh_of_instrument_scales")
    return f'AND({scales}<>"",ISERROR(FIND("|"&{scale}&"|",{scales})))'


def _distance_kind() -> str:
    plots = "INDEX(xlh_of_plot_line_kind,{helper_plot})"
    of_plot = first_that_holds(
        [
            (f'{{helper_scale}}<>"{HEIGHT_SCALE}"', _of_plot("xlh_of_plot_line_kind", '"level"')),
            ('IF({helper_plot}="",TRUE,' + f'{plots}<>"")', '"none"'),
        ]
    )
    own = word("{distance_kind}", choice("distance kind"))
    return f"IF({_is_typed('{distance_kind}')},{own},{of_plot})"


def _condition_of_line() -> str:
    """Return the condition; a further set-up with a blank and a crown top reading is a T."""
    further = "AND(N({setup})>1,ISNUMBER({top_reading}))"
    return f'IF(TRIM({{condition}})<>"",UPPER(TRIM({{condition}})),IF({further},"T",""))'


def _condition() -> str:
    """Return the condition; a further set-up that leaves it blank is dead if its tree is."""
    trees = f"UPPER(TRIM(INDEX([~condition],{_FOUND})))"
    blank = 'IF(N({setup})>1,TRIM({condition})="",FALSE)'
    dead = f'IF({blank},IF(ISNUMBER({_FOUND}),{trees}="D",FALSE),FALSE)'
    return f'IF({dead},"D",{_condition_of_line()})'


def _divisor() -> str:
    """Return what a reading is divided by; in its place the scale where there is no such number."""
    return first_that_holds(
        [
            ('{helper_scale}="percent"', f"{PERCENT_BASE:g}"),
            ('{helper_scale}="topographic"', f"{TOPOGRAPHIC_BASE:g}"),
            ('{helper_scale}="fixed distance"', _of_instrument("xlh_of_instrument_base")),
        ],
        "{helper_scale}",
    )


def _measured_tree() -> str:
    """Return plot and tree of a line that holds a diameter, in one text; "" for any other line."""
    named = 'NOT(OR(TRIM({plot})="",TRIM({tree})=""))'
    return f'IF(AND(ISNUMBER({number_of("diameter")}),{named}),{_NAME_OF_TREE},"")'


# what Plots says goes before the instrument's own rule
_OF_INSTRUMENT_TO_BARK = _of_instrument("xlh_of_instrument_to_bark", "0")
_PLOTS_TO_BARK = "INDEX(xlh_of_plot_to_bark,{helper_plot})"
_TO_BARK = first_that_holds(
    [('IF({helper_plot}="",FALSE,ISNUMBER(' + _PLOTS_TO_BARK + "))", _PLOTS_TO_BARK)],
    _OF_INSTRUMENT_TO_BARK,
)


def _stem() -> str:
    """Return the diameter of the tree where distances end at the bark."""
    # A further set-up may leave it to another line of its tree, which stands near by; else fill
    # finds it.
    diameter = number_of("diameter")
    same = f"TRIM({{species}})=TRIM(INDEX([~species],{_FOUND}))"
    agrees = f'IF(COUNTA({{setup}})>0,FALSE,IF(TRIM({{species}})="",TRUE,{same}))'
    agrees = f"IF(N({{setup}})>1,TRUE,IFERROR({agrees},TRUE))"
    cases = [
        (f"{_TO_BARK}<>1", '""'),
        (f"ISNUMBER({diameter})", diameter),
        (f"{_FOUND}={_UNCLEAR}", text(WITH_FILL)),
        (f"NOT({agrees})", '""'),
    ]
    near = f"INDEX([~{diameter[1:-1]}],{_FOUND})"
    return first_that_holds(cases, f"IF(ISNUMBER({_FOUND}),{near},{text(WITH_FILL)})")


_HALF = when_number(
    "{helper_stem}", FIELD_SHEET["diameter"], "{helper_stem}*xlh_diameter_unit/xlh_unit/2", "0"
)
"""Half the stem, where distances end at the bark, in the unit of the distance."""


def _distance() -> str:
    """Return the level distance, or that it comes with fill where two stations give it."""
    distance = number_of("distance")
    along, foot = number_of("slope_reading"), number_of("foot_reading")
    slope = first_that_holds(
        [
            ('{helper_kind}="level"', "0"),
            (
                f'IF({{helper_kind}}="along slope",ISNUMBER({along}),FALSE)',
                slope_of("slope_reading"),
            ),
            (
                f'IF({{helper_kind}}="straight to the foot",ISNUMBER({foot}),FALSE)',
                slope_of("foot_reading"),
            ),
        ],
        "0/0",
    )
    to_stem = f"{distance}/SQRT(1+({slope})^2)"
    level = f'IF({in_range(distance, FIELD_SHEET["distance"])},{to_stem}+{_HALF},"")'
    return first_that_holds(
        [
            (f'{{helper_stem}}="{WITH_FILL}"', text(WITH_FILL)),
            (f"ISNUMBER({distance})", level),
            (f"IF({BY_STATIONS},{is_blank('{distance}')},FALSE)", text(WITH_FILL)),
        ]
    )


def _eye() -> str:
    """Return the height of the eye above the foot, which is aimed at on the bark."""
    foot = number_of("foot_reading")
    blank = f"AND({is_blank('{foot_reading}')},NOT({closes('{missing_because}')}))"
    read = f"IF(ISNUMBER({foot}),{in_range(foot, FIELD_SHEET['foot_reading'])},FALSE)"
    declared = f"IF({BY_EYE},TRUE,IF({EYE_OF_PLOT},{blank},FALSE))"
    mark = "{mark_above_foot}"
    above = when_number(mark, FIELD_SHEET["mark_above_foot"], mark, "0")
    sighted = f"{above}-({{live_distance}}-{_HALF})*{slope_of('foot_reading')}"
    return first_that_holds(
        [
            (f'IF({mark}="",FALSE,TRIM(T({mark}))<>"")', text(WITH_FILL)),
            (read, f'IF(ISNUMBER({{live_distance}}),{sighted},"")'),
            (declared, _of_plot("xlh_of_plot_eye")),
        ]
    )


def _height(point: str) -> str:
    """Return the height of a point above the foot, as sighted or shown, or that fill gives it."""
    reading, distance, eye = f"{point}_reading", "{live_distance}", "{helper_eye}"
    number = number_of(reading)
    straight, lean = f"{{{point}_straight}}", "{tip_offset}"
    slope, with_fill = slope_of(reading), text(WITH_FILL)
    scale_height = f'IF({in_range(number, FIELD_SHEET[reading])},{number},"")'
    # whatever is typed there, because only fill reads texts of these columns
    leans = f'IF(ISNUMBER({lean}),{lean}<>0,TRIM(T({lean}))<>"")'
    is_straight = f'IF(ISNUMBER({straight}),TRUE,TRIM(T({straight}))<>"")'
    # on most lines by far all is there, and neither a lean nor a straight distance
    usual = f"IF(COUNTA({straight},{lean})=0,TRUE,NOT(OR({is_straight},{leans})))"
    usual = f'IF({usual},{{helper_divisor}}<>"{HEIGHT_SCALE}",FALSE)'
    comes = f"IF(ISNUMBER({eye}),IF(ISNUMBER({distance}),TRUE,{is_straight}),FALSE)"
    return first_that_holds(
        [
            (f"IF(COUNT({distance},{eye},{number})=3,{usual},FALSE)", f"{distance}*{slope}+{eye}"),
            (f"OR({distance}={with_fill},{eye}={with_fill})", with_fill),
            (f"NOT(ISNUMBER({number}))", '""'),
            (f'{{helper_divisor}}="{HEIGHT_SCALE}"', scale_height),
            (comes, f'IF(ISNUMBER({slope}),{with_fill},"")'),
        ]
    )


# a tree that was cut back has its whole crown
_SOUND = 'IF({helper_condition}="",TRUE,{helper_condition}="C")'


def _crown_base() -> str:
    pole = "{base_by_pole}"
    by_pole = f"IF(ISNUMBER({pole}),{in_range(pole, FIELD_SHEET['base_by_pole'])},FALSE)"
    has_crown = f'IF({_SOUND},TRUE,{{helper_condition}}="T")'
    return first_that_holds(
        [
            (f'IF({pole}="",FALSE,TRIM(T({pole}))<>"")', text(WITH_FILL)),
            (has_crown, f"IF({by_pole},{pole},{_height('base')})"),
        ]
    )


def _crown_top() -> str:
    """Return the crown top; whether the tree of a further set-up far from it lives, fill says."""
    further = 'IF({helper_condition}="",ISNUMBER({live_total}),FALSE)'
    unknown = f"IF({further},NOT(ISNUMBER({_FOUND})),FALSE)"
    return first_that_holds(
        [
            (f"IF(N({{setup}})>1,{unknown},FALSE)", text(WITH_FILL)),
            (_SOUND, "{live_total}"),
            ('{helper_condition}="T"', _height("top")),
        ]
    )


def _depth() -> str:
    top, base = "{live_top}", "{live_base}"
    return first_that_holds(
        [
            (f"COUNT({top},{base})=2", f'IF({top}>{base},{top}-{base},"")'),
            (f'OR({top}="",{base}="")', '""'),
        ],
        text(WITH_FILL),
    )


def _formulas() -> dict[str, str]:
    """Return the formulas of new workbooks, each after those that it reads."""
    formulas = {
        "helper_plot": position("{plot}", "xlh_cells_plot_plot"),
        "helper_instrument": _instrument(),
        "helper_scale": _scale(),
        "helper_kind": _distance_kind(),
        **typed_texts(),
        **number_formulas(),
        "helper_measured": _measured_tree(),
        "helper_found": _place_near_by(),
        "helper_condition": _condition(),
        "helper_divisor": _divisor(),
        "helper_stem": _stem(),
        "live_distance": _distance(),
        "helper_eye": _eye(),
        "live_total": _height("tip"),
        "live_base": _crown_base(),
        "live_top": _crown_top(),
        "live_depth": _depth(),
        "helper_unread": UNREAD,
        "helper_fill": FILL_READS,
        "helper_odd": odd_cells(),
        "helper_missing": missing(),
        "live_warning": warning(),
        "helper_count": COUNTED,
    }
    return {name: f'IFERROR({formula},"")' for name, formula in formulas.items()}


def _with_former_words(formula: str) -> str:
    for now, before in FORMER.items():
        formula = formula.replace(text(now), text(before))
    return formula


@dataclass(frozen=True)
class FormulaSet:
    """The formulas of one generation of workbooks.

    `formulas` maps a field of the field sheet to its formula with named cells, each after those
    that it reads. `in_former_words` are those that had other words before; such a formula is ours
    and stays. `superseded` are formulas that gave another result; a fill replaces them. `rewritten`
    are the digests (`digest_formula`) of longer formulas that gave the same; they stay as well.
    """

    formulas: Mapping[str, str]
    in_former_words: Mapping[str, str] = field(default_factory=dict)
    superseded: Mapping[str, str] = field(default_factory=dict)
    rewritten: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @property
    def cells(self) -> frozenset[str]:
        """Return the fields that the formulas read, without those that hold a formula."""
        return frozenset().union(*map(cells_of, self.formulas.values())) - set(self.formulas)


NOW = FormulaSet(_formulas())
RECENT = FormulaSet(former_formulas("recent"))
"""The formulas of workbooks with a column for each slope, and a longer formula for each number."""
BETWEEN = FormulaSet(
    former_formulas("between"),
    rewritten={
        "helper_scale": frozenset({"af161662c1c3d1df"}),
        "helper_missing": frozenset({"211d2996f039ce56"}),
        "live_warning": frozenset({"d9987072c4c3f23f"}),
    },
)
"""The formulas of workbooks in which Plots does not state where the tape ends."""
_EARLIER = former_formulas("earlier")
EARLIER = FormulaSet(
    _EARLIER,
    {
        name: _with_former_words(_EARLIER[name])
        for name in ("helper_odd", "helper_missing", "live_warning")
    },
    former_formulas("superseded"),
)
FORMULAS = NOW.formulas
"""Field of the field sheet -> its formula in new workbooks."""


# columns that came to the field sheet together with those of Plots
_SINCE = frozenset(item.name for item in FIELD_SHEET.fields if item.block == "radii")


def set_of(columns: Collection[str]) -> FormulaSet | None:
    """Return the formulas of a field sheet with these columns, None where it lacks some of them."""
    has = set(columns)
    if has & {SHAPE, DIGITS}:
        formula_set = NOW
    elif not has & (set(RECENT.formulas) - set(EARLIER.formulas)):
        formula_set = EARLIER
    else:
        formula_set = RECENT if has & _SINCE else BETWEEN
    return formula_set if set(formula_set.formulas) <= has else None
