"""Is a file safe to open, and what is it? Told from its bytes; its name is not believed."""

from __future__ import annotations

import io
import re
import zipfile
from typing import Literal

Kind = Literal["xlsx", "xls", "ods", "text"]

# Generous for a price list (100,000 rows of 12 columns are 6 MB packed and 60 MB unpacked), small for a machine.
MOST_BYTES = 64_000_000
MOST_UNPACKED = 400_000_000
MOST_ENTRIES = 4_000
# Sheets pack about 10 to 1, sheets of blank rows up to 60 to 1; a bomb packs 1000 to 1. Small entries may pack well.
MOST_RATIO = 120
SMALL_ENTRY = 8_000_000
# The farthest cell that a list may reach: all of a spreadsheet's rows, but not all of its 16,384 columns.
MOST_COLUMNS = 1_000
MOST_CELLS = 12_000_000

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_LOCKED = "EncryptedPackage".encode("utf-16-le")
_OTHERS = {
    b"%PDF": "a PDF document",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"{\\rtf": "a word-processor document",
    b"7z\xbc\xaf": "a packed archive",
    b"Rar!": "a packed archive",
    b"\x1f\x8b": "a packed archive",
    b"MZ": "a program",
    b"\x7fELF": "a program",
}


class Unsafe(Exception):
    """A file that is not opened: `found` says what it is, `remedy` what to do."""

    def __init__(self, found: str, remedy: str = "") -> None:
        super().__init__(found)
        self.found, self.remedy = found, remedy


def kind_of(content: bytes) -> Kind:
    """What a file is, from its first bytes and, for a packed one, its entries.

    Raises
    ------
    Unsafe
        The file is empty, locked, damaged, a bomb, or no sheet at all.
    """
    if not content.strip(b"\x00\t\r\n\f \xef\xbb\xbf\xff\xfe"):
        raise Unsafe("an empty file")
    if len(content) > MOST_BYTES:
        raise Unsafe(f"a file of {len(content) // 1_000_000} MB", f"Split it: at most {MOST_BYTES // 1_000_000} MB.")
    if content.startswith(b"PK"):
        return _packed_kind(content)
    if content.startswith(_OLE):
        if _LOCKED in content:
            raise Unsafe("a sheet locked with a password", "Ask for it without a password, or save it again without.")
        return "xls"
    if content[:2] == b"\x09\x08":  # a workbook stream without its container, as old programs write it
        return "xls"
    _refuse_what_is_no_text(content)
    return "text"


def _refuse_what_is_no_text(content: bytes) -> None:
    for magic, what in _OTHERS.items():
        if content.startswith(magic):
            raise Unsafe(what)
    head = content[:4096].lstrip(b"\xef\xbb\xbf\xff\xfe").replace(b"\x00", b"").lstrip().lower()
    if re.match(rb"<(!doctype\s+html|html|head|body|table|div|!--)", head):
        raise Unsafe("a web page", "Open it in a spreadsheet program and save it as .xlsx or .csv.")
    if head.startswith((b"<?xml", b"<workbook", b"<svg", b"<error")):
        raise Unsafe("an XML document", "Open it in a spreadsheet program and save it as .xlsx or .csv.")
    if head.startswith((b'{"', b"[{", b'["')):
        raise Unsafe("a JSON document")


def _packed_kind(content: bytes) -> Kind:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            entries = archive.infolist()
            _refuse_bombs(entries, len(content))
            names = {entry.filename for entry in entries}
            if "xl/workbook.xml" in names:
                return "xlsx"
            if "content.xml" in names:
                if b"encryption-data" in _read(archive, "META-INF/manifest.xml", names):
                    raise Unsafe("a sheet locked with a password", "Save it again without a password.")
                return "ods"
    except (zipfile.BadZipFile, EOFError, OSError, ValueError, NotImplementedError, RuntimeError, zipfile.zlib.error):  # type: ignore[attr-defined]
        raise Unsafe("a damaged or cut-off file", "Ask for the file again.") from None
    raise Unsafe("a packed archive or a document of another kind")


def _read(archive: zipfile.ZipFile, name: str, names: set[str]) -> bytes:
    return archive.read(name) if name in names else b""


def _refuse_bombs(entries: list[zipfile.ZipInfo], size: int) -> None:
    if len(entries) > MOST_ENTRIES or sum(entry.file_size for entry in entries) > MOST_UNPACKED:
        raise Unsafe("a packed file that unpacks beyond all reason")
    if len({entry.filename for entry in entries}) < len(entries):
        raise Unsafe("a packed file with two entries of one name")
    if sum(entry.compress_size for entry in entries) > size:
        raise Unsafe("a packed file whose entries overlap")
    for entry in entries:
        if entry.flag_bits & 0x1:
            raise Unsafe("a packed file locked with a password", "Save it again without a password.")
        if entry.file_size > SMALL_ENTRY and entry.file_size > MOST_RATIO * max(1, entry.compress_size):
            raise Unsafe("a packed file that unpacks beyond all reason")
