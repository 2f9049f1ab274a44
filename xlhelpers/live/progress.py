"""How many of a plot's trees are entered: the formula on Plots, and what it gives."""

from collections.abc import Sequence

_ENTERED, _TO_CHECK = " entered, ", " to check before you leave"
# the words of the formula in workbooks made before they changed
_FORMER_ENTERED, _FORMER_TO_CHECK = " keyed, ", " to look at before you leave"


def progress_formula(plot: str, counted: str, lines: Sequence[str]) -> str:
    """Return the formula of one row, in functions that every spreadsheet program knows.

    It counts the plot's lines whose set-up is blank or 1, and those whose warning holds a text.

    Parameters
    ----------
    plot, counted : str
        The cells with the plot's number and with the number of trees that the crew counted.
    lines : sequence of str
        The ranges of plot, set-up and warning on the field sheet.

    Returns
    -------
    str
        The formula, with its equals sign.
    """
    plots, setups, warnings = lines
    # as a text the plot agrees with a number and with the same number kept as a text; a number
    # does not everywhere
    same_plot = f'{plots},{plot}&""'
    entered = f'COUNTIFS({same_plot},{setups},"")+COUNTIFS({same_plot},{setups},"1")'
    to_check = f'COUNTIFS({same_plot},{warnings},"?*")'
    return (
        f'=IF({plot}="","",({entered})&IF(ISNUMBER({counted})," of "&{counted},"")&"{_ENTERED}"'
        f'&{to_check}&"{_TO_CHECK}")'
    )


def progress_text(entered: int, counted: float | None, to_check: int, formula: str = "") -> str:
    """Return what the formula gives for a row that names a plot.

    Parameters
    ----------
    entered, counted, to_check : number
        Trees entered, trees that the crew counted (None for no number), lines with a warning.
    formula : str
        The formula in the cell, which may be one of before with other words.
    """
    of_counted = "" if counted is None else f" of {counted:g}"
    if _FORMER_TO_CHECK in formula:
        return f"{entered}{of_counted}{_FORMER_ENTERED}{to_check}{_FORMER_TO_CHECK}"
    return f"{entered}{of_counted}{_ENTERED}{to_check}{_TO_CHECK}"
