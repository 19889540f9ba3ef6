"""The cheapest valid combination of a transmission's control parts, proven, with a quote.

>>> from sourcing import open_shop, quote_job          # doctest: +SKIP
>>> quote_job(open_shop("catalogs"), "scenarios/exact-block.toml").plan.cost          # doctest: +SKIP
54229
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd

    from sourcing.decision.possibilities import Answered
    from sourcing.folder import Folder
    from sourcing.pool.buying import Bought

__all__ = ["__version__", "buy_jobs", "open_shop", "price_history", "quote_job"]
__version__ = "0.1.0"


def open_shop(catalogs: str | Path) -> Folder:
    """Open a shop's catalogs folder.

    Raises
    ------
    sourcing.faults.BadInput
        with every fault of the shop's own files
    """
    from sourcing.folder import Folder
    from sourcing.prices.cache import Cache

    return Folder(Path(catalogs), Cache())


def quote_job(shop: Folder, job: str | Path, seconds: float | None = None) -> Answered:
    """The cheapest valid plan for a job file, or why there is none.

    Parameters
    ----------
    seconds : time limit of one solve; when it strikes, the best plan so far is called best_found

    Raises
    ------
    sourcing.faults.BadInput
        with every fault of the job and of what it needs
    """
    from sourcing.decision.possibilities import answer_all
    from sourcing.program.answer import answer

    return answer_all(shop.problems(Path(job)), lambda problem: answer(problem, seconds))


def buy_jobs(shop: Folder, jobs: Iterable[str | Path], seconds: float | None = None) -> Bought:
    """One plan for many job files, what it saved against buying one after another, and the share of each.

    Parameters
    ----------
    seconds : time limit of the pool's solve; when it strikes, the best plan so far is called best_found

    Raises
    ------
    sourcing.faults.BadInput
        with every fault of the jobs and of what they need, or where they cannot stand in one order
    """
    from sourcing.pool.buying import buy
    from sourcing.program.answer import Watch, answer
    from sourcing.program.together import answer_together

    problems = [shop.problems(Path(job)) for job in jobs]
    return buy(problems, answer, lambda pool: answer_together(pool, Watch(seconds)))


def price_history(shop: Folder, design: str, family: str | None = None) -> pd.DataFrame:
    """What every supplier's part for a design cost at each date in the record, as a table for a notebook.

    Returns
    -------
    one row for each part and date, sorted by family, single parts before kits, supplier and date, with the columns of
    `sourcing.prices.history.COLUMNS`: `price` and `core_charge` in the supplier's currency, `shop_price` and
    `shop_core_charge` in the shop's; `kit` names the designs of a kit, and is empty for a single part; `why` says why it
    could not be bought on that date

    Raises
    ------
    sourcing.faults.BadInput
        where no family (or not the one named) knows the design, with the nearest names; or a sheet of the record cannot
        be read
    """
    from sourcing.faults import raise_any
    from sourcing.pricehistory import families_of, history_of
    from sourcing.prices.history import frame

    told = [history_of(shop, design, code) for code in families_of(shop, design, family)]
    raise_any([fault for _, unread in told for fault in unread])
    return frame(history for listed, _ in told for history in listed)
