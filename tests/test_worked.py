"""The worked shops, which settle what the contract means: each job's status, era, totals and combination."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from sourcing.breaches import breaches
from sourcing.decision.possibilities import answer_all
from sourcing.folder import Folder
from sourcing.plan import TOTALS, Status
from sourcing.program.answer import answer

WORKED = Path(__file__).resolve().parents[2] / "shared" / "worked"


def worked_jobs() -> list[Any]:
    """Each worked job with its expected answer; one skipped case where the folder is not there."""
    if not (WORKED / "expected.json").is_file():
        return [pytest.param("", {}, marks=pytest.mark.skip(reason="no worked shops beside the repository"))]
    expected = json.loads((WORKED / "expected.json").read_text(encoding="utf-8"))
    return [pytest.param(job, answer, id=job) for job, answer in expected.items()]


@pytest.mark.parametrize(("job", "expected"), worked_jobs())
def test_a_worked_job_gets_its_answer(job: str, expected: dict[str, Any]) -> None:
    shop = WORKED / job.split("-")[0]
    answered = answer_all(Folder(shop / "catalogs").problems(shop / "scenarios" / f"{job}.toml"), answer)
    plan = answered.plan
    assert plan.status.value == expected["status"]
    if plan.status != Status.PROVEN:
        assert plan.choice is None
        return
    assert plan.choice is not None
    assert plan.problem.minimise == expected["minimise"]
    assert breaches(plan.problem, plan.choice) == []
    assert plan.cost == plan.proof.bound == Decimal(expected["cost"]) * 100
    assert dict(plan.choice.combination) == expected["one_combination"]
    cents = {name: int(Decimal(amount) * 100) for name, amount in expected["its_totals"].items()}
    assert {name: plan.totals.of(name) for name in TOTALS} == cents
