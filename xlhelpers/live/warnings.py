"""What a line of the field sheet shows while it is typed: the first thing to check."""

from __future__ import annotations

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.fields.field_sheet import FIELD_SHEET, MAIN_READINGS
from xlhelpers.live.parts import (
    NOT_UNDERSTOOD,
    UNIT,
    closes,
    first_that_holds,
    text,
    without_closing_words,
)
from xlhelpers.live.slopes import slope_of
from xlhelpers.live.typed_numbers import FILL_READS as READ_BY_FILL
from xlhelpers.live.typed_numbers import NUMBERED, number_of
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.survey.trees.widths import NOT_MEASURED, RADII, RADIUS_FIELDS

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
_ALL_NUMBERS = (*NUMBERS, *RADIUS_FIELDS)
_TEXTS = (
    *("plot", "tree", "species", "condition", "foot_above_eye"),
    *("instrument", "scale", "distance_kind", "missing_because"),
)
_HEIGHT = f'{{helper_scale}}="{HEIGHT_SCALE}"'
_SIGHTED = f'{{helper_scale}}<>"{HEIGHT_SCALE}"'
_DEAD_TOP = '{helper_condition}="T"'
# a further set-up may leave the condition of its tree blank: whether it lives is not known then
_ALIVE = '{helper_condition}<>"D",NOT(AND(N({setup})>1,{helper_condition}=""))'
# the word of a truth value is another one in other languages: FALSCH, FAUX
_TICKED = (
    'IF({foot_above_eye}="",FALSE,IF(ISLOGICAL({foot_above_eye}),{foot_above_eye},'
    'IF(TRIM({foot_above_eye})="",FALSE,'
    'AND(TRIM({foot_above_eye})<>"no",TRIM({foot_above_eye})<>"n",'
    'TRIM({foot_above_eye})<>"0",TRIM({foot_above_eye})<>"FALSE"))))'
)
# rounded twice, because programs part at a tie that lies one bit below
_EYE_SHOWN = 'FIXED(ROUND({helper_eye},6),1,TRUE)&IF(xlh_unit=1," m"," ft")'
BY_EYE = (
    'IF({missing_because}="",FALSE,'
    f'ISNUMBER(SEARCH("{EYE_HEIGHT_WORDS.lower()}",TRIM({{missing_because}}))))'
)
"""The condition that the line states the eye height in place of the foot."""


EYE_OF_PLOT = 'IF({helper_plot}="",FALSE,N(INDEX(xlh_of_plot_by_eye,{helper_plot}))=1)'
"""The condition that the eye height stands for the foot on the whole plot."""
BY_STATIONS = 'IF({station_step}="",FALSE,OR(ISNUMBER({station_step}),TRIM(T({station_step}))<>""))'
"""The condition that a line holds a step between two stations."""
_CROWNS = f'TRIM(xlh_rule_crown_depth)<>"{NOT_MEASURED}"'
_FOUR_RADII = f'TRIM(xlh_rule_crown_widths)="{RADII}"'


def _cells(names: tuple[str, ...]) -> str:
    return ",".join(f"{{{name}}}" for name in names)


def _beyond(name: str) -> list[str]:
    """Return the conditions that a cell lies outside its range; a blank never does."""
    record, cell = FIELD_SHEET[name], number_of(name)
    measure = {"slope_reading": "1", "diameter": "100*xlh_diameter_unit"}.get(name, UNIT)
    conditions = [f"N({cell})*{measure}>{record.high:.15g}"]
    low = record.low or 0.0
    if low < 0 or low == 0:
        return [*conditions, f"N({cell})*{measure}<{low:.15g}"]
    return [*conditions, f"AND(ISNUMBER({cell}),N({cell})*{measure}<{low:.15g})"]


def _numbers(names: tuple[str, ...]) -> str:
    return ",".join(map(number_of, names))


# a mark of 0 above the foot is no mark
_MARK = "{mark_above_foot}"
_NO_MARK = f"N({_MARK})=0"


def _outside() -> str:
    """Return the condition that a number of the line lies outside its range."""
    conditions = []
    for names in (MAIN_READINGS, ("slope_reading",), ("diameter",), _LENGTHS, _WIDTHS,
                  *((name,) for name in _RARE_LENGTHS), RADIUS_FIELDS):  # fmt: skip
        record, cells = FIELD_SHEET[names[0]], _numbers(names)
        measure = {"reading": "", "diameter": "*100*xlh_diameter_unit"}.get(
            str(record.quantity), f"*{UNIT}"
        )
        conditions.append(f"MAX({cells}){measure}>{record.high:.15g}")
        below = f"MIN({cells}){measure}<{record.low:.15g}"
        if names == ("mark_above_foot",):
            below = f"AND(N({_MARK})<>0,{below})"
        elif (record.low or 0.0) > 0:
            below = f"AND(COUNT({cells})>0,{below})"
        conditions.append(below)
    return f"OR({','.join(conditions)})"


