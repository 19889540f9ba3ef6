"""What may happen to part numbers."""

from __future__ import annotations

from datetime import date

from prices.making import Shown, csv_bytes, edited, ods_bytes, xls_bytes, xlsx_bytes

from .case import Case

HEAD = ["Part No", "Description", "Net Price"]

SHEETS = [
    Case(
        "part numbers stored as numbers",
        "list.xlsx",
        xlsx_bytes([HEAD, [20401, "x", 5.5], [20402, "y", 6.5]]),
        {"20401": "5.5", "20402": "6.5"},
        "12",
    ),
    Case(
        "leading zeros that a number format shows",
        "list.xlsx",
        xlsx_bytes([HEAD, [412, "x", 5.5], [710023, "y", 6.5]], {(1, 0): "00000", (2, 0): "000-0000"}),
        {"00412": "5.5", "071-0023": "6.5"},
        "12",
    ),
    Case(
        "leading zeros that an old workbook's format shows",
        "list.xls",
        xls_bytes([HEAD, [Shown(412), "x", 5.5], [Shown(77), "y", 6.5]]),
        {"00412": "5.5", "00077": "6.5"},
        "12",
    ),
    Case(
        "leading zeros that an open-document format shows",
        "list.ods",
        edited(
            ods_bytes([HEAD, [412, "x", 5.5], [77, "y", 6.5]]),
            lambda xml: xml.replace(b"<text:p>412<", b"<text:p>00412<").replace(b"<text:p>77<", b"<text:p>00077<"),
            "content.xml",
        ),
        {"00412": "5.5", "00077": "6.5"},
        "12",
    ),
    Case(
        "numbers in scientific notation and numbers that became dates",
        "list.xlsx",
        xlsx_bytes([HEAD, ["1.23E+11", "x", 5.5], [date(2026, 12, 3), "y", 6.5], ["LB-201", "z", 7.5]]),
        {"LB-201": "7.5"},
        "7.5",
        (("unread-row", 2), ("unread-row", 3)),
    ),
    Case(
        "no part numbers: the description serves",
        "list.csv",
        csv_bytes(
            [["Description", "Net Price"], ["Block B, Larch, rebuilt", "212.50"], ["Plate, six tracks", "84.25"]]
        ),
        {"Block B, Larch, rebuilt": "212.50", "Plate, six tracks": "84.25"},
        "296.75",
        tells=("the description serves",),
    ),
    Case(
        "the same number twice at one price, and at two",
        "list.csv",
        csv_bytes(
            [HEAD, ["LB-201", "x", "5.50"], ["lb 201", "x", "5.50"], ["LP-310", "y", "6.00"], ["LP-310", "y", "6.50"]]
        ),
        {"LB-201": "5.50"},
        "23.50",
        (("two-prices", 5),),
    ),
    Case(
        "numbers that another supersedes",
        "list.csv",
        csv_bytes(
            [
                [*HEAD, "Replaced by"],
                ["LB-201", "x", "", "LB-251"],
                ["LB-251", "x", "5.50", ""],
                ["LB-202", "y", "7.00", "LB-252"],
            ]
        ),
        {"LB-251": "5.50", "LB-202": "7.00"},
        "12.50",
        (("unread-price", 2),),
        fields={("LB-202", "superseded_by"): "LB-252"},
    ),
    Case(
        "a running number beside the part number",
        "list.csv",
        csv_bytes(
            [["Item", *HEAD], ["1", "LB-201", "x", "5.50"], ["2", "LB-202", "y", "6.50"], ["3", "LP-310", "z", "7.00"]]
        ),
        {"LB-201": "5.50", "LB-202": "6.50", "LP-310": "7.00"},
        "19.00",
    ),
]
