"""The text of a file: its encoding declared, or proven by its bytes; what is not proven is asked about."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sourcing.prices.preflight import Unsafe
from sourcing.prices.words import meaning

_WESTERN = ("windows-1252", "windows-1250", "windows-1254", "cp850", "mac-roman")
_CYRILLIC = ("windows-1251", "koi8-u", "cp866", "iso8859-5")
_SYMBOLS = set("€£¥§©®™°±²³¹½¼¾µ·×÷•–—‘’‚“”„…«»¡¿ªº№\u00a0¦¢¬´¨¯¸\u00ad†‡‰")
_COMMON_CYRILLIC = set("оеаинтсрвлкмдпуяыьгзбйчіО")
_SURE_SHARE, _CLEAR_LEAD = 0.6, 0.12  # of common letters among all letters; before the next best encoding
DAMAGED = "\ufffd"


class Undecided(Exception):
    """A text whose encoding its bytes do not prove: `choices` are those that it could be."""

    def __init__(self, choices: Sequence[str]) -> None:
        super().__init__(", ".join(choices))
        self.choices = tuple(choices)


@dataclass(frozen=True, slots=True)
class Decoded:
    """A file's text; where a line could not be decoded with certainty the mark DAMAGED stands in it."""

    text: str
    encoding: str
    notes: tuple[str, ...] = ()


