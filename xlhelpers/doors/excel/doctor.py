"""The troubles that people meet when they set up Python in Excel, and the look for them.

A check looks at the record of a machine and nowhere else, and changes nothing.
"""

import re
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from xlhelpers.doors.excel.machine import Machine, System, conda_place, listing, read
from xlhelpers.doors.excel.setup import MODULE, MODULES, parsed, read_record

WINDOWS: frozenset[System] = frozenset(("windows",))
MACOS: frozenset[System] = frozenset(("macos",))
DESKTOP: frozenset[System] = WINDOWS | MACOS
EVERYWHERE: frozenset[System] = DESKTOP | {"linux"}
OLDEST_XLWINGS = (0, 33)
SECURITY = r"HKCU\Software\Microsoft\Office\16.0\Excel\Security"
POLICY = r"HKCU\Software\Policies\Microsoft\Office\16.0\Excel\Security"
DISABLED = r"HKCU\Software\Microsoft\Office\16.0\Excel\Resiliency\DisabledItems"
PROGRAM = r"HKLM\SOFTWARE\Microsoft\Windows\CurrentVersion\App Paths\excel.exe"
CLOUD_FOLDERS = ("OneDrive", "OneDriveCommercial", "OneDriveConsumer")
# modules that the program needs and that a file of the same name would hide
NEEDED = {"numpy", "pandas", "xlwings", "xlhelpers", "lxml", "xlsxwriter", "python_calamine"}


@dataclass(frozen=True)
class Verdict:
    """What came of a check; `found` says what was seen."""

    state: Literal["fine", "look", "unseen"]
    found: str = ""


@dataclass(frozen=True)
class Check:
    """One trouble: its name, what is looked for, what to do, where it may occur, how to look."""

    name: str
    looks_for: str
    action: str
    systems: frozenset[System]
    look: Callable[[Machine], Verdict]


def _verdict(trouble: str, fine: str = "") -> Verdict:
    return Verdict("look", trouble) if trouble else Verdict("fine", fine)


def _system(machine: Machine) -> Verdict:
    return _verdict("" if machine.system != "linux" else "Excel does not run on this system")


def _python(machine: Machine) -> Verdict:
    text = machine.versions["python"]
    numbers = tuple(int(part) for part in text.split(".")[:2])
    return _verdict("" if numbers >= (3, 11) else f"Python {text}", f"Python {text}")


def _xlwings(machine: Machine) -> Verdict:
    text = machine.versions.get("xlwings", "")
    if not text:
        return Verdict("look", "it is not installed")
    numbers = tuple(int(part) for part in re.findall(r"[0-9]+", text)[:2])
    return _verdict("" if numbers >= OLDEST_XLWINGS else f"version {text}", f"version {text}")


def _settings(machine: Machine) -> dict[str, str]:
    return parsed((read(machine.settings_file) or b"").decode("utf-8", "replace"))


def _interpreter(machine: Machine) -> Verdict:
    held = _settings(machine)
    if held.get("CONDA PATH"):
        return Verdict("fine", "Conda is set instead")
    key = "INTERPRETER_MAC" if machine.system == "macos" else "INTERPRETER_WIN"
    named = held.get(key, "") or held.get("INTERPRETER", "")
    if not named:
        return Verdict("look", f"no Python is set in {machine.settings_file}")
    if Path(named) == machine.python:
        return Verdict("fine", named)
    if read(Path(named)) is None:
        return Verdict("look", f"{named} no longer exists")
    return Verdict("look", f"it is {named}, but xlhelpers is installed in {machine.python}")


def _add_in(machine: Machine) -> Verdict:
    placed, source = read(machine.add_in), read(machine.add_in_source)
    if placed is None:
        return Verdict("look", f"{machine.add_in} is missing")
    if source is not None and placed != source:
        version = machine.versions.get("xlwings", "as installed")
        return Verdict("look", f"{machine.add_in} is not from xlwings {version}")
    return Verdict("fine", str(machine.add_in))


def _modules(machine: Machine) -> Verdict:
    named = _settings(machine).get(MODULES, "")
    return _verdict("" if MODULE in named.split(";") else f"{MODULE} is missing under {MODULES}")


def _upgraded(machine: Machine) -> Verdict:
    before = read_record(machine).versions
    if not before:
        return Verdict("unseen", "xlhelpers excel install has not been run")
    changed = [
        f"{name} {before[name]} is now {machine.versions.get(name, 'missing')}"
        for name in ("xlhelpers", "xlwings")
        if name in before and before[name] != machine.versions.get(name)
    ]
    return _verdict(", ".join(changed))


def _store_python(machine: Machine) -> Verdict:
    held = _settings(machine)
    places = [str(machine.python), held.get("INTERPRETER_WIN", "")]
    return _verdict(next((place for place in places if "windowsapps" in place.casefold()), ""))


