"""What the parser does not tell of an .xlsx, read from its XML: error cells, formulas without a value, shown zeros."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator


class RawWorkbook:
    """What the parser does not tell of an .xlsx: error cells, formulas without a value, zeros that a format shows."""

    def __init__(self, content: bytes) -> None:
        self._paths: list[str] = []
        self._masks: dict[bytes, str] = {}
        if not content.startswith(b"PK"):
            return
        self._archive = zipfile.ZipFile(io.BytesIO(content))
        names = set(self._archive.namelist())
        if "xl/workbook.xml" not in names:
            return
        links = self._archive.read("xl/_rels/workbook.xml.rels") if "xl/_rels/workbook.xml.rels" in names else b""
        linked = re.findall(rb"<(?:\w+:)?Relationship\s[^>]*>", links)
        targets = {_attribute(link, b"Id"): _attribute(link, b"Target") for link in linked}
        for sheet in re.findall(rb"<(?:\w+:)?sheet\s[^>]*>", self._archive.read("xl/workbook.xml")):
            target = targets.get(_attribute(sheet, rb"\w+:id"), b"").decode()
            path = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            self._paths.append(path if path in names else "")
        if "xl/styles.xml" in names:
            self._masks = _zero_masks(self._archive.read("xl/styles.xml"))

    def amendments(self, index: int) -> dict[int, dict[int, object]]:
        """Cells to put in place of the parser's, by row as shown and column from 0."""
        found: dict[int, dict[int, object]] = {}
        if index >= len(self._paths) or not self._paths[index]:
            return found
        xml = self._archive.read(self._paths[index])
        for head, cell in self._cells(xml):
            address = re.fullmatch(rb"([A-Z]{1,3})(\d{1,7})", _attribute(head, b"r"))
            if address:
                column = 0
                for letter in address[1]:
                    column = column * 26 + letter - 64
                found.setdefault(int(address[2]), {})[column - 1] = cell
        return found

    def _cells(self, xml: bytes) -> Iterator[tuple[bytes, object]]:
        if b't="e"' in xml:
            for head, name in re.findall(rb'<c\b([^>]*\bt="e"[^>]*)>(?:(?!</c>).)*?<v>([^<]*)</v>', xml, re.DOTALL):
                yield head, ["e", name.decode("utf-8", "replace")]
        if b"<f" in xml:
            empty = rb"<c\b([^>]*)>\s*<f\b[^>]*(?:/>|>[^<]*</f>)\s*(?:<v\s*/>|<v>\s*</v>)?\s*</c>"
            for head in re.findall(empty, xml):
                if _attribute(head, b"t") != b"str":
                    yield head, ["e", "a formula without a stored value"]
        if self._masks:
            styled = rb'<c\b([^>]*\bs="(?:' + b"|".join(self._masks) + rb')"[^>]*)>\s*<v>(\d{1,15})</v>'
            for head, digits in re.findall(styled, xml):
                if _attribute(head, b"t") in (b"", b"n"):
                    yield head, _masked(digits.decode(), self._masks[_attribute(head, b"s")])


def _attribute(tag: bytes, name: bytes) -> bytes:
    found = re.search(rb"(?:^|\s)" + name + rb"""\s*=\s*["']([^"']*)["']""", tag)
    return found[1] if found else b""


def _zero_masks(styles: bytes) -> dict[bytes, str]:
    """Styles that show a number with leading zeros, by number: the mask is zeros and the characters between them."""
    codes = {}
    for tag in re.findall(rb"<numFmt\s[^>]*>", styles):
        code = _attribute(tag, b"formatCode").decode("utf-8", "replace").replace("&quot;", "").replace("\\", "")
        if re.fullmatch(r"[A-Za-z0 \-]*0[0 \-]*0", code) and not re.search(r"General|[dmyhsE]{2}", code):
            codes[_attribute(tag, b"numFmtId")] = code
    used = re.search(rb"<cellXfs\b.*?</cellXfs>", styles, re.DOTALL)
    styled = re.findall(rb"<xf\s[^>]*>", used[0]) if used and codes else []
    kinds = [_attribute(tag, b"numFmtId") for tag in styled]
    return {str(number).encode(): codes[kind] for number, kind in enumerate(kinds) if kind in codes}


def _masked(digits: str, mask: str) -> str:
    """The text that a number format of zeros shows.

    >>> _masked("123", "00000"), _masked("71002", "000-0000")
    ('00123', '007-1002')
    """
    shown, left = [], list(digits.lstrip("0"))
    for mark in reversed(mask):
        shown.append(mark if mark != "0" else left.pop() if left else "0")
    first = len(shown) - mask.index("0")
    return "".join(reversed(shown[:first] + left[::-1] + shown[first:]))
