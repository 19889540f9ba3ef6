"""The shop's letterhead: who writes, in which words and on which paper, and the picture at the head."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, PrivateAttr, StringConstraints

from sourcing.faults import BadValue, Fault, MissingFile
from sourcing.reading import Record

Line = Annotated[str, StringConstraints(max_length=120)]
Wording = Annotated[str, StringConstraints(max_length=600)]

MOST_BYTES = 1_000_000
MOST_PIXELS = 4000  # of a side: what is larger is a photograph, not a letterhead
_PNG = b"\x89PNG\r\n\x1a\n"


@dataclass(frozen=True, slots=True)
class Picture:
    """A checked picture: its bytes and its size in pixels."""

    content: bytes
    width: int
    height: int


class Letterhead(Record):
    """[letterhead] of shop.toml: every field may be left out, and nothing is printed for it then."""

    name: Line = ""
    address: Annotated[list[Line], Field(max_length=5)] = []
    phone: Line = ""
    mail: Line = ""
    tax_number: Line = ""
    logo: Line = ""
    terms: Wording = ""
    closing: Wording = ""
    warranty: Wording = ""
    paper: Literal["letter", "a4"] | None = None
    language: Annotated[str, StringConstraints(pattern=r"^[a-z]{2}$")] = "en"
    _picture: Picture | None = PrivateAttr(default=None)

    @property
    def picture(self) -> Picture | None:
        return self._picture

    @property
    def contact(self) -> tuple[str, ...]:
        """The lines below the name."""
        reach = ", ".join(word for word in (self.phone, self.mail) if word)
        return tuple(line for line in (*self.address, reach, self.tax_number) if line)

    def open_logo(self, folder: Path, file: str) -> Iterator[Fault]:
        """Read the logo beside shop.toml and keep it; a fault where it is no picture that can be printed."""
        if not self.logo:
            return
        place, expected = "letterhead logo", "a .png or .jpg file in the folder of shop.toml"
        path = folder / self.logo
        if not _inside(path, folder):
            yield BadValue(file=file, place=place, found=f'"{self.logo}"', expected=expected)
            return
        try:
            size = path.stat().st_size
            content = path.read_bytes() if size <= MOST_BYTES else b""
        except OSError:
            yield MissingFile(file=file, place=place, found=f'"{self.logo}"', expected=expected)
            return
        measured = picture_size(content)
        if size > MOST_BYTES:
            yield BadValue(file=file, place=place, found=f"{size} bytes", expected=f"at most {MOST_BYTES} bytes",
                           remedy="Save the picture smaller.")  # fmt: skip
        elif measured is None:
            yield BadValue(file=file, place=place, found=f'"{self.logo}", which is neither', expected=expected)
        elif not all(1 <= side <= MOST_PIXELS for side in measured):
            yield BadValue(file=file, place=place, found=f"{measured[0]} x {measured[1]} pixels",
                           expected=f"sides of 1 to {MOST_PIXELS} pixels", remedy="Save the picture smaller.")  # fmt: skip
        else:
            self._picture = Picture(content, *measured)


def _inside(path: Path, folder: Path) -> bool:
    """Whether a path, links followed, stays in a folder."""
    return path.resolve().is_relative_to(folder.resolve())


def picture_size(content: bytes) -> tuple[int, int] | None:
    """Width and height in pixels of a PNG (its IHDR) or JPEG (its frame header); None where it is neither, or cut off.

    The layouts are those of ISO/IEC 15948 (PNG, 11.2.2) and ITU-T T.81 (JPEG, B.2.2), from memory.
    """
    if content.startswith(_PNG) and content[12:16] == b"IHDR" and b"IEND" in content[-16:]:
        width, height = struct.unpack(">II", content[16:24])
        return int(width), int(height)
    if content.startswith(b"\xff\xd8\xff"):
        return _jpeg_size(content)
    return None


def _jpeg_size(content: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 9 <= len(content) and content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack(">HH", content[at + 5 : at + 9])
            return int(width), int(height)
        at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return None
