"""What a line of the field sheet shows while it is typed: the first thing to check."""

from __future__ import annotations

from collections.abc import Callable

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.fields.field_sheet import FIELD_SHEET, MAIN_READINGS
from xlhelpers.live.parts import (
    NOT_UNDERSTOOD,
    UNIT,
    closes,
    first_that_holds,
    is_blank,
    text,
    without_closing_words,
)
from xlhelpers.live.typed_numbers import FILL_READS as READ_BY_FILL
from xlhelpers.live.typed_numbers import NUMBERED, number_of
from xlhelpers.measure.instruments import HEIGHT_SCALE

Cell = Callable[[str], str]
ERROR_VALUE = "formula error in a cell"
NOT_A_NUMBER = "text, not a number"
IMPOSSIBLE = "value not possible"
NO_NUMBER = "plot or tree number missing"
NO_PLOT = "plot not listed on Plots"
NO_READINGS = "readings missing"
NO_SCALE, UNKNOWN_SCALE = "scale missing", "scale not on the list"
NO_SCALE_DISTANCE = "distance of the scale missing on Instruments"
NO_TIP, NO_FOOT = "tip reading missing", "foot reading missing"
NO_DISTANCE = "distance missing"
NO_EYE = "eye height missing on People"
NO_KIND = "distance kind not on the list"
NO_SLOPE = "slope reading missing"
NO_BASE, NO_TOP = "crown base reading missing", "crown top reading missing"
UNKNOWN_CONDITION = "condition not on the list"
TOP_UNASKED = "crown top reading, but condition is not T"
TOO_STEEP = "an angle of 90° or more"
PERCENT_TYPED = "100 times too small?"
SIGN = "foot reading: minus missing?"
TICK = "foot above eye is marked, but its reading is not +"
TIP_LOW = "tip not above the foot"
TOP_HIGH = "crown top above the tip"
BASE_HIGH = "crown base above crown top"
NO_DEPTH = "crown depth is 0"
BASE_LOW = "crown base below the foot"
STAND_BACK = "too close or too steep"
EYE = ("eye ", " above the foot?")
TOO_TALL = "taller than the survey's limit"
FORMER: dict[str, str] = {
    ERROR_VALUE: "error value in a cell",
    IMPOSSIBLE: "outside every possible range",
    NO_NUMBER: "no plot or tree number",
    NO_PLOT: "plot is not on the sheet Plots",
    NO_READINGS: "no readings",
    NO_SCALE: "no scale",
    UNKNOWN_SCALE: "scale not understood",
    NO_SCALE_DISTANCE: "no distance for the fixed scale",
    NO_TIP: "no tip reading",
    NO_FOOT: "no foot reading",
    NO_DISTANCE: "no distance",
    NO_EYE: "no eye height of the first of the crew",
    NO_KIND: "distance kind not understood",
    NO_SLOPE: "no slope reading",
    NO_BASE: "no crown base reading",
    NO_TOP: "no crown top reading",
    UNKNOWN_CONDITION: "condition not understood",
    TOP_UNASKED: "crown top reading without condition T",
    PERCENT_TYPED: "typed with %?",
    SIGN: "sign of the foot?",
    TICK: "foot above eye is ticked, but its reading is not +",
    NO_DEPTH: "crown base at the crown top",
    STAND_BACK: "stand farther back",
    TOO_TALL: "taller than the limit of the survey",
}
"""The words of the formulas in workbooks made before these changed; such formulas stay ours."""
# readings up to here may be shares of a percent scale; the base may lie below the foot by this
# share of the distance, about two uncertainties of a clinometer: own choices, no source
SHARE_AT_MOST = 3.0
BELOW_FOOT_SHARE = 0.02
_LENGTHS = ("distance", "base_straight", "top_straight", "tip_straight")
_WIDTHS = ("width_widest", "width_across")
_RARE_LENGTHS = ("mark_above_foot", "base_by_pole", "tip_offset")
NUMBERS = (
    *("setup", "diameter", *_WIDTHS, *_LENGTHS, *MAIN_READINGS),
    *("mark_above_foot", "slope_reading", "base_by_pole", "tip_offset"),
)
RADII = ("radius_north", "radius_east", "radius_south", "radius_west")
"""The number fields that formulas read in workbooks that have them."""
_TEXTS = (
    *("plot", "tree", "species", "condition", "foot_above_eye"),
    *("instrument", "scale", "distance_kind", "missing_because"),
)
_HEIGHT = f'{{helper_scale}}="{HEIGHT_SCALE}"'
_SIGHTED = f'{{helper_scale}}<>"{HEIGHT_SCALE}"'
_DEAD_TOP = '{helper_condition}="T"'
# a further set-up may leave the condition of its tree blank: whether it lives is not known then
_ALIVE = '{helper_condition}<>"D",NOT(AND(N({setup})>1,{helper_condition}=""))'
_FORMER_TICKED = (
    'AND(TRIM({foot_above_eye})<>"",TRIM({foot_above_eye})<>"no",TRIM({foot_above_eye})<>"n",'
    'TRIM({foot_above_eye})<>"0",TRIM({foot_above_eye})<>"FALSE")'
)
# the word of a truth value is another one in other languages: FALSCH, FAUX
_TICKED = (
    f"IF(ISLOGICAL({{foot_above_eye}}),{{foot_above_eye}},"
    f'IF(TRIM({{foot_above_eye}})="",FALSE,{_FORMER_TICKED}))'
)
# rounded twice, because programs part at a tie that lies one bit below
_EYE_SHOWN = 'FIXED(ROUND({helper_eye},6),1,TRUE)&IF(xlh_unit=1," m"," ft")'
_BY_EYE = f'ISNUMBER(SEARCH("{EYE_HEIGHT_WORDS.lower()}",TRIM({{missing_because}})))'


