"""Fills a workbook through the remote engine of xlwings, in a process of its own.

    python tests/doors/excel/remote_fill.py BOOK

Prints as JSON what was answered, the lines of the survey as they were read, and every action that
the engine would have the spreadsheet program do.
"""

import json
import os
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[3]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))


def main() -> None:
    """Fill and print."""
    os.environ["XLWINGS_LICENSE_KEY"] = "noncommercial"
    import xlwings

    from tests.doors.excel.open_books import remote_data
    from xlhelpers.doors.excel.book_copy import copy_of
    from xlhelpers.doors.excel.open_book import fill_open_book
    from xlhelpers.reading.survey import read_survey

    engine: Any = xlwings
    book = engine.Book(json=remote_data(Path(sys.argv[1]), engine.__version__))
    survey = read_survey(copy_of(book).package)
    filled = fill_open_book(book)
    print(
        json.dumps(
            {
                "lines": survey.lines.to_json(orient="split"),
                "done": filled.done,
                "message": filled.message,
                "changes": [[c.sheet, c.row, c.column, c.before, c.after] for c in filled.changes],
                "actions": book.json()["actions"],
            }
        )
    )


if __name__ == "__main__":
    main()
