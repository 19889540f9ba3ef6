"""The books of a catalogs folder, usable with no price sheet, supplier or rate in the house."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path

from sourcing.book.bench import SHARE
from sourcing.book.family import Family, read_family
from sourcing.book.review import Number
from sourcing.faults import BadInput, MissingFile, UnknownFamily, shown
from sourcing.job import Job, job_faults, job_of
from sourcing.partnumber import canonical
from sourcing.prices.parts import Part, read_parts
from sourcing.prices.suppliers import read_suppliers
from sourcing.reading import read_text
from sourcing.shop import read_shop


def numbers_of(parts: Iterable[Part]) -> list[Number]:
    """Rows of parts.csv, as far as a review of the book asks."""
    return [
        Number(part.supplier, part.number.canonical, part.number.spelt, part.fills, canonical(part.replaced_by))
        for part in parts
    ]


class Bookshelf:
    """The families of a folder. Raises BadInput where there is no such folder."""

    def __init__(self, path: Path) -> None:
        if not path.is_dir():
            expected = "a folder with <family>/interchange.toml in it"
            raise BadInput([MissingFile(file=shown(path), expected=expected)])
        self.path = path
        self._families: dict[str, Family] = {}

    @property
    def families(self) -> list[str]:
        return sorted(found.parent.name for found in self.path.glob("*/interchange.toml"))

    def family(self, code: str, place: str = "FAMILY", file: str = "") -> Family:
        """A family's book; `place` and `file` say who asks for it, for the fault."""
        if code not in self.families:
            expected = f"one of the families in {shown(self.path)}: {', '.join(self.families) or 'none'}"
            raise BadInput([UnknownFamily(file=file, place=place, found=f'"{code}"', expected=expected)])
        if code not in self._families:
            self._families[code] = read_family(self.path / code / "interchange.toml")
        return self._families[code]

    def read_job(self, path: Path) -> Job:
        """Read a job and check it against its book, and against the suppliers where suppliers.toml is there."""
        if not path.is_file():
            raise BadInput([MissingFile(file=shown(path), expected="a job file", remedy="Correct the name.")])
        return self.job_of(read_text(path), path)

    def job_of(self, text: str, path: Path) -> Job:
        """The same for a job's text at hand, which need not be on file; its faults name `path`."""
        file = shown(path)
        return job_of(
            text,
            path,
            lambda job: job_faults(job, self.family(job.job.family, "job family", file), self._suppliers(), file),
        )

    def mixed_share(self) -> Fraction:
        """How often a part was swapped: shop.toml's `mixed_share`, or 1/10 without a shop.toml."""
        path = self.path / "shop.toml"
        return Fraction(read_shop(path).mixed_share) if path.is_file() else SHARE

    def parts(self, family: Family) -> tuple[Part, ...] | None:
        """The part numbers of a family's parts.csv; None where there is none."""
        path = self.path / family.code / "parts.csv"
        return read_parts(path, family, self._suppliers()) if path.is_file() else None

    @property
    def priced(self) -> bool:
        """Whether there is what a quote needs: rates, suppliers, and a sheet of prices."""
        files = ("shop.toml", "suppliers.toml")
        sheets = self.path / "price-sheets"
        return all((self.path / name).is_file() for name in files) and any(sheets.glob("*/*"))

    def _suppliers(self) -> Mapping[str, object]:
        path = self.path / "suppliers.toml"
        return read_suppliers(path) if path.is_file() else _Anyone()


class _Anyone(dict[str, object]):
    """Stands for the suppliers where no suppliers.toml says who they are: nobody is unknown."""

    def __contains__(self, name: object) -> bool:
        return True
