"""Prepared rows of the field sheet beyond the first some hundred, copied from the last of these.

XlsxWriter takes its time and its memory for each cell; a copied row takes next to none.
"""

from __future__ import annotations

import re

from xlhelpers.package.zip_entries import Packed, Packer

# below this row of the sheet only formulas are prepared, to keep the workbook small
WHOLE_ROWS = 20_000

_BLANK = re.compile(rb"<c [^<>]*/>")


def lengthen(content: bytes, written: int, last: int) -> bytes | Packed:
    """Return a sheet whose last row was copied until there are enough.

    Parameters
    ----------
    content : bytes
        The sheet; its rows hold no formula but those that they share with the row above.
    written, last : int
        The last row that is there, and the last that is wanted; counted from 1.
    """
    if last <= written:
        return content
    start = content.rindex(b'<row r="%d"' % written)
    end = content.index(b"</row>", start) + len(b"</row>")
    row = content[start:end]
    whole = min(last, max(written, WHOLE_ROWS))
    packer = Packer(quick=True)
    packer.write(re.sub(rb'( ref="[A-Z]+[0-9]+:[A-Z]+)%d"' % written, rb'\g<1>%d"' % last,
                        content[:end]))  # fmt: skip
    for copied, numbers in (
        (row, range(written + 1, whole + 1)),
        (_BLANK.sub(b"", row), range(whole + 1, last + 1)),
    ):
        at = re.sub(rb'( r="[A-Z]*)%d"' % written, rb'\1%d"', copied.replace(b"%", b"%%"))
        count = at.count(b'%d"')
        for number in numbers:
            packer.write(at % ((number,) * count))
    packer.write(content[end:])
    return packer.finish()
