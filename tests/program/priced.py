"""A job as a counter prices it: eight positions, suppliers with free freight, minimums and two modes, rules between neighbours."""

from __future__ import annotations

from random import Random

from program.tiny import sold, tiny
from sourcing.problem import Problem


def priced(seed: int, positions: int = 8, designs: int = 6, suppliers: int = 12) -> Problem:
    """Prices within a few tenths of each other, cores on the dear position, comebacks, a day that costs."""
    random = Random(seed)
    places = [f"p{i}" for i in range(positions)]
    base = {place: (320 if i == 0 else random.choice([25, 40, 60, 90, 140])) for i, place in enumerate(places)}
    drawn = [
        {
            "code": f"{place}-{j}",
            "weight_kg": 2 if place == "p0" else 0.4,
            "comeback_rate": str(random.choice([0.01, 0.02, 0.05])),
        }
        for place in places
        for j in range(designs)
    ]
    terms = {
        f"s{n}": {
            "order_minimum": random.choice([0, 0, 25, 50]),
            "freight": [
                {
                    "mode": "ground",
                    "days": random.randint(2, 5),
                    "flat": random.randint(8, 18),
                    "per_kg": 1.1,
                    "free_over": random.choice([400, 500, 750]),
                },
                {"mode": "air", "days": 1, "flat": random.randint(25, 45)},
            ],
        }
        for n in range(suppliers)
    }
    offers = [
        sold(
            supplier,
            f"N{design['code']}",
            str(design["code"]),
            round(base[str(design["code"]).split("-")[0]] * random.uniform(0.75, 1.3), 2),
            core_charge=random.choice([0, 0, 60]) if str(design["code"]).startswith("p0") else 0,
        )
        for supplier in terms
        for design in drawn
        if random.random() < 0.7
    ]
    barred = [
        {
            "never": {
                places[i]: [f"{places[i]}-{random.randrange(designs)}"],
                places[i - 1]: [f"{places[i - 1]}-{random.randrange(designs)}"],
            }
        }
        for i in range(positions)
        for _ in range(6)
    ]
    shop = {"day_cost": 6, "comeback_cost": 400}
    return tiny(places, drawn, offers, rules=barred, suppliers=terms, shop=shop, found={"p0": "p0-0"})
