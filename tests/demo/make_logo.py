"""Draw the demo shop's logo, which is invented: a larch in a ring, byte for byte the same each time.

python tests/demo/make_logo.py
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

WIDE, HIGH, FINER = 240, 96, 4
LOGO = Path(__file__).resolve().parents[2] / "catalogs" / "logo.png"


def inked(x: float, y: float) -> bool:
    """Whether there is ink at a place: the ring, the tree's three tiers and its trunk, and three bars beside it."""
    from_middle = ((x - 48) ** 2 + (y - 48) ** 2) ** 0.5
    if 40 <= from_middle <= 45:
        return True
    tiers = any(
        top <= y <= top + 22 and abs(x - 48) <= (y - top) * slope for top, slope in ((14, 0.6), (28, 0.8), (44, 1.0))
    )
    trunk = abs(x - 48) <= 3 and 60 <= y <= 80
    bars = any(top <= y <= top + 9 and 108 <= x <= end for top, end in ((22, 228), (43, 200), (64, 214)))
    return tiers or trunk or bars


def shade(column: int, row: int) -> int:
    """A pixel's grey: how much of it is inked, on a grid finer than the pixels."""
    steps = [(n + 0.5) / FINER for n in range(FINER)]
    ink = sum(inked(column + across, row + down) for across in steps for down in steps)
    return 255 - round(215 * ink / FINER**2)


def chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


def png() -> bytes:
    """The picture as PNG (ISO/IEC 15948): eight bits of grey a pixel, no filter, 96 pixels an inch."""
    rows = b"".join(b"\0" + bytes(shade(column, row) for column in range(WIDE)) for row in range(HIGH))
    head = struct.pack(">IIBBBBB", WIDE, HIGH, 8, 0, 0, 0, 0)
    return b"".join((
        b"\x89PNG\r\n\x1a\n", chunk(b"IHDR", head), chunk(b"pHYs", struct.pack(">IIB", 3780, 3780, 1)),
        chunk(b"IDAT", zlib.compress(rows, 9)), chunk(b"IEND", b""),
    ))  # fmt: skip


if __name__ == "__main__":
    LOGO.write_bytes(png())
