"""Rarer settings of a sheet, one a row: what must be on the sheet that takes its place."""

import pytest

from xlhelpers.package.formulas.follow import Move
from xlhelpers.package.graft.further_settings import count_further, put_further
from xlhelpers.package.parts.xml_text import Element, parse, serialize

SPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SAME = Move("S", {1: 1, 2: 2, 3: 3}, 5, 0)
# the second column is the third now, and the table begins two rows lower
MOVED = Move("S", {1: 1, 2: 3}, 5, 2)
GONE = Move("S", {1: 1}, 5, 0)


def sheet(before: str = "", after: str = "") -> Element:
    """A worksheet with some elements before its rows and some after them."""
    text = f'<worksheet xmlns="{SPACE}">{before}<sheetData/>{after}</worksheet>'
    return parse(text.encode(), "sheet1.xml")


VIEW = (
    '<customSheetViews><customSheetView guid="{1}" scale="140"><pane ySplit="5"/>'
    "</customSheetView></customSheetViews>"
)
SCENARIO = (
    '<scenarios current="0"><scenario name="wet" count="1"><inputCells r="B6" val="4"/></scenario>'
    "</scenarios>"
)
WATCH = '<cellWatches><cellWatch r="B6"/></cellWatches>'
ERROR = '<ignoredErrors><ignoredError sqref="B6:B9" numberStoredAsText="1"/></ignoredErrors>'
# what somebody set, where the columns are, and what is there afterwards
ROWS = {
    "a named view": (VIEW, SAME, b'scale="140"'),
    "a scenario": (SCENARIO, SAME, b'r="B6" val="4"'),
    "a scenario, moved": (SCENARIO, MOVED, b'r="C8" val="4"'),
    "a watched cell": (WATCH, MOVED, b'<cellWatch r="C8"/>'),
    "an error to ignore": (ERROR, MOVED, b'sqref="C8:C11" numberStoredAsText="1"'),
}


@pytest.mark.parametrize("name", ROWS)
def test_what_goes_over(name: str) -> None:
    settings, move, wanted = ROWS[name]
    frame = sheet()
    put_further(frame, sheet(after=settings), move)
    assert wanted in serialize(frame)


@pytest.mark.parametrize(
    ("settings", "move", "kind"),
    [
        (VIEW, MOVED, "views"),
        (SCENARIO, GONE, "scenarios"),
        (WATCH, GONE, "watches"),
        (ERROR, GONE, "error marks"),
        ("<legacyDrawingHF/>", SAME, "header pictures"),
        ("<legacyDrawing/>", SAME, "controls"),
    ],
)
def test_what_has_no_place_is_counted(settings: str, move: Move, kind: str) -> None:
    frame, old = sheet(), sheet(after=settings)
    put_further(frame, old, move)
    assert (count_further(old)[kind], count_further(frame)[kind]) == (1, 0)


def test_the_name_for_macros_and_the_usual_sizes() -> None:
    before = (
        '<sheetPr codeName="Sheet4"/>'
        '<sheetFormatPr defaultColWidth="14" defaultRowHeight="22" customHeight="1"/>'
    )
    frame = sheet('<sheetFormatPr defaultRowHeight="15"/>')
    put_further(frame, sheet(before), SAME)
    content = serialize(frame)
    for wanted in (b'codeName="Sheet4"', b'defaultColWidth="14"', b'defaultRowHeight="22"'):
        assert wanted in content
