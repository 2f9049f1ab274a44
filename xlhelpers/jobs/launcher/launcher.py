"""An icon that opens the window, for people who do not use a command line."""

import os
import stat
import sys
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.job import Done, Progress

_NAME = "Tree survey"
_KINDS = (
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet;"
    "application/vnd.ms-excel.sheet.macroEnabled.12;"
)
# the sentence about what is missing needs a window of its own: the icon has no terminal
_WINDOWS = """\
@echo off
rem Open this file, or drop workbooks onto it.
"{python}" -c "import tkinter" 2>nul
if errorlevel 1 (
  "{python}" -m xlhelpers window
  pause
) else (
  start "" "{windowed}" -m xlhelpers window %*
)
"""
_MACOS = """\
#!/bin/sh
# Open this file. Choose the workbook in the window that appears.
"{python}" -m xlhelpers window "$@" && exit 0
printf 'Press Return to close. '
read -r _
"""
_LINUX_SCRIPT = """\
#!/bin/sh
# Opens the window with the workbooks that were dropped on the icon.
problem=$("{python}" -m xlhelpers window "$@" 2>&1) && exit 0
printf '%s\n' "$problem"
if command -v zenity >/dev/null; then
  zenity --error --no-markup --text="$problem"
elif command -v kdialog >/dev/null; then
  kdialog --error "$problem"
elif command -v xmessage >/dev/null; then
  xmessage "$problem"
fi
exit 2
"""
_LINUX_ICON = """\
[Desktop Entry]
Type=Application
Name={name}
Comment=Open it, or drop workbooks here
Exec="{script}" %F
Terminal=false
MimeType={kinds}
"""


def run(folder: Path, system: str | None, progress: Progress) -> Done:
    """Make the icon and say where it is."""
    files = write_launcher(folder, system)
    icon = files[-1].name
    use = f"Next: open {icon}, or drop a workbook on it."
    if (system or this_system()) == "macos":
        use = f"Next: open {icon} and choose a workbook in its window."
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
    python = Path(sys.executable)
    if system == "windows":
        text = _WINDOWS.format(python=python, windowed=python.with_name("pythonw.exe"))
        return [_write(folder / f"{_NAME}.bat", text, "\r\n")]
    if system == "macos":
        return [_write(folder / f"{_NAME}.command", _MACOS.format(python=python))]
    script = _write(folder / "tree-survey.sh", _LINUX_SCRIPT.format(python=python))
    icon = _LINUX_ICON.format(name=_NAME, script=script.resolve(), kinds=_KINDS)
    return [script, _write(folder / f"{_NAME}.desktop", icon)]


def _write(path: Path, text: str, newline: str = "\n") -> Path:
    try:
        with path.open("w", encoding="utf-8", newline=newline) as file:
            file.write(text)
        if os.name == "posix":
            path.chmod(path.stat().st_mode | stat.S_IXUSR | stat.S_IXGRP | stat.S_IXOTH)
    except OSError as error:
        raise WorkbookError(f"{path} cannot be written: {error.strerror}.") from error
    return path
