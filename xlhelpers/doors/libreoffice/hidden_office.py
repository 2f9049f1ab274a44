"""Starts LibreOffice without a screen on one profile, has it do some steps, and ends it."""

import contextlib
import json
import os
import signal
import subprocess
import tempfile
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from xlhelpers.doors.libreoffice.programs import Office, clean_environment, is_running
from xlhelpers.errors import WorkbookError

START_LIMIT = 60.0
LIMIT = 180.0
"""Seconds until the office has to answer, and until everything has to be done."""
_END_LIMIT = 20.0
Step = tuple[str, dict[str, Any]]


def close_first(office: Office) -> str:
    """Return what to do about an office that is running."""
    return (
        "LibreOffice is running. Close all its windows (and its icon in the task bar, if there is "
        f"one), then try again. Not running? Delete {office.lock}."
    )


def drive(office: Office, steps: Sequence[Step]) -> list[Any]:
    """Have a hidden office do some steps, and return the result of each.

    Parameters
    ----------
    office : Office
        The office and its profile. The profile is made if it is not there.
    steps : sequence of (name, arguments)
        See ``driver.STEPS``.

    Raises
    ------
    WorkbookError
        If an office is running with that profile, or a step fails; the sentence says why.
    """
    if is_running(office):
        raise WorkbookError(close_first(office))
    pipe = f"xlhelpers{uuid.uuid4().hex}"
    command = [
        str(office.program),
        *("--headless", "--norestore", "--nologo", "--nodefault", "--nolockcheck"),
        f"--accept=pipe,name={pipe};urp;",
        f"-env:UserInstallation={office.profile.as_uri()}",
    ]
    request = {
        "pipe": pipe,
        "profile": office.profile.as_uri(),
        "limit": START_LIMIT,
        "steps": list(steps),
    }
    # files, because an office that goes on running would keep a pipe open
    with tempfile.TemporaryFile() as noise:
        process = subprocess.Popen(
            command,
            env=clean_environment(),
            stdin=subprocess.DEVNULL,
            stdout=noise,
            stderr=noise,
            start_new_session=os.name == "posix",
        )
        try:
            answer = _ask_driver(office, request)
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(_END_LIMIT)
        finally:
            _end(process)
    if answer["error"]:
        raise WorkbookError(f"LibreOffice did not manage it: {answer['error']}.")
    results: list[Any] = answer["results"]
    return results


def _ask_driver(office: Office, request: dict[str, Any]) -> dict[str, Any]:
    script = Path(__file__).with_name("driver.py")
    with tempfile.TemporaryFile() as asked, tempfile.TemporaryFile() as output:
        asked.write(json.dumps(request).encode())
        asked.seek(0)
        try:
            subprocess.run(
                [office.python, script],
                env=clean_environment(),
                stdin=asked,
                stdout=output,
                stderr=output,
                timeout=LIMIT,
                check=False,
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            return {"error": f"no answer ({error})", "results": []}
        output.seek(0)
        lines = output.read().decode("utf-8", "replace").strip().splitlines()
    try:
        answer: dict[str, Any] = json.loads(lines[-1])
    except (IndexError, ValueError):
        answer = {"error": lines[-1] if lines else "no answer", "results": []}
    return answer


def _end(process: "subprocess.Popen[bytes]") -> None:
    """End our own office if it is still running, and what it started."""
    if process.poll() is not None:
        return
    with contextlib.suppress(OSError):
        if os.name == "posix":
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(_END_LIMIT)
