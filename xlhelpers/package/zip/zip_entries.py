"""The zip file underneath a workbook: its directory read with care, its entries copied raw.

Nothing here knows spreadsheets. Reading refuses what no honest program writes (two entries of
one name, names that lead out of the folder, entries that overlap, sizes that do not agree, a
few bytes that would grow to gigabytes). Writing puts untouched entries back as they were.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass

from xlhelpers.errors import DamagedError, WorkbookError
from xlhelpers.package.zip.sniffing import REPAIR

LOCAL_HEADER = struct.Struct("<4s5H3L2H")
CENTRAL_HEADER = struct.Struct("<4s4B4HL2L5H2L")
END_RECORD = struct.Struct("<4s4H2LH")
MAX_ENTRIES = 20_000
MAX_TOTAL_SIZE = 2**30
# Large sheets are packed a third larger in a quarter of the time.
QUICK_FROM, QUICK_LEVEL, USUAL_LEVEL = 4 * 2**20, 1, 6
PORTION = 2**18
RATIO_FREE_SIZE = 16 * 2**20
MAX_RATIO = 250
NAME_IS_UTF8 = 0x800
ENCRYPTED = 0x41
ZIP64_EXTRA = 1
DAMAGED = "is damaged ({what}). " + REPAIR
UNSAFE = "is not safe to open ({what}). Ask the sender for a new copy"


@dataclass(frozen=True)
class Entry:
    """One entry of the zip file: where its compressed bytes lie and all that describes it."""

    name: str
    info: zipfile.ZipInfo
    raw_name: bytes
    local_extra: bytes
    start: int

    @property
    def end(self) -> int:
        """Offset just after the compressed bytes."""
        return self.start + self.info.compress_size


def part_name(name: str) -> str:
    """Name of a part as OPC spells it: some programs write a backslash between folders."""
    return name.replace("\\", "/")


def _unsafe_name(name: str) -> bool:
    return (
        name.startswith("/") or "\x00" in name or ":" in name or ".." in part_name(name).split("/")
    )


def _entry(data: bytes, info: zipfile.ZipInfo) -> Entry:
    encoding = "utf-8" if info.flag_bits & NAME_IS_UTF8 else "cp437"
    raw_name = info.orig_filename.encode(encoding)
    header = data[info.header_offset : info.header_offset + LOCAL_HEADER.size]
    if len(header) < LOCAL_HEADER.size or header[:4] != b"PK\x03\x04":
        raise DamagedError(DAMAGED.format(what=f"{info.filename} is not where the list says"))
    name_length, extra_length = LOCAL_HEADER.unpack(header)[-2:]
    name_start = info.header_offset + LOCAL_HEADER.size
    if data[name_start : name_start + name_length] != raw_name:
        raise DamagedError(DAMAGED.format(what=f"{info.filename} has two different names"))
    extra_start = name_start + name_length
    start = extra_start + extra_length
    return Entry(part_name(info.orig_filename), info, raw_name, data[extra_start:start], start)


def read_entries(data: bytes) -> tuple[Entry, ...]:
    """Entries of a zip file in the order of its directory, folders left out.

    Raises
    ------
    zipfile.BadZipFile
        No readable zip directory.
    WorkbookError
        A directory that cannot be trusted; the message has no file name yet.
    """
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        infos = archive.infolist()
    if len(infos) > MAX_ENTRIES:
        raise WorkbookError(UNSAFE.format(what=f"it has {len(infos):,} parts"))
    entries = [_entry(data, info) for info in infos if not _check_entry(info).is_dir()]
    _refuse_duplicates(entries)
    _refuse_overlaps(entries, len(data))
    total = sum(entry.info.file_size for entry in entries)
    if total > MAX_TOTAL_SIZE:
        size = f"unpacked it would be {total / 2**20:,.0f} MB"
        raise WorkbookError(
            UNSAFE.format(what=f"{size}; {MAX_TOTAL_SIZE / 2**20:,.0f} is the limit")
        )
    return tuple(entries)


def _check_entry(info: zipfile.ZipInfo) -> zipfile.ZipInfo:
    """The same entry, refused where its name, method or size is not that of a workbook's part."""
    if _unsafe_name(info.orig_filename):
        raise WorkbookError(UNSAFE.format(what=f"a part has the name {info.orig_filename!r}"))
    if info.flag_bits & ENCRYPTED:
        raise WorkbookError("is a zip file with a password. Unpack it first")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise DamagedError(DAMAGED.format(what=f"{info.filename} is packed in an unknown way"))
    if info.file_size > RATIO_FREE_SIZE and info.file_size > MAX_RATIO * max(info.compress_size, 1):
        what = f"unpacked, {info.filename} would be over {MAX_RATIO} times as large"
        raise WorkbookError(UNSAFE.format(what=what))
    return info


