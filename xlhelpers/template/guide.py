"""The guide: its words, and the sheet that shows them."""

from collections.abc import Sequence

from xlsxwriter.format import Format
from xlsxwriter.utility import quote_sheetname
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.template.book import Template, set_page, wrapped_lines

# what may be keyed as the paper has it
_AS_ON_PAPER: dict[Units, str] = {"metric": "12,5", "us": "12'6\""}
# (what to do, how)
_STEPS: tuple[tuple[str, str], ...] = (
    (
        "Measure and write",
        "Before the crews go out, fill in Survey rules, Strata, People and Instruments, once. "
        "On the plot, stand back from each tree and write on paper: species, stem diameter, two "
        "crown widths, the distance, and the readings to the foot, to the crown base and to the "
        "tip. Under Condition write T for a dead top, and read the crown top as well; D for a "
        "dead tree. Above eye level +, below it −. 0 is a reading. Leave blank what was not read, "
        "or write why: NOT SAFE, NO ACCESS, NOT SEEN, NOT ASKED, UNREADABLE or ?",
    ),
    (
        "Key",
        "Key one line a plot into Plots, then one line a set-up into Field sheet, from left to "
        "right in the order of the paper. A second set-up of a tree is a further line: the same "
        "plot and tree, and 2 under Set-up. White cells are for typing; grey cells in italics are "
        "filled by the program. Key what the paper says, such as {as_on_paper} or NOT SAFE; where "
        "the spreadsheet only informs you, press OK and it is kept. Rare cases and notes have "
        "columns of their own on Field sheet: press the + above its first grey column.",
    ),
    (
        "Look at",
        "The last column of Plots says how many of the counted trees are keyed. Find the missing "
        "ones while the paper is on the desk. Heights and a first warning show on each line as "
        "you type; Plots counts the lines to look at, best done before the crew leaves the plot.",
    ),
    (
        "Run fill",
        "Save and close this workbook. Drop it on the launcher that came with the program, or "
        "type  xlhelpers fill  and the name of the workbook, or ask whoever set the program up. A "
        "backup is kept, and nothing that you typed is changed.",
    ),
    (
        "Read the tabs",
        "Open the workbook again and begin with To check: it says what does not fit, and whether "
        "to look at the paper, ask the crew or measure again. Mend it on the sheet where it was "
        "keyed, or type a decision beside it, and do step 4 again. Then read Trees, By plot and By "
        "species; About this fill says how the numbers were reached.",
    ),
)


def steps(units: Units) -> tuple[tuple[str, str], ...]:
    """Return the steps with an entry of this system as the example."""
    shown = _AS_ON_PAPER[units]
    return tuple((what, how.replace("{as_on_paper}", shown)) for what, how in _STEPS)


RESULT_TABS_TEXT = (
    "Added by step 4. Only decisions are typed there, in To check, the crew's answers, in Measure "
    "again, and which plot to show, in Plot at a glance. The third line of each tab says whether "
    "anything keyed has changed since."
)
# (term, meaning)
WORDS: tuple[tuple[str, str], ...] = (
    ("Set-up", "One placing of the instrument for one tree: one line of the field sheet."),
    (
        "Reading",
        "What the instrument shows when aimed at a point; above eye level +, below it −.",
    ),
    (
        "Foot",
        "The highest ground that touches the stem. Heights and the diameter start there.",
    ),
    (
        "Crown base",
        "Level of the lowest living foliage of the connected crown, carried across to the stem. "
        "Shoots on the bare stem and a branch far below the rest do not count.",
    ),
    ("Crown top", "Highest living shoot: the tip, unless the top is dead."),
    ("Tip, total height", "Highest point, living or dead, and its height above the foot."),
    ("Crown depth", "Crown top minus crown base. Its share of the height: live crown ratio."),
    ("Level distance", "Measured level, from the instrument to the centre of the stem."),
    ("Crown width", "The widest, and the one at right angles to it."),
    ("Finding", "One thing that does not fit: where, what, why and what to do."),
)
# (what about, what to do)
CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "Traffic",
        "One person watches it. Never step back while aiming. No tape across a carriageway.",
    ),
    (
        "Wires",
        "Keep poles and tapes at least 3 m (10 ft) away unless local rules say more. Treat every "
        "wire as live; use the instrument instead.",
    ),
    (
        "Dead tops",
        "Nobody walks under a dead, split or hung top for a diameter or a width.",
    ),
    ("Laser", "Never at people, at vehicles or at the sun."),
    (
        "Ground and wind",
        "Mind slopes and your footing, stop in strong wind, and ask before you enter private "
        "ground.",
    ),
    ("No safe place", "Write NOT SAFE. The office accepts it."),
    (
        "Risk of trees",
        "This workbook does not rate the risk of any tree. Local codes and licensed arborists "
        "decide.",
    ),
)
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
    units = "metres and centimetres" if template.units == "metric" else "feet and inches"
    sheet.write_string(1, 0, f"In five steps. This workbook is in {units}.", looks["purpose"])
    row = _section(template, sheet, 2, "Five steps")
    for number, (what, how) in enumerate(steps(template.units), start=1):
        row = _line(sheet, row, (f"{number}  {what}", how), (looks["text_bold"], looks["text"]))
    row = _section(template, sheet, row, "Take care")
    for pair in CAUTIONS:
        row = _line(sheet, row, pair, (looks["text_bold"], looks["caution"]))
    row = _section(template, sheet, row, "Words")
    for pair in WORDS:
        row = _line(sheet, row, pair, (looks["text_bold"], looks["text"]))
    row = _section(template, sheet, row, "Sheets")
    for layout in template.layouts.values():
        target = f"internal:{quote_sheetname(layout.sheet.tab)}!A1"
        _line(sheet, row, ("", layout.sheet.purpose), (looks["link"], looks["text"]))
        sheet.write_url(row, 0, target, looks["link"], layout.sheet.tab)
        row += 1
    tabs = ", ".join(RESULT_TABS.values())
    row = _line(sheet, row, ("Result tabs", f"{tabs}. {RESULT_TABS_TEXT}"), _plain(template))
    set_page(template, sheet, landscape=False)
    sheet.fit_to_pages(1, 1)
    sheet.print_area(0, 0, row - 1, 1)


def _plain(template: Template) -> tuple[Format, Format]:
    return template.looks["text_bold"], template.looks["text"]


def _section(template: Template, sheet: Worksheet, row: int, title: str) -> int:
    sheet.set_row(row, 24)
    sheet.write_string(row, 0, title, template.looks["section"])
    sheet.write_blank(row, 1, None, template.looks["section"])
    return row + 1


def _line(sheet: Worksheet, row: int, texts: Sequence[str], looks: Sequence[Format]) -> int:
    for column, (text, look) in enumerate(zip(texts, looks, strict=True)):
        sheet.write(row, column, text or None, look)
    sheet.set_row(row, _LINE * wrapped_lines(texts[1], _TEXT_WIDTH * _LETTERS_A_WIDTH) + 3)
    return row + 1
