"""Install and remove the add-in, its settings and the macro.

Three things are installed: the add-in that comes with xlwings, three settings of xlwings, and the
macro for the button. A record of what was put where makes a second run harmless and the removal
exact. Other lines of the settings stay as they are. The registry, security settings and workbooks
are not touched.
"""

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from importlib import resources
from pathlib import Path

from xlhelpers.doors.excel.machine import Machine, conda_place, read
from xlhelpers.errors import WorkbookError

_LINE = re.compile(r'\s*"([^"]*)"\s*,\s*"([^"]*)"')
MODULE = "xlhelpers.doors.excel.udfs"
# the name that earlier versions put into the settings
OLD_MODULE = "xlhelpers.excel.udfs"
MODULES = "UDF MODULES"
# whether Python also looks for modules in the folder of the workbook
OWN_FOLDER = "ADD_WORKBOOK_TO_PYTHONPATH"


def parse_settings(text: str) -> dict[str, str]:
    """Return the settings by name, in capital letters; if one is there twice, the last counts."""
    matches = (_LINE.match(line) for line in text.splitlines())
    return {match[1].upper(): match[2] for match in matches if match is not None}


def change_settings(text: str, values: Mapping[str, str | None]) -> str:
    """Return the text with some settings changed, added or, if None, removed."""
    lines, left = [], dict(values)
    for line in text.splitlines():
        match = _LINE.match(line)
        name = match[1].upper() if match else ""
        if name not in values:
            lines.append(line)
        elif name in left:
            value = left.pop(name)
            if value is not None:
                lines.append(f'"{name}","{value}"')
    lines += [f'"{name}","{value}"' for name, value in left.items() if value is not None]
    return "".join(f"{line}\n" for line in lines)


def add_module(modules: str) -> str:
    """Return a list of modules of functions with ours in it, in place of its old name."""
    names = [name.strip() for name in modules.split(";") if name.strip()]
    renewed = [MODULE if name == OLD_MODULE else name for name in names]
    return ";".join(dict.fromkeys([*renewed, MODULE]))


def remove_module(modules: str) -> str:
    """Return the list without our module, under its old name too."""
    names = [name.strip() for name in modules.split(";")]
    return ";".join(name for name in names if name not in ("", MODULE, OLD_MODULE))


MACRO = "fill_open_workbook.bas"
RECORD = "installed.json"
NEXT_STEPS = (
    "Next, by hand: restart Excel. Open the macro editor (Alt+F11, on a Mac Fn+Option+F11), choose "
    "File > Import File and import {macro}, best into the personal macro workbook. Is an older "
    "version of the macro there? Remove it first.",
    "For the button: choose File > Options > Quick Access Toolbar. Under “Choose commands from” "
    "choose Macros, select the one that ends in FillOpenWorkbook, press Add, then OK. It is the "
    "small symbol in the row at the very top of Excel, or just below the ribbon. On a Mac: "
    "Excel > Preferences > Ribbon & Toolbar > Quick Access Toolbar.",
    "For the functions, on Windows only: open an .xlsm workbook, choose Tools > References in the "
    "macro editor and tick xlwings. Then go to the tab xlwings and press Import Functions, again "
    "after each update.",
    "Then run: xlhelpers excel doctor",
)


@dataclass
class Record:
    """What was put where: digests of files, settings with their old values, saved files."""

    versions: dict[str, str] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    saved_files: dict[str, str] = field(default_factory=dict)
    settings: dict[str, str] = field(default_factory=dict)
    before: dict[str, str | None] = field(default_factory=dict)


def read_record(machine: Machine) -> Record:
    """Return the record of the last installation, an empty one if there is none."""
    content = read(machine.our_folder / RECORD)
    try:
        entries = json.loads(content) if content else {}
        if "kept" in entries:  # its name in records of earlier versions
            entries["saved_files"] = entries.pop("kept")
        return Record(**entries)
    except (ValueError, TypeError):
        return Record()


def macro_text() -> bytes:
    """Return the macro file of this version, with the line ends of Windows."""
    content = resources.files("xlhelpers.doors.excel").joinpath(MACRO).read_bytes()
    return content.replace(b"\n", b"\r\n")