def _excel(machine: Machine) -> str:
    values = machine.registry(PROGRAM) or {}
    return str(values.get("", ""))


def _program(machine: Machine) -> Verdict:
    place = _excel(machine)
    return _verdict("" if place else "Windows does not know where excel.exe is", place)


def _store_office(machine: Machine) -> Verdict:
    place = _excel(machine)
    return _verdict(place if "windowsapps" in place.casefold() else "")


def _trust(machine: Machine) -> Verdict:
    ordered = (machine.registry(POLICY) or {}).get("AccessVBOM")
    chosen = (machine.registry(SECURITY) or {}).get("AccessVBOM")
    if ordered is not None:
        return _verdict("" if ordered == 1 else "it is switched off by a policy")
    return _verdict("" if chosen == 1 else "it is switched off")


def _policy(machine: Machine) -> Verdict:
    values = machine.registry(POLICY) or {}
    troubles = {
        "all macros are switched off": values.get("VBAWarnings") == 4,
        "only signed macros may run": values.get("VBAWarnings") == 3,
        "all add-ins are switched off": values.get("DisableAllAddins") == 1,
        "add-ins must be signed": values.get("RequireAddinSig") == 1,
    }
    return _verdict("; ".join(text for text, is_so in troubles.items() if is_so))


def _disabled(machine: Machine) -> Verdict:
    # the entries are not readable texts: that there are some is all that is seen
    count = len(machine.registry(DISABLED) or {})
    return _verdict(f"Excel lists {count} switched off" if count else "")


def _mark(machine: Machine) -> Verdict:
    marked = []
    for path in (machine.add_in, machine.book):
        if path is None:
            continue
        mark = read(path.with_name(f"{path.name}:Zone.Identifier")) or b""
        zone = re.search(rb"ZoneId=([0-9])", mark)
        if zone is not None and zone[1] in (b"3", b"4"):
            marked.append(str(path))
    return _verdict(", ".join(marked))


def _cloud(machine: Machine) -> Verdict:
    if machine.book is None:
        return Verdict("unseen", "no workbook was named")
    if machine.system == "macos":
        inside = "CloudStorage" in machine.book.parts
        return _verdict(str(machine.book) if inside else "")
    roots = [machine.environment[key] for key in CLOUD_FOLDERS if machine.environment.get(key)]
    inside = any(machine.book.is_relative_to(root) for root in roots)
    inside = inside or any(part.startswith("OneDrive") for part in machine.book.parts)
    return _verdict(str(machine.book) if inside else "")


def _conda(machine: Machine) -> Verdict:
    place = conda_place(machine)
    if place is None:
        return Verdict("fine", "this Python is not from Conda")
    held = _settings(machine)
    named = (held.get("CONDA PATH", ""), held.get("CONDA ENV", ""))
    return _verdict("" if named == place else f"Conda in {place[0]}, environment {place[1]}")


def _script(machine: Machine) -> Verdict:
    here = listing(machine.script_folder)
    if machine.script_name in here:
        return Verdict("fine", machine.script_name)
    return Verdict("look", f"{machine.script_name} is not in {machine.script_folder}")


def _automation(machine: Machine) -> Verdict:
    return Verdict("unseen", "macOS does not tell programs what they may do")


def _stray(machine: Machine) -> Verdict:
    if machine.book is None:
        return Verdict("unseen", "no workbook was named")
    hiding = set(sys.stdlib_module_names) | NEEDED
    names = [
        name
        for name in listing(machine.book.parent)
        if name.removesuffix(".py").removesuffix(".pyd") in hiding
        and (name.endswith((".py", ".pyd")) or listing(machine.book.parent / name))
    ]
    return _verdict(", ".join(names))


