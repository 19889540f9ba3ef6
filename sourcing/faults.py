"""The catalogue of what can be wrong with what we were given.

A fault is a record: a stable code, where it stands, what was expected, what was found, and what to do next. Reading
collects every fault of its files and stops once, with `BadInput`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong: `file`, `sheet`, `row` (as a spreadsheet counts) and `place` (a key or a column)."""

    code: ClassVar[str] = ""
    expects: ClassVar[str] = ""
    advises: ClassVar[str] = ""

    file: str = ""
    sheet: str = ""
    row: int | None = None
    place: str = ""
    found: str = ""
    expected: str = ""
    remedy: str = ""

    def __post_init__(self) -> None:
        if not self.expected:
            object.__setattr__(self, "expected", self.expects)
        if not self.remedy:
            object.__setattr__(self, "remedy", self.advises)

    @property
    def where(self) -> str:
        parts = [self.file, f"sheet {self.sheet}" if self.sheet else "",
                 f"row {self.row}" if self.row is not None else "", self.place]  # fmt: skip
        return ", ".join(part for part in parts if part)

    def __str__(self) -> str:
        found = f"; found {self.found}" if self.found else ""
        return f"{self.where}: expected {self.expected}{found}. {self.remedy}".strip()


class MissingFile(Fault):
    """A file or folder that the shop needs is not there."""

    code = "missing-file"
    expects = "a file of this name"
    advises = "Create it (catalogs/README.md describes it field by field) or correct --catalogs."


class WrongEncoding(Fault):
    """A text file is not UTF-8."""

    code = "wrong-encoding"
    expects = "text in UTF-8"
    advises = "Save the file again as UTF-8."


class BrokenToml(Fault):
    """A TOML file cannot be parsed."""

    code = "broken-toml"
    expects = "valid TOML"
    advises = "Correct the line named; texts stand in double quotes, lists in square brackets."


class UnknownKey(Fault):
    """A key that no part of the format has."""

    code = "unknown-key"
    expects = "only keys of the format"
    advises = "Correct the spelling or take the key out."


class MissingKey(Fault):
    """A key that must be there is not."""

    code = "missing-key"
    expects = "this key"
    advises = "Add it."


class BadValue(Fault):
    """A value is not of the kind that its key takes."""

    code = "bad-value"
    expects = "another kind of value"
    advises = "Correct the value."


class UnknownName(Fault):
    """A name refers to something that is nowhere declared."""

    code = "unknown-name"
    expects = "a name declared in the book or the shop's files"
    advises = "Correct the name, or declare what it stands for."


class RepeatedCode(Fault):
    """One code stands for two things."""

    code = "repeated-code"
    expects = "each code once"
    advises = "Rename one of the two."


class EraOverlap(Fault):
    """Two eras cover the same month, or an era ends before it begins."""

    code = "era-overlap"
    expects = "eras that follow each other without sharing a month"
    advises = "Correct `from` and `to`; a change inside a model year is told by model_years, not by overlapping months."


class NoLead(Fault):
    """Not exactly one position leads."""

    code = "no-lead"
    expects = "lead = true on exactly one position"
    advises = "Mark the solenoid block's position as the lead, and no other."


class RuleShape(Fault):
    """A rule without exactly one of need, never and allow, or with rows of the wrong length."""

    code = "rule-shape"
    expects = "exactly one of need, never and allow"
    advises = "Split the rule in two, or complete it."


class RepeatedPart(Fault):
    """parts.csv lists a supplier's number twice."""

    code = "repeated-part"
    expects = "each number of a supplier once (case, spaces and dashes make no difference)"
    advises = "Keep one of the two rows; a kit joins its designs by ' + '."


class UnknownFamily(Fault):
    """A job names a family that has no book."""

    code = "unknown-family"
    expects = "a family with an interchange.toml under the catalogs"
    advises = "Correct [job] family, or write the family's book."


class NoEra(Fault):
    """The unit was built in no era of its family."""

    code = "no-era"
    expects = "a date inside one of the family's eras"
    advises = "Check the tag of the unit and the family; if the date is right, the book lacks an era."


class Contradiction(Fault):
    """Two statements of a job, or of a book, cannot both be true."""

    code = "contradiction"
    expects = "statements that agree"
    advises = "Find out which is right and correct the other."


class BadVin(Fault):
    """A vehicle identification number that cannot be one."""

    code = "bad-vin"
    expects = "17 letters and digits, without I, O and Q, that tell a model year"
    advises = "Read the number again from the vehicle, or give [vehicle] built or model_year."


class TwoSheetsOneDay(Fault):
    """Two whole sheets, or two updates, of one supplier carry the same date."""

    code = "two-sheets-one-day"
    expects = "one whole sheet and one update a day at most"
    advises = "Move one of them away, or put the word update into the name of a sheet that only changes rows."


class BadSheetName(Fault):
    """A file among the price sheets that does not begin with a date, or is of no kind that we read."""

    code = "bad-sheet-name"
    expects = "a name that begins with a date (YYYY-MM-DD) and ends in .xlsx, .xls, .ods, .csv, .tsv or .txt"
    advises = "Rename the file by the date from which its prices hold, or move it away."


