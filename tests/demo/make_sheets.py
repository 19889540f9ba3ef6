"""Write the demo's price sheets, the same bytes every time.

    python tests/demo/make_sheets.py            writes catalogs/price-sheets
    python tests/demo/make_sheets.py FOLDER     writes there instead

To change the demo, change the data below and run it again. A supplier has a list of lines (a heading, or an
article) and a list of sheets. The first sheet holds the lines as they stand; each later one says what is
different from the sheet before it. Every supplier, number, description and price is invented.
"""

from __future__ import annotations

import csv
import io
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from xml.sax.saxutils import escape

import xlsxwriter  # type: ignore[import-untyped, unused-ignore]

HERE = Path(__file__).resolve()
SHEETS_FOLDER = HERE.parents[2] / "catalogs" / "price-sheets"
MADE = datetime(2026, 1, 1)  # the date that every workbook claims to have been made on: a clock would change the bytes

Cell = str | int | Decimal | date | None
Grid = list[list[Cell]]


# ---- what stands on a sheet --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Article:
    """One line of a price sheet, in the supplier's own currency."""

    number: str
    says: str
    price: str
    core: str | None = None
    stock: int | None = None
    pack: int | None = None
    minimum: int | None = None
    lead_days: int | None = None
    valid_until: date | None = None
    breaks: tuple[tuple[int, str], ...] = ()

    def break_price(self, quantity: int) -> Decimal | None:
        """The price from `quantity` pieces on, or None where the sheet has no such step."""
        found = [Decimal(price) for step, price in self.breaks if step == quantity]
        return found[0] if found else None


Line = str | Article  # a heading, or an article


@dataclass(frozen=True)
class Issue:
    """One dated sheet: what is different from the sheet before it.

    `others` is the factor on the price of every article that `changes` does not name (rounded to five cents).
    """

    name: str
    title: str
    changes: dict[str, dict[str, object]] = field(default_factory=dict)
    gone: frozenset[str] = frozenset()
    added: tuple[Line, ...] = ()
    others: str = "1"
    update: bool = False


def five_cents(price: Decimal) -> str:
    return str((price * 20).quantize(Decimal(1), ROUND_HALF_UP) / Decimal(20) + Decimal("0.00"))


def changed(line: Line, issue: Issue) -> Line:
    if isinstance(line, str):
        return line
    if line.number in issue.changes:
        return replace(line, **issue.changes[line.number])  # type: ignore[arg-type]
    if issue.others == "1":
        return line
    return replace(line, price=five_cents(Decimal(line.price) * Decimal(issue.others)))


def issues(first: list[Line], run: list[Issue]) -> Iterator[tuple[Issue, list[Line]]]:
    """Each sheet of a supplier with its lines; an update holds only the lines that it changes or adds."""
    standing = first
    for issue in run:
        after = [changed(line, issue) for line in standing if isinstance(line, str) or line.number not in issue.gone]
        after += issue.added
        if issue.update:
            named = [line for line in after if isinstance(line, Article) and line.number in issue.changes]
            yield issue, [*named, *issue.added]
        else:
            yield issue, after
        standing = after


# ---- Harbour Row Parts: xlsx, title rows, headings between the rows, footnotes -----------------------------