EYE_OF_PLOT = 'IF({helper_plot}="",FALSE,N(INDEX(xlh_of_plot_by_eye,{helper_plot}))=1)'
"""The condition that the eye height stands for the foot on the whole plot."""
BY_STATIONS = 'OR(ISNUMBER({station_step}),TRIM(T({station_step}))<>"")'
"""The condition that a line holds a step between two stations."""
_CROWNS = 'TRIM(xlh_rule_crown_depth)<>"not measured"'
_FOUR_RADII = 'TRIM(xlh_rule_crown_widths)="four radii"'


def _cells(names: tuple[str, ...]) -> str:
    return ",".join(f"{{{name}}}" for name in names)


def _beyond(name: str, measure: str, number: Cell) -> list[str]:
    """Return the conditions that a cell lies outside its range; a blank never does."""
    record, cell = FIELD_SHEET[name], number(name)
    found = [f"N({cell})*{measure}>{record.high:.15g}"]
    low = record.low or 0.0
    if low < 0 or low == 0:
        return [*found, f"N({cell})*{measure}<{low:.15g}"]
    return [*found, f"AND(ISNUMBER({cell}),N({cell})*{measure}<{low:.15g})"]


def _numbers(names: tuple[str, ...], number: Cell) -> str:
    return ",".join(map(number, names))


# a mark of 0 above the foot is no mark
_MARK = "{mark_above_foot}"
_NO_MARK = f"N({_MARK})=0"


def _outside(number: Cell, of_plot: bool, radii: tuple[str, ...]) -> str:
    readings, most = _numbers(MAIN_READINGS, number), FIELD_SHEET["tip_reading"].high
    found = [f"MAX({readings})>{most:g}", f"MIN({readings})<-{most:g}"]
    found += _beyond("slope_reading", "1", number)
    found += _beyond("diameter", "100*xlh_diameter_unit", number)
    for name in (*_LENGTHS, *_WIDTHS, *_RARE_LENGTHS, *radii):
        found += _beyond(name, UNIT, number)
    joined = f"OR({','.join(found)})"
    return joined.replace(f"AND(ISNUMBER({_MARK})", f"AND(N({_MARK})<>0") if of_plot else joined


