"""What people read when a sheet is brought in: refusals, questions, results, texts of the tabs."""

from __future__ import annotations

from pathlib import Path

from xlhelpers.pages.plan import Column

WRONG_FILE = (
    "{name} cannot be brought in. Give an Excel workbook (.xlsx, .xlsm), an OpenDocument sheet "
    "(.ods) or a text table (.csv, .tsv, .txt)."
)
NOT_THERE = "{path} is not there. Check the name."
NOT_READ = (
    "{name} cannot be read ({error}). Open it in your spreadsheet program and save it as .xlsx."
)
TOO_LARGE = "{name} is too large for a list of trees. Check that it is the right file."
OURS_ALREADY = (
    "{name} is already a workbook of this program. Fill it, or combine it with others with merge."
)
NO_TABLE = (
    "No table of trees was found in {name}. One of the first 20 rows of a tab must have headings "
    "such as tree, species, diameter, height or distance."
)
NO_LINES = "{name} has headings, but no line of a tree below them."
NO_MAPPING = (
    "{name} is not a mapping file, or it is damaged. Delete it and bring the sheet in again."
)
NO_FIELD = (
    "{where}: “{field}” is not a known field. Known are: see the first tab of the new workbook."
)
NO_ANSWER = "{name}: “{answer}” is not an allowed answer. Correct the file, or delete it."
NOT_SAVED = "{path} cannot be written: {error}."
NO_COLUMN = "--column {given}: give a heading of the sheet and a field, such as “Top=Tip reading”."
NO_HEADING = "--column {given}: the sheet has no heading “{heading}”. It has: {headings}."
EYE_OUTSIDE = "--eye-height {given} is not possible. Give it in {unit}, from {low:g} to {high:g}."
TOO_MANY_PLOTS = "{plots:,} plots are more than the {most:,} that one workbook can hold."
YOUR_ANSWER = "your answer"
FROM_HEADINGS = "the headings or the cells say so"
ASK_UNITS = (
    "Are lengths and diameters without a unit in m and cm (--units metric), or in feet and inches "
    "(--units us)?"
)
ASK_SCALE = (
    "Which scale of the instrument was read: --scale percent, degrees, topographic or fixed "
    "distance?"
)
ASK_KIND = (
    "How were the distances measured: --distance-kind level, “along slope” or “straight to the "
    "foot”?"
)
ASK_EYE = (
    "The sheet has no reading to the foot. On level ground the eye height can be used instead. "
    "How high was the eye above the ground, in {unit} (--eye-height)?"
)
TAB, CELLS_TAB = "How your sheet was read", "Cells not in a column"
TAB_SENTENCE = (
    "Each column of your sheet, and what it became. If something is wrong, correct it in the "
    "mapping file, or with the option Column, and bring the sheet in again."
)
COLUMN_COLUMNS = (
    Column("sheet", "Tab of your sheet", "text", width=20),
    Column("place", "Column", "text", width=8),
    Column("heading", "Its heading", "wrapped", width=24),
    Column("label", "Read as", "text", width=24),
    Column("unit", "Unit", "text", width=8),
    Column("because", "Because", "wrapped", width=44),
    Column("cells", "Cells", "number", "count", width=8),
    Column("understood", "Understood", "number", "count", width=11),
    Column("note", "In the note", "number", "count", width=11),
    Column("left", "Left", "number", "count", width=8),
)
KNOWN_COLUMNS = (
    Column("what", "What", "text", width=24),
    Column("answer", "Answer", "text", width=24),
    Column("because", "Because", "wrapped", width=24),
)
CELL_COLUMNS = (
    Column("sheet", "Tab of your sheet", "text", width=20),
    Column("cell", "Cell", "text", width=8),
    Column("heading", "Its heading", "wrapped", width=24),
    Column("text", "What it says", "wrapped", width=40),
    Column("fate", "What was done", "text", width=14),
    Column("because", "Because", "wrapped", width=44),
)
CELLS_SENTENCE = (
    "Cells of your sheet that are in a note of the new workbook, and cells that are in none. "
    "Columns that went into the note as a whole are on the first tab."
)
NO_CELLS = "Every cell was understood, or belongs to a column that is in the note as a whole."
FATES = {"note": "in the note", "left": "left"}
KNOWN_LABELS = {
    "units": "Units of the workbook",
    "scale": "Scale read",
    "distance_kind": "Kind of distance",
    "eye_height": "Eye height",
}
NO_TABLE_HERE = "no table of trees was found on this tab"
HIDDEN = "“{tab}” has {rows} hidden or filtered out. They were brought in too."
NUMBERED = (
    "Your sheet has no column of tree numbers. Trees were numbered in the order of the lines."
)
SOME_HEIGHTS = (
    "Fewer than half of the lines have a height, so “Trees to measure for height” was set to some "
    "trees."
)
NOT_ASKED = (
    "Your sheet has no column for: {fields}. The new workbook says NOT ASKED there, so these "
    "blanks are no findings."
)
SAVED_MAPPING = "The columns and answers are in {path}. It is used again next time."
USED_MAPPING = "Columns and answers are those of {path}."
SAVED = "Saved {path}. Its first tab, {tab}, shows how each column was read."
NEXT = "Next: check that tab, then fill the workbook."
ASKED = "Nothing was brought in yet. Please answer:"


def say_columns(rows: list[dict[str, object]]) -> list[str]:
    """Return one sentence a column: heading, what it was read as, and why."""
    return [
        f"  {row['place']} “{row['heading']}”: {row['label']}"
        + (f" ({row['unit']})" if row["unit"] else "")
        + f". {str(row['because'])[:1].upper()}{str(row['because'])[1:]}."
        for row in rows
    ]


def default_out(book: Path) -> Path:
    """Return where the new workbook goes: beside the sheet."""
    return book.with_name(f"{book.stem}_brought.xlsx")
