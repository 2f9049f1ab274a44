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
from functools import cache
from pathlib import Path

import pytest

import xlhelpers.estimates
import xlhelpers.survey
from tests.test_architecture import MODULES, PACKAGE, module_name
from xlhelpers.fields.rules import RULES
from xlhelpers.survey.columns import TABLES, Table

ROOMS = ("jobs", "live", "reading", "pages", "estimates", "survey")
GREAT_TABLES = {name: set(table.names) for name, table in TABLES.items()}
GREAT_TABLES |= {"rules": set(RULES.index), "limits": set(RULES.index)}
# dictionaries with keys from elsewhere: by the name under which they are read
NOT_TABLES = {
    *("looks", "attributes", "attrib", "properties", "options", "layouts"),
    *("rows", "counts"),
}
FIRST_ARGUMENT_NAMES = {"groupby", "sort_values"}
KEYWORD_NAMES = {"by", "columns", "subset"}


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
    return names.union(*GREAT_TABLES.values(), TABLES)


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def texts(node: ast.AST | None) -> list[str]:
    """Return the texts that a node writes out: one, or those of a list, tuple or set."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else []
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
            if any(last_name(target).upper().endswith("COLUMNS") for target in targets):
                names.update(texts(node.value))
    return names


def written_lists(path: Path) -> dict[str, list[str]]:
    """Return the texts of each list that has a name in the module."""
    found = defaultdict(list)
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            found[node.targets[0].id] += texts(node.value)
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


def reads(path: Path) -> Iterator[tuple[str, str, int]]:
    """Yield the name of the table, the name of the column and the line of each reading."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Load):
            for text in texts(node.slice):
                yield last_name(node.value), text, node.lineno
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            name, owner = node.func.attr, last_name(node.func.value)
            if name in FIRST_ARGUMENT_NAMES and node.args:
                for text in texts(node.args[0]):
                    yield owner, text, node.lineno
            for keyword in node.keywords:
                if keyword.arg in KEYWORD_NAMES and name in (*FIRST_ARGUMENT_NAMES, "drop"):
                    for text in texts(keyword.value):
                        yield owner, text, node.lineno
    for target, listed, inside in loops(path):
        for node in (found for part in inside for found in ast.walk(part)):
            if isinstance(node, ast.Subscript) and ast.dump(node.slice) == ast.dump(
                ast.Name(target.id, ast.Load())
            ):
                for text in listed:
                    yield last_name(node.value), text, node.lineno


def misspelled(path: Path) -> list[str]:
    """Return the columns that a module reads and nobody declared."""
    own = made(path)
    beside = set().union(*(made(other) for other in path.parent.glob("*.py")))
    wrong = []
    for table, column, line in reads(path):
        if table == "Literal" or table.isupper() or table in NOT_TABLES:
            continue
        known = GREAT_TABLES.get(table)
        allowed = (known | own) if known is not None else (every_declared() | beside)
        if column not in allowed:
            wrong.append(f"{path.relative_to(PACKAGE.parent)}:{line} {table}[{column!r}]")
    return wrong


@pytest.mark.parametrize(
    "path", [path for path in MODULES if path.parts[len(PACKAGE.parts)] in ROOMS], ids=module_name
)
def test_every_column_that_is_read_exists(path: Path) -> None:
    assert misspelled(path) == []