def install(machine: Machine) -> list[str]:
    """Install everything and return sentences about what was done.

    Raises
    ------
    WorkbookError
        If Excel does not run on this system, xlwings is missing, or a file cannot be written.
    """
    if machine.system == "linux":
        raise WorkbookError("Excel does not run on this system. There is nothing to install.")
    add_in = read(machine.add_in_source)
    if "xlwings" not in machine.versions or add_in is None:
        raise WorkbookError(
            'xlwings is not installed. Run: python -m pip install "xlhelpers[excel]"'
        )
    record = read_record(machine)
    wanted = {machine.add_in: add_in, machine.our_folder / MACRO: macro_text()}
    if machine.system == "macos":
        script = read(machine.add_in_folder and machine.add_in_folder.parent / machine.script_name)
        if script is not None:
            wanted[machine.script_folder / machine.script_name] = script
    try:
        done = [_put(machine, record, path, content) for path, content in wanted.items()]
        done.append(_set(machine, record))
        record.versions = dict(machine.versions)
        _write(machine.our_folder / RECORD, json.dumps(asdict(record), indent=1).encode())
    except OSError as error:
        raise WorkbookError(
            f"{error.filename} cannot be written ({error.strerror}). Close Excel and try again."
        ) from error
    return [*done, *(step.format(macro=machine.our_folder / MACRO) for step in NEXT_STEPS)]


def _put(machine: Machine, record: Record, path: Path, content: bytes) -> str:
    old = read(path)
    if old == content:
        record.files.setdefault(str(path), _digest(content))
        return f"{path}: already there."
    if old is not None and record.files.get(str(path)) != _digest(old):
        saved = machine.our_folder / f"{path.name}.before"
        _write(saved, old)
        record.saved_files[str(path)] = str(saved)
    _write(path, content)
    record.files[str(path)] = _digest(content)
    return f"{path}: written." if old is None else f"{path}: replaced."


def _set(machine: Machine, record: Record) -> str:
    path = machine.settings_file
    text = (read(path) or b"").decode("utf-8", "replace")
    settings = parse_settings(text)
    wanted = interpreter_settings(machine) | {MODULES: add_module(settings.get(MODULES, ""))}
    if not settings:
        # so that a stray module in the folder of a workbook does no harm; with settings of
        # somebody else it stays on, because their workbooks may need it
        wanted[OWN_FOLDER] = "False"
    new = {name: value for name, value in wanted.items() if settings.get(name) != value}
    for name, value in new.items():
        if record.settings.get(name) != settings.get(name):
            record.before[name] = settings.get(name)
        record.settings[name] = value
    if not new:
        return f"{path}: already there."
    _write(path, change_settings(text, new).encode())
    return f"{path}: set {', '.join(new)}."


def interpreter_settings(machine: Machine) -> dict[str, str]:
    """Return the settings that tell xlwings where this Python is."""
    if machine.system == "macos":
        return {"INTERPRETER_MAC": str(machine.python)}
    conda = conda_place(machine)
    if conda is None:
        return {"INTERPRETER_WIN": str(machine.python)}
    # without its environment, a Python of Conda does not find its own libraries
    return {"INTERPRETER_WIN": "python", "CONDA PATH": conda[0], "CONDA ENV": conda[1]}


def remove(machine: Machine) -> list[str]:
    """Remove everything that was installed and not changed since; say what stays.

    Raises
    ------
    WorkbookError
        If a file cannot be removed.
    """
    record = read_record(machine)
    if not record.files and not record.settings:
        return ["Nothing is installed."]
    try:
        done = [_take_away(record, Path(name)) for name in record.files]
        done.append(_unset(machine, record))
        (machine.our_folder / RECORD).unlink(missing_ok=True)
        if machine.our_folder.is_dir() and not any(machine.our_folder.iterdir()):
            machine.our_folder.rmdir()
    except OSError as error:
        raise WorkbookError(
            f"{error.filename} cannot be removed ({error.strerror}). Close Excel and try again."
        ) from error
    by_hand = "By hand: remove the macro FillOpenWorkbook from the personal macro workbook."
    return [*filter(None, done), by_hand]


def _take_away(record: Record, path: Path) -> str:
    content = read(path)
    if content is None:
        return f"{path}: already removed."
    if _digest(content) != record.files[str(path)]:
        return f"{path}: kept, because somebody changed it."
    saved = Path(record.saved_files[str(path)]) if str(path) in record.saved_files else None
    old = read(saved)
    if saved is None or old is None:
        path.unlink()
        return f"{path}: removed."
    _write(path, old)
    saved.unlink()
    return f"{path}: the earlier version is back."


def _unset(machine: Machine, record: Record) -> str:
    path = machine.settings_file
    content = read(path)
    if content is None:
        return ""
    text = content.decode("utf-8", "replace")
    settings = parse_settings(text)
    back = {
        name: record.before.get(name)
        for name, value in record.settings.items()
        if settings.get(name) == value
    }
    if OLD_MODULE in (back.get(MODULES) or ""):
        back[MODULES] = remove_module(back[MODULES] or "") or None
    if MODULES in record.settings and MODULES not in back:
        # others were added to the list since, so only ours is removed
        back[MODULES] = remove_module(settings.get(MODULES, "")) or None
    left = change_settings(text, back)
    if left.strip():
        _write(path, left.encode())
    else:
        path.unlink()
    return f"{path}: old settings are back."


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
