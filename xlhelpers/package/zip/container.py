"""An opened workbook as a set of parts: read from bytes, replaced in memory, put together again.

Parts that nobody replaces are copied raw, compressed bytes and all, in their old order.
"""

from __future__ import annotations

import hashlib
import os
import time
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar, cast

from xlhelpers.errors import DamagedError, WorkbookError
from xlhelpers.package.parts.xml_text import (
    declares_document_type,
    descendants,
    parse,
    prolog_is_all,
)
from xlhelpers.package.zip import sniffing, zip_entries
from xlhelpers.package.zip.sniffing import REPAIR
from xlhelpers.package.zip.zip_entries import Packed

XML_ENDINGS = (".xml", ".rels", ".vml")
Kept = TypeVar("Kept")
FIRST_DATE = (1980, 1, 1, 0, 0, 0)
ROOT_RELATIONS = "_rels/.rels"


def _date_for_new_parts() -> tuple[int, int, int, int, int, int]:
    text = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not text.isdigit():
        return FIRST_DATE
    moment = time.gmtime(int(text))
    if not 1980 <= moment.tm_year <= 2107:
        return FIRST_DATE
    return (
        moment.tm_year,
        moment.tm_mon,
        moment.tm_mday,
        moment.tm_hour,
        moment.tm_min,
        moment.tm_sec,
    )


def _pack(content: bytes | Packed) -> Packed:
    return zip_entries.pack(content) if isinstance(content, bytes) else content


