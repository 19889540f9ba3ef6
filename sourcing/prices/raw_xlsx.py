"""What the parser does not tell of an .xlsx, read from its XML."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator

from sourcing.prices.grid import Cell, CellError
from sourcing.prices.masks import masked, zero_mask
from sourcing.prices.preflight import MOST_CELLS, MOST_COLUMNS, Unsafe
from sourcing.prices.raw import RawSheet

NO_VALUE = CellError("a formula without a stored value")
_MOST_ROW_TEXT = 1 << 24


def xlsx_sheets(archive: zipfile.ZipFile) -> dict[int, RawSheet]:
    """Every sheet's own text, read once. Raises Unsafe where a used range is beyond any list's."""
    names = set(archive.namelist())
    masks = _zero_masks(archive.read("xl/styles.xml")) if "xl/styles.xml" in names else {}
    paths = _paths(archive, names)
    found = {place: _scanned(archive, path, masks) for place, path in enumerate(paths) if path}
    for name in sorted(names - set(paths)):
        if re.fullmatch(r"xl/worksheets/[^/]+\.xml", name):
            _scanned(archive, name, {})  # for its range: the parser may find what we did not
    return found


def _paths(archive: zipfile.ZipFile, names: set[str]) -> list[str]:
    """The entry of each sheet, in the workbook's order; '' where there is none."""
    links = archive.read("xl/_rels/workbook.xml.rels") if "xl/_rels/workbook.xml.rels" in names else b""
    linked = re.findall(rb"<(?:\w+:)?Relationship\s[^>]*>", links)
    targets = {_attribute(link, b"Id"): _attribute(link, b"Target") for link in linked}
    paths = []
    for sheet in re.findall(rb"<(?:\w+:)?sheet\s[^>]*>", archive.read("xl/workbook.xml")):
        target = targets.get(_attribute(sheet, rb"\w+:id"), b"").decode("utf-8", "replace")
        path = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
        paths.append(path if path in names else "")
    return paths


_ROW = re.compile(rb'<row\b[^>]*?\sr="(\d{1,9})"')
_ROW_OF_A_SPACE = re.compile(rb'<\w+:row\b[^>]*?\sr="(\d{1,9})"')
_COLUMN = re.compile(rb'r="([A-Z]{2,})\d')
_HIDDEN = re.compile(rb'<(?:\w+:)?row\b(?=[^>]*\shidden="(?:1|true)")[^>]*?\sr="(\d{1,9})"')
_ERROR = re.compile(rb'<c\b([^>]*\bt="e"[^>]*)>(?:(?!</c>).)*?<v>([^<]*)</v>', re.DOTALL)
_NO_VALUE = re.compile(rb"<c\b([^>]*)>\s*<f\b[^>]*(?:/>|>[^<]*</f>)\s*(?:<v\s*/>|<v>\s*</v>)?\s*</c>")


def _scanned(archive: zipfile.ZipFile, path: str, masks: dict[bytes, str]) -> RawSheet:
    sheet = RawSheet()
    styled = b"|".join(sorted(masks))
    zeros = re.compile(rb'<c\b([^>]*\bs="(?:' + styled + rb')"[^>]*)>\s*<v>(\d{1,15})</v>') if masks else None
    rows, columns = 0, {b"A"}
    for block in _blocks(archive, archive.getinfo(path)):
        last = block.rfind(b"<row ")
        numbers = _ROW.findall(block, last) if last >= 0 else _ROW_OF_A_SPACE.findall(block)
        rows = max(rows, max(map(int, numbers), default=0))
        columns |= set(_COLUMN.findall(block))
        width = max(map(_column_number, columns))
        if width > MOST_COLUMNS or rows * width > MOST_CELLS:
            raise Unsafe(f"a used range of {rows} rows by {width} columns",
                         "Delete what stands far outside the list, or save the list as .csv.")  # fmt: skip
        if b"hidden=" in block:
            sheet.hidden_rows |= set(map(int, _HIDDEN.findall(block)))
        if b't="e"' in block:
            for head, name in _ERROR.findall(block):
                _amend(sheet, head, CellError(name.decode("utf-8", "replace")))
        if b"<f" in block:
            for head in _NO_VALUE.findall(block):
                if _attribute(head, b"t") != b"str":
                    _amend(sheet, head, NO_VALUE)
        if zeros:
            for head, digits in zeros.findall(block):
                if _attribute(head, b"t") in (b"", b"n"):
                    _amend(sheet, head, masked(digits.decode(), masks[_attribute(head, b"s")]))
    return sheet


def _amend(sheet: RawSheet, head: bytes, cell: Cell) -> None:
    address = re.fullmatch(rb"([A-Z]{1,3})(\d{1,7})", _attribute(head, b"r"))
    if address and int(address[2]):
        sheet.amend(int(address[2]), _column_number(address[1]) - 1, cell)


def _blocks(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> Iterator[bytes]:
    """An entry's text in blocks that begin with a row, so that no cell is cut in two."""
    rest, seen = b"", 0
    with archive.open(entry) as stream:
        while block := stream.read(1 << 20):
            seen += len(block)
            if seen > entry.file_size + 100_000:
                raise Unsafe("a packed file that unpacks to more than it says")
            text = rest + block
            cut = text.rfind(b"<row ") if b"<row " in text else text.rfind(b"<", 0, max(0, text.rfind(b":row ")))
            if len(text) - max(0, cut) > _MOST_ROW_TEXT:
                raise Unsafe("a sheet with a row that never ends")
            rest = text[max(0, cut) :]
            if cut > 0:
                yield text[:cut]
    yield rest


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters[:4]:
        number = number * 26 + letter - 64
    return number


def _attribute(tag: bytes, name: bytes) -> bytes:
    found = re.search(rb"(?:^|\s)" + name + rb"""\s*=\s*["']([^"']*)["']""", tag)
    return found[1] if found else b""


def _zero_masks(styles: bytes) -> dict[bytes, str]:
    """Styles that show a number with leading zeros, by number: the mask is zeros and the characters between them."""
    codes = {}
    for tag in re.findall(rb"<numFmt\s[^>]*>", styles):
        code = _attribute(tag, b"formatCode").decode("utf-8", "replace").replace("&quot;", "")
        if zero_mask(code):
            codes[_attribute(tag, b"numFmtId")] = zero_mask(code)
    used = re.search(rb"<cellXfs\b.*?</cellXfs>", styles, re.DOTALL)
    styled = re.findall(rb"<xf\s[^>]*>", used[0]) if used and codes else []
    kinds = [_attribute(tag, b"numFmtId") for tag in styled]
    return {str(number).encode(): codes[kind] for number, kind in enumerate(kinds) if kind in codes}
