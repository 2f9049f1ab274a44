"""The functions for cells: hands each call to the program's own Python and waits for the answer.

One process answers all calls, as lines of JSON. It is started with the first call and ends with the
office. Whatever goes wrong is answered with a text in the cell.
"""

from __future__ import annotations

import json
import queue
import subprocess
import threading
import time
from typing import Any

import unohelper
from com.sun.star.lang import XServiceInfo
from com.sun.star.sheet import XFunctionAccess

from xlhelpers.doors.libreoffice.inside import child

NAME = "org.xlhelpers.Functions"
HELPER = "xlhelpers.doors.libreoffice.helper"
START_LIMIT, CALL_LIMIT = 20.0, 10.0
"""Seconds until a process that starts, and one that computes, is given up."""
REST = 30.0
"""Seconds until the next attempt after that, so that many cells do not freeze the office."""


class Functions(unohelper.Base, XServiceInfo, XFunctionAccess):  # type: ignore[misc]
    """Calls a function of the program by its name, with the contents of cells."""

    def __init__(self, folder: str) -> None:
        """Keep the folder of the extension; nothing is started yet."""
        self.folder = folder
        self.helper: Helper | None = None
        self.lock = threading.Lock()
        self.rests_until, self.reason = 0.0, ""

    def callFunction(self, name: str, arguments: Any) -> Any:
        """Return the answer of a function: a number, a text or rows of them."""
        with self.lock:
            if time.monotonic() < self.rests_until:
                return self.reason
            try:
                request = json.dumps([name, plain(arguments)])
                return self._ask(request)
            except (OSError, ValueError, TypeError) as error:
                return self._rest(f"xlhelpers: {error}. Try again in {REST:g} seconds.")

    def _ask(self, request: str) -> Any:
        """Ask the process; start a new one if the old one has ended."""
        for _ in range(2):
            if self.helper is None:
                settings = child.read_settings(self.folder)
                missing = child.missing_python(settings)
                if missing:
                    return self._rest(missing)
                self.helper = Helper(settings)
                if self.helper.answer(START_LIMIT) is None:
                    return self._give_up(START_LIMIT, "did not start")
            self.helper.ask(request)
            answer = self.helper.answer(CALL_LIMIT)
            if answer is None:
                return self._give_up(CALL_LIMIT, "did not answer")
            if answer is not ENDED:
                return answer[0]
            self.helper.stop()
            self.helper = None
        return self._rest("xlhelpers ended. Run xlhelpers libreoffice doctor.")

    def _give_up(self, limit: float, what: str) -> str:
        assert self.helper is not None
        self.helper.stop()
        self.helper = None
        return self._rest(f"xlhelpers {what} within {limit:g} seconds. Calculate again later.")

    def _rest(self, reason: str) -> str:
        self.rests_until, self.reason = time.monotonic() + REST, reason
        return reason

    def getImplementationName(self) -> str:
        """Return the name of this component."""
        return NAME

    def supportsService(self, name: str) -> bool:
        """Return whether it is the service of the functions."""
        return name == NAME

    def getSupportedServiceNames(self) -> tuple[str, ...]:
        """Return its only service."""
        return (NAME,)


ENDED: list[Any] = []
"""Stands for the answer of a process that has ended."""


class Helper:
    """The process that computes. Threads talk with it, so that no wait is without limit."""

    def __init__(self, settings: Any) -> None:
        """Start the process; its first line says that it is ready."""
        self.process = child.start(
            settings,
            HELPER,
            (),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self.requests: queue.Queue[bytes] = queue.Queue()
        self.lines: queue.Queue[bytes] = queue.Queue()
        for talk in (self._read, self._write):
            threading.Thread(target=talk, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.put(line)
        self.lines.put(b"")

    def _write(self) -> None:
        assert self.process.stdin is not None
        try:
            for request in iter(self.requests.get, b""):
                self.process.stdin.write(request)
                self.process.stdin.flush()
        except OSError:
            pass  # nobody reads any more; the other thread sees the end as well

    def ask(self, request: str) -> None:
        """Send a line."""
        self.requests.put(request.encode() + b"\n")

    def answer(self, limit: float) -> Any:
        """Return the next line, `ENDED` if the process has ended, None after the time limit."""
        try:
            line = self.lines.get(timeout=limit)
        except queue.Empty:
            return None
        return json.loads(line) if line else ENDED

    def stop(self) -> None:
        """End the process now."""
        self.requests.put(b"")
        child.stop(self.process)


def plain(value: Any) -> Any:
    """Return the contents of cells as JSON knows them; what is not a cell becomes its name."""
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    if isinstance(value, (tuple, list)):
        return [plain(one) for one in value]
    return str(value)
