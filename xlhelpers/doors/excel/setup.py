"""Installs and removes the add-in, its settings and the macro.

Lines of others stay as they are, in their order.

Installed are the add-in that came with xlwings, three settings of xlwings, and the macro with the
one button. A record of what was put where makes a second run harmless and the removal exact.
Nothing else is touched: not the registry, no security setting, no workbook.
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
MODULES = "UDF MODULES"


def parsed(text: str) -> dict[str, str]:
    """Return the settings by name, in capital letters; of two lines the last counts."""
    found = (_LINE.match(line) for line in text.splitlines())
    return {line[1].upper(): line[2] for line in found if line is not None}


def changed(text: str, values: Mapping[str, str | None]) -> str:
    """Return the text with some settings changed, added, or, for None, taken out."""
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


def with_module(modules: str) -> str:
    """Return a list of modules of functions with ours in it."""
    known = [name.strip() for name in modules.split(";") if name.strip()]
    return ";".join(known if MODULE in known else [*known, MODULE])


def without_module(modules: str) -> str:
    """Return the list without ours."""
    known = [name.strip() for name in modules.split(";")]
    return ";".join(name for name in known if name and name != MODULE)


MACRO = "fill_open_workbook.bas"
RECORD = "installed.json"
NEXT_STEPS = (
    "Next, once and by hand: restart Excel. Open its macro editor (Alt+F11, on a Mac Fn+Option+"
    "F11), choose File > Import File and take {macro}, best into the personal macro workbook. Then "
    "put the macro FillOpenWorkbook on a button.",
    "For the functions, on Windows only: open an .xlsm workbook and press Import Functions on the "
    "tab xlwings. Do this again after each update.",
    "Then run: xlhelpers excel doctor",
)


@dataclass
class Record:
    """What was put where: files by their digests, settings with those before, saved files."""

    versions: dict[str, str] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    kept: dict[str, str] = field(default_factory=dict)
    settings: dict[str, str] = field(default_factory=dict)
    before: dict[str, str | None] = field(default_factory=dict)


def read_record(machine: Machine) -> Record:
    """Return the record of the last installation, an empty one where there is none."""
    content = read(machine.our_folder / RECORD)
    try:
        return Record(**json.loads(content)) if content else Record()
    except (ValueError, TypeError):
        return Record()


def install(machine: Machine) -> list[str]:
    """Put everything in its place and return what was done, in sentences.

    Raises
    ------
    WorkbookError
        If Excel does not run on this system, xlwings is missing, or a file cannot be written.
    """
    if machine.system == "linux":
        raise WorkbookError("Excel does not run on this system, so there is nothing to install.")
    add_in = read(machine.add_in_source)
    if "xlwings" not in machine.versions or add_in is None:
        raise WorkbookError(
            'xlwings is not installed. Run: python -m pip install "xlhelpers[excel]" and try again'
        )
    record = read_record(machine)
    macro = resources.files("xlhelpers.doors.excel").joinpath(MACRO).read_bytes()
    wanted = {machine.add_in: add_in, machine.our_folder / MACRO: macro.replace(b"\n", b"\r\n")}
    if machine.system == "macos":
        script = read(machine.add_in_folder and machine.add_in_folder.parent / machine.script_name)
        if script is not None:
            wanted[machine.script_folder / machine.script_name] = script
    try:
        said = [_put(machine, record, path, content) for path, content in wanted.items()]
        said.append(_set(machine, record))
        record.versions = dict(machine.versions)
        _write(machine.our_folder / RECORD, json.dumps(asdict(record), indent=1).encode())
    except OSError as error:
        raise WorkbookError(
            f"{error.filename} cannot be written ({error.strerror}). Close Excel and try again"
        ) from error
    return [*said, *(step.format(macro=machine.our_folder / MACRO) for step in NEXT_STEPS)]


def _put(machine: Machine, record: Record, path: Path, content: bytes) -> str:
    old = read(path)
    if old == content:
        record.files.setdefault(str(path), _digest(content))
        return f"{path}: already there."
    if old is not None and record.files.get(str(path)) != _digest(old):
        saved = machine.our_folder / f"{path.name}.before"
        _write(saved, old)
        record.kept[str(path)] = str(saved)
    _write(path, content)
    record.files[str(path)] = _digest(content)
    return f"{path}: written." if old is None else f"{path}: updated."


def _set(machine: Machine, record: Record) -> str:
    path = machine.settings_file
    text = (read(path) or b"").decode("utf-8", "replace")
    held = parsed(text)
    wanted = interpreter_settings(machine) | {MODULES: with_module(held.get(MODULES, ""))}
    if not held:
        # a stray module beside a workbook then does no harm; workbooks of others may rely on it
        wanted["ADD_WORKBOOK_TO_PYTHONPATH"] = "False"
    new = {name: value for name, value in wanted.items() if held.get(name) != value}
    for name, value in new.items():
        if record.settings.get(name) != held.get(name):
            record.before[name] = held.get(name)
        record.settings[name] = value
    if not new:
        return f"{path}: already there."
    _write(path, changed(text, new).encode())
    return f"{path}: set {', '.join(new)}."


def interpreter_settings(machine: Machine) -> dict[str, str]:
    """Return the settings by which xlwings finds this Python."""
    if machine.system == "macos":
        return {"INTERPRETER_MAC": str(machine.python)}
    conda = conda_place(machine)
    if conda is None:
        return {"INTERPRETER_WIN": str(machine.python)}
    # started without its environment, a Python of Conda does not find its own libraries
    return {"INTERPRETER_WIN": "python", "CONDA PATH": conda[0], "CONDA ENV": conda[1]}


def remove(machine: Machine) -> list[str]:
    """Take everything away that was installed and is still as it was, and say what stays.

    Raises
    ------
    WorkbookError
        If a file cannot be removed.
    """
    record = read_record(machine)
    if not record.files and not record.settings:
        return ["xlhelpers is not installed in Excel."]
    try:
        said = [_take_away(record, Path(name)) for name in record.files]
        said.append(_unset(machine, record))
        (machine.our_folder / RECORD).unlink(missing_ok=True)
        if machine.our_folder.is_dir() and not any(machine.our_folder.iterdir()):
            machine.our_folder.rmdir()
    except OSError as error:
        raise WorkbookError(
            f"{error.filename} cannot be removed ({error.strerror}). Close Excel and try again"
        ) from error
    by_hand = "By hand: remove the macro FillOpenWorkbook from the personal macro workbook."
    return [*(sentence for sentence in said if sentence), by_hand]


def _take_away(record: Record, path: Path) -> str:
    content = read(path)
    if content is None:
        return f"{path}: already gone."
    if _digest(content) != record.files[str(path)]:
        return f"{path}: changed since it was installed, so it was kept."
    saved = Path(record.kept[str(path)]) if str(path) in record.kept else None
    old = read(saved)
    if saved is None or old is None:
        path.unlink()
        return f"{path}: removed."
    _write(path, old)
    saved.unlink()
    return f"{path}: restored."


def _unset(machine: Machine, record: Record) -> str:
    path = machine.settings_file
    content = read(path)
    if content is None:
        return ""
    text = content.decode("utf-8", "replace")
    held = parsed(text)
    back = {
        name: record.before.get(name)
        for name, value in record.settings.items()
        if held.get(name) == value
    }
    if MODULES in record.settings and MODULES not in back:
        # others were added to the list since: only ours is taken out
        back[MODULES] = without_module(held.get(MODULES, "")) or None
    left = changed(text, back)
    if left.strip():
        _write(path, left.encode())
    else:
        path.unlink()
    return f"{path}: settings restored."


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
