"""The same answers for scripts: the very objects that the command line prints with --json."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from pydantic import BaseModel

from sourcing.book.benchrecord import bench_record
from sourcing.decision.possibilities import Answered
from sourcing.page.asked import Shop
from sourcing.page.views.jobs import listed
from sourcing.quote.comparison import study_record
from sourcing.quote.record import record

Record = dict[str, Any]


class ToldFault(BaseModel):
    """A fault of a file: its code, where it stands, and the whole sentence."""

    code: str
    where: str
    says: str


class Trouble(BaseModel):
    """What went wrong; with a file that cannot be used, every fault of it."""

    detail: str | list[Any]
    faults: list[ToldFault] = []


class ListedJob(BaseModel):
    """An open job: `name` is what the other addresses call it, `faults` why it cannot be read."""

    name: str
    number: str | None
    family: str | None
    customer: str | None
    date: str | None
    need_by: str | None
    faults: list[str]


router = APIRouter(
    prefix="/api",
    responses={
        401: {"model": Trouble},
        404: {"model": Trouble},
        422: {"model": Trouble},
        429: {"description": "Too much at once"},
    },
)


@router.get("/jobs", summary="The open jobs")
def jobs(desk: Shop) -> list[ListedJob]:
    """Every job file of the shop's folder of jobs."""
    found = []
    for one in listed(desk):
        head = one.job.job if one.job else None
        found.append(ListedJob(
            name=one.name, number=head.number if head else None, family=head.family if head else None,
            customer=head.customer if head else None, date=head.date.isoformat() if head else None,
            need_by=head.need_by.isoformat() if head and head.need_by else None, faults=list(one.faults),
        ))  # fmt: skip
    return found


@router.get("/jobs/{job}", summary="What a job's file says")
def job(job: str, desk: Shop) -> Record:
    """The file's text, its version, and its lines: dotted keys, each with its value as TOML writes it."""
    file = desk.file(job)
    return {"name": job, "version": file.version, "text": file.text, "lines": file.lines}


@router.get("/jobs/{job}/quote", summary="As `sourcing quote JOB --json`")
def quote(job: str, desk: Shop) -> Record:
    """The answer to a job."""
    return record(desk.answered(desk.file(job)))


@router.get("/jobs/{job}/compare", summary="As `sourcing compare JOB --json`")
def compare(job: str, desk: Shop) -> Record:
    """The routes of a job; the object of a quote where it is open."""
    study = desk.studied(desk.file(job))
    return record(study) if isinstance(study, Answered) else study_record(study)


@router.get("/jobs/{job}/identify", summary="As `sourcing identify JOB --json`")
def identify(job: str, desk: Shop) -> Record:
    """What is on the bench."""
    file = desk.file(job)
    seen = desk.benched(file)
    return bench_record(desk.job(file)[0].number, seen.bench, seen.worth)


@router.get("/families", summary="The families that have a book")
def families(desk: Shop) -> list[str]:
    """Their codes."""
    return desk.shelf().families