def odd_cells() -> str:
    """Return the formula of what is odd about the cells of a line."""
    errors = f"ISERROR(SUM({_cells(_ALL_NUMBERS)})&{'&'.join(f'{{{name}}}' for name in _TEXTS)})"
    cases = [
        (errors, text(ERROR_VALUE)),
        (f"IF({_NONE_UNREAD},FALSE,NOT({_is_read_by_fill()}))", text(NOT_A_NUMBER)),
        (_outside(), text(IMPOSSIBLE)),
    ]
    return first_that_holds(cases)


# between the texts of a line that formulas have no number for; nobody types it
_BETWEEN = "\u00a6"
_UNREAD = "{helper_unread}"
_NONE_UNREAD = f'SUBSTITUTE({_UNREAD},"{_BETWEEN}","")=""'


def _unread_text(name: str) -> str:
    """Return the text of a cell that formulas have no number for."""
    cell = f"T({{{name}}})"
    return f'IF(ISNUMBER({number_of(name)}),"",{cell})' if name in NUMBERED else cell


def _unread_texts() -> str:
    """Return the formula of these texts, each in its place, without blanks and closing words."""
    numbers = _cells(_ALL_NUMBERS)
    joined = f'&"{_BETWEEN}"&'.join(map(_unread_text, _ALL_NUMBERS))
    return f'IF(COUNTA({numbers})=COUNT({numbers}),"",{without_closing_words(joined)})'


# what is left of a number with units after the digits; fill reads it
_UNIT_WORDS = (
    *("METERS", "METRES", "METER", "METRE", "INCHES", "INCH", "FEET", "FOOT", "DEGREES", "DEG"),
    *("PERCENT", "PCT", "FT", "IN", "CM", "MM", "M"),
    *("°", "%", ".", ",", "-", "−", "–", "+", "/", "'", "’", "′", '"', "”", "″", "\u00a0", "|"),
)


def _is_read_by_fill() -> str:
    """Return the condition that the unread texts are digits with units and signs of numbers."""
    digits = _UNREAD
    for digit in "0123456789":
        digits = f'SUBSTITUTE({digits},"{digit}","")'
    rest = digits
    for word in (*_UNIT_WORDS, _BETWEEN):
        rest = f'SUBSTITUTE({rest},{text(word)},"")'
    return f'IF({rest}="",LEN({digits})<LEN({_UNREAD}),FALSE)'


_LABEL = 1 + max(len(FIELD_SHEET[name].label) for name in _ALL_NUMBERS)


def _fill_reads() -> str:
    """Return what is said of the first text that only fill can read."""
    labels = [FIELD_SHEET[name].label.ljust(_LABEL) for name in _ALL_NUMBERS]
    # a formula takes no text of more than 255 letters
    at_once = 255 // _LABEL
    parts = ["".join(labels[at : at + at_once]) for at in range(0, len(labels), at_once)]
    # as many signs stand before the first text as columns before its own
    first = f'FIND(LEFT(SUBSTITUTE({_UNREAD},"{_BETWEEN}",""),1),{_UNREAD})'
    label = f"MID({'&'.join(map(text, parts))},{_LABEL}*{first}-{_LABEL - 1},{_LABEL})"
    return f'IF({_NONE_UNREAD},"",TRIM({label})&{text(READ_BY_FILL)})'


_ALL = ("distance", "foot_reading", "base_reading", "tip_reading")
_HAS_SCALE = 'IF(ISNUMBER({helper_divisor}),TRUE,{helper_divisor}="degrees")'