def odd_cells(
    number: Cell, unread: str = "", of_plot: bool = False, radii: tuple[str, ...] = ()
) -> str:
    """Return the formula of what is odd about the cells of a line.

    `number` gives the cell with the number of a field, `unread` the cell with the texts that no
    formula reads; without it every text that closes no blank is odd. `of_plot`: see `missing`.
    `radii` are the fields of crown radii that are looked at.
    """
    numbers = _cells((*NUMBERS, *radii))
    joined = '&"|"&'.join(f"T({{{name}}})" for name in NUMBERS)
    errors = f"ISERROR(SUM({numbers})&{'&'.join(f'{{{name}}}' for name in _TEXTS)})"
    texts = f'IF(COUNTA({numbers})=COUNT({numbers}),FALSE,{without_closing_words(joined)}<>"")'
    if unread:
        texts = f'IF({unread}="",FALSE,NOT({_is_read_by_fill(unread)}))'
    cases = [
        (errors, text(ERROR_VALUE)),
        (texts, text(NOT_A_NUMBER)),
        (_outside(number, of_plot, radii), text(IMPOSSIBLE)),
    ]
    return first_that_holds(cases)


def _unread(name: str) -> str:
    """Return the text of a cell that formulas have no number for."""
    cell = f"T({{{name}}})"
    return f'IF(ISNUMBER({number_of(name)}),"",{cell})' if name in NUMBERED else cell


def unread_texts(radii: tuple[str, ...] = ()) -> str:
    """Return the formula of the texts of a line that no formula reads; `radii`: see `odd_cells`."""
    names = (*NUMBERS, *radii)
    numbers = _cells(names)
    joined = '&"|"&'.join(map(_unread, names))
    return f'IF(COUNTA({numbers})=COUNT({numbers}),"",{without_closing_words(joined)})'


# what is left of a number with units after the digits; fill reads it
_UNIT_WORDS = (
    *("METERS", "METRES", "METER", "METRE", "INCHES", "INCH", "FEET", "FOOT", "DEGREES", "DEG"),
    *("PERCENT", "PCT", "FT", "IN", "CM", "MM", "M"),
    *("°", "%", ".", ",", "-", "−", "–", "+", "/", "'", "’", "′", '"', "”", "″", "\u00a0"),
)


def _is_read_by_fill(unread: str) -> str:
    """Return the condition that some texts are digits with units and signs of numbers alone."""
    digits = unread
    for digit in "0123456789":
        digits = f'SUBSTITUTE({digits},"{digit}","")'
    rest = digits
    for word in _UNIT_WORDS:
        rest = f'SUBSTITUTE({rest},{text(word)},"")'
    return f'AND({rest}="",LEN({digits})<LEN({unread}))'


def fill_reads(radii: tuple[str, ...] = ()) -> str:
    """Return what is said of the first text that only fill can read; `radii`: see `odd_cells`."""
    unread = "{helper_unread}"
    cases = [(f'{unread}=""', '""')]
    for name in (*NUMBERS, *radii):
        # closing words, blanks and capitals are gone from the texts that are joined
        typed = f'SUBSTITUTE(T({{{name}}})," ","")'
        begins = f'AND(T({{{name}}})<>"",LEFT({unread},LEN({typed}))={typed})'
        cases.append((begins, text(f"{FIELD_SHEET[name].label}{READ_BY_FILL}")))
    # signs that closing words lose may stand in the text
    return first_that_holds(cases, text(f"An entry{READ_BY_FILL}"))


