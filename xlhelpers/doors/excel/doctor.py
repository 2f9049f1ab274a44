"""Look for the known problems of setting up Python in Excel.

A check looks only at the record of a machine and changes nothing.
"""

import re
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from xlhelpers.doors.excel.machine import Machine, System, conda_place, listing, read
from xlhelpers.doors.excel.setup import (
    MACRO,
    MODULE,
    MODULES,
    OLD_MODULE,
    OWN_FOLDER,
    macro_text,
    parse_settings,
    read_record,
)
from xlhelpers.doors.excel.vba_project import has_reference
from xlhelpers.wording import plural

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
# modules of the program that a file of the same name would hide
NEEDED = {"numpy", "pandas", "xlwings", "xlhelpers", "lxml", "xlsxwriter", "python_calamine"}


@dataclass(frozen=True)
class Verdict:
    """The result of a check; `detail` says what was seen."""

    state: Literal["fine", "look", "unseen"]
    detail: str = ""


@dataclass(frozen=True)
class Check:
    """One problem: its name, what to look for, what to do, where it can occur, how to look."""

    name: str
    looks_for: str
    action: str
    systems: frozenset[System]
    look: Callable[[Machine], Verdict]


def _judge(problem: str, fine: str = "") -> Verdict:
    return Verdict("look", problem) if problem else Verdict("fine", fine)


def _system(machine: Machine) -> Verdict:
    return _judge("" if machine.system != "linux" else "Excel does not run on this system")


def _python(machine: Machine) -> Verdict:
    text = machine.versions["python"]
    numbers = tuple(int(part) for part in text.split(".")[:2])
    return _judge("" if numbers >= (3, 11) else f"Python {text}", f"Python {text}")


def _xlwings(machine: Machine) -> Verdict:
    text = machine.versions.get("xlwings", "")
    if not text:
        return Verdict("look", "it is not installed")
    numbers = tuple(int(part) for part in re.findall(r"[0-9]+", text)[:2])
    return _judge("" if numbers >= OLDEST_XLWINGS else f"version {text}", f"version {text}")


def _settings(machine: Machine) -> dict[str, str]:
    return parse_settings((read(machine.settings_file) or b"").decode("utf-8", "replace"))


def _interpreter(machine: Machine) -> Verdict:
    settings = _settings(machine)
    if settings.get("CONDA PATH"):
        return Verdict("fine", "Conda is named instead")
    key = "INTERPRETER_MAC" if machine.system == "macos" else "INTERPRETER_WIN"
    named = settings.get(key, "") or settings.get("INTERPRETER", "")
    if not named:
        return Verdict("look", f"{machine.settings_file} names no Python")
    if Path(named) == machine.python:
        return Verdict("fine", named)
    if read(Path(named)) is None:
        return Verdict("look", f"{named} no longer exists")
    return Verdict("look", f"it names {named}, but xlhelpers is installed in {machine.python}")


def _add_in(machine: Machine) -> Verdict:
    placed, source = read(machine.add_in), read(machine.add_in_source)
    if placed is None:
        return Verdict("look", f"{machine.add_in} is not there")
    if source is not None and placed != source:
        version = machine.versions.get("xlwings", "the installed one")
        return Verdict(
            "look", f"{machine.add_in} is from another version of xlwings, not {version}"
        )
    return Verdict("fine", str(machine.add_in))


def _modules(machine: Machine) -> Verdict:
    names = _settings(machine).get(MODULES, "").split(";")
    if OLD_MODULE in names:
        return Verdict("look", f"{MODULES} names {OLD_MODULE}, from an earlier version")
    return _judge("" if MODULE in names else f"{MODULES} does not name {MODULE}")


def _macro(machine: Machine) -> Verdict:
    path = machine.our_folder / MACRO
    content = read(path)
    if content is None:
        return Verdict("look", f"{path} is not there")
    return _judge(
        "" if content == macro_text() else f"{path} is from an earlier version", str(path)
    )


def _update(machine: Machine) -> Verdict:
    before = read_record(machine).versions
    if not before:
        return Verdict("unseen", "xlhelpers excel install was never run")
    changed = [
        f"{name} {before[name]} is now {machine.versions.get(name, 'missing')}"
        for name in ("xlhelpers", "xlwings")
        if name in before and before[name] != machine.versions.get(name)
    ]
    return _judge(", ".join(changed))


def _store_python(machine: Machine) -> Verdict:
    settings = _settings(machine)
    places = [str(machine.python), settings.get("INTERPRETER_WIN", "")]
    return _judge(next((place for place in places if "windowsapps" in place.casefold()), ""))


def _excel(machine: Machine) -> str:
    values = machine.registry(PROGRAM) or {}
    return str(values.get("", ""))


def _program(machine: Machine) -> Verdict:
    place = _excel(machine)
    return _judge("" if place else "Windows does not know where excel.exe is", place)


def _store_office(machine: Machine) -> Verdict:
    place = _excel(machine)
    return _judge(place if "windowsapps" in place.casefold() else "")


