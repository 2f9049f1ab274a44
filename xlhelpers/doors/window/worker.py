"""Runs the other process of the window, hands on what it says, and ends it when asked."""

import contextlib
import json
import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

import xlhelpers

_CHILD = "xlhelpers.doors.window.child"
# seconds that a process gets to clean up, and until an ended one is given up
_GRACE, _PATIENCE = 2.0, 10.0
_LAST_LINES = 3
_PROGRAM = Path(xlhelpers.__file__).parents[1]


class Worker:
    """One request to the other process. Its answers wait in `answers`; the last one is None."""

    def __init__(self, request: dict[str, Any]) -> None:
        """Start the process with a request; see `child` for what can be asked."""
        self.answers: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        self._errors = tempfile.TemporaryFile()  # noqa: SIM115 (closed when the process has ended)
        # modules in the folder where somebody works must not be taken for those of the program
        paths = [str(_PROGRAM), *filter(None, [os.environ.get("PYTHONPATH")])]
        # a process group of its own, so that what it started, such as LibreOffice, ends with it
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-X", "utf8", "-m", _CHILD],
            env=os.environ | {"PYTHONPATH": os.pathsep.join(paths)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._errors,
            start_new_session=os.name == "posix",
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        threading.Thread(target=self._talk, args=(request,), daemon=True).start()

    def _talk(self, request: dict[str, Any]) -> None:
        asked, answered = self._process.stdin, self._process.stdout
        assert asked is not None
        assert answered is not None
        with contextlib.suppress(OSError, ValueError):  # ended in the middle of a line
            with asked:
                asked.write(json.dumps(request, default=str).encode())
            for line in answered:
                self.answers.put(json.loads(line))
        answered.close()
        code = self._process.wait()
        if code > 0:
            self.answers.put({"broken": self._last_words()})
        self._errors.close()
        self.answers.put(None)

    def _last_words(self) -> str:
        self._errors.seek(0)
        lines = self._errors.read().decode("utf-8", "replace").strip().splitlines()
        return " ".join(lines[-_LAST_LINES:])

    def stop(self) -> None:
        """End the process and what it started, now."""
        if os.name == "posix":
            self._signal_all(signal.SIGTERM, _GRACE)
            self._signal_all(signal.SIGKILL, _PATIENCE)
        else:
            self._process.kill()

    def _signal_all(self, number: int, patience: float) -> None:
        """Give a signal to the process and all that it started, and wait for its end."""
        with contextlib.suppress(OSError):
            os.killpg(self._process.pid, number)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(patience)