def missing() -> str:
    """Return what the height or the crown is missing; a line that gives a reason is done.

    A condition that takes long comes after one that seldom holds: a keystroke on another sheet
    makes every line calculate.
    """
    read = _cells(("distance", *MAIN_READINGS, "base_by_pole"))
    done = 'OR(xlh_rule_heights_on="some trees",ISNUMBER({height_by_eye}))'
    no_foot = f"IF({_is_empty('foot_reading')},{_SIGHTED},FALSE)"
    no_distance = f'IF({{helper_kind}}="none",TRUE,{_is_empty("distance")})'
    no_distance = f"IF({no_distance},NOT({BY_STATIONS}),FALSE)"
    no_base = f"IF({_is_empty('base_reading')},NOT(ISNUMBER({{base_by_pole}})),FALSE)"
    alive = f"AND({_ALIVE},{_CROWNS})"
    reason = 'IF({missing_because}="",FALSE,TRIM({missing_because})<>"")'
    # most lines by far; a degree has no divisor
    whole = first_that_holds(
        [
            (_DEAD_TOP, "FALSE"),
            ('IF({helper_kind}="level",TRUE,{helper_kind}="straight to the foot")', _HAS_SCALE),
        ],
        "FALSE",
    )
    cases = [
        (f"IF(COUNT({_cells(_ALL)})={len(_ALL)},{whole},FALSE)", '""'),
        (f"IF({reason},{closes('{missing_because}')},FALSE)", '""'),
        (f"COUNTA({read})=0", f'IF({done},"",{text(NO_READINGS)})'),
        ('{helper_scale}=""', f"IF({_SCALE_TYPED},{text(UNKNOWN_SCALE)},{text(NO_SCALE)})"),
        (_NO_SCALE_DISTANCE, text(NO_SCALE_DISTANCE)),
        (_is_empty("tip_reading"), text(NO_TIP)),
        (f"IF({no_foot},NOT(OR({BY_EYE},{EYE_OF_PLOT})),FALSE)", text(NO_FOOT)),
        (f"IF({no_foot},NOT(ISNUMBER({{helper_eye}})),FALSE)", text(NO_EYE)),
        (f'IF({{helper_kind}}="",{_SIGHTED},FALSE)', text(NO_KIND)),
        (f"IF({no_distance},{_SIGHTED},FALSE)", text(NO_DISTANCE)),
        (
            f'IF({{helper_kind}}="along slope",IF({_SIGHTED},{_is_empty("slope_reading")},FALSE),'
            "FALSE)",
            text(NO_SLOPE),
        ),
        (f"IF({no_base},{alive},FALSE)", text(NO_BASE)),
        (f"IF({_DEAD_TOP},IF({_CROWNS},{_is_empty('top_reading')},FALSE),FALSE)", text(NO_TOP)),
    ]
    return first_that_holds(cases)


def _is_empty(name: str) -> str:
    """Return the condition that a number cell holds neither a number nor a text."""
    return f'IF(ISNUMBER({{{name}}}),FALSE,TRIM(T({{{name}}}))="")'


_PLOTS_SCALE = 'IF({helper_plot}="","",INDEX(xlh_of_plot_scale,{helper_plot}))'
_SCALE_TYPED = f'OR(TRIM({{scale}})<>"",{_PLOTS_SCALE}="{NOT_UNDERSTOOD}")'
_NO_SCALE_DISTANCE = 'IF(ISNUMBER({helper_divisor}),FALSE,{helper_scale}="fixed distance")'


def _eye_off() -> str:
    """Return the condition that the eye height from the foot reading is not the person's."""
    usual = "INDEX(xlh_of_plot_eye,{helper_plot})"
    apart = f"ABS({{helper_eye}}-{usual})"
    allowed = "xlh_limit_eye+INDEX(xlh_of_plot_slope,{helper_plot})*N({live_distance})"
    sighted = f"COUNT({number_of('foot_reading')},{{helper_eye}},{usual})=3"
    # the ground's slope only adds to what is allowed
    off = f"IF({sighted},IF({apart}>xlh_limit_eye,{apart}>{allowed},FALSE),FALSE)"
    return f"IF({off},AND({_SIGHTED},NOT({_TICKED})),FALSE)"


def is_share(name: str) -> str:
    """Return the condition that one reading looks like a share, as 85% is kept as 0.85."""
    # A tip does with any decimals. Other points may lie near eye level, and count with hundredths,
    # which no percent scale shows.
    reading = f"N({number_of(name)})"
    tenths = reading if name == "tip_reading" else f"ROUND(10*{reading},6)"
    return f"IF(ABS({reading})<{SHARE_AT_MOST:g},{tenths}<>INT({tenths}),FALSE)"


def _share() -> str:
    """Return the condition that a reading in percent looks like a share."""
    names = ("tip_reading", "foot_reading", "base_reading", "top_reading")
    return f'IF({{helper_scale}}="percent",OR({",".join(map(is_share, names))}),FALSE)'


def beyond_range(name: str) -> list[str]:
    """Return the conditions that the number of a field lies outside its range."""
    if name in MAIN_READINGS:
        most = FIELD_SHEET[name].high
        return [f"ABS(N({number_of(name)}))>{most:g}"]
    if name in ("slope_reading", "diameter", *_LENGTHS, *_WIDTHS, *_RARE_LENGTHS, *RADIUS_FIELDS):
        return _beyond(name)
    return []


def _half_width() -> str:
    """Return half the larger width of the crown: of four radii where the survey takes these."""
    widths = f"MAX({_numbers(_WIDTHS)})"
    north, east, south, west = (f"N({{{name}}})" for name in RADIUS_FIELDS)
    across = f"MAX({north}+{south},{east}+{west})"
    radii = f"IF(COUNT({_cells(RADIUS_FIELDS)})=4,{_FOUR_RADII},FALSE)"
    return f"IF({radii},{across},{widths})/2"


