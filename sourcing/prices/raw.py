"""What the parser does not tell of a workbook, sheet by sheet: error cells, formulas without a value, zeros, hidden rows."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass, field

from sourcing.prices.grid import Cell


@dataclass(slots=True)
class RawSheet:
    """Cells to put in place of the parser's, by row as shown and column from 0; and the rows that are hidden."""

    amended: dict[int, dict[int, Cell]] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)

    def amend(self, row: int, column: int, cell: Cell) -> None:
        self.amended.setdefault(row, {})[column] = cell


def raw_sheets(content: bytes) -> dict[int, RawSheet]:
    """What each sheet's own text tells, by the sheet's place in the workbook. Raises Unsafe on a used range beyond reason."""
    if not content.startswith(b"PK"):
        from sourcing.prices.raw_xls import xls_sheets

        return xls_sheets(content)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        if "xl/workbook.xml" in archive.namelist():
            from sourcing.prices.raw_xlsx import xlsx_sheets

            return xlsx_sheets(archive)
        if "content.xml" in archive.namelist():
            from sourcing.prices.raw_ods import ods_sheets

            return ods_sheets(archive)
    return {}