def _refuse_duplicates(entries: Iterable[Entry]) -> None:
    seen: dict[str, str] = {}
    for entry in entries:
        key = entry.name.casefold()
        if key in seen:
            raise WorkbookError(UNSAFE.format(what=f"two parts have the name {entry.name}"))
        seen[key] = entry.name


def _refuse_overlaps(entries: Iterable[Entry], size: int) -> None:
    last = 0
    for entry in sorted(entries, key=lambda item: item.info.header_offset):
        if entry.info.header_offset < last or entry.end > size:
            raise DamagedError(DAMAGED.format(what=f"{entry.name} overlaps another part"))
        last = entry.end


def prove(data: bytes, entry: Entry) -> bytes:
    """Prove the size and the checksum of one entry; return how its contents begin."""
    packed, info = memoryview(data)[entry.start : entry.end], entry.info
    if info.compress_type == zipfile.ZIP_STORED:
        content = bytes(packed)
        crc, size, head = zlib.crc32(content), len(content), content[:PORTION]
    else:
        crc, size, head = _measure_contents(packed, entry)
    if size != info.file_size or crc != info.CRC:
        raise DamagedError(DAMAGED.format(what=f"the checksum of {entry.name} is wrong"))
    return head


def _measure_contents(packed: memoryview, entry: Entry) -> tuple[int, int, bytes]:
    """Checksum, size and beginning of deflated contents, which are never whole in memory."""
    stream = zlib.decompressobj(-15)
    crc, size, head = 0, 0, b""
    try:
        for start in range(0, len(packed), PORTION):
            waiting: bytes | memoryview = packed[start : start + PORTION]
            while waiting and size <= entry.info.file_size:
                piece = stream.decompress(waiting, PORTION)
                head = head or piece
                crc, size = zlib.crc32(piece, crc), size + len(piece)
                waiting = stream.unconsumed_tail
        piece = stream.flush(PORTION)
        head, crc, size = head or piece, zlib.crc32(piece, crc), size + len(piece)
    except zlib.error as error:
        raise DamagedError(DAMAGED.format(what=f"{entry.name} cannot be unpacked")) from error
    return crc, size, head


def unpack(data: bytes, entry: Entry) -> bytes:
    """Contents of one entry that was proved before."""
    packed = data[entry.start : entry.end]
    if entry.info.compress_type == zipfile.ZIP_STORED:
        return packed
    return zlib.decompress(packed, -15, entry.info.file_size or 1)


@dataclass(frozen=True)
class Packed:
    """Deflated contents of a part, with the checksum and the size of what is inside."""

    data: bytes
    crc: int
    size: int

    def unpack(self) -> bytes:
        """The contents."""
        return zlib.decompress(self.data, -15, self.size or 1)


