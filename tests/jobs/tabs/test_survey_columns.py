"""A result tab names columns that its table declares, and shows them in the quantity declared."""

import pandas as pd
import pytest

from tests.jobs.tabs.make_outcome import FACTS
from tests.town import town_outcome
from xlhelpers.errors import SpecificationError
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.jobs.fill.tabs import again, by_plot, by_species, trees
from xlhelpers.jobs.fill.tabs.result_tabs import PLANNERS
from xlhelpers.pages.plan import Block, Column
from xlhelpers.pages.survey_columns import take_quantities
from xlhelpers.survey.columns import TREES, Table
from xlhelpers.survey.measure_again import MEASURE_AGAIN
from xlhelpers.survey.summaries import BY_PLOT, BY_SPECIES

# key of the tab -> the table whose rows it shows, what the tab adds to it
SOURCES: dict[str, tuple[Table, tuple[str, ...]]] = {
    "trees": (TREES, trees.ADDED),
    "by_plot": (BY_PLOT, by_plot.ADDED),
    "by_species": (BY_SPECIES, by_species.ADDED),
    "again": (MEASURE_AGAIN, again.ADDED),
}


@pytest.fixture(scope="module")
def blocks() -> dict[str, Block]:
    """Return the first block of each tab that shows a table of the survey."""
    plans = [plan(town_outcome(), FACTS) for plan in PLANNERS]
    return {
        plan.key: part
        for plan in plans
        if plan.key in SOURCES and isinstance(part := plan.parts[0], Block)
    }


@pytest.mark.parametrize("key", SOURCES)
def test_a_tab_names_only_columns_that_its_table_declares(
    blocks: dict[str, Block], key: str
) -> None:
    table, added = SOURCES[key]
    names = [column.key for column in blocks[key].columns]
    assert [name for name in names if name not in added and name not in table.names] == []
    assert set(added) <= set(names)
    assert not set(added) & set(table.names)


@pytest.mark.parametrize("key", SOURCES)
def test_a_tab_shows_the_units_declared(blocks: dict[str, Block], key: str) -> None:
    table, _ = SOURCES[key]
    for column in blocks[key].columns:
        if column.key in table.names and table[column.key].quantity and column.unit is None:
            unit = QUANTITIES[table[column.key].quantity].unit("us")
            assert column.heading("us") == (f"{column.label} ({unit})" if unit else column.label)


@pytest.mark.parametrize("key", SOURCES)
def test_numbers_are_shown_as_numbers(blocks: dict[str, Block], key: str) -> None:
    table, _ = SOURCES[key]
    for column in blocks[key].columns:
        values: pd.Series = blocks[key].rows[column.key]
        if column.key in table.names:
            assert (column.look == "number") == (values.dtype.kind in "iuf"), column.key


@pytest.mark.parametrize(
    ("column", "added", "message"),
    [
        (Column("totl_height", "Total height"), (), "no column is called totl_height"),
        (Column("total_height", "Total height", quantity="diameter"), (), "contradict"),
        (Column("total_height", "Total height", "text"), (), "contradict"),
        (Column("species", "Species"), (), "contradict"),
        (Column("total_height", "Total height"), ("total_height",), "already"),
    ],
)
def test_a_wrong_column_is_refused(column: Column, added: tuple[str, ...], message: str) -> None:
    with pytest.raises(SpecificationError, match=message):
        take_quantities(TREES, [column], added)