CHECKS: tuple[Check, ...] = (
    Check(
        "System",
        "a system on which Excel runs",
        "Use the formulas of the workbook and xlhelpers fill. Both work without Excel.",
        EVERYWHERE,
        _system,
    ),
    Check(
        "Excel",
        "the place of Excel that Windows knows",
        "Install Excel for the desktop, or repair it under Settings > Apps.",
        WINDOWS,
        _program,
    ),
    Check(
        "Python",
        "Python 3.11 or later",
        "Install a newer Python from python.org, and xlhelpers in it. Then run: xlhelpers excel "
        "install",
        DESKTOP,
        _python,
    ),
    Check(
        "xlwings",
        "the package xlwings, version 0.33 or later",
        'Run: python -m pip install --upgrade "xlhelpers[excel]"',
        DESKTOP,
        _xlwings,
    ),
    Check(
        "Python that xlwings starts",
        "the interpreter in the settings of xlwings",
        "Run: xlhelpers excel install, with the Python in which xlhelpers is installed.",
        DESKTOP,
        _interpreter,
    ),
    Check(
        "Add-in",
        "the add-in in the start-up folder, of the same version as the package",
        "Close Excel. Then run: xlhelpers excel install",
        DESKTOP,
        _add_in,
    ),
    Check(
        "Functions",
        "the functions of xlhelpers in the settings of xlwings",
        "Run: xlhelpers excel install",
        WINDOWS,
        _modules,
    ),
    Check(
        "After an update",
        "versions that changed since the functions were set up",
        "Run: xlhelpers excel install. Then press Import Functions again in each workbook that "
        "uses the functions.",
        DESKTOP,
        _upgraded,
    ),
    Check(
        "Python from the Store",
        "a Python that was installed from the Microsoft Store",
        "Install Python from python.org instead. Excel does not always start the one from the "
        "Store.",
        WINDOWS,
        _store_python,
    ),
    Check(
        "Office from the Store",
        "an Office that was installed from the Microsoft Store",
        "Remove it and install Office from your Microsoft account page. The one from the Store "
        "cannot reach Python.",
        WINDOWS,
        _store_office,
    ),
    Check(
        "Access to macros",
        "“Trust access to the VBA project object model”",
        "Only needed for Import Functions. Ask IT support to switch it on under File > Options > "
        "Trust Center > Trust Center Settings > Macro Settings. Switch it off again afterwards.",
        WINDOWS,
        _trust,
    ),
    Check(
        "Policy",
        "policies that switch macros or add-ins off",
        "Ask IT support to allow the add-in's folder as a trusted location. Until then use "
        "xlhelpers fill.",
        WINDOWS,
        _policy,
    ),
    Check(
        "Add-ins switched off",
        "add-ins that Excel switched off after a crash",
        "Open File > Options > Add-ins, Manage: Disabled Items. If xlwings is listed, enable it.",
        WINDOWS,
        _disabled,
    ),
    Check(
        "Mark of the web",
        "the mark that Windows puts on files that came from the internet",
        "If you know where the file came from: right-click it, open Properties and choose Unblock.",
        WINDOWS,
        _mark,
    ),
    Check(
        "OneDrive",
        "a workbook in a folder that is kept in the cloud",
        "Keep the workbook in a folder on this computer while it is filled. Or close it and use "
        "xlhelpers fill.",
        DESKTOP,
        _cloud,
    ),
    Check(
        "Conda",
        "a Python from Conda without its environment in the settings",
        "Activate that environment. Then run: xlhelpers excel install",
        WINDOWS,
        _conda,
    ),
    Check(
        "Script for macros",
        "the script through which Excel on a Mac starts Python",
        "Run: xlhelpers excel install",
        MACOS,
        _script,
    ),
    Check(
        "Permission to control Excel",
        "the permission of macOS to control Excel",
        "Open System Settings > Privacy & Security > Automation. Allow it for the program that "
        "starts Python. If nothing is listed there, fill once and answer the question.",
        MACOS,
        _automation,
    ),
    Check(
        "Stray modules",
        "files in the workbook's folder that hide modules of Python, such as struct.py",
        "Move or rename them. Python reads the workbook's folder first.",
        DESKTOP,
        _stray,
    ),
)
NOT_TRIED = {"windows": "not tried on Windows", "macos": "not tried on macOS"}
_HEADS = {"look": "CHECK", "fine": "fine", "unseen": "cannot be seen"}


@dataclass(frozen=True)
class Looked:
    """One check and what came of it."""

    check: Check
    verdict: Verdict


def examine(machine: Machine, checks: Iterable[Check] = CHECKS) -> list[Looked]:
    """Make every check that belongs to the system; one that fails is told and stops no other."""
    found = []
    for check in checks:
        if machine.system not in check.systems:
            continue
        try:
            verdict = check.look(machine)
        except Exception as error:  # a doctor that stumbles helps nobody
            verdict = Verdict("unseen", f"the check itself failed: {error}")
        found.append(Looked(check, verdict))
    return found


def say(machine: Machine, looked: Iterable[Looked]) -> list[str]:
    """Return one paragraph for each check, those to look at first."""
    order = list(_HEADS)
    ranked = sorted(looked, key=lambda one: order.index(one.verdict.state))
    tried = NOT_TRIED.get(machine.system)
    said = []
    for one in ranked:
        seen = f": {one.verdict.found}" if one.verdict.found else ""
        line = f"{_HEADS[one.verdict.state]:<15} {one.check.name}{seen}"
        if one.verdict.state != "fine":
            line += f"\n{'':<16}Do: {one.check.action}"
        said.append(line)
    count = sum(one.verdict.state == "look" for one in ranked)
    summary = f"{count} of {len(ranked)} to check." if count else "Nothing to check."
    return [*said, f"{summary}{f' These checks were {tried}.' if tried else ''}"]
