"""How many of a plot's trees are entered: the formulas on Plots, and what they give."""

from collections.abc import Sequence
from dataclasses import dataclass

from xlhelpers.live.warnings import THERE, TO_CHECK

_ENTERED, _TO_CHECK = " entered, ", " to check before you leave"
# the words of the formula in workbooks made before they changed
_FORMER_ENTERED, _FORMER_TO_CHECK = " keyed, ", " to look at before you leave"
UNCHECKED = " without formulas: run fill"
"""What stands behind the number of lines that nothing checks while they are typed."""


@dataclass(frozen=True)
class ProgressFormulas:
    """The formulas of one row of Plots, each with its equals sign."""

    progress: str
    helper_lines: str
    helper_sum: str


def progress_formulas(
    plot: str, counted: str, helpers: Sequence[str], lines: Sequence[str]
) -> ProgressFormulas:
    """Return the formulas of one row, in functions that every spreadsheet program knows.

    Each line of the field sheet states in one number that it has formulas, if it has a warning,
    and if it is of a tree's first set-up. A plot adds these numbers up in one search, so that a
    keystroke costs one search a plot. Lines without formulas are counted as well: then the trees
    are counted from the set-ups, and the text says how many lines nothing checks.

    Parameters
    ----------
    plot, counted : str
        The cells with the plot's number and with the number of trees that the crew counted.
    helpers : sequence of str
        The cells of `helper_lines` and of `helper_sum`.
    lines : sequence of str
        The ranges of plot, set-up and `helper_count` on the field sheet.
    """
    plots, setups, counts = lines
    of_lines, of_sum = helpers
    # as a text the plot agrees with a number and with the same number kept as a text; a number
    # does not everywhere
    same_plot = f'{plots},{plot}&""'
    unchecked = f"{of_lines}-INT({of_sum}/{THERE})"
    entered = f'COUNTIFS({same_plot},{setups},"")+COUNTIFS({same_plot},{setups},"1")'
    entered = f"IF({unchecked}>0,{entered},MOD({of_sum},{TO_CHECK}))"
    to_check = f"INT(MOD({of_sum},{THERE})/{TO_CHECK})"
    lacking = f'IF({unchecked}>0,", "&({unchecked})&"{UNCHECKED}","")'
    return ProgressFormulas(
        f'=IF({plot}="","",({entered})&IF(ISNUMBER({counted})," of "&{counted},"")&"{_ENTERED}"'
        f'&{to_check}&"{_TO_CHECK}"&{lacking})',
        f'=IF({plot}="",0,COUNTIF({same_plot}))',
        f'=IF({plot}="",0,SUMIF({same_plot},{counts}))',
    )


def progress_text(
    entered: int, counted: float | None, to_check: int, formula: str = "", unchecked: int = 0
) -> str:
    """Return what the formula gives for a row that names a plot.

    Parameters
    ----------
    entered, counted, to_check : number
        Trees entered, trees that the crew counted (None for no number), lines with a warning.
    formula : str
        The formula in the cell, which may be one of before with other words.
    unchecked : int
        Lines without formulas, which earlier formulas do not tell.
    """
    of_counted = "" if counted is None else f" of {counted:g}"
    if _FORMER_TO_CHECK in formula:
        return f"{entered}{of_counted}{_FORMER_ENTERED}{to_check}{_FORMER_TO_CHECK}"
    lacking = f", {unchecked}{UNCHECKED}" if unchecked > 0 else ""
    return f"{entered}{of_counted}{_ENTERED}{to_check}{_TO_CHECK}{lacking}"


def counts_of_sum(total: float) -> tuple[int, int, int]:
    """Return trees, lines with a warning and lines with formulas of a plot's sum."""
    return int(total % TO_CHECK), int(total % THERE // TO_CHECK), int(total // THERE)