def missing(of_plot: bool) -> str:
    """Return what the height or the crown is missing; a line that gives a reason is done.

    `of_plot` says that Plots may let the eye height stand for the foot, the survey rules may leave
    out crowns, and lines may hold a height by eye or a step between two stations, as in workbooks
    since these columns came. A condition that takes long comes
    after one that seldom holds: a keystroke on another sheet makes every line calculate.
    """
    read = _cells(("distance", *MAIN_READINGS, "base_by_pole"))
    some = 'xlh_rule_heights_on="some trees"'
    no_foot = f'IF({{helper_scale}}="{HEIGHT_SCALE}",FALSE,{_is_empty("foot_reading")})'
    no_distance = f'IF({{helper_kind}}="none",TRUE,{_is_empty("distance")})'
    no_slope = _is_empty("slope_reading")
    no_base = f"IF({_is_empty('base_reading')},NOT(ISNUMBER({{base_by_pole}})),FALSE)"
    by_eye = f"OR({_BY_EYE},{EYE_OF_PLOT})" if of_plot else _BY_EYE
    alive, dead_top = f"AND({_ALIVE})", _DEAD_TOP
    done = some
    if of_plot:
        done = f"OR({some},ISNUMBER({{height_by_eye}}))"
        no_distance = f"IF({no_distance},NOT({BY_STATIONS}),FALSE)"
        alive, dead_top = f"AND({_ALIVE},{_CROWNS})", f"AND({_DEAD_TOP},{_CROWNS})"
    cases = [
        (f'IF(TRIM({{missing_because}})="",FALSE,{closes("{missing_because}")})', '""'),
        (f"COUNTA({read})=0", f'IF({done},"",{text(NO_READINGS)})'),
        ('{helper_scale}=""', f"IF({_SCALE_TYPED},{text(UNKNOWN_SCALE)},{text(NO_SCALE)})"),
        (_NO_SCALE_DISTANCE, text(NO_SCALE_DISTANCE)),
        (_is_empty("tip_reading"), text(NO_TIP)),
        (f"IF({no_foot},NOT({by_eye}),FALSE)", text(NO_FOOT)),
        (f"IF({no_foot},NOT(ISNUMBER({{helper_eye}})),FALSE)", text(NO_EYE)),
        (f'AND({_SIGHTED},{{helper_kind}}="")', text(NO_KIND)),
        (f"IF({_SIGHTED},{no_distance},FALSE)", text(NO_DISTANCE)),
        (f'IF(AND({_SIGHTED},{{helper_kind}}="along slope"),{no_slope},FALSE)', text(NO_SLOPE)),
        (f"IF({alive},{no_base},FALSE)", text(NO_BASE)),
        (f"IF({dead_top},{_is_empty('top_reading')},FALSE)", text(NO_TOP)),
    ]
    return first_that_holds(cases)


def _is_empty(name: str) -> str:
    """Return the condition that a number cell holds neither a number nor a text."""
    return f'IF(ISNUMBER({{{name}}}),FALSE,TRIM(T({{{name}}}))="")'


_PLOTS_SCALE = 'IF({helper_plot}="","",INDEX(xlh_of_plot_scale,{helper_plot}))'
_SCALE_TYPED = f'OR(TRIM({{scale}})<>"",{_PLOTS_SCALE}="{NOT_UNDERSTOOD}")'
_NO_SCALE_DISTANCE = 'AND({helper_scale}="fixed distance",NOT(ISNUMBER({helper_divisor})))'


def former_missing() -> str:
    """Return the same in workbooks made before formulas understood numbers in texts."""
    read = _cells(("distance", *MAIN_READINGS, "base_by_pole"))
    some = 'xlh_rule_heights_on="some trees"'
    base = f"AND({is_blank('{base_reading}')},NOT(ISNUMBER({{base_by_pole}})))"
    cases = [
        (closes("{missing_because}"), '""'),
        (f"COUNTA({read})=0", f'IF({some},"",{text(NO_READINGS)})'),
        ('{helper_scale}=""', f"IF({_SCALE_TYPED},{text(UNKNOWN_SCALE)},{text(NO_SCALE)})"),
        (_NO_SCALE_DISTANCE, text(NO_SCALE_DISTANCE)),
        (is_blank("{tip_reading}"), text(NO_TIP)),
        (
            f"AND({_SIGHTED},{is_blank('{foot_reading}')},NOT({_BY_EYE}))",
            text(NO_FOOT),
        ),
        (
            f"AND({_SIGHTED},{is_blank('{foot_reading}')},NOT(ISNUMBER({{helper_eye}})))",
            text(NO_EYE),
        ),
        (f'AND({_SIGHTED},{{helper_kind}}="")', text(NO_KIND)),
        (
            f'AND({_SIGHTED},OR({{helper_kind}}="none",{is_blank("{distance}")}))',
            text(NO_DISTANCE),
        ),
        (
            f'AND({_SIGHTED},{{helper_kind}}="along slope",{is_blank("{slope_reading}")})',
            text(NO_SLOPE),
        ),
        (f"AND({_ALIVE},{base})", text(NO_BASE)),
        (f"AND({_DEAD_TOP},{is_blank('{top_reading}')})", text(NO_TOP)),
    ]
    return first_that_holds(cases)


