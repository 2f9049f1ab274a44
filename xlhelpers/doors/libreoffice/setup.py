"""Install the extension and the functions into LibreOffice, and remove them again."""

import tempfile
from pathlib import Path
from typing import Any

from xlhelpers.doors.libreoffice.basic_module import FIRST_LINE, MODULE, module_text
from xlhelpers.doors.libreoffice.extension import IDENTIFIER, write_extension
from xlhelpers.doors.libreoffice.hidden_office import drive
from xlhelpers.doors.libreoffice.menu import TITLE
from xlhelpers.doors.libreoffice.programs import Office
from xlhelpers.errors import WorkbookError

PROOF = '=height_above_foot(50;-4;20;"percent")'
PROVEN = 10.8
"""A formula and its value, (50 + 4) % of 20; only a cell that was calculated proves anything."""


def install(office: Office) -> list[str]:
    """Install the extension and the functions; return what was done.

    Raises
    ------
    WorkbookError
        If LibreOffice is running, or does not take the extension; then nothing stays installed.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "xlhelpers.oxt"
        write_extension(path)
        adding = {"identifier": IDENTIFIER, "url": path.as_uri()}
        module = {"name": MODULE, "text": module_text(), "first_line": FIRST_LINE}
        try:
            drive(office, [("write_module", module), ("add_extension", adding)])
        except WorkbookError:
            _take_out_quietly(office)
            raise
    return [
        f"Installed in {office.profile}.",
        _prove(office),
        f"Calc now has the menu “{TITLE}”. It saves the workbook on the screen, runs the job and "
        "shows the workbook again. Undo does not go back beyond a fill, but there is a backup.",
        "Run xlhelpers libreoffice install again after each update of xlhelpers.",
    ]


def _take_out_quietly(office: Office) -> None:
    try:
        drive(office, _removal())
    except WorkbookError:
        return


def _prove(office: Office) -> str:
    """Calculate one cell in a new office, and say what came out."""
    not_proven = "This could not be proven: {}. Run xlhelpers libreoffice doctor."
    try:
        value, menu = drive(
            office,
            [("calculate", {"formula": PROOF}), ("has_menu", {"identifier": IDENTIFIER})],
        )
    except WorkbookError as error:
        return not_proven.format(str(error).rstrip("."))
    if not is_proven(value):
        return not_proven.format(f"a cell with {PROOF} shows “{value}”, not {PROVEN}")
    if not menu:
        return not_proven.format("the menu is missing")
    return f"Proven: a cell with {PROOF} shows {PROVEN}."


def is_proven(value: Any) -> bool:
    """Return whether a calculated cell has the value of the proof."""
    return isinstance(value, float) and abs(value - PROVEN) < 1e-9


def _removal() -> list[tuple[str, dict[str, Any]]]:
    return [
        ("remove_module", {"name": MODULE, "first_line": FIRST_LINE}),
        ("remove_extension", {"identifier": IDENTIFIER}),
    ]


def remove(office: Office) -> list[str]:
    """Remove the extension and the functions; return what was done.

    Raises
    ------
    WorkbookError
        If LibreOffice is running, or does not let go of the extension.
    """
    if not office.profile.exists():
        return ["Nothing is installed."]
    module, extension = drive(office, _removal())
    office.log.unlink(missing_ok=True)
    if not module and not extension:
        return ["Nothing is installed."]
    # the next start clears away the files; the office also keeps copies of modules by itself
    (listed,) = drive(office, [("is_listed", {"identifier": IDENTIFIER})])
    if listed:
        raise WorkbookError("The extension is still listed. Remove it in Tools – Extensions.")
    (office.profile / "user/pack/basic/Standard" / f"{MODULE}.pack").unlink(missing_ok=True)
    return [
        f"Removed from {office.profile}. Your other macros and extensions are unchanged.",
        "Cells with our functions keep their last results until they are calculated again.",
    ]
