"""The field sheet: one line for each set-up, that is, one placing of the instrument for one tree.

Columns 1 to 13 are the main run, in the order in which they stand on paper. The block "needed"
is folded away until a line asks for it; "recorded" holds what a sheet carries from elsewhere;
"live" is computed on every line, from the folded block "helper"; "tree" stands on the line of
set-up 1 only.
"""

from xlhelpers.fields.field_sheet_main import MAIN
from xlhelpers.fields.field_sheet_needed import NEEDED, RECORDED
from xlhelpers.fields.field_sheet_results import HELPER, LIVE, TREE
from xlhelpers.fields.record import Sheet

FIELD_SHEET = Sheet(
    "line",
    "Field sheet",
    "Field sheet",
    "One line for each set-up, in the order of the paper sheet.",
    MAIN + NEEDED + RECORDED + LIVE + TREE + HELPER,
    row_word="line",
    prepared_rows=400,
)

MAIN_READINGS = ("foot_reading", "base_reading", "top_reading", "tip_reading")
