"""The tab Plot at a glance: its formulas, and the value that each has at the fill.

The same layers as those of `xlhelpers.jobs.fill.tabs.by_plot`. A layer that is not there is an
empty text, which a stacked chart draws without any height.

One plot is chosen; its rows are found in the tabs By plot, Trees and To check by the numbers of
`xlhelpers.jobs.fill.tabs.places`, so that every cell is an INDEX into one column. Rows and columns
count from 0 here, as XlsxWriter takes them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.fill.tabs.by_plot import LAYERS
from xlhelpers.package.sheet.references import column_letters, quote_sheet
from xlhelpers.pages.plan import Block, Chosen, Column
from xlhelpers.pages.sheet import Places
from xlhelpers.pages.values import clean_text, identifier_value
from xlhelpers.survey.counted import NOUNS
from xlhelpers.survey.quantities import Quantity
from xlhelpers.survey.typed.words import number_as_text

LABEL = "label"
# heights that differ by less are one
_SAME = 1e-9
_DRAWN: tuple[Quantity, ...] = ("height", "crown")


def layer_formulas(cells: Mapping[str, str]) -> dict[str, str]:
    """Return the formulas of the label and of each layer.

    Parameters
    ----------
    cells : mapping
        The cells of `tree`, `gravest`, `condition`, `total_height`, `crown_base`, `crown_top`, and
        of `left_out`, the words for the values that count nowhere.
    """
    base, top, total = (cells[key] for key in ("crown_base", "crown_top", "total_height"))
    dead, foot = f'{cells["condition"]}="dead"', f"MAX({base},0)"
    no_height, no_crown = (
        f'ISNUMBER(SEARCH("{NOUNS[one]}",{cells["left_out"]}))' for one in _DRAWN
    )
    counts = f"NOT({no_height}),NOT({no_crown})"
    known = f"AND(ISNUMBER({base}),ISNUMBER({top}),ISNUMBER({total}),{counts})"
    between = f"AND({foot}<{top},{top}<={total}+{_SAME:.9f},NOT({dead}))"
    crowned = f"IF({known},{between},FALSE)"
    above = f'IF({top}<{total}-{_SAME:.9f},{total}-{top},"")'
    return {
        LABEL: f'IF({cells["gravest"]}="",{cells["tree"]},{cells["tree"]}&" ?")',
        "stem": f'IF({crowned},{foot},"")',
        "crown": f'IF({crowned},{top}-{foot},"")',
        "dead_top": f'IF({crowned},{above},"")',
        "dead_tree": f'IF(AND({dead},ISNUMBER({total}),NOT({no_height})),{total},"")',
        "height_only": f'IF(OR({dead},NOT(ISNUMBER({total})),{no_height},{crowned}),"",{total})',
    }


def layer_values(values: Mapping[str, float | str]) -> dict[str, float | str]:
    """Return what these formulas give for the values of their cells."""
    base, top, total = (values[key] for key in ("crown_base", "crown_top", "total_height"))
    dead = values["condition"] == "dead"
    label = f"{values['tree']} ?" if values["gravest"] else values["tree"]
    layers: dict[str, float | str] = {LABEL: label, **dict.fromkeys(LAYERS, "")}
    no_height, no_crown = (NOUNS[one] in str(values["left_out"]) for one in _DRAWN)
    if not isinstance(total, float) or no_height:
        return layers
    if dead:
        return layers | {"dead_tree": total}
    if isinstance(base, float) and isinstance(top, float) and not no_crown:
        foot = max(base, 0.0)
        if foot < top <= total + _SAME:
            above = total - top if top < total - _SAME else ""
            return layers | {"stem": foot, "crown": top - foot, "dead_top": above}
    return layers | {"height_only": total}


LEAST_TREES, GREATEST_TREES = 12, 40
PLOT_FINDINGS = 3
# findings of a tree are cut beyond this
LONGEST = 185
PLOT_CELL, TREE_CELL, MESSAGE_CELL = (4, 2), (5, 2), (4, 4)
FACTS_ROW, HELPER = 8, 13
# the helper cells, from row 4 down: what they hold
HELPERS = (
    "place in By plot",
    "first place in Trees",
    "rows in Trees",
    "first row shown",
    "first place in To check",
    "findings on the plot as a whole",
)
_POS, _FIRST, _COUNT, _START, _FOUND_FIRST, _FOUND = (
    f"${column_letters(HELPER + 1)}${5 + at}" for at in range(len(HELPERS))
)
# columns of By plot that are shown, with the words for means and sums
FACTS: dict[str, str] = {
    "stratum": "",
    "status": "",
    "trees_counted": "",
    "trees": "",
    "species": "",
    "dead": "",
    "dead_tops": "",
    "open_trees": "",
    "height_mean": "total height",
    "crown_depth_mean": "crown depth",
    "live_crown_ratio_mean": "live crown ratio",
    "diameter_mean": "diameter",
    "basal_area_sum": "",
    "basal_area_with_dead_sum": "",
    "crown_area_sum": "",
    "crown_volume_sum": "",
    "left_out": "",
}
FINDINGS_ROW = FACTS_ROW + len(FACTS) + 1
TABLE_ROW = FINDINGS_ROW + PLOT_FINDINGS + 2
# columns of Trees that are shown, from column A on
TREE_COLUMNS = (
    "tree",
    "species",
    "condition",
    "total_height",
    "crown_base",
    "crown_top",
    "dead_top_length",
    "crown_depth",
    "live_crown_ratio",
    "diameter",
    "gravest",
    "open",
)
# what stands in By plot for lines without a plot
NAMELESS = "without a plot"
_NO_PLOT = "No plot is entered yet."
_CHOOSE = "Choose a plot in the cell with dashed edges."
_UNKNOWN = "By plot has no plot of this name. Choose one from the list."
_NO_TREE = "No tree is entered on this plot."
_LOST = "Rows are missing from the tab Trees. Run fill again."
Value = float | str


@dataclass(frozen=True)
class Sources:
    """The tables that the tab reads, and where their cells stand."""

    blocks: Mapping[str, Block]
    cells: Places
    units: Units

    def area(self, tab: str, key: str) -> str:
        """Return the cells of a column as a formula names them."""
        sheet, first, column, last, _ = self.cells[tab, key]
        letters = column_letters(int(column) + 1)
        return f"{quote_sheet(str(sheet))}!${letters}${int(first) + 1}:${letters}${int(last) + 1}"

    def column(self, tab: str, key: str) -> Column:
        """Return the record of a column."""
        return next(column for column in self.blocks[tab].columns if column.key == key)

    def value(self, tab: str, key: str, row: int) -> Value:
        """Return what a cell holds; "" for a blank one."""
        value = self.blocks[tab].rows[key].iloc[row]
        column = self.column(tab, key)
        if value is None or value != value or value == "":
            return ""
        if column.look == "number":
            return float(value) / column.factor(self.units)
        return identifier_value(value) if column.look == "identifier" else clean_text(value)

    def row(self, tab: str, key: str, place: float) -> int | None:
        """Return the row that has a number in a hidden column."""
        positions = np.flatnonzero(self.blocks[tab].rows[key].to_numpy(float) == place)
        return int(positions[0]) if len(positions) else None


@dataclass(frozen=True)
class Cell:
    """One formula with its value; `column` gives the look of a number."""

    row: int
    at: int
    formula: str
    value: Value
    column: Column | None = None


@dataclass(frozen=True)
class Glance:
    """The whole tab: how many trees have room, what is chosen, and all formulas.

    `first_tree` is None where every plot has room.
    """

    room: int
    plot: Value
    first_tree: Value | None
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class _State:
    """What the helper cells hold at the fill; `position` is None where no plot is found."""

    position: int | None
    first: int
    count: int
    start: int
    found_first: int
    finding_count: int


def plan_glance(sources: Sources, chosen: Chosen) -> Glance:
    """Return the formulas of the tab and their values.

    Parameters
    ----------
    sources : Sources
        The blocks of By plot, Trees and To check, rendered.
    chosen : Chosen
        What was chosen before this fill; without it the first plot with trees is shown.
    """
    listed = sources.blocks["by_plot"].rows["listed_trees"].to_numpy(float)
    fitting = listed[listed <= GREATEST_TREES]
    room = int(max(LEAST_TREES, fitting.max(initial=0)))
    if not len(fitting) and len(listed):
        room = GREATEST_TREES
    plot = _first_plot(sources) if chosen.plot is None else chosen.plot
    first_tree: Value | None = None
    if listed.max(initial=0) > room:
        first_tree = 1.0 if chosen.first_tree is None else chosen.first_tree
    state = _state(sources, plot, first_tree)
    cells = (
        *_helper_cells(sources, state, first_tree),
        Cell(
            *MESSAGE_CELL,
            _message(room, len(listed)),
            _message_text(state, plot, room, len(listed)),
        ),
        *_fact_cells(sources, state),
        *_finding_cells(sources, state),
        *(cell for at in range(room) for cell in _tree_cells(sources, state, at)),
    )
    return Glance(room, plot, first_tree, cells)


def _first_plot(sources: Sources) -> Value:
    rows = sources.blocks["by_plot"].rows
    order = np.argsort(rows["listed_trees"].to_numpy(float) == 0, kind="stable")
    names = rows["plot"].to_numpy(object)[order].tolist()
    named = [name for name in names if name != NAMELESS]
    return identifier_value((named or names or [""])[0])


def _state(sources: Sources, plot: Value, first_tree: Value | None) -> _State:
    position = _position(sources, plot)
    if position is None:
        return _State(None, 0, 0, 1, 0, 0)
    keys = ("first_tree", "listed_trees", "first_finding", "listed_findings")
    first, count, found_first, finding_count = (
        int(float(sources.value("by_plot", key, position))) for key in keys
    )
    start = int(first_tree) if isinstance(first_tree, float) and first_tree <= count else 1
    return _State(position, first, count, max(start, 1), found_first, finding_count)


def _position(sources: Sources, plot: Value) -> int | None:
    """Return the row of the plot in By plot, found as MATCH finds it."""
    wanted = plot.lower() if isinstance(plot, str) else plot
    for row, name in enumerate(sources.blocks["by_plot"].rows["plot"].tolist()):
        value = identifier_value(name)
        if wanted != "" and wanted == (value.lower() if isinstance(value, str) else value):
            return row
    return None


def cell_name(row: int, column: int) -> str:
    """Return a cell of the tab as a formula names it."""
    return f"${column_letters(column + 1)}${row + 1}"


def _helper_cells(sources: Sources, state: _State, first_tree: Value | None) -> Iterator[Cell]:
    chosen = cell_name(*PLOT_CELL)
    # signs that stand for others are taken as they are
    plain = f'SUBSTITUTE(SUBSTITUTE(SUBSTITUTE({chosen},"~","~~"),"*","~*"),"?","~?")'
    wanted = f"IF(ISTEXT({chosen}),{plain},{chosen})"
    plots = sources.area("by_plot", "plot")
    start, from_cell = "1", cell_name(*TREE_CELL)
    if first_tree is not None:
        inside = f"AND({from_cell}>=1,{from_cell}<={_COUNT})"
        start = f"IF(ISNUMBER({from_cell}),IF({inside},INT({from_cell}),1),1)"
    keys = ("first_tree", "listed_trees", "", "first_finding", "listed_findings")
    numbers = [
        f'IF({_POS}="",0,INDEX({sources.area("by_plot", key)},{_POS}))' if key else start
        for key in keys
    ]
    formulas = [f'IF({chosen}="","",IFERROR(MATCH({wanted},{plots},0),""))', *numbers]
    position: Value = "" if state.position is None else float(state.position + 1)
    values = (state.first, state.count, state.start, state.found_first, state.finding_count)
    for at, (formula, value) in enumerate(zip(formulas, (position, *values), strict=True)):
        yield Cell(4 + at, HELPER, formula, value if isinstance(value, str) else float(value))


def _message(room: int, plots: int) -> str:
    if not plots:
        return f'"{_NO_PLOT}"'
    row_count = f"COUNT({cell_name(TABLE_ROW, HELPER)}:{cell_name(TABLE_ROW + room - 1, HELPER)})"
    last = f"MIN({_START}+{room - 1},{_COUNT})"
    every = f'{_COUNT}&IF({_COUNT}=1," tree"," trees")&" entered, all shown."'
    some = (
        f'{_COUNT}&" trees entered. The list shows "&{_START}&" to "&{last}&". For others, type '
        'the number to start at."'
    )
    sentence = f'IF({row_count}<{last}-{_START}+1,"{_LOST}",IF({_COUNT}<={room},{every},{some}))'
    known = f'IF({_POS}="","{_UNKNOWN}",IF({_COUNT}=0,"{_NO_TREE}",{sentence}))'
    return f'IF({cell_name(*PLOT_CELL)}="","{_CHOOSE}",{known})'


def _message_text(state: _State, plot: Value, room: int, plots: int) -> str:
    if not plots:
        return _NO_PLOT
    if plot == "":
        return _CHOOSE
    if state.position is None:
        return _UNKNOWN
    if not state.count:
        return _NO_TREE
    if state.count <= room:
        return f"{state.count} {'tree' if state.count == 1 else 'trees'} entered, all shown."
    last = min(state.start + room - 1, state.count)
    return (
        f"{state.count} trees entered. The list shows {state.start} to {last}. For others, type "
        "the number to start at."
    )


def fact_label(column: Column, mean_of: str, units: Units) -> str:
    """Return the words before a number of the plot, with the unit."""
    heading = column.heading(units)
    return heading.replace("Mean", f"Mean {mean_of}", 1) if mean_of else heading


def _fact_cells(sources: Sources, state: _State) -> Iterator[Cell]:
    for down, key in enumerate(FACTS):
        cell = f"INDEX({sources.area('by_plot', key)},{_POS})"
        formula = f'IF({_POS}="","",IF({cell}="","",{cell}))'
        value: Value = ""
        if state.position is not None:
            value = sources.value("by_plot", key, state.position)
        yield Cell(FACTS_ROW + down, 2, formula, value, sources.column("by_plot", key))


def _finding_cells(sources: Sources, state: _State) -> Iterator[Cell]:
    many = f": the first {PLOT_FINDINGS} of {{}}. All are in To check"
    more = many.replace("{}", f'"&{_FOUND}&"')
    formula = (
        f'"Findings on the whole plot"&IF({_FOUND}=0,": none",'
        f'IF({_FOUND}>{PLOT_FINDINGS},"{more}",""))'
    )
    text = ": none" if not state.finding_count else ""
    text = many.format(state.finding_count) if state.finding_count > PLOT_FINDINGS else text
    yield Cell(FINDINGS_ROW, 0, formula, f"Findings on the whole plot{text}")
    for at in range(PLOT_FINDINGS):
        row, place = FINDINGS_ROW + 1 + at, state.found_first + at
        position = (
            sources.row("to_check", "place_by_plot", place) if at < state.finding_count else None
        )
        helper = cell_name(row, HELPER)
        places = sources.area("to_check", "place_by_plot")
        look_up = f'IF({at}>={_FOUND},"",IFERROR(MATCH({_FOUND_FIRST}+{at},{places},0),""))'
        yield Cell(row, HELPER, look_up, _match(sources, "to_check", position))
        for column, keys in ((0, ("severity",)), (1, ("found", "action"))):
            texts = '&" "&'.join(f"INDEX({sources.area('to_check', k)},{helper})" for k in keys)
            values = (
                "" if position is None else str(sources.value("to_check", k, position))
                for k in keys
            )
            text = " ".join(values) if position is not None else ""
            yield Cell(row, column, f'IF({helper}="","",{texts}&"")', text)


def _match(sources: Sources, tab: str, position: int | None) -> Value:
    """Return what MATCH gives for a row of a block, from 1, bands between the rows counted."""
    if position is None:
        return ""
    starts = [start for start, _ in sources.blocks[tab].sections]
    bands = sum(start <= position for start in starts) - sum(start <= 0 for start in starts)
    return float(position + 1 + bands)


def _tree_cells(sources: Sources, state: _State, at: int) -> Iterator[Cell]:
    row, number = TABLE_ROW + at, state.start + at
    position = None
    if number <= state.count:
        position = sources.row("trees", "place", state.first + number - 1)
    helper = cell_name(row, HELPER)
    look_up = f"MATCH({_FIRST}+{_START}+{at - 1},{sources.area('trees', 'place')},0)"
    formula = f'IF({_START}+{at}>{_COUNT},"",IFERROR({look_up},""))'
    yield Cell(row, HELPER, formula, _match(sources, "trees", position))
    values: dict[str, Value] = dict.fromkeys((*TREE_COLUMNS, "no_height_because", "left_out"), "")
    if position is not None:
        values = {key: sources.value("trees", key, position) for key in values}
        values["tree"] = _as_text(values["tree"])
        values["open"] = _cut(str(values["open"] or values["no_height_because"]))
    for column, key in enumerate(TREE_COLUMNS):
        cell = f"INDEX({sources.area('trees', key)},{helper})"
        record = sources.column("trees", key)
        if key == "open":
            because = f"INDEX({sources.area('trees', 'no_height_because')},{helper})"
            cut = f'IF(LEN({cell})>{LONGEST},LEFT({cell},{LONGEST})&" …",{cell}&"")'
            content = f'IF({cell}="",{because}&"",{cut})'
        elif record.look == "number":
            content = f'IF({cell}="","",{cell})'
        else:
            content = f'{cell}&""'
        text = f'IF({helper}="","",{content})'
        yield Cell(row, column, text, values[key], record if record.look == "number" else None)
    cells = {key: cell_name(row, column) for column, key in enumerate(TREE_COLUMNS)}
    cells["left_out"] = f"INDEX({sources.area('trees', 'left_out')},{helper})"
    layers = layer_values(values)
    for column, (key, layer) in enumerate(layer_formulas(cells).items(), HELPER + 1):
        yield Cell(
            row,
            column,
            layer,
            layers[key],
            sources.column("trees", "total_height") if key in LAYERS else None,
        )


def _as_text(value: Value) -> str:
    return number_as_text(value) if isinstance(value, float) else value


def _cut(text: str) -> str:
    return text[:LONGEST] + " …" if len(text) > LONGEST else text
