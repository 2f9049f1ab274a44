"""The guide: its words, and the sheet that shows them."""

from xlsxwriter.utility import quote_sheetname
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.cautions import titled_cautions
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.measure.two_stations import SMALLEST_DIFFERENCE
from xlhelpers.template.book import Template, set_page, wrapped_lines

Pairs = tuple[tuple[str, str], ...]
# what may be typed as the paper has it
_AS_ON_PAPER: dict[Units, str] = {"metric": "12,5", "us": "12'6\""}
# (what to do, how)
_STEPS: Pairs = (
    (
        "Measure",
        "Before the crews go out, fill in Survey rules, Strata, People and Instruments once. At "
        "each tree, stand back and write down: species, stem diameter, two crown widths, the "
        "distance, and the readings to the foot, the crown base and the tip. Under Condition, "
        "write T for a dead top (then also read the crown top) or D for a dead tree. Above eye "
        "level is +, below it −. 0 is a reading. Leave blank what was not read, or write the "
        "reason: NOT SAFE, NO ACCESS, NOT SEEN, NOT ASKED, UNREADABLE or ?",
    ),
    (
        "Enter",
        "Enter one line for each plot in Plots. Then enter one line for each set-up in Field "
        "sheet, left to right as on paper. For a second set-up, repeat plot and tree and type 2 "
        "under Set-up. Type only in white cells. Type exactly what the paper says, such as "
        "{as_on_paper} or NOT SAFE. If a box asks “Does the paper say this?”, press OK. For notes "
        "and rare cases, press the + above Level distance.",
    ),
    (
        "Look for gaps",
        "The last column of Plots shows how many of the counted trees are entered. Find the "
        "missing ones while the paper is on the desk. Heights and a first warning appear on each "
        "line while you type, and ► marks the cell. Check the lines with a warning before the crew "
        "leaves the plot, if you can.",
    ),
    (
        "Run fill",
        "Save and close this workbook. Then drop it on the icon “Tree survey” and choose Fill "
        "workbooks, or type  xlhelpers fill  and the name of the workbook. Your entries stay as "
        "they are and a backup is kept. No icon yet? Ask IT support to run  xlhelpers launcher  "
        "once.",
    ),
    (
        "Read the tabs",
        "Open the workbook and start with To check. It shows what to check on paper, what to ask "
        "the crew and what to measure again. If an entry is wrong, type what the paper shows under "
        "Paper says, with your initials: the next fill enters it. Or choose a decision. Then read "
        "Trees, By plot and By species.",
    ),
)


def steps(units: Units) -> Pairs:
    """Return the steps with an entry of this system as the example."""
    example = _AS_ON_PAPER[units]
    return tuple((what, how.replace("{as_on_paper}", example)) for what, how in _STEPS)