class Packer:
    """Contents deflated as they come, so that a large sheet is never whole in memory."""

    def __init__(self, *, quick: bool) -> None:
        """With `quick` the result is somewhat larger and there much sooner."""
        level = QUICK_LEVEL if quick else USUAL_LEVEL
        self._stream = zlib.compressobj(level, zlib.DEFLATED, -15)
        self._pieces: list[bytes] = []
        self._waiting: list[bytes] = []
        self._waiting_size = 0
        self._crc = 0
        self._size = 0

    def write(self, piece: bytes) -> None:
        """Append a piece."""
        self._waiting.append(piece)
        self._waiting_size += len(piece)
        if self._waiting_size > PORTION:
            self._pack()

    def _pack(self) -> None:
        content = b"".join(self._waiting)
        self._waiting.clear()
        self._waiting_size = 0
        self._crc = zlib.crc32(content, self._crc)
        self._size += len(content)
        packed = self._stream.compress(content)
        if packed:
            self._pieces.append(packed)

    def finish(self) -> Packed:
        """All that was written."""
        self._pack()
        self._pieces.append(self._stream.flush())
        return Packed(b"".join(self._pieces), self._crc, self._size)


def pack(content: bytes) -> Packed:
    """Contents deflated at once."""
    packer = Packer(quick=len(content) > QUICK_FROM)
    packer.write(content)
    return packer.finish()


def _without_zip64(extra: bytes) -> bytes:
    other_fields, position = b"", 0
    while position + 4 <= len(extra):
        kind, length = struct.unpack_from("<2H", extra, position)
        if kind != ZIP64_EXTRA:
            other_fields += extra[position : position + 4 + length]
        position += 4 + length
    return other_fields


def _time_fields(date_time: tuple[int, ...]) -> tuple[int, int]:
    year, month, day, hour, minute, second = date_time
    return hour << 11 | minute << 5 | second // 2, (year - 1980) << 9 | month << 5 | day


class ZipAssembler:
    """A zip file put together entry by entry, from raw copies and new contents."""

    def __init__(self, date_time: tuple[int, int, int, int, int, int]) -> None:
        """Start an empty file; `date_time` is given to every new or replaced entry."""
        self._body: list[bytes] = []
        self._directory: list[bytes] = []
        self._offset = 0
        self._date_time = date_time

    def copy(self, data: bytes, entry: Entry) -> None:
        """Append an entry as it stands in `data`, compressed bytes and metadata unchanged."""
        info = entry.info
        packed = data[entry.start : entry.end]
        self._append(entry.raw_name, info, packed, entry.local_extra)

    def add(self, raw_name: bytes, packed: Packed, *, utf8: bool) -> None:
        """Append a new entry."""
        info = zipfile.ZipInfo("part", self._date_time)
        info.flag_bits = NAME_IS_UTF8 if utf8 else 0
        info.compress_type = zipfile.ZIP_DEFLATED
        info.create_system = 0
        info.CRC = packed.crc
        info.file_size = packed.size
        info.compress_size = len(packed.data)
        self._append(raw_name, info, packed.data, b"")

    def _append(self, raw_name: bytes, info: zipfile.ZipInfo, packed: bytes, extra: bytes) -> None:
        # The sizes stand in the header itself, so the trailing descriptor is not needed.
        flags = info.flag_bits & ~0x8
        clock, day = _time_fields(info.date_time)
        extra = _without_zip64(extra)
        method, sizes = info.compress_type, (len(packed), info.file_size, len(raw_name))
        common = (flags, method, clock, day, info.CRC, *sizes)
        header = LOCAL_HEADER.pack(b"PK\x03\x04", 20, *common, len(extra))
        central_extra = _without_zip64(info.extra)
        directory = CENTRAL_HEADER.pack(
            b"PK\x01\x02",
            info.create_version,
            info.create_system,
            20,
            0,
            *common,
            len(central_extra),
            len(info.comment),
            0,
            info.internal_attr,
            info.external_attr,
            self._offset,
        )
        self._directory.append(directory + raw_name + central_extra + info.comment)
        self._body += [header, raw_name, extra, packed]
        self._offset += len(header) + len(raw_name) + len(extra) + len(packed)

    def finish(self) -> bytes:
        """The whole file."""
        directory = b"".join(self._directory)
        count = len(self._directory)
        end = END_RECORD.pack(b"PK\x05\x06", 0, 0, count, count, len(directory), self._offset, 0)
        return b"".join([*self._body, directory, end])