class Package:
    """The parts of one workbook; replaced parts live in memory until `to_bytes`."""

    def __init__(self, path: Path, data: bytes) -> None:
        """Use `open` or `from_bytes`; this takes bytes that are known to be a zip file."""
        self.path = path
        self.digest = hashlib.sha256(data).digest()
        self._data = data
        self._entries = {entry.name: entry for entry in zip_entries.read_entries(data)}
        self._spelling = {name.casefold(): name for name in self._entries}
        self._replaced: dict[str, bytes | Packed] = {}
        self._removed: set[str] = set()
        self._sound: set[str] = set()
        self._remembered: dict[str, dict[str, object]] = {}

    @classmethod
    def open(cls, path: Path | str) -> Package:
        """Open a workbook from disk; the file itself is read once and never touched.

        Raises
        ------
        WorkbookError
            The file is not a sound .xlsx or .xlsm. The message says what it is and what to do.
        """
        path = Path(path)
        sniffing.refuse_owner_file(path)
        try:
            sniffing.refuse_pipe(path)
            data = path.read_bytes()
        except FileNotFoundError as error:
            raise WorkbookError(f"{path.name} is not in {path.parent}. Check the name.") from error
        except IsADirectoryError as error:
            raise WorkbookError(f"{path.name} is a folder. Name the workbook itself.") from error
        except OSError as error:
            raise WorkbookError(
                f"{path.name} cannot be read ({error.strerror}). Close it in every other "
                "program, check that you are allowed to read it, and try again."
            ) from error
        return cls.from_bytes(data, path)

    @classmethod
    def from_bytes(cls, data: bytes, path: Path | str = "workbook.xlsx") -> Package:
        """Open a workbook held in memory; `path` serves messages and the later write."""
        path = Path(path)
        try:
            package = cls(path, data)
        except (zipfile.BadZipFile, NotImplementedError, ValueError, IndexError) as error:
            raise sniffing.not_a_workbook(path.name, data) from error
        except WorkbookError as error:
            raise type(error)(f"{path.name} {error}.") from error
        package._check_parts()
        return package

    def _check_parts(self) -> None:
        for name, entry in self._entries.items():
            try:
                head = zip_entries.prove(self._data, entry)
            except WorkbookError as error:
                raise type(error)(f"{self.path.name} {error}.") from error
            is_xml = name.casefold().endswith(XML_ENDINGS) or head[:5] == b"<?xml"
            if is_xml and prolog_is_all(head):
                head = zip_entries.unpack(self._data, entry)
            if is_xml and declares_document_type(head):
                raise WorkbookError(
                    f"{self.path.name} is not safe to open ({name} declares a document type). "
                    "Ask the sender for a new copy."
                )
        self._check_workbook_part()

    def _check_workbook_part(self) -> None:
        wrong = sniffing.no_workbook_part(self.path.name, self.names())
        roots = self.find(ROOT_RELATIONS)
        if roots is None:
            raise wrong
        for relation in descendants(parse(self.read(roots), roots), "Relationship"):
            if str(relation.get("Type", "")).endswith("/officeDocument"):
                name = self.find(str(relation.get("Target", "")).lstrip("/"))
                if name is None or not name.casefold().endswith(".xml"):
                    raise wrong
                if next(descendants(parse(self.read(name), name), "sheets"), None) is None:
                    raise wrong
                self.workbook_part = name
                return
        raise wrong

    def names(self) -> tuple[str, ...]:
        """Names of all parts, in order, new ones last."""
        old_names = [name for name in self._entries if name not in self._removed]
        return (*old_names, *(name for name in self._replaced if name not in self._entries))

    def find(self, name: str) -> str | None:
        """The name as the package spells it (part names ignore case); None where absent."""
        spelling = self._spelling.get(name.replace("\\", "/").casefold())
        return None if spelling is None or spelling in self._removed else spelling

    def read(self, name: str) -> bytes:
        """Contents of a part.

        Raises
        ------
        WorkbookError
            There is no such part.
        """
        part_name = self.find(name)
        if part_name is None:
            raise DamagedError(f"{self.path.name} is damaged ({name} is missing). {REPAIR}.")
        if part_name in self._replaced:
            content = self._replaced[part_name]
            return content if isinstance(content, bytes) else content.unpack()
        return zip_entries.unpack(self._data, self._entries[part_name])

    def original(self, name: str) -> bytes | None:
        """Contents that the part had when the workbook was opened; None for a new part."""
        entry = self._entries.get(name)
        return None if entry is None else zip_entries.unpack(self._data, entry)

    def replace(self, name: str, data: bytes | Packed) -> None:
        """Give a part new contents, or add it; the old contents again are no change.

        Large contents are kept deflated.
        """
        name = self._spelling.setdefault(name.casefold(), name)
        self._removed.discard(name)
        self._forget(name)
        if self._is_original(name, data):
            self._replaced.pop(name, None)
        elif isinstance(data, bytes) and len(data) > zip_entries.QUICK_FROM:
            self._replaced[name] = zip_entries.pack(data)
        else:
            self._replaced[name] = data

    def _is_original(self, name: str, data: bytes | Packed) -> bool:
        entry = self._entries.get(name)
        size = len(data) if isinstance(data, bytes) else data.size
        if entry is None or entry.info.file_size != size:
            return False
        crc = zlib.crc32(data) if isinstance(data, bytes) else data.crc
        if crc != entry.info.CRC:
            return False
        return self.original(name) == (data if isinstance(data, bytes) else data.unpack())

    def _forget(self, name: str) -> None:
        self._sound.discard(name)
        self._remembered.pop(name, None)

    def remember(self, name: str, what: str, understand: Callable[[bytes], Kept]) -> Kept:
        """What was understood from a part, kept until the part changes; not to be changed."""
        name = self.find(name) or name
        known = self._remembered.setdefault(name, {})
        if what not in known:
            known[what] = understand(self.read(name))
        return cast(Kept, known[what])

    def recall(self, name: str, what: str) -> object | None:
        """What is remembered of a part; None where that is nothing."""
        return self._remembered.get(self.find(name) or name, {}).get(what)

    def forget(self, what: str) -> None:
        """Forget what is remembered under a word of every part."""
        for known in self._remembered.values():
            known.pop(what, None)

    def note_sound(self, name: str) -> None:
        """Note that a part, as it is now, has been read to its end and is well-formed."""
        self._sound.add(self._spelling.get(name.casefold(), name))

    def is_sound(self, name: str) -> bool:
        """Whether a part is known to be well-formed, so that nobody need parse it again."""
        return self._spelling.get(name.casefold(), name) in self._sound

    def remove(self, name: str) -> None:
        """Take a part out; nothing happens where it is absent."""
        part_name = self.find(name)
        if part_name is None:
            return
        self._forget(part_name)
        self._replaced.pop(part_name, None)
        if part_name in self._entries:
            self._removed.add(part_name)
        else:
            del self._spelling[part_name.casefold()]

    def changed(self) -> tuple[str, ...]:
        """Names of parts that were replaced, added or removed, sorted."""
        return tuple(sorted({*self._replaced, *self._removed}))

    def to_bytes(self) -> bytes:
        """The whole workbook; the very same bytes where nothing was changed."""
        if not self.changed():
            return self._data
        assembler = zip_entries.ZipAssembler(_date_for_new_parts())
        for name, entry in self._entries.items():
            if name in self._removed:
                continue
            if name in self._replaced:
                utf8 = bool(entry.info.flag_bits & zip_entries.NAME_IS_UTF8)
                assembler.add(entry.raw_name, _pack(self._replaced[name]), utf8=utf8)
            else:
                assembler.copy(self._data, entry)
        for name, content in self._replaced.items():
            if name not in self._entries:
                assembler.add(name.encode(), _pack(content), utf8=not name.isascii())
        return assembler.finish()
