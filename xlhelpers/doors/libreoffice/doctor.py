"""Look for the known problems of the extension in LibreOffice; change nothing."""

import json
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Literal, NamedTuple
from xml.etree import ElementTree

from xlhelpers import __version__
from xlhelpers.doors.libreoffice.basic_module import MODULE, module_text
from xlhelpers.doors.libreoffice.extension import settings
from xlhelpers.doors.libreoffice.hidden_office import drive
from xlhelpers.doors.libreoffice.programs import (
    NO_OFFICE,
    NO_PYTHON,
    Office,
    find_program,
    find_python,
    is_running,
    usual_profile,
)
from xlhelpers.doors.libreoffice.setup import PROOF, PROVEN, is_proven
from xlhelpers.errors import WorkbookError
from xlhelpers.wording import plural

INSTALL = "close LibreOffice and run: xlhelpers libreoffice install"
_HEADS = {"look": "PROBLEM", "fine": "fine", "unseen": "cannot tell"}
_NOT_TRIED = {"win32": "not tried on Windows", "darwin": "not tried on macOS"}
_LOOK = 60  # seconds
_INSTALLED = "user/uno_packages/cache/uno_packages/*/xlhelpers.oxt/settings.json"
# programs of these places run closed off from other programs of the computer
_CLOSED_OFF = ("flatpak", "/snap/")


class CheckResult(NamedTuple):
    """One check: what was looked at, what was seen, and what to do about it."""

    state: Literal["look", "fine", "unseen"]
    name: str
    detail: str
    action: str = ""


def examine(profile: Path | None = None) -> list[CheckResult]:
    """Make every check; without LibreOffice there is only one.

    Parameters
    ----------
    profile : Path, optional
        Folder of the settings of LibreOffice; that of the user unless stated.
    """
    program = find_program()
    if program is None:
        return [CheckResult("look", "LibreOffice", "not found", NO_OFFICE)]
    python = find_python(program)
    office = Office(program, python or Path(), (profile or usual_profile()).resolve())
    results = [_program(program), _python(python), _extension(office), _functions(office)]
    if python is not None:
        results.extend(_calculation(office))
    return results


def _program(program: Path) -> CheckResult:
    if any(word in str(program.resolve()) for word in _CLOSED_OFF):
        return CheckResult(
            "look",
            "LibreOffice",
            f"{program} runs closed off from other programs",
            "install LibreOffice from its own site or from your system's packages, then run: "
            "xlhelpers libreoffice install",
        )
    return CheckResult("fine", "LibreOffice", f"{program}{_version(program)}")


def _version(program: Path) -> str:
    try:
        done = subprocess.run(
            [program, "--version"],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=_LOOK,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    words = done.stdout.split()
    return f" ({' '.join(words[:2])})" if len(words) > 1 else ""


def _python(python: Path | None) -> CheckResult:
    if python is None:
        return CheckResult("look", "Its Python", "not found", NO_PYTHON)
    return CheckResult("fine", "Its Python", str(python))


def read_installed(office: Office) -> dict[str, Any] | None:
    """Return the settings in the extension of a profile, None if it is not installed."""
    for place in office.profile.glob(_INSTALLED):
        try:
            read: dict[str, Any] = json.loads(place.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
        return read
    return None


def _extension(office: Office) -> CheckResult:
    name = "Extension"
    installed, now = read_installed(office), settings()
    if installed is None:
        return CheckResult("look", name, f"not installed in {office.profile}", INSTALL)
    if installed["version"] != now["version"]:
        detail = f"version {installed['version']}, but xlhelpers is {__version__}"
        return CheckResult("look", name, detail, INSTALL)
    if not Path(installed["python"]).is_file():
        return CheckResult("look", name, f"{installed['python']} is no longer there", INSTALL)
    if (installed["python"], installed["folder"]) != (now["python"], now["folder"]):
        detail = f"it uses xlhelpers in {installed['python']}, not in {now['python']}"
        return CheckResult("look", name, detail, INSTALL)
    if installed["entries"] != now["entries"]:
        return CheckResult("look", name, "its menu is from an earlier version", INSTALL)
    return CheckResult("fine", name, f"version {installed['version']}")


def _functions(office: Office) -> CheckResult:
    name = "Functions"
    place = office.profile / "user/basic/Standard" / f"{MODULE}.xba"
    try:
        # our own file, written by LibreOffice; without entities there is nothing to fear in it
        text = ElementTree.fromstring(_without_type(place.read_text(encoding="utf-8"))).text or ""
    except (OSError, ElementTree.ParseError):
        return CheckResult("look", name, f"{place} is not there", INSTALL)
    if text.split() != module_text().split():
        return CheckResult("look", name, f"{place} is from an earlier version", INSTALL)
    return CheckResult("fine", name, str(place))


def _without_type(text: str) -> str:
    return "".join(line for line in text.splitlines(True) if "<!DOCTYPE" not in line)


def _calculation(office: Office) -> Iterator[CheckResult]:
    name = "A cell"
    if is_running(office):
        action = "close LibreOffice, then run this again"
        yield CheckResult("unseen", name, "LibreOffice is running", action)
        return
    if read_installed(office) is None:
        return
    try:
        (value,) = drive(office, [("calculate", {"formula": PROOF})])
    except WorkbookError as error:
        yield CheckResult("look", name, str(error), INSTALL)
        return
    detail = f"{PROOF} shows “{value}”"
    if is_proven(value):
        yield CheckResult("fine", name, detail)
    else:
        yield CheckResult("look", name, f"{detail}, not {PROVEN}", INSTALL)


def say(results: Iterable[CheckResult]) -> list[str]:
    """Return one paragraph for each check, problems first."""
    order = list(_HEADS)
    ranked = sorted(results, key=lambda one: order.index(one.state))
    paragraphs = []
    for one in ranked:
        line = f"{_HEADS[one.state]:<15} {one.name}: {one.detail}"
        if one.state != "fine":
            line += f"\n{'':<16}Do: {one.action}"
        paragraphs.append(line)
    count = sum(one.state == "look" for one in ranked)
    tried = _NOT_TRIED.get(sys.platform)
    summary = (
        f"{plural(count, 'problem')} in {plural(len(ranked), 'check')}."
        if count
        else "No problem was found."
    )
    return [*paragraphs, f"{summary}{f' These checks were {tried}.' if tried else ''}"]