HARBOUR: list[Line] = [
    "SOLENOID BLOCKS, REBUILT",
    Article("0041101", "Larch 5 solenoid block A, 6 sol., black caps", "512.00", "120.00", 2),
    Article("0041102", "Larch 5 solenoid block B, 7 sol., brown caps", "298.00", "90.00", 9),
    Article("0041103", "Larch 5 solenoid block C, 7 sol., grey caps", "362.00", "100.00", 6),
    Article("0041104", "Larch 5 solenoid block D, 8 sol., blue caps", "405.00", "110.00", 4),
    Article("0041105", "Larch 5 solenoid block E, 8 sol., green caps", "452.00", "140.00", 5),
    Article("0041190", "Rowan 4 solenoid block, all", "276.00", "80.00", 3),
    Article("0041192", "Rowan 4 pressure solenoid, single", "58.50", None, 14),
    "RANGE-SWITCH PLATES",
    Article("0042201", "Larch 5 range-switch plate, 5 track", "96.00", None, 7),
    Article("0042202", "Larch 5 range-switch plate, 6 track", "84.00", None, 8),
    Article("0042203", "Larch 5 range-switch plate, 6 track with tap contact", "118.00", None, 5),
    Article("0042204", "Larch 5 range-switch plate, 7 track", "132.00", None, 4),
    Article("0042290", "Rowan 4 range switch, outside", "64.00", None, 6),
    "SCREENS AND PAN PARTS",
    Article(
        "0043301",
        "Larch 5 screen, shallow pan, neck 18",
        "21.50",
        None,
        40,
        breaks=((5, "18.90"), (10, "17.20")),
    ),
    Article(
        "0043302",
        "Larch 5 screen, deep pan, neck 31",
        "24.75",
        None,
        32,
        breaks=((5, "21.80"), (10, "19.95")),
    ),
    Article("0043303", "Larch 5 screen, narrow neck 24", "29.40", None, 18, breaks=((5, "26.10"), (10, "24.00"))),
    Article("0043350", "Pan gasket, Larch 5, shallow", "9.80", None, 55, breaks=((5, "8.60"), (10, "7.90"))),
    Article("0043351", "Pan gasket, Larch 5, deep", "10.40", None, 47, breaks=((5, "9.10"), (10, "8.40"))),
    Article("0043360", "Pan magnet, round", "3.15", None, None),
    "VALVE BODIES, REBUILT AND VACUUM-TESTED",
    Article("0044401", "Larch 5 valve body R, 6 balls", "385.00", "150.00", 3),
    Article("0044402", "Larch 5 valve body S, 7 balls", "418.00", "150.00", 2),
    Article("0044403", "Larch 5 valve body T, 9 balls", "476.00", "180.00", 2),
    Article("0044480", "Check ball set, 5/16 and 1/4", "6.25", None, 60),
    "WIRING",
    Article("0045501", "Jumper harness, round block to square vehicle plug", "44.00", None, 6),
    Article("0045502", "Jumper harness, square block to round vehicle plug", "41.00", None, 6),
    Article("0045570", "Case plug seal ring", "2.95", None, None),
    "HARD PARTS AND SOFT PARTS",
    Article("0046601", "Friction set, Larch 5", "148.00", None, 12),
    Article("0046602", "Steel set, Larch 5", "86.00", None, 12),
    Article("0046610", "Seal and ring set, Larch 5", "72.50", None, 15),
    Article("0046618", "Pump bushing, Larch 5", "7.40", None, 22),
    Article("0046640", "Converter, 11 inch, Larch 5", "239.00", "75.00", 3),
    Article("0046655", "Planet set, rear, Larch 5", "1184.00", "200.00", 1),
]

HARBOUR_ISSUES = [
    Issue("2026-03-02 dealer list.xlsx", "Dealer net prices from 2 March 2026"),
    Issue(
        "2026-06-15 update.xlsx",
        "Changes from 15 June 2026",
        changes={
            "0041103": {"price": "355.00", "stock": 8},
            "0043301": {"price": "22.25", "breaks": ((5, "19.40"), (10, "17.60"))},
            "0043302": {"price": "25.50", "breaks": ((5, "22.30"), (10, "20.40"))},
        },
        added=(Article("0046611", "Seal and ring set, Larch 5, with piston seals", "94.00", None, 6),),
        update=True,
    ),
    Issue(
        "2026-08-31 dealer list.xlsx",
        "Dealer net prices from 31 August 2026",
        changes={
            "0041101": {"price": "529.00", "stock": 0},
            "0041102": {"price": "349.00", "stock": 4},
            "0041103": {"price": "368.00", "stock": 8},
            "0041104": {"price": "409.00", "stock": 5},
            "0041105": {"price": "459.00", "stock": 3},
            "0044401": {"price": "396.00"},
            "0044402": {"price": "429.00"},
            "0044403": {"price": "488.00"},
        },
        gone=frozenset({"0041192"}),
        others="1.03",
    ),
]

