"""Every column is declared once, and no code reads a column that does not exist.

How a misspelling is found: the source is parsed, and every text that names a column where a table
is read is looked up: `table["name"]`, `table[["one", "other"]]`, `table.loc[rows, "name"]`,
`groupby`, `sort_values`, `drop(columns=...)`, and loops such as `for name in ("one", "other")`
whose body reads `table[name]`. Under the name of one of the great tables (`trees`,
`outcome.survey.plots`, `rules`) it must be a column of that table. Under any other name it must
be a column of some declared table. A table that a module makes for itself declares its columns by
being made: the keys of a dictionary, `table["name"] = ...`, `assign(name=...)`, `Column("name")`
and tuples whose name ends in COLUMNS count for the modules of the same folder.
"""

import ast
import importlib
import pkgutil
from collections import defaultdict
from collections.abc import Iterator
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

import xlhelpers.estimates
import xlhelpers.survey
from tests.test_architecture import MODULES, PACKAGE, module_name, room_of
from xlhelpers.errors import SpecificationError
from xlhelpers.fields.choices import choice
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.fields.rules import RULES
from xlhelpers.measure.accuracy import Accuracy
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.decision_columns import LABELS
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.columns import GROUPS, SHEETS, TABLES, Table, table_of
from xlhelpers.survey.outcome import Outcome

ROOMS = ("jobs", "live", "reading", "pages", "estimates", "survey")
# tables, and dictionaries with fixed keys, by the name under which they are read
GREAT_TABLES = {name: set(table.names) for name, table in TABLES.items()}
GREAT_TABLES |= {name: set(RULES.index) for name in ("rules", "limits")}
for of_points in ("slope", "straight", "height", "way", "parts"):
    GREAT_TABLES[of_points] = {"foot", "base", "top", "tip", "along"}
GREAT_TABLES["accuracy"] = set(Accuracy.__dataclass_fields__)
# who holds the great tables, where they are read as `outcome.trees`
HOLDERS = {"outcome", "survey", "usual", "side", "first", "again"}
SHIPPED = [PACKAGE / "survey" / "doubt" / f"{name}.csv" for name in ("reference", "calibration")]
# dictionaries of XML, of cell formats and of counts
NOT_TABLES = {"attributes", "attrib", "cell", "counts", "layouts", "looks", "options", "properties"}
NOT_TABLES |= {"by_kind", "states"}


@cache
def every_declared() -> set[str]:
    """Return the columns of all `Table` records of the rooms that make tables."""
    names = set()
    for room in (xlhelpers.survey, xlhelpers.estimates):
        for found in pkgutil.walk_packages(room.__path__, f"{room.__name__}."):
            module = importlib.import_module(found.name)
            for value in vars(module).values():
                if isinstance(value, Table):
                    names |= set(value.names)
    for table in SHIPPED:
        names.update(table.read_text(encoding="utf-8").splitlines()[0].split(","))
    return names.union(*GREAT_TABLES.values(), *LABELS.values(), TABLES)


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def texts(node: ast.AST | None) -> list[str]:
    """Return the texts that a node writes out: one, or those of a list, tuple or set.

    What is put into an f-string is a star: `f"open_{side}"` gives "open_*".
    """
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else []
    if isinstance(node, ast.JoinedStr):
        return ["".join((*texts(part), "*")[0] for part in node.values)]
    if isinstance(node, ast.Starred):
        return texts(node.value)
    if isinstance(node, ast.List | ast.Tuple | ast.Set):
        return [text for item in node.elts for text in texts(item)]
    return []


def last_name(node: ast.AST) -> str:
    """Return `plots` of `outcome.survey.plots`, of `survey.plots.iloc` and of `plots.loc`."""
    while isinstance(node, ast.Attribute) and node.attr in ("loc", "iloc", "at"):
        node = node.value
    if isinstance(node, ast.Call):
        return last_name(node.func)
    return getattr(node, "attr", getattr(node, "id", ""))


@cache
def made(path: Path) -> set[str]:
    """Return the columns that a module makes for itself."""
    names: set[str] = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Dict):
            names.update(text for key in node.keys for text in texts(key))
        elif isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Store):
            names.update(texts(node.slice))
        elif isinstance(node, ast.Call):
            name = last_name(node.func)
            if name in ("assign", "dict", "Counter", "replace"):
                names.update(keyword.arg for keyword in node.keywords if keyword.arg)
            elif name.lower().endswith("column") or name == "fromkeys":
                names.update(texts(node.args[0]) if node.args else ())
            names.update(
                text for k in node.keywords if k.arg == "columns" for text in texts(k.value)
            )
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if any(last_name(t).upper().endswith(("COLUMNS", "KEYS")) for t in targets):
                names.update(texts(node.value))
    return names


def written_lists(path: Path) -> dict[str, list[str]]:
    """Return the texts of each list that has a name in the module."""
    found = defaultdict(list)
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            found[node.targets[0].id] += filter(str.isidentifier, texts(node.value))
    return found


