"""The live columns of the field sheet as native formulas, and the folded columns they read.

Every formula reads the cells of its own row, the tables that `lookups` keeps on a hidden sheet, and
a few rows above and below, in which it finds the first line of its tree; nothing else, so rows may
be sorted, copied, added and deleted, and a keystroke is followed by few calculations. Only
functions are used that Excel 2010 and LibreOffice 7.4 know. A blank, an error and a text that is no
number give no number.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS, choice
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.live.parts import (
    NOT_UNDERSTOOD,
    closes,
    first_that_holds,
    is_blank,
    position,
    text,
    when_number,
    word,
)
from xlhelpers.live.syntax import cells_of
from xlhelpers.live.typed_numbers import TYPED, number_formulas, number_of, typed_texts
from xlhelpers.live.warnings import (
    BY_STATIONS,
    COUNTED,
    EYE_OF_PLOT,
    FORMER,
    RADII,
    fill_reads,
    former_missing,
    missing,
    odd_cells,
    unread_texts,
    warning,
)
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.measure.slopes import PERCENT_BASE, TOPOGRAPHIC_BASE

WITH_FILL = "comes with fill"
"""In place of a height that only the program can compute; it is on the tab Trees."""
_SLOPES = {
    "helper_foot": "foot_reading",
    "helper_base": "base_reading",
    "helper_top": "top_reading",
    "helper_tip": "tip_reading",
    "helper_along": "slope_reading",
}
Cell = Callable[[str], str]
_NAME_OF_TREE = 'TRIM({plot})&"/"&TRIM({tree})'
# the line with the tree's diameter, near by or, in earlier workbooks, anywhere; a name with a wild
# card would be taken for many
_FOUND = f"MATCH({_NAME_OF_TREE},[~helper_measured],0)"
_FOUND_ANYWHERE = f"MATCH({_NAME_OF_TREE},[helper_measured],0)"
_WILD = ",".join(f'ISNUMBER(FIND("{sign}",{_NAME_OF_TREE}))' for sign in "*?~")


def _of_plot(table: str) -> str:
    return f'IF({{helper_plot}}="","",INDEX({table},{{helper_plot}}))'


def _of_instrument(table: str, otherwise: str = '""') -> str:
    return f'IF({{helper_instrument}}="",{otherwise},INDEX({table},{{helper_instrument}}))'


def _instrument() -> str:
    own = position("{instrument}", "xlh_cells_instrument_instrument")
    return f'IF(TRIM({{instrument}})<>"",{own},{_of_plot("xlh_of_plot_instrument")})'


def _scale() -> str:
    """Return the line's own scale, the plot's, or the only one that the instrument has."""
    plots, only = _of_plot("xlh_of_plot_scale"), _of_instrument("xlh_of_instrument_only")
    # the plot's scale does not count for another instrument that has no such scale
    foreign = f'IF(TRIM({{instrument}})="",FALSE,{_has_no_scale(plots)})'
    of_plot = first_that_holds(
        [
            (f'{plots}="{NOT_UNDERSTOOD}"', '""'),
            (f'IF({plots}="",TRUE,{foreign})', only),
        ],
        plots,
    )
    return f'IF(TRIM({{scale}})<>"",{word("{scale}", choice("scale"))},{of_plot})'


def _has_no_scale(scale: str) -> str:
    """Return the condition that an instrument has scales and that this is none of them."""
    scales = _of_instrument("xlh_of_instrument_scales")
    return f'AND({scales}<>"",ISERROR(FIND("|"&{scale}&"|",{scales})))'


def _former_scale() -> str:
    plots, only = _of_plot("xlh_of_plot_scale"), _of_instrument("xlh_of_instrument_only")
    scales = _of_instrument("xlh_of_instrument_scales")
    foreign = f'AND(TRIM({{instrument}})<>"",{scales}<>"",ISERROR(FIND("|"&{plots}&"|",{scales})))'
    of_plot = first_that_holds(
        [(f'{plots}="{NOT_UNDERSTOOD}"', '""'), (f'OR({plots}="",{foreign})', only)], plots
    )
    own = word("{scale}", choice("scale"))
    return f'IF(TRIM({{scale}})<>"",{own},{of_plot})'


def _distance_kind() -> str:
    plots = _of_plot("xlh_of_plot_distance_kind")
    of_plot = first_that_holds(
        [
            (f'{plots}="{NOT_UNDERSTOOD}"', '""'),
            (f'{{helper_scale}}="{HEIGHT_SCALE}"', '"none"'),
            (f'{plots}=""', '"level"'),
        ],
        plots,
    )
    own = word("{distance_kind}", choice("distance kind"))
    return f'IF(TRIM({{distance_kind}})<>"",{own},{of_plot})'


def _condition_of_line() -> str:
    """Return the condition; a further set-up with a blank and a crown top reading is a T."""
    further = "AND(N({setup})>1,ISNUMBER({top_reading}))"
    return f'IF(TRIM({{condition}})<>"",UPPER(TRIM({{condition}})),IF({further},"T",""))'


def _condition(found: str, column: str) -> str:
    """Return the condition; a further set-up that leaves it blank is dead if its tree is."""
    trees = f"TRIM(INDEX({column},{found}))"
    blank = 'AND(N({setup})>1,TRIM({condition})="")'
    dead = f'IF({blank},IFERROR(IF(OR({_WILD}),FALSE,UPPER({trees})="D"),FALSE),FALSE)'
    return f'IF({dead},"D",{_condition_of_line()})'


def _divisor() -> str:
    return first_that_holds(
        [
            ('{helper_scale}="percent"', f"{PERCENT_BASE:g}"),
            ('{helper_scale}="topographic"', f"{TOPOGRAPHIC_BASE:g}"),
            ('{helper_scale}="fixed distance"', _of_instrument("xlh_of_instrument_base")),
        ]
    )


def _slope(name: str, number: Cell) -> str:
    """Return the tangent of a reading."""
    cell = number(name)
    ratio = f'IF(ISNUMBER({{helper_divisor}}),{cell}/{{helper_divisor}},"")'
    tangent = f'IF(ABS({cell})<90,TAN(RADIANS({cell})),"")'
    turned = f'IF({{helper_scale}}="degrees",{tangent},{ratio})'
    return when_number(cell, FIELD_SHEET[name], turned)


def _measured_tree(number: Cell) -> str:
    """Return plot and tree of a line that holds a diameter, in one text; "" for any other line."""
    named = 'NOT(OR(TRIM({plot})="",TRIM({tree})=""))'
    return f'IF(AND(ISNUMBER({number("diameter")}),{named}),{_NAME_OF_TREE},"")'


_OF_INSTRUMENT_TO_BARK = _of_instrument("xlh_of_instrument_to_bark", "0")
# what Plots says goes before the instrument's own rule
_OF_PLOT_TO_BARK = _of_plot("xlh_of_plot_to_bark")
_TO_BARK = f"IF(ISNUMBER({_OF_PLOT_TO_BARK}),{_OF_PLOT_TO_BARK},{_OF_INSTRUMENT_TO_BARK})"


def _stem(of_plot: bool) -> str:
    """Return the diameter of the tree where distances end at the bark."""
    # A further set-up may leave it to another line of its tree, which stands near by; else fill
    # finds it.
    diameter, found = number_of("diameter"), f"INDEX([~{number_of('diameter')[1:-1]}],{_FOUND})"
    same = f"TRIM({{species}})=TRIM(INDEX([~species],{_FOUND}))"
    agrees = f'IF(COUNTA({{setup}})>0,FALSE,IF(TRIM({{species}})="",TRUE,{same}))'
    with_fill = f'"{WITH_FILL}"'
    cases = [
        (f"{_TO_BARK if of_plot else _OF_INSTRUMENT_TO_BARK}<>1", '""'),
        (f"ISNUMBER({diameter})", diameter),
        (f"OR({_WILD})", with_fill),
        ("N({setup})>1", f"IFERROR({found},{with_fill})"),
    ]
    return first_that_holds(cases, f'IFERROR(IF({agrees},{found},""),{with_fill})')


def _former_stem() -> str:
    same = f"TRIM({{species}})=TRIM(INDEX([species],{_FOUND_ANYWHERE}))"
    agrees = f'IF(COUNTA({{setup}})>0,FALSE,IF(TRIM({{species}})="",TRUE,{same}))'
    cases = [
        (f"{_of_instrument('xlh_of_instrument_to_bark', '0')}<>1", '""'),
        ("ISNUMBER({diameter})", "{diameter}"),
        (f"OR({_WILD})", '""'),
        (f"OR(N({{setup}})>1,{agrees})", f"INDEX([diameter],{_FOUND_ANYWHERE})"),
    ]
    return first_that_holds(cases)


def _half() -> str:
    """Return half the stem, where distances end at the bark, in the unit of the distance."""
    half = "{helper_stem}*xlh_diameter_unit/xlh_unit/2"
    return when_number("{helper_stem}", FIELD_SHEET["diameter"], half, "0")


def _of_stations(level: str) -> str:
    """Return the level distance, or that it comes with fill where two stations give it."""
    return f'IF(AND({is_blank("{distance}")},{BY_STATIONS}),"{WITH_FILL}",{level})'


def _level_distance(number: Cell) -> str:
    distance = number("distance")

    def over(slope: str) -> str:
        level = f"{distance}/SQRT(1+{slope}*{slope})+{{helper_half}}"
        return f'IF(ISNUMBER({slope}),{level},"")'

    level = first_that_holds(
        [
            ('{helper_kind}="level"', f"{distance}+{{helper_half}}"),
            ('{helper_kind}="along slope"', over("{helper_along}")),
            ('{helper_kind}="straight to the foot"', over("{helper_foot}")),
        ]
    )
    return when_number(distance, FIELD_SHEET["distance"], level)


def _with_fill(cases: str, *cells: str) -> str:
    """Return a result, or that it comes with fill where one of some cells says so."""
    said = ",".join(f'{cell}="{WITH_FILL}"' for cell in cells)
    return f'IF(OR({said}),"{WITH_FILL}",{cases})'


def _eye(
    number: Cell, distance: str = "({live_distance}-{helper_half})", of_plot: bool = False
) -> str:
    """Return the height of the eye above the foot, which is aimed at on the bark."""
    words = f'ISNUMBER(SEARCH("{EYE_HEIGHT_WORDS.lower()}",TRIM({{missing_because}})))'
    foot = number("foot_reading")
    not_read = when_number(foot, FIELD_SHEET["foot_reading"], "FALSE", "TRUE")
    declared = f"AND({words},{not_read})"
    if of_plot:
        blank = f"{is_blank('{foot_reading}')},NOT({closes('{missing_because}')})"
        declared = f"OR({declared},AND({EYE_OF_PLOT},{blank}))"
    mark = when_number(
        "{mark_above_foot}", FIELD_SHEET["mark_above_foot"], "{mark_above_foot}", "0"
    )
    seen = f"{mark}-{distance}*{{helper_foot}}"
    seen = f'IF(AND(ISNUMBER({{live_distance}}),ISNUMBER({{helper_foot}})),{seen},"")'
    return f"IF({declared},{_of_plot('xlh_of_plot_eye')},{seen})"


def _lean_and_straight(point: str) -> tuple[str, str]:
    """Return the conditions that a tip leans and that a distance is straight to the point."""
    # whatever is typed there, because only fill reads texts of these columns
    lean = 'IF(ISNUMBER({tip_offset}),{tip_offset}<>0,TRIM(T({tip_offset}))<>"")'
    straight = f'OR(ISNUMBER({{{point}_straight}}),TRIM(T({{{point}_straight}}))<>"")'
    return lean, straight


def _former_lean_and_straight(point: str) -> tuple[str, str]:
    lean = "IF(ISNUMBER({tip_offset}),{tip_offset}<>0,FALSE)"
    return lean, f"ISNUMBER({{{point}_straight}})"


def _height(point: str, number: Cell, lean: str, straight: str) -> str:
    """Return the height of a point above the foot, as sighted or shown."""
    reading, slope = f"{point}_reading", f"{{helper_{point}}}"
    shown = when_number(number(reading), FIELD_SHEET[reading], number(reading))
    with_fill = f'"{WITH_FILL}"'
    sighted = first_that_holds(
        [
            (f"NOT(AND(ISNUMBER({slope}),ISNUMBER({{helper_eye}})))", '""'),
            (straight, with_fill),
            ("NOT(ISNUMBER({live_distance}))", '""'),
            (lean, with_fill),
        ],
        f"{{live_distance}}*{slope}+{{helper_eye}}",
    )
    return f'IF({{helper_scale}}="{HEIGHT_SCALE}",{shown},{sighted})'


# a tree that was cut back has its whole crown, and a word of its own since Plots has these columns
_SOUND = '{helper_condition}=""'
_SOUND_OR_CUT_BACK = 'OR({helper_condition}="",{helper_condition}="C")'


def _crown_base(height: str, sound: str = _SOUND) -> str:
    pole = when_number("{base_by_pole}", FIELD_SHEET["base_by_pole"], "{base_by_pole}", height)
    return f'IF(OR({sound},{{helper_condition}}="T"),{pole},"")'


def _crown_top(height: str, sound: str = _SOUND) -> str:
    return first_that_holds([(sound, "{live_total}"), ('{helper_condition}="T"', height)])


def _crown_top_nearby(height: str, sound: str) -> str:
    """Return the crown top; whether the tree of a further set-up far from it lives, fill says."""
    unknown = f"IF(OR({_WILD}),TRUE,ISERROR(INDEX([~condition],{_FOUND})))"
    further = 'AND(N({setup})>1,{helper_condition}="",ISNUMBER({live_total}))'
    return f'IF(IF({further},{unknown},FALSE),"{WITH_FILL}",{_crown_top(height, sound)})'


def _depth() -> str:
    top, base = "{live_top}", "{live_base}"
    return first_that_holds(
        [
            (f"AND(ISNUMBER({top}),ISNUMBER({base}))", f'IF({top}>{base},{top}-{base},"")'),
            (f'OR({top}="",{base}="")', '""'),
        ],
        f'"{WITH_FILL}"',
    )


def _head(scale: str) -> dict[str, str]:
    return {
        "helper_plot": position("{plot}", "xlh_cells_plot_plot"),
        "helper_instrument": _instrument(),
        "helper_scale": scale,
        "helper_kind": _distance_kind(),
    }


def _safe(found: dict[str, str]) -> dict[str, str]:
    return {name: f'IFERROR({formula},"")' for name, formula in found.items()}


def _formulas(of_plot: bool, radii: tuple[str, ...] = ()) -> dict[str, str]:
    """Return the formulas; `of_plot` says that Plots states the tape's end and the foot's rule.

    The columns for two stations, the heights by eye and the word for a tree that was cut back came
    together with these. `radii` are the fields of crown radii that the warnings know.
    """
    number = number_of

    def height(point: str) -> str:
        found = _height(point, number, *_lean_and_straight(point))
        return _with_fill(found, "{live_distance}", "{helper_eye}")

    pole_text = 'TRIM(T({base_by_pole}))<>""'
    sound = _SOUND_OR_CUT_BACK if of_plot else _SOUND
    level = _level_distance(number)
    return _safe(
        {
            **_head(_scale()),
            TYPED: typed_texts(),
            **number_formulas(),
            "helper_measured": _measured_tree(number),
            "helper_condition": _condition(_FOUND, "[~condition]"),
            "helper_divisor": _divisor(),
            **{name: _slope(reading, number) for name, reading in _SLOPES.items()},
            "helper_stem": _stem(of_plot),
            "helper_half": _half(),
            "live_distance": _with_fill(_of_stations(level) if of_plot else level, "{helper_stem}"),
            "helper_eye": f'IF(TRIM(T({{mark_above_foot}}))<>"","{WITH_FILL}",'
            f"{_eye(number, of_plot=of_plot)})",
            "live_total": height("tip"),
            "live_base": f'IF({pole_text},"{WITH_FILL}",{_crown_base(height("base"), sound)})',
            "live_top": _crown_top_nearby(height("top"), sound),
            "live_depth": _depth(),
            "helper_unread": unread_texts(radii),
            "helper_fill": fill_reads(radii),
            "helper_odd": odd_cells(number, "{helper_unread}", of_plot, radii),
            "helper_missing": missing(of_plot),
            "live_warning": warning(number, "{helper_fill}", of_plot, radii),
            "helper_count": COUNTED,
        }
    )


def _as_typed(name: str) -> str:
    return f"{{{name}}}"


def _former_formulas() -> dict[str, str]:
    """Return the formulas of workbooks that have no column for the numbers in texts."""
    number = _as_typed

    def height(point: str) -> str:
        return _height(point, number, *_former_lean_and_straight(point))

    return _safe(
        {
            **_head(_former_scale()),
            "helper_measured": _measured_tree(number),
            "helper_condition": _condition(_FOUND_ANYWHERE, "[condition]"),
            "helper_divisor": _divisor(),
            **{name: _slope(reading, number) for name, reading in _SLOPES.items()},
            "helper_stem": _former_stem(),
            "helper_half": _half(),
            "live_distance": _level_distance(number),
            "helper_eye": _eye(number),
            "live_total": height("tip"),
            "live_base": _crown_base(height("base")),
            "live_top": _crown_top(height("top")),
            "live_depth": _depth(),
            "helper_odd": odd_cells(number),
            "helper_missing": former_missing(),
            "live_warning": warning(number),
        }
    )


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


_WITH_RADII = _formulas(of_plot=True, radii=RADII)
_WITHOUT_RADII = _formulas(of_plot=True)
NOW = FormulaSet(
    _WITH_RADII,
    superseded={
        name: before for name, before in _WITHOUT_RADII.items() if before != _WITH_RADII[name]
    },
)
BETWEEN = FormulaSet(
    _formulas(of_plot=False),
    rewritten={
        "helper_scale": frozenset({"af161662c1c3d1df"}),
        "helper_missing": frozenset({"211d2996f039ce56"}),
        "live_warning": frozenset({"d9987072c4c3f23f"}),
    },
)
"""The formulas of workbooks in which Plots does not state where the tape ends."""
_EARLIER = _former_formulas()
EARLIER = FormulaSet(
    _EARLIER,
    {
        name: _with_former_words(_EARLIER[name])
        for name in ("helper_odd", "helper_missing", "live_warning")
    },
    {
        "helper_condition": f'IFERROR({_condition_of_line()},"")',
        "helper_eye": f'IFERROR({_eye(_as_typed, "{live_distance}")},"")',
    },
)
FORMULAS = NOW.formulas
"""Field of the field sheet -> its formula in new workbooks."""


# columns that came to the field sheet together with those of Plots
_SINCE = frozenset(item.name for item in FIELD_SHEET.fields if item.block == "radii")


def set_of(columns: Collection[str]) -> FormulaSet | None:
    """Return the formulas of a field sheet with these columns, None where it lacks some of them."""
    is_new = not set(columns).isdisjoint(set(NOW.formulas) - set(EARLIER.formulas))
    of_plot = not set(columns).isdisjoint(_SINCE)
    found = (NOW if of_plot else BETWEEN) if is_new else EARLIER
    return found if set(found.formulas) <= set(columns) else None