def _trust(machine: Machine) -> Verdict:
    ordered = (machine.registry(POLICY) or {}).get("AccessVBOM")
    chosen = (machine.registry(SECURITY) or {}).get("AccessVBOM")
    if ordered is not None:
        return _judge("" if ordered == 1 else "it is switched off by a policy")
    return _judge("" if chosen == 1 else "it is switched off")


def _policy(machine: Machine) -> Verdict:
    values = machine.registry(POLICY) or {}
    problems = {
        "all macros are switched off": values.get("VBAWarnings") == 4,
        "only signed macros may run": values.get("VBAWarnings") == 3,
        "all add-ins are switched off": values.get("DisableAllAddins") == 1,
        "add-ins must be signed": values.get("RequireAddinSig") == 1,
    }
    return _judge(", ".join(text for text, is_so in problems.items() if is_so))


def _disabled_items(machine: Machine) -> Verdict:
    # the entries are not readable, so they can only be counted
    count = len(machine.registry(DISABLED) or {})
    return _judge(f"Excel has {count} entries on its list of disabled items" if count else "")


def _mark(machine: Machine) -> Verdict:
    marked = []
    for path in (machine.add_in, machine.book):
        if path is None:
            continue
        mark = read(path.with_name(f"{path.name}:Zone.Identifier")) or b""
        zone = re.search(rb"ZoneId=([0-9])", mark)
        if zone is not None and zone[1] in (b"3", b"4"):
            marked.append(str(path))
    return _judge(", ".join(marked))


def _cloud(machine: Machine) -> Verdict:
    if machine.book is None:
        return Verdict("unseen", "no workbook was named")
    if machine.system == "macos":
        inside = "CloudStorage" in machine.book.parts
        return _judge(str(machine.book) if inside else "")
    roots = [machine.environment[key] for key in CLOUD_FOLDERS if machine.environment.get(key)]
    inside = any(machine.book.is_relative_to(root) for root in roots)
    inside = inside or any(part.startswith("OneDrive") for part in machine.book.parts)
    return _judge(str(machine.book) if inside else "")


def _conda(machine: Machine) -> Verdict:
    place = conda_place(machine)
    if place is None:
        return Verdict("fine", "this Python is not from Conda")
    settings = _settings(machine)
    named = (settings.get("CONDA PATH", ""), settings.get("CONDA ENV", ""))
    return _judge("" if named == place else f"Conda in {place[0]}, environment {place[1]}")


def _script(machine: Machine) -> Verdict:
    here = listing(machine.script_folder)
    if machine.script_name in here:
        return Verdict("fine", machine.script_name)
    return Verdict("look", f"{machine.script_name} is not in {machine.script_folder}")


def _automation(machine: Machine) -> Verdict:
    return Verdict("unseen", "macOS does not show permissions to programs")


def _reference(machine: Machine) -> Verdict:
    if machine.book is None:
        return Verdict("unseen", "no workbook was named")
    there = has_reference(machine.book, "xlwings")
    if there is None:
        return Verdict("unseen", f"{machine.book.name} has no macros that can be read")
    return _judge("" if there else f"{machine.book.name} has no reference to xlwings")


def _stray(machine: Machine) -> Verdict:
    if _settings(machine).get(OWN_FOLDER, "").casefold() == "false":
        return Verdict("fine", "Python does not look into the folder of the workbook")
    if machine.book is None:
        return Verdict("unseen", "no workbook was named")
    hiding = set(sys.stdlib_module_names) | NEEDED
    names = [
        name
        for name in listing(machine.book.parent)
        if name.removesuffix(".py").removesuffix(".pyd") in hiding
        and (name.endswith((".py", ".pyd")) or listing(machine.book.parent / name))
    ]
    return _judge(", ".join(names))