def _eye_off(ticked: str) -> str:
    """Return the condition that the eye height from the foot reading is not the person's."""
    usual = "INDEX(xlh_of_plot_eye,{helper_plot})"
    apart = f"ABS({{helper_eye}}-{usual})"
    allowed = "xlh_limit_eye+INDEX(xlh_of_plot_slope,{helper_plot})*N({live_distance})"
    sighted = (
        f"AND({_SIGHTED},ISNUMBER({{helper_foot}}),ISNUMBER({{helper_eye}}),NOT({ticked}),"
        f'IF({{helper_plot}}="",FALSE,ISNUMBER({usual})))'
    )
    return f"IF({sighted},{apart}>{allowed},FALSE)"


def is_share(name: str, number: Cell) -> str:
    """Return the condition that one reading looks like a share, as 85% is kept as 0.85."""
    # A tip does with any decimals. Other points may lie near eye level, and count with hundredths,
    # which no percent scale shows.
    reading = f"N({number(name)})"
    if name == "tip_reading":
        return f"AND({reading}<>INT({reading}),ABS({reading})<{SHARE_AT_MOST:g})"
    tenths = f"ROUND(10*{reading},6)"
    return f"AND({tenths}<>INT({tenths}),ABS({tenths})<{10 * SHARE_AT_MOST:g})"


def _share(number: Cell) -> str:
    """Return the condition that a reading in percent looks like a share."""
    names = ("tip_reading", "foot_reading", "base_reading", "top_reading")
    found = ",".join(is_share(name, number) for name in names)
    return f'AND({{helper_scale}}="percent",OR({found}))'


def beyond_range(name: str) -> list[str]:
    """Return the conditions that the number of a field lies outside its range."""
    if name in MAIN_READINGS:
        most = FIELD_SHEET[name].high
        return [f"ABS(N({number_of(name)}))>{most:g}"]
    if name in ("slope_reading", "diameter", *_LENGTHS, *_WIDTHS, *_RARE_LENGTHS, *RADII):
        measure = {"slope_reading": "1", "diameter": "100*xlh_diameter_unit"}.get(name, UNIT)
        return _beyond(name, measure, number_of)
    return []


def _half_width(number: Cell, radii: tuple[str, ...]) -> str:
    """Return half the larger width of the crown: of four radii where the survey takes these."""
    widths = f"MAX({_numbers(_WIDTHS, number)})"
    if radii:
        north, east, south, west = (f"N({{{name}}})" for name in radii)
        across = f"MAX({north}+{south},{east}+{west})"
        widths = f"IF(AND({_FOUR_RADII},COUNT({_cells(radii)})=4),{across},{widths})"
    return f"{widths}/2"


