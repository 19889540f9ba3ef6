"""A price sheet from its file: from the cache, or its cells made into rows, faults and questions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sourcing.faults import MissingFile, RefusedSheet, shown
from sourcing.prices.cache import Cache
from sourcing.prices.kept import keep, kept, packed, unpacked
from sourcing.prices.layout import Layout
from sourcing.prices.preflight import Unsafe, kind_of
from sourcing.prices.rows import PriceBreak, PriceRow, PriceSheet, Question, Table
from sourcing.prices.watched import read_watched

__all__ = ["PriceBreak", "PriceRow", "PriceSheet", "Question", "Table", "read_sheet", "read_sheets"]

SMALL_TEXT = 300_000  # bytes of a text that is read at once: it can take no long time, and a process of its own would


def read_sheet(path: Path, layout: Layout | None = None, cache: Cache | None = None) -> PriceSheet:
    """Read one price sheet; what is wrong with it is told in its faults, never raised."""
    return read_sheets([(path, layout or Layout())], cache)[0]


def read_sheets(asked: Sequence[tuple[Path, Layout]], cache: Cache | None = None) -> list[PriceSheet]:
    """Read price sheets, each once: from the cache, or parsed; all workbooks and long texts in one child process."""
    results: list[PriceSheet | None] = []
    left: list[tuple[int, bytes]] = []
    for place, (path, layout) in enumerate(asked):
        try:
            content = path.read_bytes()
            results.append(kept(content, layout, cache))
            if results[-1] is None and (kind_of(content) != "text" or len(content) > SMALL_TEXT):
                left.append((place, content))
            elif results[-1] is None:
                results[-1] = _at_once(content, layout, cache)
        except FileNotFoundError:
            results.append(PriceSheet("", "refused", faults=(MissingFile(),)))
        except IsADirectoryError:
            results.append(_refused(Unsafe("a folder", "Name the sheets in it, one by one.")))
        except OSError as error:
            results.append(_refused(Unsafe(error.strerror or "an unreadable file", "Check the file's permissions.")))
        except Unsafe as error:
            results[place:] = [_refused(error)]
    answers = read_watched([(content, asked[place][1]) for place, content in left])
    for (place, content), answer in zip(left, answers, strict=True):
        if isinstance(answer, Unsafe):
            results[place] = _refused(answer)
        else:
            results[place] = sheet = unpacked(answer)
            keep(answer, sheet.status, content, asked[place][1], cache)
    return [_named(sheet, shown(path)) for sheet, (path, _) in zip(results, asked, strict=True) if sheet is not None]


def _at_once(content: bytes, layout: Layout, cache: Cache | None) -> PriceSheet:
    from sourcing.prices.understood import understood_text  # what reads cells is not loaded where the cache has them

    sheet = understood_text(content, layout)
    if cache is not None:
        keep(packed(sheet), sheet.status, content, layout, cache)
    return sheet


def _refused(error: Unsafe) -> PriceSheet:
    return PriceSheet("", "refused", faults=(RefusedSheet(found=error.found, remedy=error.remedy),))


def _named(sheet: PriceSheet, file: str) -> PriceSheet:
    """A sheet and its faults under the name by which the file was asked for: what is kept knows only the content."""
    named = {id(fault): replace(fault, file=file) for fault in (*sheet.faults, *sheet.barred.values())}
    barred = {number: named[id(fault)] for number, fault in sheet.barred.items()}
    return replace(sheet, file=file, faults=tuple(named[id(fault)] for fault in sheet.faults), barred=barred)
