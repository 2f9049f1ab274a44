"""Types into a workbook in LibreOffice and prints the seconds that each keystroke costs, as JSON.

For the system's Python, which has the module `uno`; `keystrokes.py` runs it.
"""

import json
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.sheet.GeneralFunction import SUM

# kind of keystroke -> sheet, field, and the texts or numbers that are typed in turn
KEYSTROKES = {
    "tip reading": ("line", "tip_reading", (61.5, 62.5)),
    "tip reading as 61,5": ("line", "tip_reading", ("61,5", "62,5")),
    "set-up": ("line", "setup", (2, 3)),
    "tree number": ("line", "tree", (901, 902)),
    "species": ("line", "species", ("Acer campestre", "Tilia cordata")),
    "diameter": ("line", "diameter", (41.0, 42.0)),
    "plot number": ("line", "plot", None),
    "eye height on People": ("person", "eye_height", (1.62, 1.63)),
    "instrument on Plots": ("plot", "instrument", None),
    "trees counted on Plots": ("plot", "trees_counted", (11, 12)),
}
MIDDLE = 0.5  # where in the column is typed


def start(profile):
    """Start LibreOffice and return it with its desktop."""
    pipe = f"keystrokes{time.monotonic_ns()}"
    program = shutil.which("soffice") or "libreoffice"
    command = [program, f"-env:UserInstallation={Path(profile).as_uri()}", "--headless"]
    command += ["--norestore", "--invisible", f"--accept=pipe,name={pipe};urp;"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", local
    )
    for _ in range(240):
        try:
            context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            break
        except Exception:  # it is not up yet
            time.sleep(0.25)
    make = context.ServiceManager.createInstanceWithContext
    return process, make("com.sun.star.frame.Desktop", context)


def descendants(process):
    """Return the numbers of a process and of all that it started."""
    parents = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            fields = (folder / "stat").read_text().rpartition(")")[2].split()
        except OSError:  # it has ended
            continue
        parents.setdefault(int(fields[1]), []).append(int(folder.name))
    found = [process]
    for one in found:
        found += parents.get(one, [])
    return found


class Clock:
    """The processor's time of an office; what else the machine does is left out. Linux only."""

    def __init__(self, process):
        """Take the one of its processes that has worked most."""
        # the number of the clock of a process, as the C library makes it
        clocks = [(~number << 3) | 2 for number in descendants(process.pid)]
        self.clock = max(clocks, key=time.clock_gettime)

    def seconds(self):
        """Return the seconds since the office was started."""
        return time.clock_gettime(self.clock)


class Book:
    """An open workbook: its columns by the names of their headings, and how it is calculated."""

    def __init__(self, desktop, path):
        """Load the workbook without a window."""
        hidden = PropertyValue()
        hidden.Name, hidden.Value = "Hidden", True
        self.document = desktop.loadComponentFromURL(Path(path).as_uri(), "_blank", 0, (hidden,))
        self.names = self.document.NamedRanges

    def column(self, sheet, field):
        """Return the sheet and the position of a column, and the first row below its heading."""
        cell = self.names.getByName(f"xlh_{sheet}_{field}").getReferredCells()
        address = cell.getRangeAddress()
        tab = self.document.Sheets.getByIndex(address.Sheet)
        return tab, address.StartColumn, address.StartRow + 1

    def filled(self, sheet, field):
        """Return the rows of a column that are filled, as a clerk would see them."""
        tab, column, first = self.column(sheet, field)
        cursor = tab.createCursor()
        cursor.gotoEndOfUsedArea(False)
        last = cursor.getRangeAddress().EndRow
        cells = tab.getCellRangeByPosition(column, first, column, last).getDataArray()
        return [first + at for at, (value,) in enumerate(cells) if value != ""]

    def calculate(self):
        """Calculate what the last keystroke made dirty, on the lines, on Plots, everywhere."""
        for sheet in ("line", "plot"):
            tab, _, first = self.column(sheet, "plot")
            cursor = tab.createCursor()
            cursor.gotoEndOfUsedArea(False)
            end = cursor.getRangeAddress()
            cells = tab.getCellRangeByPosition(0, first, end.EndColumn, end.EndRow)
            cells.computeFunction(SUM)
        self.document.calculate()


def put(cell, value):
    """Type a value into a cell."""
    if isinstance(value, str):
        cell.setString(value)
    else:
        cell.setValue(value)


def measure(book, clock, sheet, field, values, repeats):
    """Return the seconds of the fastest keystroke of a kind."""
    tab, column, _ = book.column(sheet, field)
    rows = book.filled(sheet, "initials" if sheet == "person" else "plot")
    row = rows[int(len(rows) * MIDDLE)]
    cell = tab.getCellByPosition(column, row)
    before = cell.getFormula()
    if values is None:
        above = tab.getCellByPosition(column, row - 30 if row > 40 else row - 1)
        values = (above.getString(), cell.getString())
    best = float("inf")
    for turn in range(repeats):
        begun = clock.seconds()
        put(cell, values[turn % len(values)])
        book.calculate()
        best = min(best, clock.seconds() - begun)
    cell.setFormula(before)
    book.calculate()
    return best


def main():
    """Load the workbook named on the command line and type into it."""
    path, repeats = sys.argv[1], int(sys.argv[2])
    with tempfile.TemporaryDirectory() as profile:
        process, desktop = start(profile)
        try:
            clock = Clock(process)
            begun = clock.seconds()
            book = Book(desktop, path)
            found = {"loading": clock.seconds() - begun}
            book.calculate()
            for kind, (sheet, field, values) in KEYSTROKES.items():
                found[kind] = measure(book, clock, sheet, field, values, repeats)
            book.document.close(True)
        finally:
            process.terminate()
            process.wait()
    print(json.dumps(found))


if __name__ == "__main__":
    main()
