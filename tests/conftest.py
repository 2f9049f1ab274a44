"""For all tests: `--slow`, and LibreOffice with a profile of its own for each test."""

from __future__ import annotations

import gc
import os
import shutil
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.quick_openpyxl import read_workbooks_quickly

RECALCULATE_ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode"
 oor:op="fuse"><value>0</value></prop></item></oor:items>
"""

Converter = Callable[..., Path]

read_workbooks_quickly()
# results name the minute of their run: a test that compares two runs must not fall on its end
os.environ.setdefault("SOURCE_DATE_EPOCH", str(int(time.time())))
# an eighth of the time would go into looking for garbage among what stays
gc.set_threshold(50_000, 10, 10)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--slow", action="store_true", help="run the slow proofs as well")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--slow"):
        return
    left_out = pytest.mark.skip(reason="a slow proof; --slow runs it")
    for item in items:
        if item.get_closest_marker("slow"):
            item.add_marker(left_out)


def pytest_collection_finish() -> None:
    """Take what stays to the end of the run, tests and modules, out of the collector's sight."""
    gc.collect()
    gc.freeze()


@pytest.fixture
def soffice(tmp_path: Path) -> Converter:
    """A function that converts a workbook with LibreOffice and returns the new file.

    `kind` is the ending of the new file, or a filter after a colon as LibreOffice takes it;
    `recalculate` forces every formula to be calculated on loading.
    """
    program = shutil.which("soffice") or shutil.which("libreoffice")
    if program is None:
        message = "LibreOffice (soffice) is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(message)
        pytest.skip(message)
    profile = tmp_path / "libreoffice profile"

    def convert(book: Path, kind: str = "xlsx", *, recalculate: bool = False) -> Path:
        if recalculate:
            (profile / "user").mkdir(parents=True, exist_ok=True)
            (profile / "user" / "registrymodifications.xcu").write_text(RECALCULATE_ALWAYS)
        folder = tmp_path / f"converted {len(list(tmp_path.iterdir()))}"
        command = [program, f"-env:UserInstallation={profile.as_uri()}", "--headless"]
        command += ["--convert-to", kind, "--outdir", str(folder), str(book)]
        done = subprocess.run(command, capture_output=True, text=True, timeout=180, check=False)
        # Where one sheet is asked for, LibreOffice adds the name of the sheet to the file's.
        found = sorted(folder.glob(f"{book.stem}*.{kind.partition(':')[0]}"))
        assert len(found) == 1, f"LibreOffice did not convert {book.name}: {done.stderr}"
        return found[0]

    return convert