# ---- Quarry Bend Exchange: csv with a title line and prices in dollars -------------------------------------

QUARRY: list[Line] = [
    Article("QB-1100", "Block A Larch exch.", "430.00", "220.00", 0),
    Article("QB-1200", "Block B Larch exch.", "269.00", "180.00", 6),
    Article("QB-1300", "Block C Larch exch.", "331.00", "200.00", 4),
    Article("QB-1400", "Block D Larch exch.", "356.00", "210.00", 3),
    Article("QB-1500", "Block E Larch exch.", "418.00", "240.00", 4),
    Article("QB-1900", "Block Rowan exch.", "244.00", "160.00", 2),
    Article("QB-4100", "Valve body R Larch exch.", "352.00", "200.00", 2),
    Article("QB-4200", "Valve body S Larch exch.", "379.00", "200.00", 2),
    Article("QB-4300", "Valve body T Larch exch.", "441.00", "220.00", 1),
    Article("QB-4900", "Valve body Rowan exch.", "298.00", "150.00", 1),
    Article("QB-7010", "Screen shallow, pair", "15.80", None, 30, pack=2),
    Article("QB-7020", "Screen deep, pair", "18.20", None, 24, pack=2),
    Article("QB-7100", "Pan gasket shallow", "8.90", None, 40),
    Article("QB-7110", "Pan gasket deep", "9.60", None, 36),
    Article("QB-8010", "Pump exch. Larch", "212.00", "90.00", 2),
    Article("QB-8020", "Drum, forward, Larch", "166.00", "60.00", 3),
    Article("QB-8030", "Converter exch. 11 in Larch", "228.00", "100.00", 4),
    Article("QB-8050", "Gear train exch. Larch, complete", "1,265.00", "300.00", 1),
    Article("QB-8055", "Case, bare, Larch", "340.00", "120.00", 1),
]

QUARRY_ISSUES = [
    Issue("2026-03-09.csv", "Quarry Bend Exchange - exchange prices - March 2026"),
    Issue(
        "2026-07-01.csv",
        "Quarry Bend Exchange - exchange prices - July 2026",
        changes={
            "QB-1100": {"price": "338.00", "stock": 4},
            "QB-1200": {"price": "281.00", "stock": 5},
            "QB-1300": {"price": "338.00", "stock": 4},
            "QB-1400": {"price": "364.00", "stock": 2},
            "QB-1500": {"price": "426.00", "stock": 0},
            "QB-7010": {"price": "16.40"},
        },
        added=(Article("QB-8060", "Tail housing, Larch", "118.00", "40.00", 2),),
    ),
    Issue(
        "2026-09-21 update.csv",
        "Quarry Bend Exchange - changes - September 2026",
        changes={
            "QB-1200": {"price": "289.00", "stock": 0},
            "QB-1500": {"price": "432.00", "stock": 2},
        },
        update=True,
    ),
]

# ---- Tallow Mill Supply: xlsx with a sheet of terms before the prices --------------------------------------

