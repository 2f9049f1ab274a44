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
from typing import Any

_CHILD = "xlhelpers.doors.window.child"
_PATIENCE = 10.0  # seconds until an ended process is given up
_LAST_LINES = 3


class Worker:
    """One request to the other process. Its answers wait in `answers`; the last one is None."""

    def __init__(self, request: dict[str, Any]) -> None:
        """Start the process with a request; see `child` for what can be asked."""
        self.answers: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        self._errors = tempfile.TemporaryFile()  # noqa: SIM115 (closed when the process has ended)
        # a process group of its own, so that what it started, such as LibreOffice, ends with it
        self._process = subprocess.Popen(
            [sys.executable, "-X", "utf8", "-m", _CHILD],
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
        with contextlib.suppress(OSError):
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
        with contextlib.suppress(OSError):
            if os.name == "posix":
                os.killpg(self._process.pid, signal.SIGKILL)
            else:
                self._process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(_PATIENCE)