OWN_SHEET: Pairs = (
    (
        "Bring it in",
        "Do you have a sheet of trees already, with other columns? Do not copy it by hand: choose "
        "Bring in your own sheet, or type  xlhelpers bring  and its name. It makes a workbook "
        "like this one and asks only what your sheet does not say. Your sheet stays as it is.",
    ),
    (
        "Check it",
        "The first tab of the new workbook shows how each column was read. What has no column "
        "here is in the notes, with its heading. The answers are kept for next year's sheet.",
    ),
)
RESULT_TABS_TEXT = (
    "Step 4 adds them. Type only decisions and corrections (To check), the crew's answers (Measure "
    "again) and the plot to show (Plot at a glance). Line 3 of each tab shows if it is up to date."
)
# (our word, the trade's other words, meaning)
_WORDS: tuple[tuple[str, str, str], ...] = (
    ("Set-up", "station", "One place from which you measured one tree. It takes one line."),
    (
        "Reading",
        "",
        "What the instrument shows when you aim at a point. Above eye level +, below it −. If the "
        "display shows heights (hypsometer), the scale is “height”.",
    ),
    (
        "Foot",
        "base of the tree, ground line",
        "Highest ground at the stem. Height and diameter start there.",
    ),
    (
        "Crown base",
        "height to live crown base",
        "Height of the lowest living foliage of the main crown. Shoots on the stem and single low "
        "branches do not count.",
    ),
    ("Crown top", "live crown top", "Highest living shoot: the tip, unless the top is dead."),
    (
        "Cut back",
        "topped, pollarded, cut under wires",
        "Condition C. Its size is not compared with its diameter, and it counts in no growth.",
    ),
    ("Tip, total height", "tree top", "Highest point, living or dead, and its height."),
    (
        "Crown depth",
        "live crown length",
        "Crown top minus crown base. As a share of the height: live crown ratio.",
    ),
    (
        "Crown width",
        "crown spread",
        "The widest, and the one at right angles to it. The survey rules may ask for two fixed "
        "directions or four radii instead.",
    ),
    ("Crown area", "crown projection area", "Ground under the crown, from the two widths."),
    ("Diameter", "DBH; around the stem: girth, circumference", "Stem diameter at breast height."),
    (
        "Diameter measured at",
        "",
        "The height above the foot, if the diameter was not measured at breast height. Such a "
        "diameter is not compared with the tree's height. The tabs count these trees.",
    ),
    ("Height to diameter", "slenderness", "Total height divided by diameter."),
    ("Level distance", "horizontal distance", "From the instrument to the centre of the stem."),
    ("Straight distance", "line of sight, slant", "From the instrument to the point aimed at."),
    (
        "Distance to",
        "",
        "Where the tape ends at the tree: the centre of the stem, its bark, or as the instrument "
        "measures. If it ends at the bark, the program adds half the diameter. On paved, level "
        "ground you can choose on Plots to use the eye height instead of a foot reading.",
    ),
    (
        "Two stations in line",
        "",
        "For a distance that cannot be measured. You aim from two places in line with the tree and "
        "measure the step between them. The two angles to the tip must differ by "
        f"{SMALLEST_DIFFERENCE:.0f}° or more.",
    ),
    (
        "Height by eye",
        "estimated height",
        "A height that the crew estimated. Means do not use it, unless the survey rules say so.",
    ),
    (
        "Recorded height",
        "",
        "A height from another source. It is compared with the computed height, but not used. Tag, "
        "latitude and longitude have columns of their own.",
    ),
    (
        "Near edge",
        "",
        "The edge of a wide crown that is nearest to you. If you aim at it and not at the tip, the "
        "height is too great, typically by 13\N{NO-BREAK SPACE}%. One set-up does not show this: "
        "measure some wide crowns from a second place.",
    ),
    ("Finding", "", "One thing to check: where, what, why, what to do."),
)
WORDS: Pairs = tuple(
    (word, f"{meaning} Also called: {others}." if others else meaning)
    for word, others, meaning in _WORDS
)
"""Word and meaning, with the trade's other words for it."""
CAUTIONS: Pairs = titled_cautions()
_NAME_WIDTH, _TEXT_WIDTH = 22, 96
_LINE = 15.0  # points
_LETTERS_A_WIDTH = 1.08  # letters are narrower than the digit that widths are counted in


def write_guide(template: Template, sheet: Worksheet) -> None:
    """Write the guide and fit it to one page."""
    looks = template.looks
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, _NAME_WIDTH)
    sheet.set_column(1, 1, _TEXT_WIDTH)
    sheet.set_row(0, 28)
    sheet.write_string(0, 0, "Tree survey: from the field sheet to the summary", looks["title"])
    units = "m and cm" if template.units == "metric" else "feet and inches"
    sheet.write_string(1, 0, f"Five steps. This workbook uses {units}.", looks["purpose"])
    numbered = [(f"{at}  {what}", how) for at, (what, how) in enumerate(steps(template.units), 1)]
    row = 2
    for title, pairs, look in (
        ("Five steps", numbered, "text"),
        ("Your own sheet", OWN_SHEET, "text"),
        ("Take care", CAUTIONS, "caution"),
        ("Words", WORDS, "text"),
    ):
        row = _write_section(template, sheet, row, title)
        for name, text in pairs:
            row = _write_line(template, sheet, row, name, text, look)
    row = _write_section(template, sheet, row, "Sheets")
    for layout in template.layouts.values():
        tab = layout.sheet.tab
        after = _write_line(template, sheet, row, "", layout.sheet.purpose, "text")
        sheet.write_url(row, 0, f"internal:{quote_sheetname(tab)}!A1", looks["link"], tab)
        row = after
    tabs = f"{', '.join(RESULT_TABS.values())}. {RESULT_TABS_TEXT}"
    row = _write_line(template, sheet, row, "Result tabs", tabs, "text")
    set_page(template, sheet, landscape=False)
    sheet.fit_to_pages(1, 1)
    sheet.print_area(0, 0, row - 1, 1)


def _write_section(template: Template, sheet: Worksheet, row: int, title: str) -> int:
    sheet.set_row(row, 24)
    sheet.write_string(row, 0, title, template.looks["section"])
    sheet.write_blank(row, 1, None, template.looks["section"])
    return row + 1


def _write_line(
    template: Template, sheet: Worksheet, row: int, name: str, text: str, look: str
) -> int:
    sheet.write(row, 0, name or None, template.looks["text_bold"])
    sheet.write(row, 1, text, template.looks[look])
    sheet.set_row(row, _LINE * wrapped_lines(text, _TEXT_WIDTH * _LETTERS_A_WIDTH) + 3)
    return row + 1
