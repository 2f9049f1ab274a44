"""What holds for every module of the room: public names, docstrings, imports, examples."""

import ast
import doctest
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import xlhelpers.measure
from xlhelpers.sources import SOURCES

FOLDER = Path(xlhelpers.measure.__file__).parent
MODULES = sorted(info.name for info in pkgutil.iter_modules(xlhelpers.measure.__path__))
NOT_IN_SOURCES = ("Definition:",)
PUBLIC = {
    "heights": {
        "from_percent": ["top", "foot", "distance"],
        "from_degrees": ["top", "foot", "distance"],
        "from_topographic": ["top", "foot", "distance"],
        "from_fixed_distance_scale": ["top", "foot", "distance", "scale_distance"],
        "from_slant_distances": ["top_distance", "top_angle", "foot_distance", "foot_angle"],
        "from_stick": ["stick_length", "arm_length", "distance"],
        "from_two_stations": ["near_angle", "far_angle", "spacing"],
        "level_distance": ["slope_distance", "angle"],
    },
    "crowns": {
        "depth": ["crown_top", "crown_base"],
        "ratio": ["crown_top", "crown_base", "total_height"],
        "mean_width": ["width_1", "width_2"],
        "projection_area": ["width_1", "width_2"],
        "volume": ["shape", "width", "depth"],
        "leaf_area": ["depth", "width", "shading"],
    },
    "stems": {
        "combined_diameter": ["diameters"],
        "basal_area": ["diameter"],
        "quadratic_mean_diameter": ["diameters"],
    },
    "uncertainty": {
        "height_from_angles": ["distance", "top_angle", "foot_angle", "u_distance", "u_angle"]
    },
}


def functions():
    found = []
    for module_name in MODULES:
        module = importlib.import_module(f"xlhelpers.measure.{module_name}")
        for name in module.__all__:
            value = getattr(module, name)
            if inspect.isfunction(value):
                found.append(pytest.param(value, id=f"{module_name}.{name}"))
    return found


def sections(function):
    """Sections of a numpy docstring: heading to the lines below it."""
    lines = inspect.getdoc(function).splitlines()
    starts = [i for i, line in enumerate(lines[1:]) if line and set(line) == {"-"}]
    ends = [*starts[1:], len(lines)]
    return {lines[start]: lines[start + 2 : end] for start, end in zip(starts, ends, strict=True)}


def parameter_names(lines):
    heads = [line for line in lines if line and not line.startswith(" ") and " : " in line]
    return [name.lstrip("*") for head in heads for name in head.split(" : ")[0].split(", ")]


@pytest.mark.parametrize("module_name", PUBLIC)
def test_promised_names_have_their_parameters(module_name):
    module = importlib.import_module(f"xlhelpers.measure.{module_name}")
    for name, parameters in PUBLIC[module_name].items():
        assert name in module.__all__
        assert list(inspect.signature(getattr(module, name)).parameters) == parameters


def test_list_of_heights_is_exactly_the_promised_one():
    from xlhelpers.measure import heights

    assert set(heights.__all__) == set(PUBLIC["heights"])


def test_room_docstring_names_every_module():
    listed = re.findall(r"^    (\w+)\s{2,}", xlhelpers.measure.__doc__, flags=re.M)
    assert sorted(listed) == MODULES


@pytest.mark.parametrize("function", functions())
def test_docstring_agrees_with_the_signature(function):
    found = sections(function)
    assert sorted(parameter_names(found["Parameters"])) == sorted(
        inspect.signature(function).parameters
    )
    assert len(inspect.signature(function).parameters) <= 6
    assert found["Returns"]
    text = " ".join(found["Parameters"])
    assert text.count("[") >= len([line for line in found["Parameters"] if " : " in line])


@pytest.mark.parametrize(
    "function", [case for case in functions() if not case.id.startswith("arrays.")]
)
def test_docstring_cites_sources_that_exist(function):
    cited = [line for line in sections(function)["References"] if line.strip()]
    assert cited
    for line in cited:
        assert line.startswith(NOT_IN_SOURCES) or re.match(r"\w+", line)[0] in SOURCES, line
    for key in re.findall(r"\b[A-Z][A-Za-z]+(?:Undated|\d{4})\b", function.__doc__):
        assert key in SOURCES


@pytest.mark.parametrize("module_name", MODULES)
def test_imports_are_numpy_errors_sources_and_the_room(module_name):
    tree = ast.parse((FOLDER / f"{module_name}.py").read_text(encoding="utf-8"))
    imported = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            imported |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0
            imported.add(node.module)
    ours = {name for name in imported if name.startswith("xlhelpers")}
    allowed = ("xlhelpers.measure", "xlhelpers.errors", "xlhelpers.sources")
    assert all(name.startswith(allowed) for name in ours), ours
    others = {name.partition(".")[0] for name in imported - ours}
    assert others <= {"numpy", "collections", "dataclasses", "types", "typing"}


@pytest.mark.parametrize("module_name", MODULES)
def test_examples_run(module_name):
    module = importlib.import_module(f"xlhelpers.measure.{module_name}")
    assert doctest.testmod(module).failed == 0


def test_sources_are_complete_records():
    for key, source in SOURCES.items():
        assert key == source.key
        assert source.citation.strip()
        assert re.search(r"\d{4}$|Undated$|FromMemory$", key) or key == "Identity"