TALLOW: list[Line] = [
    "Plates",
    Article("TM0202", "Plate, six tracks, Larch", "79.00", None, 10, breaks=((3, "74.00"),)),
    Article("TM0203", "Plate, six tracks + tap, Larch", "109.00", None, 8, breaks=((3, "101.00"),)),
    Article("TM0204", "Plate, seven tracks, Larch", "124.00", None, 6, breaks=((3, "117.00"),)),
    "Screens",
    Article("TM0301", "Screen 18 mm, Larch", "18.90", None, 25, breaks=((3, "17.60"), (6, "16.10"))),
    Article("TM0302", "Screen 31 mm, Larch", "22.40", None, 25, breaks=((3, "20.90"), (6, "19.30"))),
    Article("TM0303", "Screen 24 mm, Larch", "26.00", None, 12, breaks=((3, "24.40"), (6, "22.80"))),
    Article("TM0390", "Screen, Rowan", "14.20", None, 20, breaks=((3, "13.10"), (6, "12.30"))),
    "Wiring",
    Article("TM0501", "Jumper, white sleeve, Larch", "37.50", None, 5),
    Article("TM0502", "Jumper, yellow sleeve, Larch", "36.50", None, 9),
    Article("TM0560", "Case plug, round, repair", "17.80", None, 11),
    Article("TM0561", "Case plug, square, repair", "19.60", None, 8),
    "Small parts",
    Article("TM0601", "Plate rivet, brass, bag of 10", "4.10", None, 30),
    Article("TM0602", "Plate rivet, steel, bag of 10", "3.90", None, 30),
    Article("TM0610", "Solenoid O-ring, Larch", "0.65", None, 400, pack=10),
    Article("TM0611", "Solenoid bracket, Larch", "5.25", None, 24),
    Article("TM0615", "Spacer seal set, Larch", "13.40", None, 16),
    Article("TM0630", "Manual shaft seal, Larch", "4.85", None, 33),
]

TALLOW_ISSUES = [
    Issue("2026-03-16 net.xlsx", "Net prices, spring"),
    Issue(
        "2026-07-06 net.xlsx",
        "Net prices, summer",
        gone=frozenset({"TM0501"}),
        added=(
            "New: block and plate, matched and tested together",
            Article("TM0922", "Matched set: block B rebuilt + six-track plate new", "349.00", "95.00", 4),
            Article("TM0933", "Matched set: block C rebuilt + tap plate new", "438.00", "110.00", 3),
            Article("TM0990", "Matched set, Rowan", "301.00", "80.00", 2),
        ),
    ),
    Issue(
        "2026-09-14 update.xlsx",
        "Changes, autumn",
        changes={
            "TM0202": {"price": "82.00", "breaks": ((3, "76.50"),)},
            "TM0502": {"price": "34.50", "stock": 12},
            "TM0922": {"price": "356.00", "stock": 3, "valid_until": date(2026, 9, 30)},
        },
        added=(Article("TM0511", "Jumper, white sleeve, long, Larch (replaces TM0501)", "39.80", None, 10),),
        update=True,
    ),
]

# ---- Birkental Ersatzteile: csv in windows-1252, semicolons, decimal commas, euros -------------------------

BIRKENTAL: list[Line] = [
    "Magnetventilblöcke",
    Article("00710-02", "Ventilblock B Larch 5-Gang, 7 Ventile, braun", "289,00", None, 5, lead_days=2),
    Article("00710-03", "Ventilblock C Larch 5-Gang, 7 Ventile, grau", "309,00", None, 8, lead_days=2),
    Article("00710-04", "Ventilblock D Larch 5-Gang, 8 Ventile, blau", "347,00", None, 6, lead_days=2),
    Article("00710-05", "Ventilblock E Larch 5-Gang, 8 Ventile, grün", "398,00", None, 4, lead_days=2),
    Article("00710-90", "Ventilblock Rowan 4-Gang", "219,00", None, 3, lead_days=4),
    "Schaltplatten",
    Article("00720-03", "Wählbereichsplatte 6 Bahnen mit Tippkontakt", "84,50", None, 7, lead_days=2),
    Article("00720-04", "Wählbereichsplatte 7 Bahnen", "96,00", None, 4, lead_days=2),
    "Siebe und Dichtungen",
    Article("00730-01", "Ölsieb flache Wanne, Hals 18 mm", "12,40", None, 60, pack=5, lead_days=1),
    Article("00730-50", "Wannendichtung flach", "6,80", None, 45, lead_days=1),
    Article("00730-51", "Wannendichtung tief", "7,30", None, 38, lead_days=1),
    Article("00730-60", "Dichtring Gehäusestecker", "1,95", None, 120, pack=10, lead_days=1),
    "Übrige Teile",
    Article("00740-01", "Lamellensatz Larch 5-Gang", "118,00", None, 6, lead_days=3),
    Article("00740-02", "Stahlscheibensatz Larch 5-Gang", "69,00", None, 6, lead_days=3),
    Article("00740-10", "Dichtungssatz komplett", "58,90", None, 9, lead_days=3),
    Article("00740-40", "Wandler Larch 5-Gang, neu", "486,00", None, 2, lead_days=5),
    Article("00740-55", "Planetensatz hinten", "1.149,00", None, 1, lead_days=8),
    Article("00740-60", "Ölpumpe komplett", "264,00", None, 2, lead_days=5),
]