def loops(path: Path) -> Iterator[tuple[ast.AST, list[str], list[ast.AST]]]:
    """Yield the variable of each loop over written names, the names, and where they are read."""
    lists = written_lists(path)
    for node in ast.walk(tree_of(path)):
        inside: list[ast.AST] = []
        if isinstance(node, ast.For):
            ends, inside = [(node.target, node.iter)], list(node.body)
        elif isinstance(node, ast.ListComp | ast.GeneratorExp | ast.SetComp):
            ends, inside = [(g.target, g.iter) for g in node.generators], [node.elt]
        elif isinstance(node, ast.DictComp):
            ends, inside = [(g.target, g.iter) for g in node.generators], [node.value]
        else:
            continue
        for target, names in ends:
            listed = texts(names) or lists.get(getattr(names, "id", ""), [])
            if isinstance(target, ast.Name) and listed:
                yield target, listed, inside


def reads(path: Path) -> Iterator[tuple[ast.AST, str, int]]:
    """Yield the table, the name of the column and the line of each reading."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Load):
            if not isinstance(node.slice, ast.JoinedStr):
                for text in texts(node.slice):
                    yield node.value, text, node.lineno
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            name = node.func.attr
            if name in ("groupby", "sort_values", "drop"):
                named = [k.value for k in node.keywords if k.arg in ("by", "columns")]
                for text in texts(ast.List([*node.args[: name != "drop"], *named])):
                    yield node.func.value, text, node.lineno
    for target, listed, inside in loops(path):
        for node in (found for part in inside for found in ast.walk(part)):
            if isinstance(node, ast.Subscript) and last_name(node.slice) == target.id:
                for text in listed:
                    yield node.value, text, node.lineno


def is_great(table: ast.AST, room: str) -> bool:
    """Return whether a table is the one that its name says, and no other of that name."""
    if last_name(table) not in GREAT_TABLES:
        return False
    while isinstance(table, ast.Attribute) and table.attr in ("loc", "iloc", "at"):
        table = table.value
    held = isinstance(table, ast.Attribute) and last_name(table.value) in HOLDERS
    return held or (room in ("survey", "estimates") and isinstance(table, ast.Name))


def misspelled(path: Path) -> list[str]:
    """Return the columns that a module reads and nobody declared."""
    room, own = room_of(module_name(path)), made(path)
    beside = set().union(*(made(other) for other in path.parent.glob("*.py")))
    wrong = []
    for table, column, line in reads(path):
        name = last_name(table)
        if name == "Literal" or name.isupper() or name in NOT_TABLES:
            continue
        great = is_great(table, room)
        allowed = (GREAT_TABLES[name] | own) if great else (every_declared() | beside)
        if not any(fnmatchcase(column, known) for known in allowed):
            wrong.append(f"{path.relative_to(PACKAGE.parent)}:{line} {name}[{column!r}]")
    return wrong


@pytest.mark.parametrize("path", [p for p in MODULES if room_of(module_name(p)) in ROOMS])
def test_every_column_that_is_read_exists(path: Path) -> None:
    assert misspelled(path) == []


@pytest.mark.parametrize(
    "code",
    [
        'height = outcome.trees["totl_height"]',
        'lines = survey.lines[["plot", "tre"]]',
        'a, b = (setups[name] for name in ("base_way", "tip_wey"))',
        'rows = plots.loc[flags, "statuss"]',
        'found = table.groupby("crew_nme")',
        'limit = survey.rules["limit_hieght"]',
        'names = ("crown_base", "crown_tip")\nfor name in names:\n    print(trees[name])',
    ],
)
def test_a_misspelling_is_found(tmp_path: Path, code: str, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "xlhelpers" / "survey" / "module.py"
    path.parent.mkdir(parents=True)
    path.write_text(code, encoding="utf-8")
    monkeypatch.setattr("tests.test_architecture.PACKAGE", tmp_path / "xlhelpers")
    monkeypatch.setattr("tests.survey.test_columns.PACKAGE", tmp_path / "xlhelpers")
    assert len(misspelled(path)) == 1


@pytest.fixture(scope="module")
def town() -> Outcome:
    return compute(Package.open(PACKAGE.parent / "demo_workbooks" / "town.xlsx"))


DTYPES = {
    "text": "O",
    "number": "f",
    "count": "i",
    "flag": "b",
    "date": "M",
    "position": "i",
}


@pytest.mark.parametrize("name", TABLES)
def test_a_table_has_just_its_columns(town: Outcome, name: str) -> None:
    frame: pd.DataFrame = getattr(town if name in ("setups", "trees") else town.survey, name)
    table = TABLES[name]
    assert sorted(frame.columns) == sorted(table.names)
    if name not in SHEETS:
        assert tuple(frame.columns) == table.names
    for column in table:
        assert frame[column.name].dtype.kind == DTYPES[column.kind], column.name


def test_records_are_whole() -> None:
    for name, table in TABLES.items():
        assert len(set(table.names)) == len(table), name
        for column in table:
            assert column.help.strip(), (name, column.name)
            assert not column.quantity or column.quantity in QUANTITIES, (name, column.name)
            assert not column.choices or choice(column.choices), (name, column.name)


def test_a_builder_cannot_leave_out_or_add_a_column() -> None:
    columns = {name: [0] for name in GROUPS.names}
    assert tuple(table_of(GROUPS, columns).columns) == GROUPS.names
    with pytest.raises(SpecificationError, match="more"):
        table_of(GROUPS, {**columns, "more": [1]})
    del columns["first"]
    with pytest.raises(SpecificationError, match="first"):
        table_of(GROUPS, columns)
