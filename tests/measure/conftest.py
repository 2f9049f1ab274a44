"""The public formulas of the room, for the tests that speak of all of them."""

import importlib
import pkgutil
from types import FunctionType

import pytest

import xlhelpers.measure

# arrays holds no formula: it is how values come in and go out
NOT_FORMULAS = {"arrays"}


def public_functions():
    found = {}
    for module_info in pkgutil.iter_modules(xlhelpers.measure.__path__):
        module = importlib.import_module(f"xlhelpers.measure.{module_info.name}")
        for name in module.__all__:
            if isinstance(getattr(module, name), FunctionType):
                found[f"{module_info.name}.{name}"] = getattr(module, name)
    return found


@pytest.fixture
def public_formulas():
    return {
        name: function
        for name, function in public_functions().items()
        if name.partition(".")[0] not in NOT_FORMULAS
    }
