"""How a text may be encoded, and damaged."""

from __future__ import annotations

from prices.making import csv_bytes

from .case import Case

GERMAN = [
    ["Artikelnummer", "Bezeichnung", "Nettopreis"],
    ["LB-20", "Sieb für flache Wanne", "12,50"],
    ["LB-21", "Ölsieb, grün", "7,25"],
]
RUSSIAN = [
    ["Артикул", "Наименование", "Цена"],
    ["LB-20", "Сетка поддона", "12,50"],
    ["LB-21", "Блок соленоидов, новый", "7,25"],
]
UKRAINIAN = [["Код товару", "Назва", "Ціна"], ["LB-20", "Сітка піддона", "12,50"], ["LB-21", "Блок соленоїдів", "7,25"]]
POLISH = [
    ["Numer części", "Nazwa", "Cena netto"],
    ["LB-20", "Sitko płaskie, żółte", "12,50"],
    ["LB-21", "Płyta środkowa", "7,25"],
]
TURKISH = [
    ["Parça No", "Açıklama", "Birim fiyat"],
    ["LB-20", "Süzgeç, sığ", "12,50"],
    ["LB-21", "Kapak contası", "7,25"],
]
PRICES = {"LB-20": "12.50", "LB-21": "7.25"}


def text(name: str, rows: list[list[str]], encoding: str) -> Case:
    return Case(name, "list.csv", csv_bytes(rows, ";", encoding), PRICES, "19.75",
                fields={("LB-20", "description"): rows[1][1], ("LB-21", "description"): rows[2][1]})  # fmt: skip


def mixed_lines() -> bytes:
    lines = csv_bytes([*GERMAN, ["LB-22", "Dichtung für Gehäuse", "3,00"]], ";").split(b"\r\n")
    lines[2] = lines[2].decode().encode("cp1252")
    lines[4] = b"LB-23;\x8f\x81\x8d\xd0\xff;9,00"
    return b"\r\n".join(lines)


SHEETS = [
    text("UTF-8 with a byte-order mark", GERMAN, "utf-8-sig"),
    text("UTF-16 with a byte-order mark", GERMAN, "utf-16"),
    text("UTF-16 without one", GERMAN, "utf-16-le"),
    text("windows-1252", GERMAN, "cp1252"),
    text("windows-1251", RUSSIAN, "cp1251"),
    text("KOI8-R", RUSSIAN, "koi8-r"),
    text("DOS Cyrillic", RUSSIAN, "cp866"),
    text("Ukrainian in windows-1251", UKRAINIAN, "cp1251"),
    text("Polish in windows-1250", POLISH, "cp1250"),
    text("Turkish in windows-1254", TURKISH, "cp1254"),
    Case(
        "Cyrillic words under English headers",
        "list.csv",
        csv_bytes(
            [
                ["Part No", "Description", "Price"],
                *[[f"LB-{n}", "Сетка масляная поддона коробки передач", "5.00"] for n in range(3)],
            ],
            ",",
            "cp1251",
        ),
        {f"LB-{n}": "5.00" for n in range(3)},
        "15.00",
        fields={("LB-1", "description"): "Сетка масляная поддона коробки передач"},
    ),
    Case(
        "UTF-8 that an earlier program encoded twice",
        "list.csv",
        csv_bytes(GERMAN, ";").decode("cp1252").encode("utf-8"),
        PRICES,
        "19.75",
        tells=("twice",),
        fields={("LB-21", "description"): "Ölsieb, grün"},
    ),
    Case(
        "lines of another encoding, and one that nobody can tell",
        "list.csv",
        mixed_lines(),
        {**PRICES, "LB-22": "3,00".replace(",", "."), "LB-23": "9.00"},
        "31.75",
        (("unread-cell", 5),),
        tells=("WINDOWS-1252",),
        fields={("LB-21", "description"): "Ölsieb, grün", ("LB-22", "description"): "Dichtung für Gehäuse"},
    ),
    Case(
        "letters that could be of several encodings are asked about",
        "list.csv",
        b"Part No;Description;Price\nLB-20;" + "жщ".encode("cp1251") + b" " + b"\xe6\xf9\xea" + b";5,00\n",
        status="unsure",
        asks=("encoding",),
        faults=(("unclear-column", None),),
    ),
]
