"""What the parser does not tell of an .xls, read from its records: error cells by name, hidden rows, shown zeros.

The records are those of the published description of the binary format ([MS-XLS] and [MS-CFB], from memory).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from sourcing.prices.grid import CellError
from sourcing.prices.masks import masked, zero_mask
from sourcing.prices.raw import RawSheet

_ERRORS = {0x00: "#NULL!", 0x07: "#DIV/0!", 0x0F: "#VALUE!", 0x17: "#REF!", 0x1D: "#NAME?", 0x24: "#NUM!", 0x2A: "#N/A"}
_FORMAT, _STYLE, _NUMBER, _SMALL, _SMALLS = 0x041E, 0x00E0, 0x0203, 0x027E, 0x00BD
_FORMULA, _END, _SHEET, _ERROR, _ROW, _BEGIN = 0x0006, 0x000A, 0x0085, 0x0205, 0x0208, 0x0809
_HIDDEN, _LAST_SECTOR = 0x20, 0xFFFFFFF8


def xls_sheets(content: bytes) -> dict[int, RawSheet]:
    """Every sheet's error cells and hidden rows; what cannot be followed is left to the parser."""
    try:
        stream = content if content[:2] == b"\x09\x08" else _workbook_stream(content)
        return _sheets(stream)
    except (struct.error, IndexError, ValueError):
        return {}


def _workbook_stream(content: bytes) -> bytes:
    """The workbook's stream out of its compound file."""
    size = 1 << struct.unpack_from("<H", content, 30)[0]
    if size not in (512, 4096):
        raise ValueError("sectors of no known size")
    first_folder = struct.unpack_from("<I", content, 48)[0]
    tables = [sector for sector in struct.unpack_from("<109I", content, 76) if sector < _LAST_SECTOR]
    following: list[int] = []
    for sector in tables:
        following += struct.unpack_from(f"<{size // 4}I", content, (sector + 1) * size)
    folder = _chain(content, following, first_folder, size)
    for begin in range(0, len(folder) - 127, 128):
        name = folder[begin : begin + 64].decode("utf-16-le", "replace").rstrip("\0")
        if name in ("Workbook", "Book"):
            start, length = struct.unpack_from("<II", folder, begin + 116)
            return _chain(content, following, start, size)[:length]
    return b""


def _chain(content: bytes, following: list[int], sector: int, size: int) -> bytes:
    parts: list[bytes] = []
    while sector < _LAST_SECTOR and len(parts) <= len(following):
        parts.append(content[(sector + 1) * size : (sector + 2) * size])
        sector = following[sector]
    return b"".join(parts)


def _records(stream: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Each record's place, kind and body."""
    at = 0
    while at + 4 <= len(stream):
        kind, size = struct.unpack_from("<HH", stream, at)
        yield at, kind, stream[at + 4 : at + 4 + size]
        at += 4 + size


def _sheets(stream: bytes) -> dict[int, RawSheet]:
    begins: dict[int, int] = {}  # the place of each sheet's first record, and which sheet it is
    found: dict[int, RawSheet] = {}
    sheet: RawSheet | None = None
    masks: dict[int, str] = {}  # by the number of a format
    styles: list[str] = []  # each style's mask, '' where it shows no zeros
    for at, kind, body in _records(stream):
        if kind == _SHEET:
            begins[struct.unpack_from("<I", body)[0]] = len(begins)
        elif kind == _FORMAT:
            masks[struct.unpack_from("<H", body)[0]] = zero_mask(_format_code(body))
        elif kind == _STYLE:
            styles.append(masks.get(struct.unpack_from("<H", body, 2)[0], ""))
        elif kind == _BEGIN and at in begins:
            sheet = found.setdefault(begins[at], RawSheet())
        elif sheet is None:
            continue
        elif kind == _END:
            sheet = None
        elif kind == _ROW and struct.unpack_from("<H", body, 12)[0] & _HIDDEN:
            sheet.hidden_rows.add(struct.unpack_from("<H", body)[0] + 1)
        elif kind in (_NUMBER, _SMALL, _SMALLS) and any(styles):
            for row, column, style, value in _numbers(kind, body):
                if style < len(styles) and styles[style] and value == int(value) and 0 <= value < 1e15:
                    sheet.amend(row + 1, column, masked(str(int(value)), styles[style]))
        elif kind == _ERROR and body[7]:
            _amend(sheet, body, body[6])
        elif kind == _FORMULA and body[6] == 2 and body[12:14] == b"\xff\xff":
            _amend(sheet, body, body[8])
    return found


def _amend(sheet: RawSheet, body: bytes, code: int) -> None:
    row, column = struct.unpack_from("<HH", body)
    sheet.amend(row + 1, column, CellError(_ERRORS.get(code, "an error")))


def _format_code(body: bytes) -> str:
    size, wide = struct.unpack_from("<HB", body, 2)
    return body[5 : 5 + size * (2 if wide & 1 else 1)].decode("utf-16-le" if wide & 1 else "latin-1", "replace")


def _numbers(kind: int, body: bytes) -> Iterator[tuple[int, int, int, float]]:
    """The row, column, style and value of each number that a record holds."""
    row, column = struct.unpack_from("<HH", body)
    if kind == _NUMBER:
        yield row, column, *struct.unpack_from("<Hd", body, 4)
        return
    for place in range((len(body) - 4) // 6):
        style, packed = struct.unpack_from("<HI", body, 4 + 6 * place)
        yield row, column + place, style, _unpacked(packed)


def _unpacked(packed: int) -> float:
    """A number as four bytes keep it: a whole one or the upper half of a binary fraction, perhaps a hundredfold."""
    if packed & 2:
        value = float(struct.unpack("<i", struct.pack("<I", packed))[0] >> 2)
    else:
        value = float(struct.unpack("<d", struct.pack("<Q", (packed & 0xFFFFFFFC) << 32))[0])
    return value / 100 if packed & 1 else value
