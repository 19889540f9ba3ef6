"""What the page may read and write: the shop's own three folders, and nothing outside them.

No path is ever made of what a request says: a name is looked for among those that are there, and a link that leads out of
its folder counts as not there.
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sourcing.quote.revisions import Revision, revisions_of

PAPERS = frozenset({".xlsx", ".csv", ".html"})


class NotThere(Exception):
    """What was asked for is not in the shop's folder; carries what it is, in words."""


@dataclass(frozen=True)
class Reach:
    """The folders of a shop: its catalogs, its open jobs, its papers."""

    catalogs: Path
    jobs: Path
    reports: Path

    @property
    def tray(self) -> Path:
        """Where sheets wait that were dropped in and are not filed: nothing that reads the catalogs looks into it."""
        return self.catalogs / ".dropped-sheets"

    # -- jobs --

    def job_names(self) -> list[str]:
        """The open jobs, by their files' names without the ending."""
        return sorted(path.stem for path in _files(self.jobs) if path.suffix == ".toml")

    def job(self, name: str) -> Path:
        """The file of an open job. Raises NotThere."""
        return _named(self.jobs, f"{name}.toml", f'There is no job "{name}" among the open ones.')

    def new_job(self, number: str) -> Path:
        """The file that a job of this number gets: letters, figures and single hyphens.

        >>> Reach(Path("c"), Path("j"), Path("r")).new_job("../Ämter 12/b").name
        'amter-12-b.toml'
        """
        plain = unicodedata.normalize("NFKD", number).encode("ascii", "ignore").decode("ascii")
        stem = re.sub(r"[^a-z0-9]+", "-", plain.casefold()).strip("-")[:60].strip("-")
        return self.jobs / f"{_not_reserved(stem or 'job')}.toml"

    # -- papers --

    def papers_folder(self, name: str) -> Path:
        """Where a job's papers go. Raises NotThere where that leads out of the shop's reports."""
        self.job(name)
        folder = self.reports / name
        if not _is_inside(folder, self.reports):
            raise NotThere(f'The papers of job "{name}" lie outside the folder of reports.')
        return folder

    def papers(self, name: str) -> list[str]:
        """A job's newest papers."""
        return sorted(path.name for path in _files(self.papers_folder(name)) if path.suffix in PAPERS)

    def revisions(self, name: str) -> list[Revision]:
        """Every set of papers that was given out for a job, the newest first."""
        return list(reversed(revisions_of(self.papers_folder(name))))

    def paper(self, name: str, paper: str, revision: int | None = None) -> Path:
        """A paper of a job, of its newest set or of a revision. Raises NotThere."""
        folder = self.papers_folder(name)
        if revision is not None:
            if revision not in [one.number for one in revisions_of(folder)]:
                raise NotThere(f"Job {name} has no revision {revision}.")
            folder = folder / "revisions" / str(revision)
        missing = f'Job {name} has no paper "{paper}".'
        if Path(paper).suffix not in PAPERS:
            raise NotThere(missing)
        return _named(folder, paper, missing)

    # -- jobs bought together --

    def pool_folder(self, name: str) -> Path:
        """Where the papers of a pool go. Raises NotThere where that leads out of the shop's reports."""
        folder = self.reports / name
        if not re.fullmatch(r"[a-z0-9][a-z0-9-]*", name) or not _is_inside(folder, self.reports):
            raise NotThere(f'There are no papers of "{name}".')
        return folder

    def pool_papers(self, name: str) -> list[str]:
        """A pool's newest papers."""
        return sorted(path.name for path in _files(self.pool_folder(name)) if path.suffix in PAPERS)

    def pool_paper(self, name: str, paper: str) -> Path:
        """One of them. Raises NotThere."""
        found = [path for path in _files(self.pool_folder(name)) if path.name == paper and path.suffix in PAPERS]
        if not found:
            raise NotThere(f'{name} has no paper "{paper}".')
        return found[0]


def _files(folder: Path) -> Iterable[Path]:
    """The plain files of a folder that do not lead out of it."""
    if not folder.is_dir():
        return []
    return [path for path in folder.iterdir() if path.is_file() and _is_inside(path, folder)]


def _named(folder: Path, name: str, missing: str) -> Path:
    """The plain file of a folder that has this very name. Raises NotThere, which says what is missing."""
    names = os.listdir(folder) if folder.is_dir() else []  # noqa: PTH208 - names only: no path is made for the others
    path = folder / name if name in names else None
    if path is None or not path.is_file() or not _is_inside(path, folder):
        raise NotThere(missing)
    return path


def _is_inside(path: Path, folder: Path) -> bool:
    return path.resolve().is_relative_to(folder.resolve())


def _not_reserved(stem: str) -> str:
    """A name that Windows does not keep for a device."""
    return f"job-{stem}" if re.fullmatch(r"con|prn|aux|nul|com\d|lpt\d", stem) else stem
