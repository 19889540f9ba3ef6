"""`sourcing buy`: many jobs in, one plan for all of them on the screen, its papers in reports/."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import typer

from sourcing.cli.ending import Exit, say_faults
from sourcing.cli.poolscreen import told
from sourcing.cli.progress import Progress
from sourcing.cli.quote import CODES
from sourcing.cli.screen import told_papers
from sourcing.cli.stopping import Stopping
from sourcing.faults import BadInput, OurFault
from sourcing.folder import Folder
from sourcing.intake import sealed_all, take_in
from sourcing.plan import Plan
from sourcing.pool.buying import Bought
from sourcing.pool.lots import Pool
from sourcing.pool.plan import PoolPlan
from sourcing.prices.cache import Cache
from sourcing.problem import Problem


@dataclass(frozen=True, slots=True)
class Effort:
    """How long and how hard to try: seconds (None: until it is proven), a gap that is good enough, threads."""

    seconds: float | None
    gap: float
    threads: int


def buy_jobs(
    jobs: Sequence[Path], catalogs: Path, out: Path | None, as_json: bool, effort: Effort, name: str | None
) -> Exit:
    """Plan all the jobs together, tell the plan, and file its papers."""
    progress = Progress()
    try:
        return _buy(jobs, catalogs, out, as_json, effort, name, progress)
    except BadInput as error:
        progress.done()
        say_faults(error)
        return Exit.BAD_INPUT
    except OSError:
        raise
    except Exception as error:
        progress.done()
        kind = "" if isinstance(error, OurFault) else f"{type(error).__name__}: "
        typer.echo(f"A defect of the tool, and no plan was made: {kind}{error}", err=True)
        return Exit.OUR_FAULT
    finally:
        progress.done()


def _buy(
    jobs: Sequence[Path],
    catalogs: Path,
    out: Path | None,
    as_json: bool,
    effort: Effort,
    name: str | None,
    progress: Progress,
) -> Exit:
    progress.say("reading the shop", at_once=True)
    folder = Folder(catalogs, Cache())
    progress.currency = folder.shop.currency
    progress.say("reading the jobs", at_once=True)
    units = take_in(folder, jobs)
    problems = sealed_all(folder, units, lambda done, of: progress.counted("joining jobs, books and prices", done, of))
    bought = _planned(problems, effort, progress)
    written = ""
    papers = out or (None if as_json else Path("reports"))
    if papers and bought.plan.gets:
        progress.say("writing the papers", at_once=True)
        written = _write(bought, papers, name or f"pool-{units[0].job.job.date.isoformat()}")
    progress.done()
    if as_json:
        from sourcing.quote.poolrecord import pool_record

        typer.echo(json.dumps(pool_record(bought), ensure_ascii=False))
    else:
        typer.echo(told(bought, written))
    return CODES[bought.plan.status]


def _planned(problems: Sequence[Sequence[Problem]], effort: Effort, progress: Progress) -> Bought:
    from sourcing.pool.buying import buy
    from sourcing.program.answer import Watch, answer
    from sourcing.program.solver import run_watched
    from sourcing.program.together import answer_together

    def together(pool: Pool) -> PoolPlan:
        watch = Watch(effort.seconds, effort.threads, effort.gap, progress.solving, lambda: stopping.presses > 0)
        stopping.solves = lambda: watch.solves
        plan = answer_together(pool, watch)
        stopping.planned = bool(plan.gets)
        return plan

    def alone(problem: Problem) -> Plan:
        plan = answer(problem, ties=False)
        if plan.proof.interrupted:
            raise KeyboardInterrupt
        return plan

    with Stopping(progress, run_watched) as stopping:
        return buy(problems, alone, together, progress.counted)


def _write(bought: Bought, out: Path, name: str) -> str:
    """File the papers of a pool as its next revision; what was written, in words."""
    from sourcing.quote.poolpapers import POOL, pool_facts, pool_papers
    from sourcing.quote.revisions import file_papers

    filed = file_papers(out / name, pool_facts(bought), lambda number: pool_papers(bought, name, number))
    return told_papers(out / name, filed, POOL)