CHECKS: tuple[Check, ...] = (
    Check(
        "System",
        "a system on which Excel runs",
        "use xlhelpers fill and the formulas of the workbook. Both work without Excel.",
        EVERYWHERE,
        _system,
    ),
    Check(
        "Excel",
        "where Excel is, as Windows knows it",
        "install Excel for the desktop, or repair it under Settings > Apps.",
        WINDOWS,
        _program,
    ),
    Check(
        "Python",
        "Python 3.11 or later",
        "install a newer Python from python.org, and xlhelpers in it. Then run: xlhelpers excel "
        "install",
        DESKTOP,
        _python,
    ),
    Check(
        "xlwings",
        "the package xlwings, version 0.33 or later",
        'run: python -m pip install --upgrade "xlhelpers[excel]"',
        DESKTOP,
        _xlwings,
    ),
    Check(
        "Python that xlwings starts",
        "the interpreter in the settings of xlwings",
        "run xlhelpers excel install with the Python that has xlhelpers.",
        DESKTOP,
        _interpreter,
    ),
    Check(
        "Add-in",
        "the add-in in the start-up folder, of the same version as the package",
        "close Excel and run: xlhelpers excel install",
        DESKTOP,
        _add_in,
    ),
    Check(
        "Functions",
        "our functions in the settings of xlwings",
        "run again: xlhelpers excel install",
        WINDOWS,
        _modules,
    ),
    Check(
        "Reference to xlwings",
        "the reference to the add-in, which imported functions need, in the workbook with them",
        "in the macro editor (Alt+F11) choose Tools > References and tick xlwings.",
        WINDOWS,
        _reference,
    ),
    Check(
        "Macro",
        "the macro file of this version",
        "run xlhelpers excel install again. Then import the macro again in place of the old one.",
        DESKTOP,
        _macro,
    ),
    Check(
        "After an update",
        "versions that changed since the functions were set up",
        "run xlhelpers excel install. Then press Import Functions again in each workbook that "
        "uses the functions.",
        DESKTOP,
        _update,
    ),
    Check(
        "Python from the Store",
        "a Python that was installed from the Microsoft Store",
        "install Python from python.org instead. Excel cannot start the Store version reliably.",
        WINDOWS,
        _store_python,
    ),
    Check(
        "Office from the Store",
        "an Office that was installed from the Microsoft Store",
        "remove it and install Office from your Microsoft account page. The one from the Store "
        "is closed off from Python.",
        WINDOWS,
        _store_office,
    ),
    Check(
        "Access to macros",
        "“Trust access to the VBA project object model”",
        "ask IT support to switch it on while you press Import Functions, then off again: "
        "File > Options > Trust Center > Trust Center Settings > Macro Settings.",
        WINDOWS,
        _trust,
    ),
    Check(
        "Policy",
        "policies that switch macros or add-ins off",
        "ask IT support to make the folder of the add-in a trusted location. Until then use "
        "xlhelpers fill.",
        WINDOWS,
        _policy,
    ),
    Check(
        "Add-ins switched off",
        "add-ins that Excel switched off after a crash",
        "go to File > Options > Add-ins, Manage: Disabled Items. If xlwings is listed, enable it.",
        WINDOWS,
        _disabled_items,
    ),
    Check(
        "Mark of the web",
        "files that Windows blocks because they came from the internet",
        "if you trust the file, right-click it, choose Properties and mark Unblock.",
        WINDOWS,
        _mark,
    ),
    Check(
        "OneDrive",
        "a workbook in a cloud folder",
        "move the workbook to a folder on this computer while you fill it, or close it and use "
        "xlhelpers fill.",
        DESKTOP,
        _cloud,
    ),
    Check(
        "Conda",
        "a Python from Conda whose environment is not in the settings",
        "run xlhelpers excel install with that environment active.",
        WINDOWS,
        _conda,
    ),
    Check(
        "Script for macros",
        "the script that starts Python from Excel on a Mac",
        "run: xlhelpers excel install",
        MACOS,
        _script,
    ),
    Check(
        "Permission to control Excel",
        "the permission of macOS to control Excel",
        "go to System Settings > Privacy & Security > Automation and allow the program that starts "
        "Python. If it is not listed, fill once and answer the question.",
        MACOS,
        _automation,
    ),
    Check(
        "Stray modules",
        "files in the folder of the workbook that hide Python modules, such as struct.py",
        "move or rename them. Python reads the folder of the workbook first.",
        DESKTOP,
        _stray,
    ),
)
NOT_TRIED = {"windows": "not tried on Windows", "macos": "not tried on macOS"}
_HEADS = {"look": "PROBLEM", "fine": "fine", "unseen": "cannot tell"}


@dataclass(frozen=True)
class CheckResult:
    """One check and its verdict."""

    check: Check
    verdict: Verdict


def examine(machine: Machine, checks: Iterable[Check] = CHECKS) -> list[CheckResult]:
    """Make every check for the system; a check that fails is reported and the others go on."""
    results = []
    for check in checks:
        if machine.system not in check.systems:
            continue
        try:
            verdict = check.look(machine)
        except Exception as error:  # a doctor that stumbles helps nobody
            verdict = Verdict("unseen", f"the check itself failed: {error}")
        results.append(CheckResult(check, verdict))
    return results


def say(machine: Machine, results: Iterable[CheckResult]) -> list[str]:
    """Return one paragraph for each check, problems first."""
    order = list(_HEADS)
    ranked = sorted(results, key=lambda one: order.index(one.verdict.state))
    tried = NOT_TRIED.get(machine.system)
    paragraphs = []
    for one in ranked:
        seen = f": {one.verdict.detail}" if one.verdict.detail else ""
        line = f"{_HEADS[one.verdict.state]:<15} {one.check.name}{seen}"
        if one.verdict.state != "fine":
            line += f"\n{'':<16}Do: {one.check.action}"
        paragraphs.append(line)
    count = sum(one.verdict.state == "look" for one in ranked)
    summary = (
        f"{plural(count, 'problem')} in {plural(len(ranked), 'check')}."
        if count
        else "No problem was found."
    )
    return [*paragraphs, f"{summary}{f' These checks were {tried}.' if tried else ''}"]