BIRKENTAL_ISSUES = [
    Issue("2026-03-01 Preisliste.csv", "Birkental Ersatzteile - Händlerpreisliste - gültig ab 01.03.2026"),
    Issue(
        "2026-09-01 Preisliste.csv",
        "Birkental Ersatzteile - Händlerpreisliste - gültig ab 01.09.2026",
        changes={
            "00710-02": {"price": "352,00", "stock": 3},
            "00710-03": {"price": "164,00", "stock": 20, "valid_until": date(2026, 12, 15)},
            "00710-04": {"price": "362,00"},
            "00730-01": {"price": "12,90"},
        },
        gone=frozenset({"00740-40"}),
    ),
]

# ---- Saltpan Road Salvage: ods -----------------------------------------------------------------------------

SALTPAN: list[Line] = [
    "Larch five-speed, used, looked at",
    Article("070111", "Block A, black caps, used", "145.00", None, 2),
    Article("070112", "Block B, brown caps, used", "118.00", None, 3),
    Article("070113", "Block C, grey caps, used", "139.00", None, 1),
    Article("070115", "Block E, green caps, used", "176.00", None, 1),
    Article("070121", "Plate, five tracks, used", "32.00", None, 4),
    Article("070122", "Plate, six tracks, used", "29.00", None, 2),
    Article("070141", "Valve body R, used", "160.00", None, 2),
    Article("070143", "Valve body T, used", "214.00", None, 1),
    Article("070150", "Case, used", "130.00", None, 1),
    Article("070151", "Tail housing, used", "45.00", None, 2),
    Article("070152", "Pan, shallow, used", "18.00", None, 5),
    Article("070153", "Pan, deep, used", "22.00", None, 3),
    "Rowan four-speed, used",
    Article("070211", "Block, used", "96.00", None, 2),
    Article("070241", "Valve body, used", "120.00", None, 1),
    Article("070250", "Case, used", "95.00", None, 1),
]

SALTPAN_ISSUES = [
    Issue("2026-03-20 yard list.ods", "Saltpan Road Salvage: what is on the shelf"),
    Issue(
        "2026-10-01 yard list.ods",
        "Saltpan Road Salvage: what is on the shelf",
        changes={
            "070111": {"stock": 1},
            "070112": {"price": "124.00", "stock": 2},
            "070115": {"stock": 0},
            "070122": {"stock": 0},
        },
        gone=frozenset({"070151"}),
        added=(
            Article("070260", "Converter, used, as it is", "40.00", None, 2),
            Article("070261", "Pump, used", "65.00", None, None),
        ),
    ),
]


# ---- from lines to grids -----------------------------------------------------------------------------------


