"""Open jobs bought together, as `sourcing buy` plans them: who gets what, what it saves, who pays what, and its papers."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from functools import partial
from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, RedirectResponse, Response

from sourcing.book.family import NONE
from sourcing.counter import pool_papers_filed, pooled
from sourcing.faults import shown
from sourcing.folder import Folder
from sourcing.page.asked import Checked, Shop
from sourcing.page.desk import Desk
from sourcing.page.drawn import page
from sourcing.page.reach import NotThere
from sourcing.page.views.jobs import Listed, listed
from sourcing.page.views.papers import KINDS
from sourcing.page.works import Background, Work, Works
from sourcing.plan import Status
from sourcing.pool.buying import Bought
from sourcing.prices.cache import Cache
from sourcing.quote import pooled as words
from sourcing.quote import pooltold as told
from sourcing.quote.poolrecord import noted
from sourcing.unitlist import Unit

router = APIRouter(include_in_schema=False)
MOST = 12  # kinds of unit, and shares, told one by one


@router.get("/together")
def together(request: Request, desk: Shop) -> Response:
    """Choose the jobs."""
    return _choose(request, desk, [], [])


def _choose(request: Request, desk: Desk, chosen: Sequence[str], faults: Sequence[str]) -> Response:
    days: dict[str, list[Listed]] = {}
    for one in listed(desk):
        if one.job is not None:
            days.setdefault(one.job.job.date.isoformat(), []).append(one)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if faults else HTTPStatus.OK
    return page(request, "together.html", status, days=days, chosen=chosen, faults=faults)


@router.post("/together")
def plan(request: Request, desk: Shop, works: Background, form: Checked) -> Response:
    """Begin to plan the chosen jobs; the same jobs asked once more are the same plan while nothing changes."""
    chosen = [name for name in desk.reach.job_names() if name in form.all("job")]
    if not chosen:
        return _choose(request, desk, chosen, ["Choose the jobs that are to be bought together."])
    files = [desk.file(name) for name in chosen]
    asked = "\0".join([desk.state(), *(f"{file.path}\0{file.version}" for file in files)])
    key = hashlib.sha256(asked.encode("utf-8", "surrogateescape")).hexdigest()[:24]
    work = works.begin(
        f"Planning {len(chosen)} jobs together", lambda made: f"/together/{made}", partial(_planned, desk, chosen), key
    )
    return RedirectResponse(work.home, HTTPStatus.SEE_OTHER)


def _planned(desk: Desk, chosen: Sequence[str], work: Work) -> Bought:
    work.say("reading the jobs")
    folder = Folder(desk.reach.catalogs, Cache())
    units = [Unit(folder.read_job(path), shown(path)) for path in map(desk.reach.job, chosen)]
    return pooled(folder, units, work.say, work.plans, lambda: work.stopped)


@router.get("/together/{key}")
def result(request: Request, key: str, desk: Shop, works: Background, made: str = "") -> Response:
    """How far it is; then the plan."""
    work = works.of(key)
    if not work.home.startswith("/together/"):
        raise NotThere("This is no plan of jobs together.")
    bought = work.result if isinstance(work.result, Bought) else None
    note = {"new": "The papers were made.", "same": "Nothing changed since the last revision: nothing was written."}
    if bought is None:
        return page(request, "pooled.html", work=work, bought=None, faults=work.faults)
    kinds = words.alike(bought.plan) if bought.plan.gets else ()
    name = _name(bought)
    return page(
        request, "pooled.html", work=work, bought=bought, plan=bought.plan, faults=work.faults, kinds=kinds, words=words, told=told,
        header=words.header_of(bought.plan), notes=noted(bought.plan), none=NONE, most=MOST,
        shares=list(told.shares_told(bought, kinds, MOST)) if bought.shares else [],
        cautions=words.pool_cautions(kinds), proven=bought.plan.status == Status.PROVEN, currency=bought.plan.pool.shop.currency,
        papers=desk.reach.pool_papers(name) if bought.plan.gets else [], name=name, note=note.get(made, ""),
    )  # fmt: skip


def _name(bought: Bought) -> str:
    """What the papers are called by, as the command calls them."""
    return f"pool-{bought.plan.pool.first.job.job.date.isoformat()}"


@router.post("/together/{key}/papers")
def make(request: Request, key: str, desk: Shop, works: Background, form: Checked) -> Response:
    """Make the papers as the next revision."""
    bought = _bought(works, key)
    if not bought.plan.gets:
        return page(request, "trouble.html", HTTPStatus.CONFLICT, title="There is no plan to make papers of", lines=())
    filed = pool_papers_filed(bought, desk.reach.pool_folder(_name(bought)), _name(bought))
    made = "new" if filed.written else "same"
    return RedirectResponse(f"{works.of(key).home}?made={made}", HTTPStatus.SEE_OTHER)


@router.get("/together/{key}/papers/{paper}")
def paper(key: str, paper: str, desk: Shop, works: Background) -> Response:
    """One of the newest papers."""
    path = desk.reach.pool_paper(_name(_bought(works, key)), paper)
    return FileResponse(path, media_type=KINDS[path.suffix], filename=path.name)


def _bought(works: Works, key: str) -> Bought:
    found = works.of(key).result
    if not isinstance(found, Bought):
        raise NotThere("There is no plan of these jobs yet.")
    return found
