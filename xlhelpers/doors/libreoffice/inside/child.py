"""Starts the program's own Python, apart from the settings that LibreOffice makes for its own."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

SETTINGS = "settings.json"
# what LibreOffice sets for itself; another Python or another office must not take it over
_OF_THE_OFFICE = ("PYTHON", "URE_", "UNO_")
_PAUSE = 0.05  # seconds between two looks


class Ended(NamedTuple):
    """What a process said and its exit code; None if it was stopped at the time limit."""

    code: int | None
    output: str
    errors: str


def read_settings(folder: str) -> dict[str, Any]:
    """Return what was written into the extension when it was made."""
    with open(os.path.join(folder, SETTINGS), encoding="utf-8") as file:
        settings: dict[str, Any] = json.load(file)
    return settings


def missing_python(settings: Mapping[str, Any]) -> str:
    """Return a sentence if the Python of the program is no longer there, else ""."""
    if os.path.isfile(settings["python"]):
        return ""
    return (
        f"{settings['python']} is no longer there. Close LibreOffice and run xlhelpers "
        "libreoffice install again."
    )


def own_environment(settings: Mapping[str, Any], around: Mapping[str, str]) -> dict[str, str]:
    """Return the environment for the program's own Python."""
    environment = {
        name: value for name, value in around.items() if not name.upper().startswith(_OF_THE_OFFICE)
    }
    if settings["folder"]:
        environment["PYTHONPATH"] = settings["folder"]
    return environment


def start(
    settings: Mapping[str, Any], module: str, arguments: Sequence[str], **streams: Any
) -> subprocess.Popen[bytes]:
    """Start a module of the program in its own Python; `streams` are those of Popen."""
    # -P: a folder of workbooks is no place for modules
    command = [settings["python"], "-P", "-X", "utf8", "-u", "-m", module, *arguments]
    return subprocess.Popen(
        command,
        env=own_environment(settings, os.environ),
        # a group of its own, so that what it started ends with it
        start_new_session=os.name == "posix",
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        **streams,
    )


def stop(process: subprocess.Popen[bytes]) -> None:
    """End a process and what it started, now."""
    with contextlib.suppress(OSError):
        if os.name == "posix":
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(5)


def run(
    settings: Mapping[str, Any],
    arguments: Sequence[str],
    folder: str,
    limit: float,
    meanwhile: Callable[[float], None],
) -> Ended:
    """Run a job as on the command line, and wait for it.

    Parameters
    ----------
    settings : mapping
        Those of the extension.
    arguments : sequence of str
        What is typed after the name of the program.
    folder : str
        Where it runs.
    limit : float
        Seconds after which it is stopped.
    meanwhile : callable
        Called again and again with the seconds since the start.
    """
    with tempfile.TemporaryFile() as output, tempfile.TemporaryFile() as errors:
        process = start(
            settings,
            "xlhelpers",
            arguments,
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=errors,
        )
        began = time.monotonic()
        code = process.poll()
        try:
            while code is None and time.monotonic() - began < limit:
                meanwhile(time.monotonic() - began)
                time.sleep(_PAUSE)
                code = process.poll()
        finally:
            if code is None:
                stop(process)
        output.seek(0)
        errors.seek(0)
        texts = [stream.read().decode("utf-8", "replace").strip() for stream in (output, errors)]
    return Ended(code, *texts)
