"""How many of a plot's trees are entered: the formula on Plots, and what it gives."""

from collections.abc import Sequence


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
    keyed = f'COUNTIFS({same_plot},{setups},"")+COUNTIFS({same_plot},{setups},"1")'
    look_at = f'COUNTIFS({same_plot},{warnings},"?*")'
    return (
        f'=IF({plot}="","",({keyed})&IF(ISNUMBER({counted})," of "&{counted},"")&" keyed, "'
        f'&{look_at}&" to look at before you leave")'
    )


def progress_text(keyed: int, counted: float | None, look_at: int) -> str:
    """Return what the formula gives for a row that names a plot."""
    of_counted = "" if counted is None else f" of {counted:g}"
    return f"{keyed}{of_counted} keyed, {look_at} to look at before you leave"
