"""The rooms import one way, and nothing grows out of hand."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "xlhelpers"
ROOMS = ("measure", "fields", "survey", "package", "workbook", "commands", "excel")
LEVEL = {"errors": 0, "sources": 0, **{room: i + 1 for i, room in enumerate(ROOMS)}, "cli": 8}
MODULES = sorted(PACKAGE.rglob("*.py"))
GREATEST_MODULE, GREATEST_BODY, GREATEST_PARAMETERS = 400, 40, 6
# third-party packages that a room may import; numpy everywhere
ALLOWED = {
    "measure": set(),
    "fields": set(),
    "survey": {"pandas"},
    "package": {"lxml"},
    "workbook": {"pandas", "xlsxwriter"},
    "commands": {"pandas"},
    "excel": {"xlwings"},
}
OURS_AND_STANDARD = {"numpy", "xlhelpers"}


def module_name(path: Path) -> str:
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(name: str) -> str:
    parts = name.split(".")
    room = parts[1] if len(parts) > 1 else ""
    return "cli" if room.startswith("cli_") else room


def imports(path: Path) -> set[str]:
    found = set()
    names = {module_name(module) for module in MODULES}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            for alias in node.names:
                deeper = f"{node.module}.{alias.name}"
                found.add(deeper if deeper in names else str(node.module))
    return found


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_imports_point_to_the_left(path: Path) -> None:
    room = room_of(module_name(path))
    for imported in imports(path):
        if not imported.startswith("xlhelpers.") or room in ("", "cli", "__main__"):
            continue
        target = room_of(imported)
        assert LEVEL[target] <= LEVEL[room], f"{module_name(path)} imports {imported}"


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_only_the_packages_a_room_may_use(path: Path) -> None:
    import sys

    room = room_of(module_name(path))
    outside = {name.split(".")[0] for name in imports(path)}
    outside -= OURS_AND_STANDARD | set(sys.stdlib_module_names)
    assert outside <= ALLOWED.get(room, set()), f"{module_name(path)} imports {sorted(outside)}"


def test_no_cycles() -> None:
    graph = {
        module_name(path): {name for name in imports(path) if name.startswith("xlhelpers.")}
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


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_modules_and_bodies_stay_small(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert len(source.splitlines()) <= GREATEST_MODULE
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) and len(node.body) > 1 else node.body
            length = (body[-1].end_lineno or 0) - body[0].lineno + 1
            assert length <= GREATEST_BODY, f"{node.name} has {length} lines"
            arguments = [a for a in node.args.args if a.arg not in ("self", "cls")]
            count = len(arguments) + len(node.args.kwonlyargs)
            assert count <= GREATEST_PARAMETERS, f"{node.name} takes {count} parameters"


@pytest.mark.parametrize("path", MODULES, ids=module_name)
def test_each_module_says_what_it_holds(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