def harbour_grid(issue: Issue, lines: list[Line]) -> Grid:
    grid: Grid = [["Harbour Row Parts"], [issue.title], []]
    grid.append(["Part Number", "Description", "Net Price", "Core Charge", "In Stock", "5+", "10+"])
    for line in lines:
        if isinstance(line, str):
            grid.append([line])
            continue
        core = Decimal(line.core) if line.core else None
        price = Decimal(line.price)
        grid.append([line.number, line.says, price, core, line.stock, line.break_price(5), line.break_price(10)])
    grid += [[], ["* A core comes back drained and in its box."], ["* Prices hold until the next list."]]
    return grid


def quarry_grid(issue: Issue, lines: list[Line]) -> Grid:
    grid: Grid = [[issue.title], ["Item No", "Description", "Dealer Price", "Core Charge", "On Hand", "Pack"]]
    for line in lines:
        if isinstance(line, str):
            grid.append([line])
            continue
        core = f"${line.core}" if line.core else None
        grid.append([line.number, line.says, f"${line.price}", core, line.stock, line.pack])
    grid.append(["Cores: like for like only. Unlike cores are sent back at your cost."])
    return grid


def tallow_grid(issue: Issue, lines: list[Line]) -> Grid:
    grid: Grid = [[None, "Tallow Mill Supply", None, issue.title], []]
    grid.append([None, "Part No.", "Description", "Price", "Core Charge", "Stock", "Pack", "Valid Until", "3+", "6+"])
    for line in lines:
        if isinstance(line, str):
            grid.append([None, line])
            continue
        core = Decimal(line.core) if line.core else None
        priced: list[Cell] = [None, line.number, line.says, Decimal(line.price), core, line.stock, line.pack]
        grid.append([*priced, line.valid_until, line.break_price(3), line.break_price(6)])
    return grid


TALLOW_TERMS: Grid = [
    ["Tallow Mill Supply"],
    ["Orders under 35.00 are held until the next one."],
    ["Cores: 95 in the hundred come back within sixty days."],
]


def birkental_grid(issue: Issue, lines: list[Line]) -> Grid:
    names = "Artikelnummer;Bezeichnung;Nettopreis;Pfand;Bestand;VPE;Mindestmenge;Lieferzeit (Tage);gültig bis"
    grid: Grid = [[issue.title], [], list(names.split(";"))]
    for line in lines:
        if isinstance(line, str):
            grid.append([line])
            continue
        until = line.valid_until.strftime("%d.%m.%Y") if line.valid_until else None
        stock: list[Cell] = [line.stock, line.pack, line.minimum, line.lead_days, until]
        grid.append([line.number, line.says, line.price, line.core, *stock])
    grid.append(["Alle Preise in Euro, ohne Steuer. Neuteile ohne Pfand."])
    return grid


def saltpan_grid(issue: Issue, lines: list[Line]) -> Grid:
    grid: Grid = [[issue.title], ["Part No", "Description", "Price", "Quantity on hand"]]
    for line in lines:
        grid.append([line] if isinstance(line, str) else [line.number, line.says, Decimal(line.price), line.stock])
    grid.append(["No cores taken. Thirty days, parts only."])
    return grid


# ---- from grids to files -----------------------------------------------------------------------------------


def stored_zip(members: dict[str, bytes]) -> bytes:
    """An archive of the members in their order, the same bytes on every machine.

    Stored, not deflated: another zlib may pack the same text into other bytes.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for path, content in members.items():
            member = zipfile.ZipInfo(path, (1980, 1, 1, 0, 0, 0))
            member.create_system = 3  # else the bytes would tell Windows from the rest
            archive.writestr(member, content)
    return out.getvalue()


def xlsx_bytes(sheets: dict[str, Grid]) -> bytes:
    """A workbook whose part numbers are text, so that their leading zeros stay."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    book.set_properties({"created": MADE})
    bold, money = book.add_format({"bold": True}), book.add_format({"num_format": "#,##0.00"})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    for name, grid in sheets.items():
        sheet = book.add_worksheet(name)
        sheet.set_column(0, 0, 14)
        sheet.set_column(1, 2, 44)
        for y, row in enumerate(grid):
            texts_only = all(isinstance(cell, str) for cell in row if cell is not None)
            for x, cell in enumerate(row):
                if isinstance(cell, str):
                    sheet.write_string(y, x, cell, bold if texts_only else None)
                elif isinstance(cell, Decimal):
                    sheet.write_number(y, x, float(cell), money)
                elif isinstance(cell, date):
                    sheet.write_datetime(y, x, datetime(cell.year, cell.month, cell.day), day)
                elif cell is not None:
                    sheet.write_number(y, x, cell)
    book.close()
    with zipfile.ZipFile(out) as made:
        return stored_zip({name: made.read(name) for name in made.namelist()})