def decoded(content: bytes, encoding: str | None = None) -> Decoded:
    """The text of a file.

    Raises
    ------
    Unsafe
        It is not in the encoding that is declared, or in none that we know.
    Undecided
        It could be in several.
    """
    if encoding:
        return Decoded(_declared(content, encoding), encoding)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _strict(content, "utf-16")
    head = content[:2000]
    if head.count(0) > len(head) // 4:
        return _strict(content, "utf-16-le" if head[1::2].count(0) > head[::2].count(0) else "utf-16-be")
    try:
        return _twice_encoded(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        return _mixed(content) or _legacy(content)


def _strict(content: bytes, encoding: str) -> Decoded:
    try:
        return Decoded(content.decode(encoding), encoding)
    except UnicodeDecodeError:
        raise _not_in(encoding) from None


def _declared(content: bytes, encoding: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        raise _not_in(encoding) from None
    except LookupError:
        raise Unsafe(f'text in "{encoding}", an encoding that nobody knows',
                     "Correct [supplier.sheet] encoding: utf-8, windows-1252 or utf-16, say.") from None  # fmt: skip


def _not_in(*names: str) -> Unsafe:
    return Unsafe(f"text that is not in {' or '.join(name.upper() for name in names)}",
                  "Save the sheet again as UTF-8, or say its encoding in suppliers.toml under [supplier.sheet].")  # fmt: skip


_TWICE = re.compile(
    "[\u00c3\u00c2\u00c4\u00c5\u00d0\u00d1\u00e2]"
    "[\u0080-\u00bf\u0152\u0153\u0160\u0161\u0178\u017d\u017e\u0192\u02c6\u02dc\u2013-\u2122]+"
)


def _twice_encoded(text: str) -> Decoded:
    """A text of which an earlier program has read UTF-8 as windows-1252 is put right, where all of it can be."""
    if text.isascii() or not _TWICE.search(text):
        return Decoded(text, "utf-8")
    lines = text.split("\n")
    mended = 0
    for place, line in enumerate(lines):
        if line.isascii() or not _TWICE.search(line):
            continue
        try:
            lines[place] = line.encode("windows-1252").decode("utf-8")
            mended += 1
        except UnicodeError:
            continue
    note = f"{mended} rows were put into UTF-8 twice by an earlier program; that was undone"
    return Decoded("\n".join(lines), "utf-8", (note,) if mended else ())


def _mixed(content: bytes) -> Decoded | None:
    """A file in UTF-8 with some lines in an older encoding: each line by itself; None where it is no such file."""
    lines = content.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    told: list[str] = []
    good, bad, doubtful = 0, 0, 0
    for line in lines:
        try:
            told.append(line.decode("utf-8"))
            good += not line.isascii()
        except UnicodeDecodeError:
            bad += 1
            text = line.decode("windows-1252", "replace")
            sure = DAMAGED not in text and _alone(line) and _plausible(text)
            told.append(text if sure else line.decode("utf-8", "replace"))
            doubtful += not sure
    if good < bad:
        return None
    notes = (
        [f"{bad - doubtful} rows are in WINDOWS-1252, the others in UTF-8: each was read by itself"]
        if bad > doubtful
        else []
    )
    return Decoded("\n".join(told), "utf-8", tuple(notes))


def _alone(line: bytes) -> bool:
    """Whether no two bytes outside ASCII stand side by side: as accents do in Western text, and Cyrillic never does."""
    return re.search(rb"[\x80-\xff]{2}", line) is None


def _plausible(text: str) -> bool:
    """Whether what lies outside ASCII are letters within words and signs beside them."""
    if re.search(r"[^\W\d_\x00-\x7f]{3}", text):
        return False  # no Western word has three accents in a row
    for found in re.finditer(r"[^\x00-\x7f]", text):
        mark = found[0]
        if mark.isalpha() and mark not in "þðÞÐ¤ªº":
            continue
        around = text[max(0, found.start() - 1) : found.start()] + text[found.end() : found.end() + 1]
        if mark not in _SYMBOLS or (len(around) == 2 and around.isalpha() and mark not in "’‘´·"):
            return False
    return True


def _legacy(content: bytes) -> Decoded:
    """A text in one of the encodings of one byte a letter, where its words or letters prove which."""
    sample = b"\n".join(line for line in content[:400_000].split(b"\n") if not line.isascii())[:100_000]
    head = content[:20_000]
    if _is_cyrillic(sample):
        return Decoded(_declared(content, name := _cyrillic(sample, head)), name)
    possible = [name for name in _WESTERN if _reads(content, name) is not None]
    plausible = [name for name in possible if _plausible(sample.decode(name))]
    proven = _by_header(head, possible)
    if proven:
        return Decoded(_declared(content, proven), proven)
    if "windows-1252" not in possible:
        raise _not_in("utf-8", "windows-1252")
    if plausible[:1] and (plausible[0] == "windows-1252" or len(plausible) == 1):
        return Decoded(_declared(content, plausible[0]), plausible[0])
    if plausible[:1] and plausible[0] in ("windows-1250", "windows-1254"):
        told = {name for name in plausible if name.startswith("windows")}
        if len(told) == 1:
            return Decoded(_declared(content, plausible[0]), plausible[0])
    raise Undecided(plausible or [*possible, *(name for name in _CYRILLIC if _reads(content, name) is not None)])


def _reads(content: bytes, encoding: str) -> str | None:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        return None


def _is_cyrillic(sample: bytes) -> bool:
    """Whether the bytes outside ASCII stand in words of their own, as no Western language writes."""
    runs = re.findall(rb"[\x80-\xff]+", sample)
    long = sum(len(run) for run in runs if len(run) > 2)
    return long > 0.6 * sum(map(len, runs))


def _cyrillic(sample: bytes, head: bytes) -> str:
    possible = [name for name in _CYRILLIC if _reads(sample, name) is not None]
    proven = _by_header(head, possible)
    if proven:
        return proven
    shares = sorted(((_share(sample.decode(name)), name) for name in possible), reverse=True)
    if shares and shares[0][0] >= _SURE_SHARE and (len(shares) == 1 or shares[0][0] - shares[1][0] >= _CLEAR_LEAD):
        return shares[0][1]
    raise Undecided(possible or _CYRILLIC)


def _share(text: str) -> float:
    """How much of what lies outside ASCII are the common small letters of Russian and Ukrainian."""
    outside = [mark for mark in text if mark > "\x7f" and mark not in _SYMBOLS]
    return sum(mark in _COMMON_CYRILLIC for mark in outside) / len(outside) if outside else 0.0


def _by_header(head: bytes, possible: Sequence[str]) -> str:
    """The one encoding in which most header words are known ones, or ''."""
    counts = {}
    for name in possible:
        lines = head.decode(name, "replace").splitlines()[:60]
        cells = {cell.strip(' "\t') for line in lines for cell in re.split(r"[;\t|,]", line)}
        counts[name] = sum(not cell.isascii() and meaning(cell)[1] == 3 for cell in cells if 1 < len(cell) <= 60)
    most = max(counts.values(), default=0)
    best = [name for name, count in counts.items() if count == most]
    return best[0] if most and (len(best) == 1 or len({head.decode(name, "replace") for name in best}) == 1) else ""
