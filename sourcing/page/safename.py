"""A file's name as somebody sent it, made safe to keep a file under."""

from __future__ import annotations

import re
import unicodedata
from pathlib import PurePosixPath, PureWindowsPath


def safe_name(name: str) -> str:
    """The last part of a name, with nothing in it that could lead elsewhere or that a file system does not take.

    >>> safe_name("../../etc/list: March?.XLSX"), safe_name("C:\\\\prices\\\\net.csv"), safe_name("..")
    ('list March.XLSX', 'net.csv', 'sheet')
    """
    last = PureWindowsPath(PurePosixPath(name).name).name
    plain = re.sub(r"[^\w .,()&+-]", " ", unicodedata.normalize("NFC", last))
    stem, dot, ending = plain.rpartition(".")
    stem, ending = (" ".join(stem.split()), ending) if dot else (" ".join(plain.split()), "")
    ending = re.sub(r"\W", "", ending)[:8]
    stem = stem[:100].lstrip(".") or "sheet"
    if re.fullmatch(r"(?i)con|prn|aux|nul|com\d|lpt\d", stem.strip()):
        stem = f"sheet {stem}"
    return f"{stem}.{ending}" if ending else stem
