"""Calls functions through xlwings' own engine, one process a route.

    python tests/doors/excel/engine.py ROUTE MODULE

ROUTE is "inside" for the runtime in the spreadsheet or "classic" for the one on Windows, whose
Windows modules are stood in for. A list of [function, arguments] comes in as JSON and the answers
go out as JSON. An error cell is written {"error": "#N/A"} and becomes what the route hands over.
The classic route prints the texts cut as it would show them, the other its metadata, where the
name of the function is "".
"""

import asyncio
import json
import os
import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any
from unittest.mock import MagicMock

ROOT = Path(__file__).parents[3]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

WINDOWS_MODULES = (
    "pythoncom",
    "pywintypes",
    "win32api",
    "win32con",
    "win32gui",
    "win32process",
    "win32timezone",
    "win32com",
    "win32com.client",
)


# What Windows hands over for a cell that holds an error; xlwings does not know the last.
CODES = {"#N/A": -2146826246, "#DIV/0!": -2146826281, "#SPILL!": -2146826245}


class Inside:
    """The runtime inside the spreadsheet."""

    def __init__(self, module: str) -> None:
        os.environ |= {"XLWINGS_ON_SERVER": "true", "XLWINGS_LICENSE_KEY": "noncommercial"}
        # the runtime's own module; without it every cell would wait for an import that fails
        runtime = ModuleType("pyodide.ffi")
        runtime.JsNull = type("JsNull", (), {})  # type: ignore[attr-defined]
        sys.modules |= {"pyodide": ModuleType("pyodide"), "pyodide.ffi": runtime}
        self.server: Any = import_module("xlwings.server")
        self.version = import_module("xlwings").__version__
        self.name = module
        self.module = import_module(module)

    def cell(self, value: Any) -> Any:
        if isinstance(value, dict):
            return {"type": "Error", "basicValue": value["error"]}
        return "" if value is None else value

    def call(self, function: str, arguments: list[Any]) -> Any:
        data = {
            "func_name": function,
            "args": arguments,
            "version": self.version,
            "client": "Office.js",
            "runtime": "1.4",
            "date_format": None,
        }
        return asyncio.run(self.server.custom_functions_call(data, self.module))

    def described(self) -> Any:
        return self.server.custom_functions_meta(self.module)


class Classic:
    """The classic route, with stand-ins for the modules that only Windows has."""

    MISSING = -2147352572

    def __init__(self, module: str) -> None:
        import ctypes

        for name in ("windll", "oledll", "PyDLL"):
            setattr(ctypes, name, MagicMock())
        for name in WINDOWS_MODULES:
            sys.modules[name] = MagicMock(name=name, __file__=name)
        # these are asked whether a value is one of them, so they must be classes
        sys.modules["pywintypes"].TimeType = type("TimeType", (), {})  # type: ignore[attr-defined]
        for name in ("CDispatch", "CoClassBaseClass", "DispatchBaseClass"):
            setattr(sys.modules["win32com.client"], name, type(name, (), {}))
        server = ModuleType("xlwings.com_server")
        server.loop = None  # type: ignore[attr-defined]
        sys.modules["xlwings.com_server"] = server
        xlwings: Any = import_module("xlwings")
        xlwings._xlwindows = import_module("xlwings._xlwindows")
        engine = xlwings.Engine(impl=xlwings._xlwindows.engine)
        xlwings.engines.add(engine)
        xlwings.engines.active = engine
        self.udfs: Any = import_module("xlwings.udfs")
        xlwings.func, xlwings.arg, xlwings.ret = (
            self.udfs.xlfunc,
            self.udfs.xlarg,
            self.udfs.xlret,
        )
        self.name = module
        self.module = import_module(module)

    def cell(self, value: Any) -> Any:
        if isinstance(value, dict):
            return CODES[value["error"]]
        # every number of a cell comes as a float here
        return float(value) if type(value) is int else value

    def call(self, function: str, arguments: list[Any]) -> Any:
        sent = len(getattr(self.module, function).__xlfunc__["args"])
        missing = [self.MISSING] * (sent - len(arguments))
        given = [tuple(map(tuple, a)) if isinstance(a, list) else a for a in arguments]
        return self.udfs.call_udf(self.name, function, given + missing)

    def described(self) -> Any:
        found = {}
        for value in vars(self.module).values():
            if hasattr(value, "__xlfunc__"):
                about = value.__xlfunc__
                texts = {a["name"]: a["doc"] for a in about["args"]}
                found[about["name"]] = [about["ret"]["doc"], about["category"], texts]
        lines: list[str] = []
        self.udfs.generate_vba_wrapper(
            self.name,
            self.module,
            MagicMock(write=lambda text: lines.append(text)),
            MagicMock(Name="trees.xlsm"),
        )
        return {"functions": found, "code": "".join(lines)}


ROUTES: dict[str, type[Inside] | type[Classic]] = {"inside": Inside, "classic": Classic}


def handed_over(route: Inside | Classic, argument: Any) -> Any:
    """Return an argument as the route hands it over."""
    if isinstance(argument, list):
        return [[route.cell(value) for value in row] for row in argument]
    return route.cell(argument)


def main() -> None:
    """Answer every call that comes in."""
    route = ROUTES[sys.argv[1]](sys.argv[2])
    answers = []
    for function, arguments in json.load(sys.stdin):
        if not function:
            answers.append(route.described())
            continue
        given = [handed_over(route, argument) for argument in arguments]
        answers.append(route.call(function, given))
    print(json.dumps(answers))


if __name__ == "__main__":
    main()
