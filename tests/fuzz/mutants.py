"""Price sheets spoilt by chance: a sound one is written, and then bits, entries, attributes or letters of it are changed."""

from __future__ import annotations

import io
import random
import re
import struct
import zipfile
from collections.abc import Callable
from typing import Any

from prices.making import csv_bytes, ods_bytes, xls_bytes, xlsx_bytes, zipped

HEADS = [
    ["Part No", "Description", "Net Price", "Core Charge", "Stock", "5+", "10+"],
    ["Artikelnummer", "Bezeichnung", "Nettopreis", "Pfand", "Bestand", "ab 5", "ab 10"],
    ["Référence", "Désignation", "Prix HT", "Consigne", "En stock", "5+", "10+"],
    ["Артикул", "Наименование", "Цена", "Залог", "Остаток", "5+", "10+"],
]
WORDS = ["block", "Sieb für Wanne", "plaque", "сетка", "40-mm ring", 'hose 5"', "n/a", ""]
Mutation = Callable[[random.Random, bytes], bytes]


def sound_rows(rng: random.Random) -> list[list[Any]]:
    rows: list[list[Any]] = [["Prices of a supplier"], []][: rng.randrange(3)]
    rows.append(rng.choice(HEADS))
    for number in range(rng.randrange(1, 25)):
        price = rng.randrange(1, 99999) / 100
        cells: list[Any] = [
            f"{rng.choice('ABC')}-{rng.randrange(400):03d}",
            rng.choice(WORDS),
            price,
            30.0,
            number,
            price,
            price,
        ]
        for column in range(2, 7):
            if rng.random() < 0.1:
                cells[column] = rng.choice(["", "call", "n/a", "1.234", "-", 0, -5, "12,50 €"])
        rows.append(cells)
        if rng.random() < 0.15:
            rows.append(
                rng.choice([["HEADING"], [""], ["Total", "", 12.5], ["* a remark"], rows[-1], ["", "", "loose"]])
            )
    return rows


def sound(rng: random.Random, kind: str) -> bytes:
    rows = sound_rows(rng)
    if kind == "xlsx":
        return xlsx_bytes(rows, **({"More": sound_rows(rng)} if rng.random() < 0.3 else {}))
    if kind == "ods":
        return ods_bytes(rows)
    if kind == "xls":
        return xls_bytes(rows)
    encoding = rng.choice(["utf-8", "utf-8-sig", "utf-16"])
    return csv_bytes(rows, rng.choice(",;\t|"), encoding)


def flip_bits(rng: random.Random, content: bytes) -> bytes:
    spoilt = bytearray(content)
    for _ in range(rng.choice([1, 1, 2, 8, 64])):
        spoilt[rng.randrange(len(spoilt))] ^= 1 << rng.randrange(8)
    return bytes(spoilt)


def cut(rng: random.Random, content: bytes) -> bytes:
    return content[: rng.randrange(len(content))]


def cut_out(rng: random.Random, content: bytes) -> bytes:
    begin = rng.randrange(len(content))
    return content[:begin] + content[begin + rng.choice([1, 2, 20, 500]) :]


def repeat_a_piece(rng: random.Random, content: bytes) -> bytes:
    begin = rng.randrange(len(content))
    piece = content[begin : begin + rng.choice([1, 10, 200])]
    return content[:begin] + piece * rng.choice([2, 5, 300]) + content[begin:]


def write_numbers(rng: random.Random, content: bytes) -> bytes:
    """A length or an offset somewhere becomes an extreme one."""
    spoilt = bytearray(content)
    at = rng.randrange(max(1, len(spoilt) - 4))
    spoilt[at : at + 4] = struct.pack("<I", rng.choice([0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 0xFFFF, rng.randrange(1 << 32)]))
    return bytes(spoilt)


def mix_encodings(rng: random.Random, content: bytes) -> bytes:
    lines = content.decode("utf-8", "replace").split("\n")
    names = ["utf-8", rng.choice(["cp1252", "cp1251", "koi8-r", "cp850", "utf-16-le"])]
    return b"\n".join(line.encode(rng.choice(names), "replace") for line in lines)


