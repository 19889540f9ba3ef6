"""A shop's folder opened: its rates, suppliers, books, parts and price sheets, each read once."""

from __future__ import annotations

from datetime import date
from functools import cached_property
from pathlib import Path

from sourcing.book.family import Family, read_family
from sourcing.book.rules import Setting
from sourcing.faults import BadInput, Fault, MissingFile, UnknownFamily, raise_any, shown
from sourcing.job import Job, job_faults, job_of
from sourcing.prices.cache import Cache
from sourcing.prices.offers import Offers
from sourcing.prices.parts import Part, read_parts
from sourcing.prices.record import PriceRecord
from sourcing.prices.suppliers import Supplier, read_suppliers
from sourcing.problem import Problem
from sourcing.reading import read_text
from sourcing.sealing import seal
from sourcing.settings import settings_of
from sourcing.shop import Shop, read_shop
from sourcing.terms import Terms, terms_of


class Folder:
    """Everything under `catalogs/`. Raises BadInput with the faults of all its files at once."""

    def __init__(self, path: Path, cache: Cache | None = None) -> None:
        if not path.is_dir():
            raise BadInput([MissingFile(file=shown(path), expected="a folder with shop.toml and suppliers.toml")])
        self.path = path
        faults: list[Fault] = []
        shop: Shop | None = None
        suppliers: dict[str, Supplier] = {}
        try:
            shop = read_shop(path / "shop.toml")
        except BadInput as error:
            faults += error.faults
        try:
            suppliers = read_suppliers(path / "suppliers.toml")
        except BadInput as error:
            faults += error.faults
        raise_any(faults)
        assert shop is not None
        self.shop, self.suppliers, self._cache = shop, suppliers, cache
        self._in_force: dict[tuple[str, date], Offers] = {}
        self._families: dict[str, tuple[Family, tuple[Part, ...]]] = {}

    @property
    def families(self) -> list[str]:
        return sorted(found.parent.name for found in self.path.glob("*/interchange.toml"))

    @cached_property
    def prices(self) -> PriceRecord:
        return PriceRecord(self.path / "price-sheets", self.suppliers, self.shop, self._cache)

    @cached_property
    def terms(self) -> dict[str, Terms]:
        return {code: terms_of(supplier, self.shop) for code, supplier in self.suppliers.items()}

    def family(self, code: str) -> tuple[Family, tuple[Part, ...]]:
        """A family's book and the part numbers that parts.csv gives it."""
        if code not in self._families:
            family = read_family(self.path / code / "interchange.toml")
            self._families[code] = (family, read_parts(self.path / code / "parts.csv", family, self.suppliers))
        return self._families[code]

    def read_job(self, path: Path) -> Job:
        """Read a job and check it against its family's book and the shop's suppliers."""
        if not path.is_file():
            raise BadInput([MissingFile(file=shown(path), expected="a job file", remedy="Correct the name.")])
        return self.job_of(read_text(path), path)

    def job_of(self, text: str, path: Path) -> Job:
        """The same for a job's text at hand, which need not be on file; its faults name `path`."""
        return job_of(text, path, lambda job: self.faults_of(job, shown(path)))

    def faults_of(self, job: Job, file: str) -> list[Fault]:
        """What a job names that its family's book, the shop's suppliers or parts.csv do not have."""
        if job.job.family not in self.families:
            known = ", ".join(self.families) or "none"
            expected = f"one of the families here: {known}"
            return [UnknownFamily(file=file, place="job family", found=f'"{job.job.family}"', expected=expected)]
        family, parts = self.family(job.job.family)
        numbers = {(part.supplier, part.number.canonical) for part in parts}
        return list(job_faults(job, family, self.suppliers, file, numbers))

    def problems(self, path: Path) -> list[Problem]:
        """A job's sealed problems, one for each setting that it leaves possible."""
        return self.problems_of(self.read_job(path), shown(path))

    def problems_of(self, job: Job, file: str) -> list[Problem]:
        """The same for a job at hand; `file` is how its faults name it."""
        family, _ = self.family(job.job.family)
        return [self.sealed(job, family, setting) for setting in settings_of(job, family, file)]

    def sealed(self, job: Job, family: Family, setting: Setting) -> Problem:
        """A changed job, or a changed book, sealed anew for one setting, from the same sheets."""
        return seal(job, family, self.shop, self.terms, self._offers(job), setting)

    def _offers(self, job: Job) -> Offers:
        """What is in force on a job's day for its family: joined once, however many questions follow."""
        key = (job.job.family, job.job.date)
        if key not in self._in_force:
            _, parts = self.family(job.job.family)
            self._in_force[key] = self.prices.in_force(job.job.date, parts)
        return self._in_force[key]
