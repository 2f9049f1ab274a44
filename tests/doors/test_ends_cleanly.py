"""How a command ends when its reader has gone or the disk is full: nothing half-made stays."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.town import TOWN, filled_town

resource = pytest.importorskip("resource")
ROOT = Path(__file__).parents[2]
ROOM = 12_000
"""Bytes that fit into a file of the full disk: less than any output has."""
WRITING = (
    ["new", "new.xlsx"],
    ["fill", "town.xlsx", "--out", "filled.xlsx"],
    ["fill", "town.xlsx"],
    ["check", "town.xlsx", "--json", "facts.json"],
    ["paper", "town.xlsx", "--out", "sheets.xlsx"],
    ["instruments", "town.xlsx", "--out", "instruments.xlsx"],
    ["recheck", "plan", "town.xlsx", "--out", "again.xlsx"],
    ["plan", "town.xlsx", "--margin", "10", "--out", "plan.xlsx"],
    ["report", "town.xlsx", "--out", "report.xlsx"],
    ["export", "town.xlsx", "--out", "csv"],
    ["merge", "town.xlsx", "other.xlsx", "--out", "merged.xlsx"],
    ["compare", "town.xlsx", "other.xlsx", "--out", "differences.xlsx"],
    ["change", "town.xlsx", "other.xlsx", "--out", "change.xlsx"],
)


def start(arguments: list[str], folder: Path, **how: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "xlhelpers", *arguments],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
        stderr=subprocess.PIPE,
        text=True,
        **how,  # type: ignore[call-overload]
    )


@pytest.mark.parametrize(
    "arguments", [["check", str(TOWN)], ["excel", "about"], ["fill", "--help"]], ids=" ".join
)
def test_a_closed_pipe_ends_quietly(arguments: list[str], tmp_path: Path) -> None:
    """As in front of head, whose end of the pipe is closed before anything is said."""
    reading, writing = os.pipe()
    os.close(reading)
    process = start(arguments, tmp_path, stdout=writing)
    os.close(writing)
    _, errors = process.communicate(timeout=120)
    assert errors == ""
    assert process.returncode in (0, 1)


@pytest.mark.slow
@pytest.mark.parametrize("arguments", WRITING, ids=" ".join)
def test_on_a_full_disk_nothing_half_made_stays(arguments: list[str], tmp_path: Path) -> None:
    """The system really stops each file at some bytes; what was there before is as it was."""
    filled = arguments[0] in ("change",)
    for name in ("town.xlsx", "other.xlsx"):
        (tmp_path / name).write_bytes(filled_town() if filled else TOWN.read_bytes())
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    process = start(
        arguments,
        tmp_path,
        stdout=subprocess.PIPE,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (ROOM, ROOM)),
    )
    _, errors = process.communicate(timeout=300)
    assert process.returncode == 2, errors
    assert errors.startswith("xlhelpers: ")
    assert "Traceback" not in errors
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
