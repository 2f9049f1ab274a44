"""The rooms import one way, no job imports another, and every module says what it holds."""

import ast
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parent.parent / "xlhelpers"
# an import points downwards in this list
ROOMS = (
    "doors",
    "jobs",
    "template",
    "live",
    "reading",
    "pages",
    "estimates",
    "survey",
    "package",
    "fields",
    "measure",
    "wording",
    "sources",
    "errors",
)
MODULES = sorted(PACKAGE.rglob("*.py"))
MOST_SIDE_BY_SIDE = 30
# these say that something was done, and not what a name holds
BARE_PARTICIPLES = {"said", "told", "held", "found", "shown", "kept"}
# third-party packages that a room may import; numpy everywhere
ALLOWED = {
    "survey": {"pandas"},
    "estimates": {"pandas"},
    "package": {"lxml"},
    "pages": {"pandas", "xlsxwriter"},
    "reading": {"pandas"},
    "live": {"pandas", "xlsxwriter"},
    "template": {"pandas", "xlsxwriter"},
    "jobs": {"pandas", "xlsxwriter", "python_calamine"},
    # uno, unohelper and com are in the Python of LibreOffice
    "doors": {"olefile", "xlwings", "xlsxwriter", "uno", "unohelper", "com"},
}
OURS = {"numpy", "xlhelpers"}


def module_name(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


NAMES = {module_name(module) for module in MODULES}


def room_of(name: str) -> str:
    parts = name.split(".")
    return parts[1] if len(parts) > 1 else ""


def job_of(name: str) -> str:
    parts = name.split(".")
    return parts[2] if len(parts) > 3 and parts[1] == "jobs" else ""


@dataclass(frozen=True)
class Module:
    """What the tests look at in a module, read once."""

    imports: set[str]
    docstring: str | None
    lines: int
    bodies: dict[str, int]
    variables: set[str]


@cache
def read(path: Path) -> Module:
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    bodies = {
        node.name: (node.end_lineno or 0) - node.lineno + 1
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
    }
    variables = {
        node.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
    }
    lines = len(text.splitlines())
    return Module(find_imports(tree, path), ast.get_docstring(tree), lines, bodies, variables)


def find_imports(tree: ast.Module, path: Path) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            for alias in node.names:
                deeper = f"{node.module}.{alias.name}"
                found.add(deeper if deeper in NAMES else str(node.module))
    return found


def every_import() -> list[tuple[str, str]]:
    """Return each module with each of its imports."""
    return [(module_name(path), name) for path in MODULES for name in sorted(read(path).imports)]


def test_imports_point_downwards() -> None:
    inside = ((name, imported) for name, imported in every_import() if room_of(name) in ROOMS)
    assert not [
        f"{name} imports {imported}"
        for name, imported in inside
        if imported.startswith("xlhelpers.")
        and ROOMS.index(room_of(imported)) < ROOMS.index(room_of(name))
    ]


def test_no_job_imports_another() -> None:
    assert not [
        f"{name} imports {imported}"
        for name, imported in every_import()
        if job_of(name) and job_of(imported) not in ("", job_of(name))
    ]


def test_only_the_packages_a_room_may_use() -> None:
    free = OURS | set(sys.stdlib_module_names)
    assert not [
        f"{name} imports {imported}"
        for name, imported in every_import()
        if imported.split(".")[0] not in free | ALLOWED.get(room_of(name), set())
    ]


def test_no_cycles() -> None:
    graph = {
        module_name(path): {name for name in read(path).imports if name.startswith("xlhelpers.")}
        for path in MODULES
    }
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail, name))
        if name in done:
            return
        for target in graph.get(name, ()):
            visit(target, (*trail, name))
        done.add(name)

    for name in graph:
        visit(name, ())


def test_each_module_says_what_it_holds() -> None:
    assert not [module_name(path) for path in MODULES if not read(path).docstring]


def test_no_folder_holds_too_many_modules() -> None:
    for folder in {path.parent for path in MODULES}:
        modules = [path for path in folder.glob("*.py") if path.name != "__init__.py"]
        assert len(modules) <= MOST_SIDE_BY_SIDE, f"{folder.name} has {len(modules)} modules"


def test_functions_variables_and_fields_are_named_by_what_they_do_or_hold() -> None:
    names = {
        f"{module_name(path)}: {name}"
        for path in MODULES
        for name in read(path).variables | set(read(path).bodies)
        if name.strip("_") in BARE_PARTICIPLES
    }
    assert not names


def test_print_sizes() -> None:
    """No limit on sizes, but they are printed (with -s), the largest first."""
    lines = {module_name(path): read(path).lines for path in MODULES}
    bodies = {
        f"{module_name(path)}.{name}": size
        for path in MODULES
        for name, size in read(path).bodies.items()
    }
    print(f"{len(MODULES)} modules, {sum(lines.values()):,} lines")
    for table in (lines, bodies):
        for name, size in sorted(table.items(), key=lambda item: -item[1])[:10]:
            print(f"{size:6,}  {name}")
    assert lines
