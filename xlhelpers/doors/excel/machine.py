"""The computer as the set-up and the doctor see it: a small record, so tests can describe one."""

import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal

from xlhelpers.errors import WorkbookError

System = Literal["windows", "macos", "linux"]
# values of a key by name, the unnamed one under ""; None where there is no such key
Registry = Callable[[str], Mapping[str, object] | None]
PACKAGES = ("xlhelpers", "xlwings", "numpy", "pandas")


@dataclass(frozen=True)
class Machine:
    """A computer; `book` is a workbook to check as well, if one was named.

    `python` is the running interpreter, `versions` are those of the installed packages and
    `add_in_folder` is where xlwings keeps its add-in.
    """

    system: System
    home: Path
    environment: Mapping[str, str]
    python: Path
    versions: Mapping[str, str]
    registry: Registry
    add_in_folder: Path | None = None
    book: Path | None = None

    @property
    def settings_file(self) -> Path:
        """Return the file of the settings of xlwings."""
        if self.system == "macos":
            return self.home / "Library/Containers/com.microsoft.Excel/Data/xlwings.conf"
        return self.home / ".xlwings" / "xlwings.conf"

    @property
    def startup_folder(self) -> Path:
        """Return the folder whose workbooks Excel opens whenever it starts."""
        if self.system == "macos":
            office = self.home / "Library/Group Containers/UBF8T346G9.Office"
            return office / "User Content.localized/Startup.localized/Excel"
        roaming = self.environment.get("APPDATA") or str(self.home / "AppData" / "Roaming")
        return Path(roaming) / "Microsoft" / "Excel" / "XLSTART"

    @property
    def script_folder(self) -> Path:
        """Return the folder of scripts that Excel on macOS may start."""
        return self.home / "Library/Application Scripts/com.microsoft.Excel"

    @property
    def our_folder(self) -> Path:
        """Return the folder for the macro and the record of what was installed."""
        return self.home / ".xlhelpers"

    @property
    def add_in(self) -> Path:
        """Return the add-in in its place in the start-up folder."""
        return self.startup_folder / "xlwings.xlam"

    @property
    def add_in_source(self) -> Path | None:
        """Return the add-in that came with the package."""
        return None if self.add_in_folder is None else self.add_in_folder / "xlwings.xlam"

    @property
    def script_name(self) -> str:
        """Return the name of the script that goes with this version of xlwings, on macOS."""
        return f"xlwings-{self.versions.get('xlwings', '')}.applescript"


def read(path: Path | None) -> bytes | None:
    """Return the contents of a file, None if it is missing or cannot be read."""
    try:
        return None if path is None else path.read_bytes()
    except OSError:
        return None


def listing(folder: Path) -> tuple[str, ...]:
    """Return the names in a folder, none if it cannot be read."""
    try:
        return tuple(sorted(item.name for item in folder.iterdir()))
    except OSError:
        return ()


def conda_place(machine: Machine) -> tuple[str, str] | None:
    """Return the folder of Conda and the name of the environment, None for another Python."""
    folder = machine.python.parent
    if machine.system != "windows" and folder.name == "bin":
        folder = folder.parent
    if not listing(folder / "conda-meta"):
        return None
    if folder.parent.name == "envs":
        return str(folder.parent.parent), folder.name
    return str(folder), "base"


def this_machine(book: Path | None = None) -> Machine:
    """Return the computer on which this runs.

    Raises
    ------
    WorkbookError
        If the named workbook does not exist.
    """
    if book is not None and not book.exists():
        raise WorkbookError(f"{book} is not there. Name an existing workbook, or leave it out.")
    versions = {name: text for name in PACKAGES if (text := _version(name))}
    versions["python"] = ".".join(map(str, sys.version_info[:3]))
    spec = find_spec("xlwings")
    places = list(spec.submodule_search_locations or ()) if spec is not None else []
    return Machine(
        system={"win32": "windows", "darwin": "macos"}.get(sys.platform, "linux"),  # type: ignore[arg-type]
        home=Path.home(),
        environment=dict(os.environ),
        python=Path(sys.executable),
        versions=versions,
        registry=_registry,
        add_in_folder=Path(places[0]) / "addin" if places else None,
        book=None if book is None else book.resolve(),
    )


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def _registry(key: str) -> Mapping[str, object] | None:
    """Read one key of the Windows registry, such as "HKCU\\Software\\...". Never written to."""
    if sys.platform != "win32":
        return None
    import winreg

    windows: Any = winreg
    roots = {"HKCU": windows.HKEY_CURRENT_USER, "HKLM": windows.HKEY_LOCAL_MACHINE}
    root, _, rest = key.partition("\\")
    try:
        with windows.OpenKey(roots[root], rest) as opened:
            count = windows.QueryInfoKey(opened)[1]
            values = [windows.EnumValue(opened, at)[:2] for at in range(count)]
    except OSError:
        return None
    return dict(values)
