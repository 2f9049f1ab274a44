"""Draws the planned charts as native charts that stay readable when printed in grey.

Bars are told apart by ground, hatching and border, never by colour alone. Each chart carries its
description for those who cannot see it, and takes its figures from cells, hidden rows included.
"""

from collections.abc import Callable
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.chart import Chart
from xlsxwriter.utility import xl_range_formula

from xlhelpers.pages.looks import INK, LINE
from xlhelpers.pages.plan import ChartPlan, Series, SeriesLook, Span
from xlhelpers.pages.sheet import CellRange

Locate = Callable[[Span], CellRange]
_BORDER = {"color": INK, "width": 0.75}
_LOOKS: dict[SeriesLook, dict[str, Any]] = {
    "plain": {"fill": {"color": "#8FA9B2"}, "border": _BORDER},
    "stem": {
        "fill": {"color": "#FFFFFF"},
        "border": {"color": "#7A7F88", "width": 0.75, "dash_type": "round_dot"},
    },
    "crown": {"fill": {"color": "#6E9C77"}, "border": _BORDER},
    "dead top": {
        "pattern": {"pattern": "wide_upward_diagonal", "fg_color": INK, "bg_color": "#FFFFFF"},
        "border": _BORDER,
    },
    "dead tree": {"fill": {"color": "#2B2B2B"}, "border": _BORDER},
    "height only": {
        "fill": {"color": "#DCDCDC"},
        "border": {"color": INK, "width": 0.75, "dash_type": "dash"},
    },
}
_KINDS: dict[str, dict[str, str]] = {
    "bars": {"type": "bar"},
    "columns": {"type": "column"},
    "stacked columns": {"type": "column", "subtype": "stacked"},
    "points": {"type": "scatter"},
}
_FONT = {"size": 10, "color": INK}
_GRID = {"visible": True, "line": {"color": LINE, "width": 0.5}}


def make_chart(book: Workbook, plan: ChartPlan, locate: Locate) -> Chart:
    """Return the chart of a plan, ready to be put on a sheet.

    Parameters
    ----------
    book : Workbook
        The workbook that the chart belongs to.
    plan : ChartPlan
        What it shows.
    locate : callable
        Gives the cells of a span.

    Returns
    -------
    Chart
        With titles, axes and series set; where it stands sets its size.
    """
    chart = book.add_chart({**_KINDS[plan.kind], "name": plan.name})
    assert chart is not None  # every kind of the table is known
    for series in plan.series:
        chart.add_series(_series_options(series, locate))
    chart.set_title({"name": plan.title, "name_font": {**_FONT, "size": 12}, "overlay": False})
    if plan.kind == "points":
        _set_axes_of_points(chart, plan)
        chart.show_hidden_data()
        return chart
    upright = plan.kind != "bars"  # XlsxWriter names the axes by where they lie
    (chart.set_x_axis if upright else chart.set_y_axis)(_category_axis(plan))
    (chart.set_y_axis if upright else chart.set_x_axis)(_value_axis(plan))
    if len(plan.series) > 1:
        chart.set_legend({"position": "bottom", "font": _FONT})
    else:
        chart.set_legend({"none": True})
    chart.set_chartarea({"border": {"color": LINE}, "fill": {"color": "#FFFFFF"}})
    chart.show_blanks_as("gap")
    chart.show_hidden_data()
    return chart


def _series_options(series: Series, locate: Locate) -> dict[str, Any]:
    options: dict[str, Any] = {
        "name": series.name,
        "categories": locate(series.categories),
        "values": locate(series.values),
        **_shape(series.look),
    }
    arms = series.arms or (None if series.spread is None else (series.spread, series.spread))
    if arms is not None:
        down, up = (_reference(locate(arm)) for arm in arms)
        options["y_error_bars"] = {
            "type": "custom",
            "plus_values": up,
            "minus_values": down,
            "line": {"color": INK, "width": 1.25},
        }
    return options


def _shape(look: SeriesLook) -> dict[str, Any]:
    if look in _LOOKS:
        return {"gap": 40, **_LOOKS[look]}
    if look in ("line", "dashed line"):
        dash = {"dash_type": "dash"} if look == "dashed line" else {}
        return {"line": {"color": INK, "width": 1.25, **dash}, "marker": {"type": "none"}}
    marker = {"type": look, "size": 6, "fill": {"color": "#8FA9B2"}, "border": {"color": INK}}
    return {"line": {"none": True}, "marker": marker}


def _set_axes_of_points(chart: Chart, plan: ChartPlan) -> None:
    axis: dict[str, Any] = {
        "name_font": _FONT,
        "num_font": _FONT,
        "major_gridlines": _GRID,
        "label_position": "low",
    }
    across = {"name": plan.category_title, "num_format": plan.category_format, **axis}
    if "y" in plan.category_format:  # dates
        across["num_font"] = {**_FONT, "rotation": -45}
    chart.set_x_axis(across)
    chart.set_y_axis({"name": plan.value_title, "num_format": plan.value_format, **axis})
    chart.set_legend({"position": "bottom", "font": _FONT})


def _reference(cells: CellRange) -> str:
    sheet, first_row, first_column, last_row, last_column = cells
    return str(
        xl_range_formula(
            str(sheet), int(first_row), int(first_column), int(last_row), int(last_column)
        )
    )


def _category_axis(plan: ChartPlan) -> dict[str, Any]:
    # names beside bars are smaller: a program that breaks them in two lines leaves out others
    options: dict[str, Any] = {
        "name": plan.category_title,
        "name_font": _FONT,
        "num_font": {**_FONT, "size": 9} if plan.kind == "bars" else _FONT,
        "line": {"color": INK},
        "interval_unit": 1,
    }
    if plan.least is None or plan.least < 0:
        options["label_position"] = "low"  # below the values, not across them
    if plan.kind == "bars":
        options["reverse"] = True  # the first row of the table on top
        options["crossing"] = "max"  # and the values below
        options["major_gridlines"] = {"visible": False}
    return options


def _value_axis(plan: ChartPlan) -> dict[str, Any]:
    options: dict[str, Any] = {
        "name": plan.value_title,
        "name_font": _FONT,
        "num_font": _FONT,
        "num_format": plan.value_format,
        "line": {"color": INK},
        "major_gridlines": _GRID,
    }
    if plan.least is not None:
        options["min"] = plan.least
    if plan.greatest is not None:
        options["max"] = plan.greatest
    return options
