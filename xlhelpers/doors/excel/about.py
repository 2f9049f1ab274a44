"""The page for IT support, with the places on this computer.

If Excel does not run here, the page shows the places on Windows and on a Mac.
"""

from collections.abc import Mapping
from dataclasses import replace
from importlib import resources
from pathlib import Path

from xlhelpers.doors.excel.machine import Machine

PAGE = "for_it_support.md"
NOT_HERE = "Excel does not run on this system. The places are those on Windows and on a Mac.\n\n"


def page(machine: Machine) -> str:
    """Return the page with the places of a computer."""
    text = resources.files("xlhelpers.doors.excel").joinpath(PAGE).read_text(encoding="utf-8")
    if machine.system == "linux":
        places = _elsewhere(machine)
        title, rest = text.split("\n\n", maxsplit=1)
        text = f"{title}\n\n{NOT_HERE}{rest}"
    else:
        places = {name: f"`{place}`" for name, place in _places(machine).items()}
    places["python"] = f"`{machine.python}`"
    for name, place in places.items():
        text = text.replace(f"{{{name}}}", place)
    return text


def _places(machine: Machine) -> Mapping[str, Path]:
    return {
        "add_in": machine.add_in,
        "settings": machine.settings_file,
        "ours": machine.our_folder,
        "script": machine.script_folder,
    }


def _elsewhere(machine: Machine) -> dict[str, str]:
    """Return the places on both systems, in each person's own folders."""
    windows = replace(
        machine,
        system="windows",
        home=Path("%USERPROFILE%"),
        environment={"APPDATA": "%APPDATA%"},
    )
    mac = _places(replace(machine, system="macos", home=Path("~")))
    places = {
        name: f"`{str(place).replace('/', chr(92))}` on Windows, `{mac[name]}` on a Mac"
        for name, place in _places(windows).items()
    }
    return places | {"script": f"`{mac['script']}`"}
