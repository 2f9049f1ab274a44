"""What a number format code says about a number: a percentage, a date, or neither."""

from __future__ import annotations

import re
from functools import lru_cache

GENERAL = "General"
# Codes that files name by number only (ECMA-376 part 1, 18.8.30, numFmt).
BUILT_IN = {
    0: GENERAL, 1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 9: "0%", 10: "0.00%",
    11: "0.00E+00", 12: "# ?/?", 13: "# ??/??", 14: "mm-dd-yy", 15: "d-mmm-yy", 16: "d-mmm",
    17: "mmm-yy", 18: "h:mm AM/PM", 19: "h:mm:ss AM/PM", 20: "h:mm", 21: "h:mm:ss",
    22: "m/d/yy h:mm", 37: "#,##0 ;(#,##0)", 38: "#,##0 ;[Red](#,##0)",
    39: "#,##0.00;(#,##0.00)", 40: "#,##0.00;[Red](#,##0.00)", 45: "mm:ss", 46: "[h]:mm:ss",
    47: "mmss.0", 48: "##0.0E+0", 49: "@",
}  # fmt: skip
# Numbers that stand for dates in one language or another.
LOCAL_DATES = frozenset(
    (*range(27, 37), *range(50, 59), 71, 72, 73, 74, 75, 76, 77, 78, 79, 80, 81)
)

_LITERAL = re.compile(r'"[^"]*"|\\.|_.|\*.')
_BRACKET = re.compile(r"\[(?!(?:h+|m+|s+)\])[^\]]*\]", re.IGNORECASE)


def code_of(number: int, own: dict[int, str]) -> str:
    """Format code of a format number; `own` are those that the workbook defines itself."""
    if number in own:
        return own[number]
    if number in LOCAL_DATES:
        return "yyyy-mm-dd"
    return BUILT_IN.get(number, GENERAL)


@lru_cache(maxsize=4096)
def is_percent(code: str) -> bool:
    """Whether numbers are shown times a hundred with a percent sign."""
    return "%" in _LITERAL.sub("", code)


@lru_cache(maxsize=4096)
def is_date(code: str) -> bool:
    """Whether numbers are shown as a date or a time of day."""
    bare = _BRACKET.sub("", _LITERAL.sub("", code)).lower()
    if bare in ("", "general", "@"):
        return False
    return re.search(r"[dmyhs]", bare.replace("general", "")) is not None
