"""Numbers that were typed as text, understood by formulas: comma, unit, feet and inches.

Three folded columns hold the texts of a line in plain signs, each in a slot of its own: as typed,
with every number as one 0, and with digits and points alone. A column for each field then compares
the shape of its text with those that are understood, and makes a number of its digits. No formula
leaves the reading of a number to the program, which would follow the language of the computer:
digits are turned into whole numbers, and a whole number is the same everywhere. What these formulas
do not understand, or the reader of the program might take for two numbers, gives "": fill reads it.
"""

from __future__ import annotations

from collections.abc import Iterable

from xlhelpers.fields.quantities import FOOT_M
from xlhelpers.live.parts import UNIT, text

LENGTHS = ("width_widest", "width_across", "distance")
READINGS = ("foot_reading", "base_reading", "top_reading", "tip_reading")
NUMBERED = (*LENGTHS, "diameter", *READINGS)
"""The fields whose texts formulas understand: the numbers of the main run."""
TYPED, SHAPE, DIGITS = "helper_typed", "helper_shape", "helper_digits"
FILL_READS = ": fill will read it"
"""What stands behind the name of a column whose text only the program can read."""
_SLOT = 14
_BLANKS = " " * (_SLOT - 1)
# A sign for each unit at the end of a number, so that it keeps its place in the slot. A minus at
# the beginning has one as well.
METRE, MINUS = "|", "¦"
_OTHER, _FILLER = "?", "_"
_PLAIN: tuple[tuple[str, str], ...] = (
    *((sign, _OTHER) for sign in (METRE, MINUS, _FILLER)),
    *(("\u00a0", " "), ("\u202f", " "), ("−", "-"), ("–", "-")),
    *(("’", "'"), ("′", "'"), ("”", '"'), ("″", '"')),
    ("~-", f"~{MINUS}"),
    *((" ft ", "'   "), ("ft ", "'  "), (" in ", '"   '), ("in ", '"  ')),
    ("m ", f"{METRE} "),
)
# A comma before three digits, or more threes of them, may part thousands: it goes to their end. A
# comma that digits still follow is a decimal comma. Of digits in a row the first is left.
_SHAPED: tuple[tuple[str, str], ...] = (
    *((digit, "0") for digit in "123456789"),
    *(((",000", f"{_FILLER * 3},"),) * 3),
    (",0", ".0"),
    *(("00", f"0{_FILLER}"), (f"{_FILLER}0", _FILLER * 2)),
)
_BARE: tuple[tuple[str, str], ...] = (
    (",", "."),
    *((sign, " ") for sign in (METRE, MINUS, "'", '"', "c")),
)
_NUMBERS = ("0", "0.0", ".0", "0.")


def number_name(field: str) -> str:
    """Return the folded column that holds the number of a field."""
    return f"number_{field}"


def number_of(field: str) -> str:
    """Return the cell with the number of a field, where formulas understand its texts."""
    return f"{{{number_name(field) if field in NUMBERED else field}}}"


def typed_texts() -> dict[str, str]:
    """Return folded column -> formula of the texts of a line; "" where there are none."""
    cells = ",".join(f"{{{name}}}" for name in NUMBERED)
    joined = "&".join(f'"~"&LEFT(TRIM(T({{{name}}}))&"{_BLANKS}",{_SLOT - 1})' for name in NUMBERED)
    # a sign at the end, because some programs save a text without the blanks behind it
    plain = _replace_signs(f'LOWER({joined}&"~")', _PLAIN)
    typed = f"{{{TYPED}}}"
    return {
        TYPED: f'IF(COUNTA({cells})=COUNT({cells}),"",{plain})',
        SHAPE: f'IF({typed}="","",{_replace_signs(typed, _SHAPED)})',
        DIGITS: f'IF({typed}="","",{_replace_signs(typed, _BARE)})',
    }


def _replace_signs(formula: str, pairs: Iterable[tuple[str, str]]) -> str:
    for before, after in pairs:
        formula = f"SUBSTITUTE({formula},{text(before)},{text(after)})"
    return formula


def number_formulas() -> dict[str, str]:
    """Return folded column -> formula of the number in each field; an error where there is none."""
    formulas = {}
    for field in NUMBERED:
        at = NUMBERED.index(field) * _SLOT + 1
        # from sign to sign; a text that fills its slot may be cut and has no blank before the next
        shape = f'TRIM(SUBSTITUTE(MID({{{SHAPE}}},{at},{_SLOT + 1}),"{_FILLER}",""))'
        bare = f"TRIM(MID({{{DIGITS}}},{at + 1},{_SLOT - 1}))"
        if field in LENGTHS:
            number = _length(shape, bare)
        elif field == "diameter":
            number = _diameter(shape, bare)
        else:
            number = _reading(shape, bare)
        cell = f"{{{field}}}"
        formulas[number_name(field)] = f'IF(ISNUMBER({cell}),{cell},IF({{{TYPED}}}="","",{number}))'
    return formulas


def _shapes(ends: Iterable[str], begins: Iterable[str] = ("",)) -> str:
    """Return the shapes of a number with each sign before or behind it, as they stand in a slot."""
    listed = [f"{begin}{number}{end}" for begin in begins for end in ends for number in _NUMBERS]
    return "".join(f"~{shape} " for shape in listed)


def _place(shape: str, known: str) -> str:
    """Return where a shape stands among those that are understood; an error for any other."""
    return f"FIND({shape},{known})"


def _plain_number(digits: str, bare: str) -> str:
    """Return the number of digits with one point or none; `bare` may have inches behind it."""
    decimals = f'MAX(0,LEN({bare})-FIND(".",{bare}&"."))'
    return f'VALUE(SUBSTITUTE({digits},".",""))/10^{decimals}'


def _length(shape: str, bare: str) -> str:
    plain, metres = _shapes(("",)), _shapes((METRE, f" {METRE}"))
    feet = _shapes(("'", " '"))
    inches = "".join(f"~0'{blank}0{end} " for blank in ("", " ") for end in ("", '"', ' "'))
    place = _place(shape, text(f"{plain}{metres}{feet}{inches}~"))
    # a shape begins where the sign before it stands
    to_feet, to_metres = len(plain) + len(metres), len(plain)
    factor = f"IF({place}>{to_metres},IF({place}>{to_feet},{FOOT_M:g},1)/{UNIT},1)"
    gap = f'FIND(" ",{bare}&" ")'
    behind = f'VALUE("0"&MID({bare},{gap}+1,9))'
    number = _plain_number(f"LEFT({bare},{gap}-1)", bare)
    return f'IF({behind}<12,({number}+{behind}/12)*{factor},"")'


def _diameter(shape: str, bare: str) -> str:
    metric, us = (_shapes(("", end, f" {end}")) + "~" for end in (f"c{METRE}", '"'))
    place = _place(shape, f"IF({UNIT}=1,{text(metric)},{text(us)})")
    return f'IF({place}>0,{_plain_number(bare, bare)},"")'


def _reading(shape: str, bare: str) -> str:
    """Return the number of a reading; fill judges a unit behind it, which names a scale."""
    plain = _shapes(("",))
    place = _place(shape, text(f"{plain}{_shapes(('',), (MINUS, f'{MINUS} '))}~"))
    return f"IF({place}>{len(plain)},-1,1)*{_plain_number(bare, bare)}"
