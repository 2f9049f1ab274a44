"""A LibreOffice without a screen that tests can ask for things; run by a Python that has uno.

Usage: python remote.py PROGRAM PROFILE. Each line of the input is a JSON list of a name and its
arguments; each line of the output is the answer, or {"error": ...}. The office ends with the input.
Where DISPLAY is set it has a screen.
"""

from __future__ import annotations

import importlib.util
import json
import os
import signal
import subprocess
import sys
import time
import uuid
from pathlib import Path
from typing import Any

import uno
from com.sun.star.beans import PropertyValue
from screen_places import place_of

DRIVER = Path(__file__).parents[3] / "xlhelpers/doors/libreoffice/driver.py"


def load_driver() -> Any:
    spec = importlib.util.spec_from_file_location("driver", DRIVER)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


driver = load_driver()


def prop(name: str, value: Any) -> PropertyValue:
    one = PropertyValue()
    one.Name, one.Value = name, value
    return one


class Office:
    def __init__(self, program: str, profile: str) -> None:
        pipe = f"test{uuid.uuid4().hex}"
        command = [program, "--norestore", "--nologo", "--nodefault"]
        if "DISPLAY" not in os.environ:
            command.append("--headless")
        command += [f"--accept=pipe,name={pipe};urp;", f"-env:UserInstallation={profile}"]
        self.process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self.context = driver.connect(pipe, profile, 60)
        self.desktop = driver.create(self.context, "com.sun.star.frame.Desktop")

    def end(self) -> None:
        try:
            self.desktop.terminate()
            self.process.wait(20)
        except Exception:
            pass
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)

    def documents(self) -> list[Any]:
        listed = self.desktop.Components.createEnumeration()
        found = []
        while listed.hasMoreElements():
            found.append(listed.nextElement())
        return found

    def document(self, name: str) -> Any:
        return next(one for one in self.documents() if one.URL.endswith(name.replace(" ", "%20")))

    # what tests ask for

    def open(self, path: str, **how: Any) -> str:
        url = path if ":" in path else uno.systemPathToFileUrl(path)
        given = tuple(prop(name, value) for name, value in how.items())
        return self.desktop.loadComponentFromURL(url, "_blank", 0, given).URL

    def close_all(self) -> None:
        for document in self.documents():
            document.setModified(False)
            document.close(True)

    def names(self) -> list[str]:
        return sorted(one.URL.rpartition("/")[2] for one in self.documents())

    def choose(self, entry: str, name: str, **how: Any) -> float:
        """Choose an entry of the menu as a click does, and return the seconds that it took."""
        frame = self.document(name).getCurrentController().getFrame()
        helper = driver.create(self.context, "com.sun.star.frame.DispatchHelper")
        given = tuple(prop(one, value) for one, value in how.items())
        began = time.monotonic()
        helper.executeDispatch(frame, f"org.xlhelpers:{entry}", "_self", 0, given)
        return time.monotonic() - began

    def save_as(self, name: str, path: str, **how: Any) -> None:
        given = tuple(prop(one, value) for one, value in how.items())
        self.document(name).storeAsURL(uno.systemPathToFileUrl(path), given)

    def protect(self, name: str) -> None:
        self.document(name).protect("")
        self.document(name).store()

    def show(self, name: str, sheet: str, cells: str, row: int) -> None:
        document = self.document(name)
        controller = document.getCurrentController()
        found = document.Sheets.getByName(sheet)
        controller.setActiveSheet(found)
        ranges = document.createInstance("com.sun.star.sheet.SheetCellRanges")
        parts = [found.getCellRangeByName(part) for part in cells.split(" ")]
        ranges.addRangeAddresses(tuple(part.getRangeAddress() for part in parts), False)
        controller.select(parts[0] if len(parts) == 1 else ranges)
        controller.getByIndex(controller.getCount() - 1).setFirstVisibleRow(row)

    def view(self, name: str) -> list[Any]:
        controller = self.document(name).getCurrentController()
        pane = controller.getByIndex(controller.getCount() - 1)
        selected = self.document(name).getCurrentSelection()
        several = hasattr(selected, "getByIndex")
        parts = [selected.getByIndex(at) for at in range(selected.Count)] if several else [selected]
        cells = [part.AbsoluteName.rpartition(".")[2].replace("$", "") for part in parts]
        return [controller.getActiveSheet().Name, " ".join(cells), pane.FirstVisibleRow]

    def tabs(self, name: str) -> list[str]:
        return list(self.document(name).Sheets.ElementNames)

    def set(self, name: str, sheet: str, cells: str, rows: list[list[Any]]) -> None:
        """Write numbers and texts; None is a blank cell."""
        found = self.document(name).Sheets.getByName(sheet).getCellRangeByName(cells)
        found.setDataArray(tuple(tuple("" if one is None else one for one in row) for row in rows))

    def get(self, name: str, sheet: str, cells: str) -> list[list[Any]]:
        found = self.document(name).Sheets.getByName(sheet).getCellRangeByName(cells)
        return [list(row) for row in found.getDataArray()]

    def formulas(self, name: str, sheet: str, cells: str, rows: list[list[str]]) -> float:
        """Write formulas and return the seconds of calculating all of them once more."""
        found = self.document(name).Sheets.getByName(sheet).getCellRangeByName(cells)
        found.setFormulaArray(tuple(tuple(row) for row in rows))
        return self.calculate(name)

    def array(self, name: str, sheet: str, cells: str, formula: str) -> float:
        """Write an array formula and return the seconds that it took."""
        found = self.document(name).Sheets.getByName(sheet).getCellRangeByName(cells)
        began = time.monotonic()
        found.setArrayFormula(formula)
        found.getDataArray()
        return time.monotonic() - began

    def calculate(self, name: str) -> float:
        began = time.monotonic()
        self.document(name).calculateAll()
        return time.monotonic() - began

    def shown(self, name: str, sheet: str, cell: str) -> list[Any]:
        """Return the text of a cell and the number of its error."""
        found = self.document(name).Sheets.getByName(sheet).getCellRangeByName(cell)
        return [found.getString(), found.getError()]

    def fill_down(self, name: str, sheet: str, cells: str) -> None:
        found = self.document(name).Sheets.getByName(sheet).getCellRangeByName(cells)
        found.fillAuto(uno.Enum("com.sun.star.sheet.FillDirection", "TO_BOTTOM"), 1)

    def modules(self) -> dict[str, str]:
        library = driver._open_library(driver._libraries(self.context))
        return {name: library.getByName(name) for name in library.ElementNames}

    def add_module(self, name: str, text: str) -> None:
        libraries = driver._libraries(self.context)
        driver._open_library(libraries).insertByName(name, text)
        libraries.storeLibraries()

    def listed(self, identifier: str) -> bool:
        return driver.is_listed(self.context, identifier)

    def menu(self, identifier: str) -> bool:
        return driver.has_menu(self.context, identifier)

    def has_service(self, name: str) -> bool:
        return name in self.context.ServiceManager.getAvailableServiceNames()

    def place(self, name: str) -> list[int]:
        """Return where on the screen something with this name is, [] if it is not."""
        return place_of(driver.create(self.context, "com.sun.star.awt.Toolkit"), name)

    def pid(self) -> int:
        return self.process.pid


def main() -> None:
    office = Office(*sys.argv[1:])
    try:
        print(json.dumps("ready"), flush=True)
        for line in sys.stdin:
            name, arguments, options = json.loads(line)
            try:
                answer = getattr(office, name)(*arguments, **options)
            except Exception as error:
                answer = {"error": f"{type(error).__name__}: {error}"}
            print(json.dumps(answer), flush=True)
    finally:
        office.end()


if __name__ == "__main__":
    main()
