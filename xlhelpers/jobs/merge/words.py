"""What people read when workbooks are combined: results, refusals, and the texts of its tabs."""

from collections.abc import Sequence
from pathlib import Path

from xlhelpers.pages.plan import Column
from xlhelpers.survey.columns import SHEETS
from xlhelpers.survey.merging.merging import Merged
from xlhelpers.wording import plural

GIVEN_TWICE = "{path} is given twice. Give each workbook once."
NONE_READ = "None of the workbooks can be read. {why}"
NOT_READ = "{name} cannot be read ({error}). Open it, save it under a new name and try that."
TOO_MANY_PLOTS = (
    "{plots:,} plots are more than the {most:,} that one workbook can hold. Merge them in parts."
)
LINES_LOST = (
    "{wanted:,} lines went in, but {read:,} came out. Nothing was written. Please report this."
)
PROGRESS = "{done} of {all} workbooks read"
# headings of the last columns of the merged sheets
ORIGIN = ("Origin: workbook", "Origin: sheet", "Origin: row")
HEIGHT_DIFFERS = (
    "The height differs from the one in its own workbook. See the rows above on its plot, "
    "instrument and tree."
)
MERGE_TAB, SOURCES_TAB = "Merge report", "Merged workbooks"
CONFLICT_COLUMNS = (
    Column("kind", "About", "text", width=13),
    Column("what", "What", "wrapped", width=24),
    Column("label", "Column", "text", width=20),
    Column("stands", "In this workbook", "wrapped", width=24),
    Column("other", "In the other", "wrapped", width=24),
    Column("file", "Other workbook", "wrapped", width=24),
    Column("sheet", "Its sheet", "text", width=16),
    Column("row", "Its row", "number", "count", width=8),
    Column("done", "What was done", "wrapped", width=44),
    Column("link", "Go to", "link", width=20),
)
NO_CONFLICT = "The workbooks do not disagree."
MERGE_REMARK = (
    "No line was dropped. Values that were not used are listed on this tab. The last columns of "
    "each sheet show where each line and plot came from."
)
SOURCE_COLUMNS = (
    Column("name", "Workbook", "wrapped", width=34),
    *(Column(table, sheet.tab, "number", "count", width=11) for table, sheet in SHEETS.items()),
    Column("left", "Tabs not copied", "wrapped", width=30),
    Column("error", "Why it was left out", "wrapped", width=50),
)
THIS_WORKBOOK = "in this workbook"
SOURCES_PURPOSE = "Rows on each sheet. Lists of names become shorter if workbooks share entries."
SOURCES_REMARK = (
    "Decisions on the tabs To check are kept. The first fill puts each beside its finding. If "
    "units were converted, the readings count as new."
)
DECISIONS_PURPOSE = (
    "Decisions from the combined workbooks. The next fill puts each beside its finding if the "
    "readings are the same. If they are not, the finding is open again."
)


def say_merged(
    out: Path, merged: Merged, same: Sequence[tuple[str, str]], read: int, failed: int
) -> list[str]:
    """Return the sentences about a merge.

    Parameters
    ----------
    out
        The workbook that was written.
    merged
        The survey in it.
    same
        The pairs of workbooks that have the same lines.
    read, failed
        How many workbooks were read, and how many could not be read.
    """
    lines = plural(len(merged.rows["lines"]), "line")
    of = f"{read} of {plural(read + failed, 'workbook')}" if failed else plural(read, "workbook")
    sentences = [f"Saved {out}: {of}, {lines}. No line was dropped."]
    sentences += [
        f"{one} and {other} have the same lines. Is it the same workbook twice?"
        for one, other in same
    ]
    sentences.append(_say_contradictions(merged.contradictions, read))
    if len(merged.conflicts) > merged.contradictions:
        sentences.append(f"Units were converted. The tab {MERGE_TAB} lists where.")
    if failed:
        sentences.append(
            f"{plural(failed, 'workbook')} could not be read. Correct "
            f"{'it' if failed == 1 else 'them'} and merge again."
        )
    return [*sentences, f"Next: xlhelpers fill {out}"]


def _say_contradictions(count: int, books: int) -> str:
    if count:
        return f"The workbooks disagree in {plural(count, 'place')}. See the tab {MERGE_TAB}."
    if books == 1:
        return "Only one workbook was read, so there was nothing to compare it with."
    return "The workbooks do not disagree anywhere."


def say_conflicts(merged: Merged, used: int) -> str:
    """Return the purpose of the tab with the conflicts: how many of the `used` workbooks."""
    lines = plural(len(merged.rows["lines"]), "line")
    return (
        f"{plural(used, 'workbook')}, {lines} in and {lines} out. Disagreements: "
        f"{merged.contradictions:,}. Rules whose units were converted: "
        f"{len(merged.conflicts) - merged.contradictions:,}."
    )


def show_height(height: float) -> str:
    """Return a height in m, or that there is none."""
    return "no height" if height != height else f"{height:.2f} m"
