"""Many jobs taken in: from job files, folders of them and lists of units; like ones are sealed once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from sourcing.faults import BadInput, Fault, MissingFile, raise_any, shown
from sourcing.folder import Folder
from sourcing.job import Job
from sourcing.problem import Problem
from sourcing.unitlist import ENDINGS, Unit, read_units

# What of a job no sealed problem hangs on: who it is for, and what is charged beside its parts.
APART = {"job": {"number", "customer"}, "unit": {"tag"}, "labour": True, "quote": True, "extras": True}


def take_in(folder: Folder, paths: Sequence[Path]) -> list[Unit]:
    """The jobs of some files, folders (their *.toml) and lists of units (.csv, .tsv, .txt), each checked beside its book.

    Raises
    ------
    BadInput
        with every fault of all of them
    """
    faults: list[Fault] = []
    units: list[Unit] = []
    for path in paths:
        try:
            units += _taken(folder, path)
        except BadInput as error:
            faults += error.faults
    raise_any(faults)
    return units


def _taken(folder: Folder, path: Path) -> list[Unit]:
    if not path.is_dir():
        return _of_file(folder, path)
    files = sorted(path.glob("*.toml"))
    if not files:
        raise BadInput([MissingFile(file=shown(path), expected="job files (*.toml) in this folder",
                                    remedy="Name the folder that holds them, or a list of units.")])  # fmt: skip
    return take_in(folder, files)


def _of_file(folder: Folder, path: Path) -> list[Unit]:
    if path.suffix.lower() not in ENDINGS:
        return [Unit(folder.read_job(path), shown(path))]
    if not path.is_file():
        raise BadInput([MissingFile(file=shown(path), expected="a list of units", remedy="Correct the name.")])
    file = shown(path)
    return read_units(path, lambda job: folder.faults_of(job, file))


def sealed_all(
    folder: Folder, units: Sequence[Unit], told: Callable[[int, int], None] = lambda done, of: None
) -> list[list[Problem]]:
    """The sealed problems of many jobs, for each job one for each setting that it leaves possible.

    Jobs that differ only in number, customer, tag and what is charged share all of a problem but the job itself.

    Parameters
    ----------
    told : hears how many jobs are sealed, and of how many

    Raises
    ------
    BadInput
        with every fault of all of them; like jobs' faults once
    """
    faults: list[Fault] = []
    known: dict[str, list[Problem]] = {}
    sealed: list[list[Problem]] = []
    for done, unit in enumerate(units, 1):
        key = alike(unit.job)
        if key not in known:
            try:
                known[key] = folder.problems_of(unit.job, unit.file)
            except BadInput as error:
                known[key] = []
                faults += (replace(fault, row=unit.row) if fault.file == unit.file else fault for fault in error.faults)
        sealed.append([replace(problem, job=unit.job) for problem in known[key]])
        told(done, len(units))
    raise_any(faults)
    return sealed


def alike(job: Job) -> str:
    """What of a job decides what it can get: equal for like jobs."""
    return job.model_dump_json(exclude=APART)  # type: ignore[arg-type]