class RefusedSheet(Fault):
    """A file that is no price sheet, or is damaged, locked or unsafe."""

    code = "refused-sheet"
    expects = "a readable price sheet"
    advises = "Ask the supplier for the sheet again, or save it again as .xlsx or .csv."


class UnclearColumn(Fault):
    """A field's column cannot be told with certainty."""

    code = "unclear-column"
    expects = "one column that is clearly this field"
    advises = "Say which it is in suppliers.toml under [supplier.columns], or with --column FIELD=HEADER."


class ChangedLayout(Fault):
    """A sheet no longer has a column that its supplier's declared layout names."""

    code = "changed-layout"
    expects = "the columns of the declared layout"
    advises = "The supplier has changed its sheet: correct [supplier.columns] in suppliers.toml, or say --column FIELD=HEADER."


class UnreadPrice(Fault):
    """A row whose price is no amount: a word, a blank, a zero, a negative or an absurd number."""

    code = "unread-price"
    expects = "a price above 0"
    advises = "Ask the supplier for the price; until then the number cannot be bought."


class UnreadCell(Fault):
    """A cell of a priced row is not of its column's kind."""

    code = "unread-cell"
    expects = "a value of the column's kind"
    advises = "Correct the cell with the supplier; until then the number cannot be bought."


class UnreadRow(Fault):
    """A row that is neither priced nor recognisably a heading, total or footnote."""

    code = "unread-row"
    expects = "a part number and a price, or a heading, total or footnote"
    advises = "Look at the row; if it is a part, ask the supplier for what it lacks."


class TwoPrices(Fault):
    """One number stands at two prices, other than as rows of breaks."""

    code = "two-prices"
    expects = "one price for a number"
    advises = "Ask the supplier which price holds; until then the number cannot be bought."


class OtherCurrency(Fault):
    """A row in another currency than its supplier's."""

    code = "other-currency"
    expects = "the supplier's currency"
    advises = "Correct the supplier's currency in suppliers.toml, or ask for a sheet in one currency."


class NotTogether(Fault):
    """Jobs that cannot stand in one order, whatever is in stock."""

    code = "not-together"
    expects = "jobs that can stand in one order"
    advises = "Buy for these jobs apart, or correct the job."


class RecordInUse(Fault):
    """Another program is filing a sheet in the same record of prices, and does not come to an end."""

    code = "record-in-use"
    expects = "nobody else filing a sheet"
    advises = "Wait until the other `sourcing receive` has ended, then receive the sheet again."


class JobOnFile(Fault):
    """A new job was to be written under a name that another one has."""

    code = "job-on-file"
    expects = "a name that no other job has"
    advises = "Give the job another number, or open the one that is on file."


class JobsInUse(Fault):
    """Another program is saving a job in the same folder, and does not come to an end."""

    code = "jobs-in-use"
    expects = "nobody else saving a job"
    advises = "Wait a moment, then save again."


class InTheWay(Fault):
    """A new folder was to be made where a file of the same name stands already."""

    code = "in-the-way"
    expects = "a place where no such file stands yet"
    advises = "Name another folder, or move the file away; nothing was written."


class ChangedSince(Fault):
    """Somebody else changed an entry of a book, or of the shop's files, while it was open in a form."""

    code = "changed-since"
    expects = "the entry as it was when the form was opened"
    advises = "Look at what they saved, then save again: the form now stands on top of it."


class BadPassword(Fault):
    """A password that is too short, or a password file that holds no hash of one."""

    code = "bad-password"
    expects = "the hash that `sourcing serve --password-file` wrote"
    advises = (
        "Choose another password; for a file, take it away and start `sourcing serve` again, which asks for a new one."
    )


class LayoutByHand(Fault):
    """suppliers.toml cannot be changed without touching what the shop wrote."""

    code = "layout-by-hand"
    expects = "a [[supplier]] table with [supplier.columns] and [supplier.sheet] of its own"
    advises = "Write the lines that are shown into suppliers.toml, then receive the sheet again."


class NoRate(Fault):
    """A supplier's currency has no rate in shop.toml."""

    code = "no-rate"
    expects = "a rate in shop.toml under [fx]"
    advises = "Add what one unit of that currency costs in the shop's currency."


class TooLarge(Fault):
    """A number or a file beyond what the tool promises to handle."""

    code = "too-large"
    expects = "something within the tool's limits"
    advises = "Split it, or correct it if it is a slip of the pen."


class BadInput(Exception):
    """What we were given cannot be used; carries every fault found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[BadInput], tuple[tuple[Fault, ...]]]:
        return type(self), (self.faults,)  # a fault of one process is told by another


class OurFault(Exception):
    """The tool's own two witnesses disagree: a defect of ours, never shown as a quote."""


def raise_any(faults: Sequence[Fault]) -> None:
    """Stop with all faults, where there are any."""
    if faults:
        raise BadInput(faults)


def shown(path: Path) -> str:
    """A path as a fault names it: relative to where the user stands, where that is shorter."""
    try:
        return _shown_from(path, Path.cwd())
    except (ValueError, OSError):
        return path.as_posix()


@lru_cache(maxsize=4096)
def _shown_from(path: Path, here: Path) -> str:
    return path.resolve().relative_to(here).as_posix()
