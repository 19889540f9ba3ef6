"""The cheapest valid combination of a transmission's control parts, proven, with a quote.

>>> from sourcing import open_shop, quote_job          # doctest: +SKIP
>>> quote_job(open_shop("catalogs"), "scenarios/exact-block.toml").plan.cost          # doctest: +SKIP
54229
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sourcing.decision.possibilities import Answered
    from sourcing.folder import Folder

__all__ = ["__version__", "open_shop", "quote_job"]
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
