"""Opens a file in the program that the system has for it, and folders in its file manager."""

import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path

_OPENERS = {"darwin": "open"}


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
    quiet = subprocess.DEVNULL
    process = subprocess.Popen(
        [opener, str(path)], stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True
    )
    # somebody has to take note of its end; the window does not wait for it
    threading.Thread(target=process.wait, daemon=True).start()
    return ""
