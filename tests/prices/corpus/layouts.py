"""Where the table stands and what stands around it."""

from __future__ import annotations

from decimal import Decimal

from prices.making import FIRST_SHEET, OldError, csv_bytes, edited, ods_bytes, xls_bytes, xlsx_bytes
from sourcing.prices.layout import Layout
from sourcing.prices.rows import PriceBreak

from .case import Case

HEAD = ["Part No", "Description", "Net Price"]
PARTS = [
    ["LB-201", "Block B, Larch", 212.5],
    ["LB-202", "Block C, Larch", 239.0],
    ["LP-310", "Plate, six tracks", 84.25],
]
PRICES = {"LB-201": "212.5", "LB-202": "239", "LP-310": "84.25"}
TOTAL = "535.75"


def sheet(name: str, rows: list[list[object]], header_row: int = 1, **more: object) -> Case:
    said: dict[str, object] = {"prices": PRICES, "total": TOTAL, **more}
    return Case(name, "list.xlsx", xlsx_bytes(rows), header_row=header_row, **said)  # type: ignore[arg-type]


def hidden_rows() -> bytes:
    return edited(xlsx_bytes([HEAD, *PARTS]), lambda xml: xml.replace(b'<row r="3"', b'<row hidden="1" r="3"')
                  .replace(b'<row r="4"', b'<row r="4" hidden="true"'))  # fmt: skip


def hidden_sheet() -> bytes:
    book = xlsx_bytes([HEAD, *PARTS[:1]], Old=[HEAD, *PARTS[1:]])
    return edited(book, lambda xml: xml.replace(b'name="Old"', b'name="Old" state="hidden"'), "xl/workbook.xml")


def merged_cells() -> bytes:
    rows = [["", "Price list of a supplier"], ["SCREENS", "", ""], HEAD, *PARTS]
    merge = b'</sheetData><mergeCells count="1"><mergeCell ref="A2:C2"/></mergeCells>'
    return edited(xlsx_bytes(rows), lambda xml: xml.replace(b"</sheetData>", merge), FIRST_SHEET)


