"""A file is written whole or not at all."""

import os
from pathlib import Path

import pytest

from xlhelpers.package.whole_file import write_whole


def test_a_file_is_replaced_and_nothing_else_is_left(tmp_path: Path) -> None:
    place = tmp_path / "facts.json"
    place.write_bytes(b"before")
    write_whole(place, b"after")
    assert place.read_bytes() == b"after"
    assert list(tmp_path.iterdir()) == [place]


def test_after_an_error_the_file_is_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "facts.json"
    place.write_bytes(b"before")

    def refuse(*_: object) -> None:
        raise OSError("no")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="no"):
        write_whole(place, b"after")
    assert place.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [place]


@pytest.mark.skipif(os.name != "posix", reason="links and devices")
def test_a_link_stays_a_link_and_a_device_is_written_to(tmp_path: Path) -> None:
    place, link = tmp_path / "facts.json", tmp_path / "link"
    place.touch()
    link.symlink_to(place)
    write_whole(link, b"after")
    assert link.is_symlink()
    assert place.read_bytes() == b"after"
    write_whole(Path(os.devnull), b"gone")
    assert Path(os.devnull).exists()
    assert not Path(os.devnull).is_file()
