"""A problem that keeps a solver busy for a second or more."""

from __future__ import annotations

from random import Random

from program.tiny import sold, tiny
from sourcing.problem import Problem


def hard(positions: int, designs: int, suppliers: int) -> Problem:
    """Every supplier has most designs, wants a minimum, and sends free above a threshold; neighbours bar each other."""
    random = Random(1)
    places = [f"p{i}" for i in range(positions)]
    drawn = [f"{place}-{j}" for place in places for j in range(designs)]
    terms = {
        f"s{n}": {
            "order_minimum": random.randint(50, 150),
            "freight": [
                {"mode": "air", "days": 1, "flat": random.randint(10, 30), "free_over": random.randint(200, 400)},
                {"mode": "ground", "days": 3, "flat": random.randint(3, 9)},
            ],
        }
        for n in range(suppliers)
    }
    offers = [
        sold(supplier, f"N{design}", design, random.randint(20, 90), core_charge=random.randint(0, 20))
        for supplier in terms
        for design in drawn
        if random.random() < 0.7
    ]
    barred = [
        {"never": {places[i]: [f"p{i}-{j}"], places[i - 1]: [f"{places[i - 1]}-{random.randrange(designs)}"]}}
        for i in range(positions)
        for j in range(3)
    ]
    found = {place: f"{place}-0" for place in places}
    return tiny(places, drawn, offers, rules=barred, suppliers=terms, shop={"day_cost": 11}, found=found)
