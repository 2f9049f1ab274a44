"""The page for the person who looks after the computers, with the places on this machine."""

from importlib import resources

from xlhelpers.excel.machine import Machine

PAGE = "for_the_computer_person.md"


def page(machine: Machine) -> str:
    """Return the page with the places of a machine filled in."""
    text = resources.files("xlhelpers.excel").joinpath(PAGE).read_text(encoding="utf-8")
    places = {
        "python": machine.python,
        "add_in": machine.add_in,
        "settings": machine.settings_file,
        "ours": machine.our_folder,
        "script": machine.script_folder,
    }
    for name, place in places.items():
        text = text.replace(f"{{{name}}}", f"`{place}`")
    return text