def spoil_text(rng: random.Random, content: bytes) -> bytes:
    at = rng.randrange(len(content))
    piece = rng.choice(
        [b'"', b'""', b"\x00", b"\r", b"\r\r\n", b";;;;", b"\t", b"\xff\xfe", b"=1+1", b"'", b"\xc3", b"," * 5000]
    )
    return content[:at] + piece + content[at:]


def _entries(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def swap_entries(rng: random.Random, content: bytes) -> bytes:
    entries = _entries(content)
    one, two = rng.sample(sorted(entries), 2)
    entries[one], entries[two] = entries[two], entries[one]
    return zipped(entries)


def lose_an_entry(rng: random.Random, content: bytes) -> bytes:
    entries = _entries(content)
    del entries[rng.choice(sorted(entries))]
    return zipped(entries)


def edit_attributes(rng: random.Random, content: bytes) -> bytes:
    """Some attributes or texts of the sheet's XML get other values: other types, far cells, giant repeats, errors."""
    entries = _entries(content)
    sheets = [name for name in entries if name == "content.xml" or name.startswith("xl/")]
    if not sheets:
        return content
    name = rng.choice(sheets)
    values = [
        "",
        "0",
        "-1",
        "1048576",
        "XFD1048576",
        "A0",
        "e",
        "s",
        "b",
        "str",
        "d",
        "inlineStr",
        "n",
        "999999999",
        "1e308",
        "NaN",
        "&#65;",
        "#REF!",
        "1048577",
        "percentage",
        "date",
        "1",
        "x" * 300,
    ]
    text = entries[name]
    for _ in range(rng.choice([1, 1, 3, 20])):
        found = list(re.finditer(rb'="([^"]*)"|>([^<>]+)<', text))
        if not found:
            break
        chosen = rng.choice(found)
        group = 1 if chosen[1] is not None else 2
        text = text[: chosen.start(group)] + rng.choice(values).encode() + text[chosen.end(group) :]
    if rng.random() < 0.2:
        text = text.replace(b"<c ", b'<c t="e" ', rng.randrange(1, 5))
    if rng.random() < 0.2:
        text = text.replace(
            b"<table:table-row>",
            b'<table:table-row table:number-rows-repeated="%d">' % rng.choice([2, 9999, 1048576]),
            2,
        )
    if rng.random() < 0.2:
        text = text.replace(
            b"<table:table-cell/>",
            b'<table:table-cell table:number-columns-repeated="%d"/>' % rng.choice([3, 16384]),
            2,
        )
    return zipped({**entries, name: text})


def spoil_inside(rng: random.Random, content: bytes) -> bytes:
    entries = _entries(content)
    name = rng.choice(sorted(entries))
    if entries[name]:
        entries[name] = rng.choice([flip_bits, cut, cut_out, repeat_a_piece])(rng, entries[name])
    return zipped(entries)


ANY: list[Mutation] = [flip_bits, cut, cut_out, repeat_a_piece, write_numbers]
OF_KIND: dict[str, list[Mutation]] = {
    "xlsx": [*ANY, swap_entries, lose_an_entry, edit_attributes, edit_attributes, edit_attributes, spoil_inside],
    "ods": [*ANY, swap_entries, lose_an_entry, edit_attributes, edit_attributes, edit_attributes, spoil_inside],
    "xls": [*ANY, write_numbers, write_numbers],
    "text": [*ANY, mix_encodings, mix_encodings, spoil_text, spoil_text],
}


def mutant(seed: int) -> tuple[str, bytes]:
    """The spoilt sheet of a seed, with how it was spoilt; a few are left sound."""
    rng = random.Random(seed)
    kind = rng.choice(["xlsx", "xlsx", "ods", "xls", "text", "text"])
    content = sound(rng, kind)
    done = [kind]
    for _ in range(rng.choice([0, 1, 1, 1, 2])):
        change = rng.choice(OF_KIND[kind])
        try:
            content = change(rng, content) or b" "
        except Exception:
            break  # spoilt so far that it is no archive any more
        done.append(change.__name__)
    return " ".join(done), content
