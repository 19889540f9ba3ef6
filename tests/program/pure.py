"""Random jobs that are a pure choice of orders: no rule ties positions, every piece is bought alone, freight is flat."""

from __future__ import annotations

from random import Random
from typing import Any

from program.tiny import sold, tiny
from sourcing.problem import Problem


def pure(seed: int) -> Problem:
    """Few positions, round prices so that plans tie, found parts that may go back in, waits, cores, packs, tasks."""
    random = Random(seed)
    positions, designs, suppliers = random.randint(2, 6), random.randint(1, 3), random.randint(2, 5)
    step = random.choice([1, 5, 10])
    places: list[dict[str, Any]] = [
        {"code": f"p{i}", "lead": i == 0, "optional": random.random() < 0.15} for i in range(positions)
    ]
    drawn = [
        {
            "code": f"p{i}-{j}",
            "comeback_rate": str(random.choice([0, 0.01, 0.05])),
            "kept_comeback_rate": str(random.choice([0, 0.01, 0.05])),
            "weight_kg": random.choice([0, 1, 2]),
        }
        for i in range(positions)
        for j in range(designs)
    ]
    terms = {f"s{k}": _terms(random) for k in range(suppliers)}
    offers = [
        sold(
            supplier,
            f"N{design['code']}",
            design["code"],
            random.randrange(10, 60, step),
            core_charge=random.choice([0, 0, 10]),
            pack=random.choice([1, 1, 1, 2]),
        )
        for supplier in terms
        for design in drawn
        if random.random() < 0.75
    ]
    found = {f"p{i}": f"p{i}-0" for i in range(positions) if random.random() < 0.5}
    tasks = [
        {
            "hours": 1,
            "when": {f"p{i}": [f"p{i}-0"]},
            **({"replacing": [f"p{i}"]} if random.random() < 0.5 else {}),
        }
        for i in range(positions)
        if random.random() < 0.3
    ]
    return tiny(
        places,
        drawn,
        offers,
        tasks=tasks,
        suppliers=terms,
        found=found,
        shop={"day_cost": random.choice([0, 0, 5]), "comeback_cost": 200, "labour_rate": 10},
        job={"minimise": random.choice(["cash", "landed", "whole", "whole"])},
        limits={"keep": [p for p in found if random.random() < 0.6]},
    )


def _terms(random: Random) -> dict[str, Any]:
    freight = [
        {
            "mode": mode,
            "days": random.randint(0, 3),
            "flat": random.choice([0, 10, 20, 30]),
            "per_kg": random.choice([0, 1]),
            **({"free_over": 100000} if random.random() < 0.3 else {}),
        }
        for mode in random.sample(["air", "road"], random.choice([1, 1, 2]))
    ]
    return {"order_fee": random.choice([0, 0, 5]), "freight": freight}
