"""Opens a file in the program that the system has for it, and folders in its file manager."""

import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Mapping
from pathlib import Path

_OPENERS = {"darwin": "open"}
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_LOOK = 5  # seconds for a program that only has to say something


def open_with_system(path: Path) -> str:
    """Open a file or folder, and return "" or the sentence that says why that was not possible."""
    if not path.exists():
        return f"{path} is not there any more."
    if sys.platform == "win32":
        try:
            os.startfile(path)
        except OSError as error:
            return f"{path.name} cannot be opened: {error.strerror}. Open it yourself."
        return ""
    opener = shutil.which(_OPENERS.get(sys.platform, "xdg-open"))
    if opener is None:
        return f"No program to open {path.name} was found. Open it yourself: {path}"
    _start([opener, str(path)])
    return ""


def open_at_name(path: Path, name: str) -> bool:
    """Open a workbook at one of its defined names; return whether that could be asked for.

    Only LibreOffice is asked: no other program was seen to do it. The workbook is not changed.

    Parameters
    ----------
    path : Path
        The workbook.
    name : str
        A defined name; without it, the workbook is opened where it was saved.
    """
    if not path.exists() or not _is_libreoffices(_XLSX):
        return False
    from xlhelpers.doors.libreoffice.programs import clean_environment, find_program

    program = find_program()
    if program is None:
        return False
    _start([str(program), address_of(path, name)], clean_environment())
    return True


def address_of(path: Path, name: str) -> str:
    """Return the address of a defined name in a workbook, as LibreOffice understands it."""
    return f"{path.absolute().as_uri()}#{name}"


def _is_libreoffices(kind: str) -> bool:
    """Return whether the system opens a kind of file with LibreOffice, as far as can be seen."""
    asking = shutil.which("xdg-mime")
    if sys.platform != "linux" or asking is None:
        return False
    try:
        done = subprocess.run(
            [asking, "query", "default", kind],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=_LOOK,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.stdout.strip().lower().startswith("libreoffice")


def _start(command: list[str], environment: Mapping[str, str] | None = None) -> None:
    quiet = subprocess.DEVNULL
    process = subprocess.Popen(
        command, env=environment, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True
    )
    # somebody has to take note of its end; the window does not wait for it
    threading.Thread(target=process.wait, daemon=True).start()
