"""Computers that are only described: files in a folder for tests, a registry as a dictionary."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from xlhelpers.doors.excel.doctor import PROGRAM, SECURITY
from xlhelpers.doors.excel.machine import Machine, System

ADD_IN = b"the add-in"
VERSIONS = {"python": "3.12.4", "xlhelpers": "1.0.0", "xlwings": "0.37.8", "numpy": "2.1.0"}
REGISTRY: dict[str, dict[str, object]] = {
    PROGRAM: {"": r"C:\Program Files\Microsoft Office\root\Office16\EXCEL.EXE"},
    SECURITY: {"AccessVBOM": 1},
}


def put(path: Path, content: bytes = b"x") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


def machine(folder: Path, system: System = "windows", **other: Any) -> Machine:
    """Return a computer on which everything is in order but nothing of ours installed."""
    add_in_folder = folder / "xlwings" / "addin"
    put(add_in_folder / "xlwings.xlam", ADD_IN)
    put(add_in_folder.parent / f"xlwings-{VERSIONS['xlwings']}.applescript", b"a script")
    registry: Mapping[str, Mapping[str, object]] = other.pop("registry", REGISTRY)
    facts: dict[str, Any] = {
        "system": system,
        "home": folder / "home",
        "environment": {"APPDATA": str(folder / "home" / "Roaming")},
        "python": put(folder / "Python312" / "python.exe"),
        "versions": VERSIONS,
        "registry": registry.get,
        "add_in_folder": add_in_folder,
        "book": put(folder / "survey" / "town.xlsx"),
    }
    return Machine(**(facts | other))
