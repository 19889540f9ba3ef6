"""A supplier's sheet taken into the record of prices: looked at, then filed whole or not at all.

The sheet's place in the record is the last thing that is made, by one step of the file system. Before it stand only a
temporary file, which nobody reads, and the layout in suppliers.toml, which leaves every sheet on file as it was read. So
whoever ends the program at any point finds the sheet filed whole or not at all, and may receive it again.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from sourcing.faults import (
    BadInput,
    Fault,
    LayoutByHand,
    MissingFile,
    OtherCurrency,
    RefusedSheet,
    TwoSheetsOneDay,
    UnknownName,
    shown,
)
from sourcing.prices.answers import Answers
from sourcing.prices.cache import Cache
from sourcing.prices.dated import DatedSheet, dated_sheets, sheets_in_force
from sourcing.prices.declaring import Declaration, NotWritten, declared
from sourcing.prices.keeping import Keeping
from sourcing.prices.layout import Layout
from sourcing.prices.placing import (
    TEMPORARY,
    UPDATE,
    alone_in,
    ending_of,
    filed_name,
    put_in_place,
    settle_folder,
    written_beside,
)
from sourcing.prices.record import PriceRecord, mark_of_siblings
from sourcing.prices.rows import PriceSheet
from sourcing.prices.sheet import read_sheet, read_sheets
from sourcing.prices.suppliers import Supplier, read_suppliers
from sourcing.shop import Shop


@dataclass(frozen=True)
class Looked:
    """A sheet as it would be filed.

    `on_file` is the file that holds the same bytes already; `known` counts the numbers of the supplier's sheets in force on the
    day, `gone` are those of them that the sheet lacks; `said` are remarks on how it was taken.
    """

    source: Path
    content: bytes
    supplier: Supplier
    day: date
    update: bool
    sheet: PriceSheet
    target: Path
    declaration: Declaration
    on_file: Path | None = None
    known: int = 0
    gone: tuple[str, ...] = ()
    asks_update: bool = False
    said: tuple[str, ...] = ()

    @property
    def ready(self) -> bool:
        """Whether it can be filed: it was read, and nothing is left to be answered."""
        return self.sheet.status == "read" and not self.asks_update


@dataclass(frozen=True)
class Receiving:
    """One sheet to be received.

    Parameters
    ----------
    catalogs : the shop's folder
    update : whether it changes only the rows that it names; None where nobody said
    """

    catalogs: Path
    shop: Shop
    code: str
    source: Path
    day: date
    update: bool | None
    answers: Answers
    cache: Cache | None = None

    @property
    def record(self) -> Path:
        return self.catalogs / "price-sheets"

    @property
    def home(self) -> Path:
        return self.record / self.code

    @property
    def terms(self) -> Path:
        return self.catalogs / "suppliers.toml"

    # -- looking --

    def look(self) -> Looked:
        """Read the sheet and say how it would be filed; changes nothing.

        Raises BadInput where the file cannot be read, the supplier is unknown, or the day has such a sheet already.
        """
        supplier = self._supplier()
        filed, _ = dated_sheets(self.home)
        content = self._content()
        layout = self.answers.over(supplier.layout(self.shop.currency, self.day))
        sheet, said = self._read(supplier, layout, filed)
        if self._content() != content:
            raise BadInput([RefusedSheet(file=shown(self.source), expected="a file that nobody is writing",
                                         found="it changed while it was read",
                                         remedy="Save and close it, then receive it again.")])  # fmt: skip
        update = self._is_update()
        if self.update is None and update:
            said.append("Taken as an update, because its name says so; --whole files it as a whole sheet.")
        on_file = next((one.path for one in filed if _same_bytes(one.path, content)), None)
        target = self.home / filed_name(self.source.name, self.day, update, ending_of(self.source, content))
        looked = Looked(self.source, content, supplier, self.day, update, sheet, target, Declaration(), on_file,
                        said=tuple(said))  # fmt: skip
        if sheet.status != "read":
            return looked
        if on_file is None:
            self._one_a_day(filed, update)
            looked = self._weighed(looked)
        if looked.ready and (on_file is None or self._same_day(filed, on_file)):
            others = tuple(one for one in filed if one.path != on_file)
            keeping = Keeping(
                self.source, sheet, self.day, supplier, self.shop.currency, self.answers, others, self.cache
            )
            declaration, more = keeping.declaration(layout)
            looked = replace(looked, declaration=declaration, said=(*looked.said, *more))
        return looked

    def _same_day(self, filed: Sequence[DatedSheet], path: Path) -> bool:
        return any(one.path == path and one.day == self.day for one in filed)

    def _supplier(self) -> Supplier:
        suppliers = read_suppliers(self.terms)
        if self.code not in suppliers:
            known = ", ".join(sorted(suppliers)) or "none"
            raise BadInput([UnknownName(file=shown(self.terms), place="--supplier", found=f'"{self.code}"',
                                        expected=f"a supplier of this file: {known}",
                                        remedy="Correct the code, or add a [[supplier]] with it.")])  # fmt: skip
        return suppliers[self.code]

    def _content(self) -> bytes:
        try:
            return self.source.read_bytes()
        except FileNotFoundError:
            raise BadInput([MissingFile(file=shown(self.source), remedy="Correct the name.")]) from None
        except OSError as error:
            raise BadInput([RefusedSheet(file=shown(self.source), found=error.strerror or "an unreadable file",
                                         remedy="Check the file and its permissions.")]) from None  # fmt: skip

    def _read(self, supplier: Supplier, layout: Layout, filed: Sequence[DatedSheet]) -> tuple[PriceSheet, list[str]]:
        """The sheet as read; where only its decimal mark is open, with the one that the supplier's other sheets prove."""
        sheet = read_sheet(self.source, layout, self.cache)
        if sheet.questions and all(question.field == "decimal" for question in sheet.questions):
            others = [(one.path, supplier.layout(self.shop.currency, one.day))
                      for one in sheets_in_force(filed, self.day)]  # fmt: skip
            mark = mark_of_siblings(sheet, read_sheets(others, self.cache))
            if mark:
                sheet = read_sheet(self.source, replace(layout, decimal=mark), self.cache)
                return sheet, [f'The decimal mark is "{mark}", as in this supplier\'s other sheets.']
        return sheet, []

    def _is_update(self) -> bool:
        stem = Path(self.source.name).stem
        return UPDATE.search(stem) is not None if self.update is None else self.update

    def _one_a_day(self, filed: Sequence[DatedSheet], update: bool) -> None:
        """Raises BadInput where the day has another sheet of the same kind."""
        other = next((one for one in filed if (one.day, one.update) == (self.day, update)), None)
        if other is None:
            return
        kind = "an update" if update else "a whole sheet"
        advice = f"If this one puts {other.path.name} right, move that file out of the folder first; " + (
            "otherwise join the two updates, or give the day from which this one holds."
            if update
            else "if it only changes some rows, add --update; otherwise give the day from which it holds."
        )
        raise BadInput([TwoSheetsOneDay(file=shown(self.home), place=self.day.isoformat(),
                                        found=f"{kind} on file already, {other.path.name}", remedy=advice)])  # fmt: skip

    def _weighed(self, looked: Looked) -> Looked:
        """What of the supplier's known numbers the sheet lacks, and whether a person must say that it is an update."""
        sheet = looked.sheet
        faults = list(self._useless(looked))
        if faults:
            return replace(looked, sheet=replace(sheet, status="refused", faults=(*sheet.faults, *faults)))
        try:
            before = PriceRecord(self.record, {self.code: looked.supplier}, self.shop, self.cache)
            known = before.standing(self.code, self.day)
        except BadInput:
            return looked
        here = {*sheet.canonicals, *sheet.barred}
        gone = tuple(sorted(known.keys() - here))
        spelt = tuple(str(row[0].part_number) if isinstance(row := known[number], tuple) else number for number in gone)
        asks = not looked.update and self.update is None and 10 * len(gone) > len(known)
        return replace(looked, known=len(known), gone=spelt, asks_update=asks)

    def _useless(self, looked: Looked) -> Iterator[Fault]:
        """Why a sheet that was read would give no price at all."""
        file = shown(self.source)
        if not looked.sheet.rows:
            yield RefusedSheet(
                file=file, expected="at least one part number with a price", found="none that can be bought"
            )
        ours = looked.supplier.currency or self.shop.currency
        others = {row.currency for row in looked.sheet.rows} - {"", ours}
        if looked.sheet.rows and others and all(row.currency in others for row in looked.sheet.rows):
            yield OtherCurrency(file=file, place="currency", found=f"only prices in {' and '.join(sorted(others))}",
                                expected=f"{ours}, the currency of {self.code}")  # fmt: skip

    def read_freely(self) -> PriceSheet:
        """The sheet read as if suppliers.toml declared no columns."""
        layout = self._supplier().layout(self.shop.currency, self.day)
        return read_sheet(self.source, self.answers.over(replace(layout, columns={})), self.cache)

    # -- filing --

    def file(self) -> Looked:
        """File the sheet, and keep its layout; alone in the record while it does.

        Raises BadInput as `look` does, and where somebody else files for longer than our patience.
        """
        self.home.mkdir(parents=True, exist_ok=True)
        with alone_in(self.record):
            for folder, pattern in ((self.home, f"{TEMPORARY}*"), (self.catalogs, f"{TEMPORARY}*")):
                for left in folder.glob(pattern):
                    left.unlink(missing_ok=True)
            looked = self.look()
            if not looked.ready:
                return looked
            if looked.on_file is None:
                temporary = written_beside(looked.target, looked.content)
                try:
                    self._keep_layout(looked)
                    put_in_place(temporary, looked.target)
                finally:
                    temporary.unlink(missing_ok=True)
            else:
                self._keep_layout(looked)
            return looked

    def _keep_layout(self, looked: Looked) -> None:
        if not looked.declaration:
            return
        path = self.terms.resolve()
        text = path.read_bytes().decode("utf-8")
        try:
            changed = declared(text, self.code, looked.declaration)
        except NotWritten:
            lines = "; ".join(looked.declaration.lines())
            raise BadInput(
                [LayoutByHand(file=shown(self.terms), place=f"supplier ({self.code})", found=lines)]
            ) from None
        temporary = written_beside(path, changed.encode())
        try:
            shutil.copymode(path, temporary)
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
        settle_folder(path.parent)


def _same_bytes(path: Path, content: bytes) -> bool:
    return path.stat().st_size == len(content) and path.read_bytes() == content
