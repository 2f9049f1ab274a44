"""Numbers that were typed as text, understood by formulas: comma, unit, feet and inches.

One folded column, `helper_typed`, holds the texts of a line in plain signs, each in a slot of its
own; a column for each field then holds its number. No formula leaves the reading of a number to
the program, which would follow the language of the computer: digits are turned into whole numbers,
and a whole number is the same everywhere. What these formulas do not understand, or the reader of
the program might take for two numbers, gives "": fill reads it.
"""

from __future__ import annotations

from xlhelpers.fields.quantities import FOOT_M
from xlhelpers.live.parts import UNIT, first_that_holds, text

LENGTHS = ("width_widest", "width_across", "distance")
READINGS = ("foot_reading", "base_reading", "top_reading", "tip_reading")
NUMBERED = (*LENGTHS, "diameter", *READINGS)
"""The fields whose texts formulas understand: the numbers of the main run."""
TYPED = "helper_typed"
FILL_READS = ": fill will read it"
"""What stands behind the name of a column whose text only the program can read."""
_SLOT = 14
_BLANKS = " " * (_SLOT - 1)
# A sign for each unit at the end of a number, so that it keeps its place in the slot. A minus at
# the beginning has one as well.
METRE, MINUS = "|", "¦"
_OTHER = "?"
_PLAIN: tuple[tuple[str, str], ...] = (
    *((sign, _OTHER) for sign in (METRE, MINUS)),
    *(("\u00a0", " "), ("\u202f", " "), (",", "."), ("−", "-"), ("–", "-")),
    *(("’", "'"), ("′", "'"), ("”", '"'), ("″", '"')),
    ("~-", f"~{MINUS}"),
    *((" ft ", "'   "), ("ft ", "'  "), (" in ", '"   '), ("in ", '"  ')),
    ("m ", f"{METRE} "),
)


def number_name(field: str) -> str:
    """Return the folded column that holds the number of a field."""
    return f"number_{field}"


def number_of(field: str) -> str:
    """Return the cell with the number of a field, where formulas understand its texts."""
    return f"{{{number_name(field) if field in NUMBERED else field}}}"


def typed_texts() -> str:
    """Return the formula of the texts of a line in plain signs; "" where there are none."""
    cells = ",".join(f"{{{name}}}" for name in NUMBERED)
    joined = "&".join(f'"~"&LEFT(TRIM(T({{{name}}}))&"{_BLANKS}",{_SLOT - 1})' for name in NUMBERED)
    # a sign at the end, because some programs save a text without the blanks behind it
    plain = f'LOWER({joined}&"~")'
    for before, after in _PLAIN:
        plain = f"SUBSTITUTE({plain},{text(before)},{text(after)})"
    return f'IF(COUNTA({cells})=COUNT({cells}),"",{plain})'


def number_formulas() -> dict[str, str]:
    """Return folded column -> formula of the number in each field; "" where there is none."""
    found = {}
    for field in NUMBERED:
        at = NUMBERED.index(field) * _SLOT + 1
        slot = f"MID({{{TYPED}}},{at + 1},{_SLOT - 1})"
        if field in LENGTHS:
            understood = _length(slot)
        elif field == "diameter":
            understood = _plain_number(f'TRIM(SUBSTITUTE({slot},IF({UNIT}=1,"c{METRE}",""""),""))')
        else:
            understood = _reading(slot)
        cell = f"{{{field}}}"
        # A text that fills its slot may be cut. A comma before three digits may part thousands.
        whole = f'MID({{{TYPED}}},{at + _SLOT - 1},1)=" "'
        found[number_name(field)] = first_that_holds(
            [
                (f"ISNUMBER({cell})", cell),
                (f'TRIM(T({cell}))=""', '""'),
                (f"NOT({whole})", '""'),
                (_may_be_thousands(cell, slot), '""'),
            ],
            understood,
        )
    return found


def _may_be_thousands(cell: str, slot: str) -> str:
    """Return the condition that a comma stands before three digits, or at the end."""
    body = f"TRIM({slot})"
    for unit in (METRE, "'", "c"):
        body = _without(body, unit)
    decimals = f'LEN(TRIM({body}))-FIND(".",{slot}&".")'
    return f'IF(ISNUMBER(FIND(",",{cell})),MOD({decimals},3)=0,FALSE)'


def _without(body: str, sign: str) -> str:
    return f'SUBSTITUTE({body},{text(sign)},"")'


def _plain_number(body: str) -> str:
    """Return the number of a text of digits with one point or none; "" for any other text."""
    digits = f'SUBSTITUTE({body},".","",1)'
    decimals = f'MAX(0,LEN({body})-FIND(".",{body}&"."))'
    number = f'IF({_whole(digits)},VALUE({digits})/10^{decimals},"")'
    # a second point would pass for a decimal point, where the computer writes one
    return f'IF(ISNUMBER(FIND(".",{digits})),"",{number})'


def _whole(body: str) -> str:
    """Return the condition that a text is digits alone; 1 before them keeps leading zeros."""
    return f'VALUE("1"&{body})&""="1"&{body}'


def _length(slot: str) -> str:
    foot = f'FIND("\'",{slot})'
    feet = f'LEFT(TRIM({slot}),FIND("\'",TRIM({slot}))-1)'
    inches = f'TRIM(SUBSTITUTE(MID({slot},{foot}+1,9),"""",""))'
    both = first_that_holds(
        [
            (f'ISNUMBER(FIND(".",{slot}))', '""'),
            (f"NOT({_whole(feet)})", '""'),
            (f"NOT({_whole(inches)})", '""'),
            (f"VALUE({inches})>=12", '""'),
        ],
        f"(VALUE({feet})+VALUE({inches})/12)*{FOOT_M:g}/{UNIT}",
    )
    body = f"TRIM({_without(_without(slot, METRE), chr(39))})"
    factor = (
        f'IF(ISNUMBER(FIND("{METRE}",{slot})),1/{UNIT},IF(ISNUMBER({foot}),{FOOT_M:g}/{UNIT},1))'
    )
    has_inches = f"IF(ISNUMBER({foot}),{foot}<LEN(TRIM({slot})),FALSE)"
    return f"IF({has_inches},{both},{_plain_number(body)}*{factor})"


def _reading(slot: str) -> str:
    """Return the number of a reading; fill judges a unit behind it, which names a scale."""
    body = f"TRIM({_without(slot, MINUS)})"
    return f'IF(LEFT({slot},1)="{MINUS}",-1,1)*{_plain_number(body)}'
