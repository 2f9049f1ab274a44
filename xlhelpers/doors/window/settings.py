"""What the window remembers: the folder that was used last, in a small file of the user's own."""

import contextlib
import json
import os
import sys
from pathlib import Path


def settings_file() -> Path:
    """Return the file, in the folder where this system keeps the settings of programs."""
    home = Path.home()
    if sys.platform == "win32":
        folder = Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
    elif sys.platform == "darwin":
        folder = home / "Library" / "Application Support"
    else:
        folder = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
    return folder / "xlhelpers" / "window.json"


def last_folder() -> Path:
    """Return the folder that was used last; the user's own where there is none any more."""
    try:
        folder = Path(json.loads(settings_file().read_text(encoding="utf-8"))["folder"])
    except (OSError, ValueError, KeyError, TypeError):
        return Path.home()
    return folder if folder.is_dir() else Path.home()


def remember_folder(folder: Path) -> None:
    """Keep a folder for the next time; without a word where nothing can be written there."""
    with contextlib.suppress(OSError):
        file = settings_file()
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps({"folder": str(folder)}), encoding="utf-8")