def warning(
    number: Cell, read_by_fill: str = "", of_plot: bool = False, radii: tuple[str, ...] = ()
) -> str:
    """Return the formula of the first thing to check on a line.

    `number` gives the cell with the number of a field, `read_by_fill` the cell that says which
    text only fill can read; the warning ends with that. `of_plot`: see `missing`, `radii`: see
    `odd_cells`.
    """
    ticked = _TICKED if read_by_fill else _FORMER_TICKED
    foot = number("foot_reading")
    total, base, top = "{live_total}", "{live_base}", "{live_top}"
    both = f"ISNUMBER({top}),ISNUMBER({base})"
    steep = f"MAX({_numbers((*MAIN_READINGS, 'slope_reading'), number)})>=90"
    deep = f"MIN({_numbers((*MAIN_READINGS, 'slope_reading'), number)})<=-90"
    near = (
        f"OR({{live_distance}}<{_half_width(number, radii)},"
        f"{{live_distance}}<xlh_limit_share*N({total}),"
        "N({helper_tip})>TAN(RADIANS(xlh_limit_angle)))"
    )
    eye = f"{text(EYE[0])}&{_EYE_SHOWN}&{text(EYE[1])}"
    cut_back = ',{helper_condition}="C"' if of_plot else ""
    known = (
        f'OR({{helper_condition}}="",{{helper_condition}}="T",{{helper_condition}}="D"{cut_back})'
    )
    unmarked = _NO_MARK if of_plot else f"NOT(ISNUMBER({_MARK}))"
    plain_foot = f"AND({_SIGHTED},ISNUMBER({foot}),{unmarked})"
    cases = [
        (
            "COUNTA({plot},{tree},{diameter},{distance},{foot_reading},{base_reading},"
            "{top_reading},{tip_reading})=0",
            '""',
        ),
        ('{helper_odd}<>""', "{helper_odd}"),
        ('OR(TRIM({plot})="",TRIM({tree})="")', text(NO_NUMBER)),
        ('{helper_plot}=""', text(NO_PLOT)),
        (f"NOT({known})", text(UNKNOWN_CONDITION)),
        ('{helper_missing}<>""', "{helper_missing}"),
        (f"AND(ISNUMBER({number('top_reading')}),NOT({_DEAD_TOP}))", text(TOP_UNASKED)),
        (f'AND({{helper_scale}}="degrees",OR({steep},{deep}))', text(TOO_STEEP)),
        (_share(number), text(PERCENT_TYPED)),
        (f"AND({plain_foot},N({foot})>0,NOT({ticked}))", text(SIGN)),
        (f"AND({plain_foot},N({foot})<=0,{ticked})", text(TICK)),
        (f"AND(ISNUMBER({total}),N({total})<=0)", text(TIP_LOW)),
        (f"AND(ISNUMBER({total}),ISNUMBER({top}),N({top})>N({total}))", text(TOP_HIGH)),
        (f"AND({both},N({base})>N({top}))", text(BASE_HIGH)),
        (f"AND({both},N({base})=N({top}))", text(NO_DEPTH)),
        (
            f"AND(ISNUMBER({base}),N({base})<-{BELOW_FOOT_SHARE:g}*N({{live_distance}}))",
            text(BASE_LOW),
        ),
        (
            f"IF(AND(ISNUMBER({{live_distance}}),ISNUMBER({{helper_tip}})),{near},FALSE)",
            text(STAND_BACK),
        ),
        (_eye_off(ticked), eye),
        (f"N({total})>xlh_limit_height", text(TOO_TALL)),
    ]
    if read_by_fill:
        cases.append((f'{read_by_fill}<>""', read_by_fill))
    return first_that_holds(cases)


def _counted() -> str:
    """Return the code of a line that Plots adds up: that it is there, its warning, its tree."""
    # TRUE equals 1 here and not in a count
    first = 'OR(TRIM({setup})="",AND(NOT(ISLOGICAL({setup})),N({setup})=1))'
    typed = 'TRIM(T({setup}))="1"'
    shown = 'AND(TRIM(T({live_warning}))<>"",{live_warning}<>{helper_fill})'
    code = f"{THERE}+IF({shown},{TO_CHECK},0)+IF(OR({first},{typed}),1,0)"
    return f'IF(TRIM({{plot}})="",0,{code})'


TO_CHECK, THERE = 100_000, 10_000_000_000
"""What a line with a warning, and a line with formulas, adds to the sum of its plot; a line of a
tree's first set-up adds 1."""
COUNTED = _counted()
