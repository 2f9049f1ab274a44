"""The references of the macros in a workbook, as far as `excel doctor` needs them.

The macros are one part of the workbook, a compound file whose stream `VBA/dir` lists the references
in compressed form ([MS-OVBA], sections 2.3.4.2 and 2.4.1).
"""

from io import BytesIO
from pathlib import Path

from xlhelpers.errors import XlhelpersError
from xlhelpers.package.zip.container import Package

PART = "xl/vbaProject.bin"


def has_reference(book: Path, name: str) -> bool | None:
    """Return whether the macros of a workbook have a reference to a project.

    Parameters
    ----------
    book : Path
        The workbook.
    name : str
        The project's name, such as "xlwings".

    Returns
    -------
    bool or None
        None where the workbook has no macros, or they cannot be read.
    """
    import olefile

    try:
        package = Package.open(book)
        part = package.find(PART)
        if part is None:
            return None
        with olefile.OleFileIO(BytesIO(package.read(part))) as compound:
            listed = decompress(compound.openstream(["VBA", "dir"]).read())
    except (OSError, ValueError, IndexError, XlhelpersError):
        return None
    return name.encode() in listed


def decompress(data: bytes) -> bytes:
    """Return a compressed stream as it was before.

    Parameters
    ----------
    data : bytes
        A container of chunks, as [MS-OVBA], section 2.4.1, describes it.

    Raises
    ------
    ValueError
        If it is no such container.
    """
    if not data or data[0] != 1:
        raise ValueError("not a compressed container")
    whole, at = bytearray(), 1
    while at < len(data):
        header = int.from_bytes(data[at : at + 2], "little")
        end = min(at + (header & 0x0FFF) + 3, len(data))
        at += 2
        if header & 0x8000:
            _decompress_chunk(data[at:end], whole)
        else:
            whole += data[at:end]
        at = end
    return bytes(whole)


def _decompress_chunk(chunk: bytes, whole: bytearray) -> None:
    start, at = len(whole), 0
    while at < len(chunk):
        flags, at = chunk[at], at + 1
        for bit in range(8):
            if at >= len(chunk):
                return
            if not flags >> bit & 1:
                whole.append(chunk[at])
                at += 1
                continue
            token = int.from_bytes(chunk[at : at + 2], "little")
            at += 2
            back_bits = max((len(whole) - start - 1).bit_length(), 4)
            length = (token & (0xFFFF >> back_bits)) + 3
            back = (token >> (16 - back_bits)) + 1
            for _ in range(length):
                whole.append(whole[-back])
