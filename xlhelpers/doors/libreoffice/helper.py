"""Answers the calls of cells for the extension, a line of JSON each, until nobody asks any more.

A line is a name and the arguments; the answer is a list with a number, a text or rows of them.
"""

import json
import os
import sys
from typing import IO, Any


def answer_line(line: bytes) -> bytes:
    """Return the answer to one line."""
    from xlhelpers.doors.excel import functions

    name, arguments = json.loads(line)
    if name not in functions.__all__:
        answer: Any = f"xlhelpers does not know {name}. Run xlhelpers libreoffice install again."
    else:
        try:
            answer = getattr(functions, name)(*arguments)
        except TypeError:
            answer = f"{name}: arguments are missing"
    return json.dumps([answer]).encode() + b"\n"


def serve(asked: IO[bytes], answers: IO[bytes]) -> None:
    """Say that the process is ready, then answer line by line."""
    answers.write(answer_line(b'["crown_depth", [2, 1]]'))
    answers.flush()
    for line in asked:
        answers.write(answer_line(line))
        answers.flush()


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    serve(sys.stdin.buffer, sys.stdout.buffer)
