"""An icon to drop workbooks on, for people who do not use a command line."""

import os
import stat
import sys
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.job import Done, Progress

_WINDOWS = """\
@echo off
rem Drop one or more workbooks onto this file.
if "%~1"=="" (
  echo Drop a workbook onto this file to fill it.
) else (
  "{python}" -m xlhelpers fill %*
)
pause
"""
_MACOS = """\
#!/bin/sh
# Open this file, then drop a workbook into the window that appears and press Return.
if [ "$#" -eq 0 ]; then
  printf 'Drop a workbook into this window and press Return: '
  IFS= read book  # without -r: the window escapes blanks with a backslash
  set -- "${{book% }}"
fi
"{python}" -m xlhelpers fill "$@"
printf 'Press Return to close. '
read -r _
"""
_LINUX_SCRIPT = """\
#!/bin/sh
# Fills the workbooks and waits, so that you can read what was done.
if [ "$#" -eq 0 ]; then
  echo 'Drop a workbook onto the icon to fill it.'
else
  "{python}" -m xlhelpers fill "$@"
fi
printf 'Press Return to close. '
read -r _
"""
_LINUX_ICON = """\
[Desktop Entry]
Type=Application
Name=Fill a tree survey
Comment=Drop workbooks here to fill them
Exec="{script}" %F
Terminal=true
MimeType=application/vnd.openxmlformats-officedocument.spreadsheetml.sheet;
"""


def run(folder: Path, system: str | None, progress: Progress) -> Done:
    """Make the icon and say where it is."""
    files = write_launcher(folder, system)
    icon = files[-1].name
    use = f"Next: drop a workbook on {icon} to fill it."
    if (system or this_system()) == "macos":
        use = f"Next: open {icon} and drop a workbook into its window."
    return Done([*(f"Saved {path}." for path in files), use], files=files)


def this_system() -> str:
    """Return "windows", "macos" or "linux"."""
    return {"win32": "windows", "darwin": "macos"}.get(sys.platform, "linux")


def write_launcher(folder: Path, system: str | None = None) -> list[Path]:
    """Write the launcher of one system into a folder and return the files made.

    Parameters
    ----------
    folder : Path
        An existing folder, such as the desktop.
    system : {"windows", "macos", "linux"}, optional
        The system it is for; this one unless stated.

    Raises
    ------
    WorkbookError
        If the folder does not exist or is not writable.
    """
    if not folder.is_dir():
        raise WorkbookError(f"{folder} is not a folder. Give an existing one, such as the desktop.")
    system = system or this_system()
    python = sys.executable
    if system == "windows":
        return [_write(folder / "Fill a tree survey.bat", _WINDOWS.format(python=python), "\r\n")]
    if system == "macos":
        return [_write(folder / "Fill a tree survey.command", _MACOS.format(python=python))]
    script = _write(folder / "fill-a-tree-survey.sh", _LINUX_SCRIPT.format(python=python))
    icon = _LINUX_ICON.format(script=script.resolve())
    return [script, _write(folder / "Fill a tree survey.desktop", icon)]


def _write(path: Path, text: str, newline: str = "\n") -> Path:
    try:
        with path.open("w", encoding="utf-8", newline=newline) as file:
            file.write(text)
        if os.name == "posix":
            path.chmod(path.stat().st_mode | stat.S_IXUSR | stat.S_IXGRP | stat.S_IXOTH)
    except OSError as error:
        raise WorkbookError(f"{path} cannot be written: {error.strerror}.") from error
    return path
