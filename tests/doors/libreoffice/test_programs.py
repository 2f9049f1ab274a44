"""What an office is started with."""

import os
from pathlib import Path

import pytest

from xlhelpers.doors.libreoffice.programs import clean_environment


def test_an_office_finds_no_python_of_a_virtual_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    virtual, plain = tmp_path / "venv" / "bin", tmp_path / "usr" / "bin"
    for folder in (virtual, plain):
        folder.mkdir(parents=True)
    (tmp_path / "venv" / "pyvenv.cfg").write_text("home = /usr/bin\n")
    monkeypatch.setenv("PATH", os.pathsep.join((str(virtual), str(plain))))
    monkeypatch.setenv("VIRTUAL_ENV", str(virtual.parent))
    monkeypatch.setenv("PYTHONPATH", "somewhere")
    around = clean_environment()
    assert around["PATH"] == str(plain)
    assert not {"VIRTUAL_ENV", "PYTHONPATH"} & set(around)