def csv_bytes(grid: Grid, delimiter: str, encoding: str) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerows(grid)
    return out.getvalue().encode(encoding)


ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
ODS_SPACE = "urn:oasis:names:tc:opendocument:xmlns"


def ods_cell(cell: Cell) -> str:
    if cell is None:
        return "<table:table-cell/>"
    kind = 'office:value-type="string"' if isinstance(cell, str) else f'office:value-type="float" office:value="{cell}"'
    return f"<table:table-cell {kind}><text:p>{escape(str(cell))}</text:p></table:table-cell>"


def ods_bytes(name: str, grid: Grid) -> bytes:
    """An open-document spreadsheet of one sheet, with no more in it than a reader needs."""
    rows = "".join(f"<table:table-row>{''.join(map(ods_cell, row))}</table:table-row>" for row in grid)
    spaces = " ".join(f'xmlns:{part}="{ODS_SPACE}:{part}:1.0"' for part in ("office", "table", "text"))
    table = f'<table:table table:name="{escape(name)}">{rows}</table:table>'
    content = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<office:document-content {spaces} office:version="1.2"><office:body>'
        f"<office:spreadsheet>{table}</office:spreadsheet></office:body></office:document-content>"
    )
    entry = '<manifest:file-entry manifest:full-path="{}" manifest:media-type="{}"/>'
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<manifest:manifest xmlns:manifest="{ODS_SPACE}:manifest:1.0" manifest:version="1.2">'
        f"{entry.format('/', ODS_TYPE)}{entry.format('content.xml', 'text/xml')}</manifest:manifest>"
    )
    members = {"mimetype": ODS_TYPE, "content.xml": content, "META-INF/manifest.xml": manifest}
    return stored_zip({path: text.encode() for path, text in members.items()})


def price_sheets() -> dict[str, bytes]:
    """Every sheet by its path below price-sheets."""
    files: dict[str, bytes] = {}
    for issue, lines in issues(HARBOUR, HARBOUR_ISSUES):
        files[f"harbour/{issue.name}"] = xlsx_bytes({"List": harbour_grid(issue, lines)})
    for issue, lines in issues(QUARRY, QUARRY_ISSUES):
        files[f"quarry/{issue.name}"] = csv_bytes(quarry_grid(issue, lines), ",", "utf-8")
    for issue, lines in issues(TALLOW, TALLOW_ISSUES):
        files[f"tallow/{issue.name}"] = xlsx_bytes({"Terms": TALLOW_TERMS, "Prices": tallow_grid(issue, lines)})
    for issue, lines in issues(BIRKENTAL, BIRKENTAL_ISSUES):
        files[f"birkental/{issue.name}"] = csv_bytes(birkental_grid(issue, lines), ";", "cp1252")
    for issue, lines in issues(SALTPAN, SALTPAN_ISSUES):
        files[f"saltpan/{issue.name}"] = ods_bytes("Shelf", saltpan_grid(issue, lines))
    return files


def write(folder: Path) -> list[Path]:
    written = []
    for name, content in price_sheets().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        written.append(path)
    return written


if __name__ == "__main__":
    for path in write(Path(sys.argv[1]) if len(sys.argv) > 1 else SHEETS_FOLDER):
        print(path.name)