def _too_close() -> str:
    """Return the condition that the tree is too close or the line of sight to its tip too steep."""
    near = (
        f"OR({{live_distance}}<{_half_width()},"
        "{live_distance}<xlh_limit_share*N({live_total}),"
        f"{slope_of('tip_reading')}>TAN(RADIANS(xlh_limit_angle)))"
    )
    sighted = f"COUNT({{live_distance}},{number_of('tip_reading')})=2"
    return f"IF({sighted},IFERROR({near},FALSE),FALSE)"


def _crossings() -> list[tuple[str, str]]:
    """Return the cases of crown top, crown base and foot above one another."""
    total, base, top = "{live_total}", "{live_base}", "{live_top}"
    return [
        (f"IF(ISNUMBER({total}),{total}<=0,FALSE)", text(TIP_LOW)),
        (f"IF(COUNT({total},{top})=2,{top}>{total},FALSE)", text(TOP_HIGH)),
        (
            f"IF(COUNT({top},{base})=2,{base}>={top},FALSE)",
            f"IF({base}>{top},{text(BASE_HIGH)},{text(NO_DEPTH)})",
        ),
        (
            # most bases lie above the foot
            f"IF(N({base})<0,{base}<-{BELOW_FOOT_SHARE:g}*N({{live_distance}}),FALSE)",
            text(BASE_LOW),
        ),
    ]


def warning() -> str:
    """Return the formula of the first thing to check on a line.

    The warning ends with the text that only fill can read.
    """
    foot = number_of("foot_reading")
    readings = _numbers((*MAIN_READINGS, "slope_reading"))
    steep = f"OR(MAX({readings})>=90,MIN({readings})<=-90)"
    known = ",".join(f'{{helper_condition}}="{word}"' for word in "TDC")
    unmarked = f"AND({_SIGHTED},ISNUMBER({foot}),{_NO_MARK})"
    eye = f"{text(EYE[0])}&{_EYE_SHOWN}&{text(EYE[1])}"
    cases = [
        (
            'IF({plot}="",COUNTA({plot},{tree},{diameter},{distance},{foot_reading},'
            "{base_reading},{top_reading},{tip_reading})=0,FALSE)",
            '""',
        ),
        ('{helper_odd}<>""', "{helper_odd}"),
        # a line with a diameter holds plot and tree in one text
        (
            'IF({helper_measured}="",OR(TRIM({plot})="",TRIM({tree})=""),FALSE)',
            text(NO_NUMBER),
        ),
        ('{helper_plot}=""', text(NO_PLOT)),
        (f'IF({{helper_condition}}="",FALSE,NOT(OR({known})))', text(UNKNOWN_CONDITION)),
        ('{helper_missing}<>""', "{helper_missing}"),
        (
            f"IF(ISNUMBER({number_of('top_reading')}),NOT({_DEAD_TOP}),FALSE)",
            text(TOP_UNASKED),
        ),
        (f'IF({{helper_scale}}="degrees",{steep},FALSE)', text(TOO_STEEP)),
        (_share(), text(PERCENT_TYPED)),
        (
            f"IF((N({foot})>0)={_TICKED},FALSE,{unmarked})",
            f"IF(N({foot})>0,{text(SIGN)},{text(TICK)})",
        ),
        *_crossings(),
        (_too_close(), text(STAND_BACK)),
        (_eye_off(), eye),
        ("N({live_total})>xlh_limit_height", text(TOO_TALL)),
    ]
    return first_that_holds(cases, "{helper_fill}")


def _line_code() -> str:
    """Return the code of a line that Plots adds up: that it is there, its warning, its tree."""
    # TRUE equals 1 here and not in a count
    first = 'IF(N({setup})=1,TRUE,OR(TRIM({setup})="",TRIM(T({setup}))="1"))'
    first = f'IF({{setup}}="",TRUE,IF(ISLOGICAL({{setup}}),FALSE,{first}))'
    has_warning = (
        'IF({live_warning}="",FALSE,IF({live_warning}={helper_fill},FALSE,'
        'TRIM(T({live_warning}))<>""))'
    )
    code = f"{THERE}+IF({has_warning},{TO_CHECK},0)+IF({first},1,0)"
    # a plot that is listed has a name; to take the blanks off a text takes time
    nameless = 'IF({plot}="",TRUE,IF({helper_plot}="",TRIM({plot})="",FALSE))'
    return f"IF({nameless},0,{code})"


TO_CHECK, THERE = 100_000, 10_000_000_000
"""What a line with a warning, and a line with formulas, adds to the sum of its plot; a line of a
tree's first set-up adds 1."""
UNREAD = _unread_texts()
FILL_READS = _fill_reads()
COUNTED = _line_code()