SHEETS = [
    sheet("title and blank rows above the header", [["Harbour list"], [], ["valid this year"], [], HEAD, *PARTS], 5),
    sheet("a table that begins in column C", [["", "", *row] for row in (HEAD, *PARTS)]),
    sheet(
        "a header of two rows, the lower one lacking number and description",
        [["Part No", "Description", "Price", ""], ["", "", "List", "Net"], *[[*p[:2], 999.0, p[2]] for p in PARTS]],
    ),
    sheet(
        "a row of currencies below the header",
        [HEAD, ["", "Larch", "EUR"], *PARTS],
        fields={("LB-201", "currency"): "EUR"},
    ),
    sheet(
        "a row without a number below the header is no part of it",
        [HEAD, ["", "Larch", "on request"], *PARTS],
        faults=(("unread-row", 2),),
    ),
    sheet(
        "a header of two rows with group titles above",
        [
            ["Article", "", "List", "Dealer"],
            ["Part No", "Description", "Price", "Price"],
            *[[*p[:2], 999.0, p[2]] for p in PARTS],
        ],
    ),
    sheet(
        "a header of two rows that splits its words",
        [["Part", "Part", "Net"], ["Number", "Description", "Price"], *PARTS],
        2,
    ),
    sheet(
        "no header, recognised by content and asked about",
        PARTS,
        status="unsure",
        asks=("part_number", "price"),
        prices={},
        total="0",
    ),
    sheet(
        "no header, the columns declared by their letters",
        PARTS,
        0,
        layout=Layout({"part_number": "A", "description": "B", "price": "C"}),
    ),
    sheet(
        "headings between rows, kept as the group of what follows",
        [HEAD, ["Larch"], *PARTS[:2], ["PLATES:"], PARTS[2], ["* Prices hold until the next list."]],
        fields={("LB-201", "group"): "Larch", ("LB-202", "group"): "Larch", ("LP-310", "group"): "PLATES"},
    ),
    sheet(
        "a column that names the brand",
        [[*HEAD, "Brand"], *[[*part, "Tallow"] for part in PARTS]],
        fields={("LB-201", "group"): "Tallow"},
    ),
    sheet("the header again at the top of each page", [HEAD, PARTS[0], HEAD, PARTS[1], HEAD, PARTS[2]]),
    sheet(
        "subtotals, a total and footnotes",
        [HEAD, *PARTS[:2], ["Subtotal", "", 451.5], PARTS[2], ["", "Grand total", 535.75], [], ["1) without tax"]],
    ),
    Case("merged cells above the header", "list.xlsx", merged_cells(), PRICES, TOTAL, header_row=3),
    Case("hidden rows are read and counted", "list.xlsx", hidden_rows(), PRICES, TOTAL, tells=("2 hidden rows",)),
    Case(
        "a hidden sheet is read and named",
        "list.xlsx",
        hidden_sheet(),
        PRICES,
        TOTAL,
        tells=("Old: the sheet is hidden",),
    ),
    Case(
        "several sheets, one of them without a table",
        "list.xlsx",
        xlsx_bytes([["Terms"], ["Net 30 days"]], Blocks=[HEAD, *PARTS[:2]], Plates=[HEAD, PARTS[2]]),
        PRICES,
        TOTAL,
        tells=("Prices: no table of prices in its 2 rows",),
    ),
    sheet(
        "a second table below with other columns", [HEAD, *PARTS[:2], [], ["Net Price", "Item No"], [84.25, "LP-310"]]
    ),
    Case(
        "an old workbook with hidden rows and error cells",
        "list.xls",
        xls_bytes([HEAD, *PARTS, ["LP-311", "x", OldError(0x2A)]], hidden=(2,)),
        PRICES,
        TOTAL,
        (("unread-price", 5),),
        tells=("1 hidden rows", "#N/A"),
    ),
    Case(
        "an open-document sheet with hidden rows and error cells",
        "list.ods",
        edited(
            ods_bytes([HEAD, *PARTS, ["LP-311", "x", "#N/A"]]),
            lambda xml: xml.replace(b"<table:table-row>", b'<table:table-row table:visibility="collapse">', 3).replace(
                b'<table:table-row table:visibility="collapse">', b"<table:table-row>", 1
            ),
            "content.xml",
        ),
        PRICES,
        TOTAL,
        (("unread-price", 5),),
        tells=("2 hidden rows", "#N/A"),
    ),
    Case("an old workbook", "list.xls", xls_bytes([["Yard list"], HEAD, *PARTS]), PRICES, TOTAL, header_row=2),
    Case("an open-document sheet", "list.ods", ods_bytes([HEAD, *PARTS]), PRICES, TOTAL),
    Case("text between semicolons", "list.csv", csv_bytes([HEAD, *PARTS], ";"), {**PRICES, "LB-202": "239.0"}, TOTAL),
    Case("text between tabs", "list.tsv", csv_bytes([HEAD, *PARTS], "\t"), {**PRICES, "LB-202": "239.0"}, TOTAL),
    Case("text between pipes", "list.txt", csv_bytes([HEAD, *PARTS], "|"), {**PRICES, "LB-202": "239.0"}, TOTAL),
    Case(
        "text that says its separator",
        "list.csv",
        b"sep=;\r\n" + csv_bytes([HEAD, *PARTS], ";"),
        {**PRICES, "LB-202": "239.0"},
        TOTAL,
        header_row=2,
    ),
    Case(
        "ragged rows",
        "list.csv",
        b"Part No,Description,Net Price\nLB-201,Block B,212.5,,,see page 4\nLP-310,Plate,84.25\nLB-202\n",
        {"LB-201": "212.5", "LP-310": "84.25"},
        "296.75",
        (("unread-price", 4),),
    ),
    Case(
        "text within quotation marks over two lines",
        "list.csv",
        b'Part No,Description,Net Price\nLB-201,"Block B,\nrebuilt",212.5\nLP-310,"Plate ""six""",84.25\n',
        {"LB-201": "212.5", "LP-310": "84.25"},
        "296.75",
        fields={("LB-201", "description"): "Block B, rebuilt"},
    ),
    sheet(
        "several price columns, ours told from list and with tax",
        [
            ["Part No", "Description", "List Price", "Net Price", "Net Price incl. VAT"],
            *[[*p[:2], 999.0, p[2], 999.0] for p in PARTS],
        ],
    ),
    sheet(
        "price tiers that could both be ours",
        [["Part No", "Price tier A", "Price tier B"], ["LB-201", 212.5, 205.0]],
        status="unsure",
        asks=("price",),
        prices={},
        total="0",
    ),
    sheet(
        "prices by region that could both be ours",
        [["Part No", "Price North", "Price South"], ["LB-201", 212.5, 205.0]],
        status="unsure",
        asks=("price",),
        prices={},
        total="0",
    ),
    sheet(
        "price tiers, the column said by hand",
        [["Part No", "Price tier A", "Price tier B"], *[[p[0], p[2], 1.0] for p in PARTS]],
        layout=Layout({"price": "Price tier A"}),
    ),
    sheet(
        "only a price with tax",
        [["Part No", "Price incl. tax"], ["LB-201", 212.5]],
        status="unsure",
        asks=("price",),
        prices={},
        total="0",
    ),
    sheet(
        "a declared layout that the supplier has changed",
        [HEAD, *PARTS],
        status="unsure",
        asks=("price",),
        prices={},
        total="0",
        layout=Layout({"price": "Dealer Price"}),
        faults=(("changed-layout", 1),),
    ),
    sheet(
        "breaks as columns headed by bare numbers",
        [[*HEAD, 5, 10], *[[*p, p[2] - 5, p[2] - 8] for p in PARTS]],
        fields={("LB-201", "breaks"): (PriceBreak(5, Decimal("207.5")), PriceBreak(10, Decimal("204.5")))},
    ),
    sheet(
        "breaks as rows",
        [["Part No", "Qty from", "Net Price"], ["LB-201", 1, 212.5], ["LB-201", 5, 200.0], ["", 10, 190.0]],
        prices={"LB-201": "212.5"},
        total="602.5",
        fields={("LB-201", "breaks"): (PriceBreak(5, Decimal(200)), PriceBreak(10, Decimal(190)))},
    ),
    sheet(
        "stock, pack and core charge in words and numbers",
        [
            [*HEAD, "In Stock", "Pack", "Core"],
            [*PARTS[0], "out of stock", "pair", 90.0],
            [*PARTS[1], ">20", "box of 5", 0],
            [*PARTS[2], "", "10 pcs", ""],
        ],
        fields={
            ("LB-201", "stock"): 0,
            ("LB-201", "pack"): 2,
            ("LB-202", "stock"): 20,
            ("LB-202", "pack"): 5,
            ("LP-310", "stock"): None,
            ("LP-310", "pack"): 10,
            ("LB-201", "core_charge"): Decimal(90),
        },
    ),
]
