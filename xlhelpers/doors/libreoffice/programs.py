"""LibreOffice on this computer: its program, its Python, the profile, and whether it is running."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from xlhelpers.errors import WorkbookError

_LOOK = 30  # seconds for a program that only has to say something
_PLACES = (
    "/Applications/LibreOffice.app/Contents/MacOS/soffice",
    "C:/Program Files/LibreOffice/program/soffice.com",
    "C:/Program Files (x86)/LibreOffice/program/soffice.com",
    "/opt/libreoffice/program/soffice",
)
NO_OFFICE = "LibreOffice was not found on this computer. Install it, then try again."
NO_PYTHON = (
    "LibreOffice was found, but not its Python. On Debian and Ubuntu install the package "
    "python3-uno, elsewhere LibreOffice from its own site. Then try again."
)


@dataclass(frozen=True)
class Office:
    """LibreOffice: `program` starts it, `python` has uno, `profile` has the user's settings."""

    program: Path
    python: Path
    profile: Path

    @property
    def lock(self) -> Path:
        """Return the mark of an office that is running with this profile."""
        return self.profile / ".lock"

    @property
    def log(self) -> Path:
        """Return the file of the messages that the menu has shown."""
        return self.profile / "user" / "xlhelpers.log"


def find_office(profile: Path | None = None) -> Office:
    """Return LibreOffice on this computer.

    Parameters
    ----------
    profile : Path, optional
        Folder of its settings; that of the user unless stated.

    Raises
    ------
    WorkbookError
        If it is not there, or its Python cannot be used.
    """
    program = find_program()
    if program is None:
        raise WorkbookError(NO_OFFICE)
    python = find_python(program)
    if python is None:
        raise WorkbookError(NO_PYTHON)
    return Office(program, python, (profile or usual_profile()).resolve())


def find_program() -> Path | None:
    """Return the program that starts LibreOffice."""
    named = (shutil.which("soffice"), shutil.which("libreoffice"), *_PLACES)
    return next((Path(place) for place in named if place and Path(place).is_file()), None)


def find_python(program: Path) -> Path | None:
    """Return a Python that can talk with LibreOffice: its own, or that of the system."""
    return next((place for place in _pythons(program) if _has_uno(place)), None)


def _pythons(program: Path) -> Iterator[Path]:
    folder = program.resolve().parent
    for name in ("python", "python.exe", "../Resources/python", "../MacOS/python"):
        if (folder / name).is_file():
            yield folder / name
    for place in ("/usr/bin/python3", shutil.which("python3")):
        if place and Path(place).is_file():
            yield Path(place)


def _has_uno(python: Path) -> bool:
    try:
        done = subprocess.run(
            [python, "-c", "import uno"],
            env=clean_environment(),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=_LOOK,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def clean_environment() -> dict[str, str]:
    """Return the environment without the settings of our own Python.

    An office that finds the Python of a virtual environment first in PATH takes its modules, and
    then cannot load its own.
    """
    ours = ("PYTHON", "VIRTUAL_ENV")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
    folders = environment.get("PATH", "").split(os.pathsep)
    environment["PATH"] = os.pathsep.join(folder for folder in folders if not _is_virtual(folder))
    return environment


def _is_virtual(folder: str) -> bool:
    """Whether a folder of programs belongs to a virtual environment of Python."""
    return bool(folder) and (Path(folder).parent / "pyvenv.cfg").exists()


def usual_profile() -> Path:
    """Return the folder of the user's settings of LibreOffice."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("APPDATA", home / "AppData/Roaming")) / "LibreOffice/4"
    if sys.platform == "darwin":
        return home / "Library/Application Support/LibreOffice/4"
    return Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config") / "libreoffice/4"


def is_running(office: Office) -> bool:
    """Return whether LibreOffice is running with this profile, as far as its mark tells.

    After a crash the mark is left behind; then no process of LibreOffice is there.
    """
    return office.lock.exists() and has_process()


def has_process() -> bool:
    """Return whether any LibreOffice is running; True where that cannot be seen."""
    if sys.platform == "win32":
        command = ["tasklist", "/NH", "/FI", "IMAGENAME eq soffice.bin"]
    else:
        command = ["ps", "-A", "-o", "comm="]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=_LOOK, check=False, errors="replace"
        )
    except (OSError, subprocess.TimeoutExpired):
        return True
    return "soffice" in done.stdout or done.returncode != 0
