"""Files that are no list of prices one below the other."""

from __future__ import annotations

from prices.making import csv_bytes, xlsx_bytes

from .case import Case

HEAD = ["Part No", "Description", "Price"]


def refused(name: str, file: str, content: bytes, says: str) -> Case:
    return Case(name, file, content, faults=(("refused-sheet", None),), status="refused", tells=(says,))


def timetable() -> list[list[object]]:
    rows: list[list[object]] = [["Line", "Harbour", "Quarry", "Mill", "Saltpan"]]
    return rows + [[f"L{n}", f"{n}.05", f"{n}.25", f"{n}.40", f"{n}.55"] for n in range(5, 18)]


def draws() -> list[list[object]]:
    return [["Draw", "Date", "Ball 1", "Ball 2", "Ball 3", "Jackpot"],
            *[[n, f"2026-01-{n:02d}", n, n + 7, n + 19, 1000000 + n] for n in range(1, 20)]]  # fmt: skip


SHEETS = [
    refused(
        "two tables beside each other",
        "list.xlsx",
        xlsx_bytes([[*HEAD, "", *HEAD], ["LB-20", "x", 5.5, "", "LP-31", "y", 6.5]]),
        "two tables beside each other",
    ),
    refused(
        "a matrix of sizes",
        "list.xlsx",
        xlsx_bytes([["Width", 100, 200, 300], [10, 5.25, 6.5, 7.75], [20, 6.25, 7.5, 8.75], [30, 7.25, 8.5, 9.75]]),
        "matrix",
    ),
    refused(
        "a register of members",
        "list.csv",
        csv_bytes([["Number", "Name", "Born", "Town"], *[[f"M-{n}", "somebody", 1950 + n, "Larch"] for n in range(9)]]),
        "without a column of prices",
    ),
    refused("a timetable", "list.csv", csv_bytes(timetable()), "no row of headers"),
    refused("a timetable without headers", "list.csv", csv_bytes(timetable()[1:]), "no row of headers"),
    refused("results of a lottery", "list.csv", csv_bytes(draws()), "no row of headers"),
    refused(
        "an error message saved as a sheet",
        "list.xls",
        b"Error 504: the server did not answer in time.\r\n",
        "a message",
    ),
    refused(
        "a web page saved as a sheet",
        "list.xls",
        b"<html><table><tr><td>Part No</td></tr></table></html>",
        "a web page",
    ),
    refused("an empty workbook", "list.xlsx", xlsx_bytes([]), "without a filled cell"),
]
