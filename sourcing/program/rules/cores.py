"""Rules about cores: what goes back, once, against which piece."""

from __future__ import annotations

import pulp

from sourcing.program.variables import Variables


def return_each_core_once(v: Variables) -> None:
    """A found part that is not kept goes back once, or not at all.

    sum_o r_po <= 1 - k_p      for each position p with a core
    r_po 1 if the core of p goes back against offer o, k_p 1 if the found part goes back into the unit
    """
    for i, position in enumerate(v.problem.cores):
        back = [var for (p, _), var in v.back.items() if p == position]
        if back:
            kept = v.keeps.get(position, 0)
            v.model += pulp.lpSum(back) + kept <= 1, f"core_{i}_once"


def return_a_core_for_a_piece(v: Variables) -> None:
    """Each piece that is bought, or in hand and not sent back, takes back at most one core.

    sum_p r_po <= sum_{l of o} q_l + a_o         for each offer o that accepts some core
    r_po <= sum_{l of o} t_l + a_o               for each p (the same, said strongly)
    a_o = sum over the pieces of o in hand of (1 - b_p), b_p 1 if that of p goes back to its supplier
    """
    for offer in sorted({offer for _, offer in v.back}):
        back = [var for (_, o), var in v.back.items() if o == offer]
        lines = v.lines_of(offer)
        v.model += (
            pulp.lpSum(v.quantity(i) for i in lines) + v.hands(offer) - pulp.lpSum(back) >= 0,
            f"cores_for_{offer}",
        )
        for n, var in enumerate(back):
            v.model += pulp.lpSum(v.taken(i) for i in lines) + v.hands(offer) - var >= 0, f"core_{n}_for_{offer}"


def pay_core_return_once(v: Variables) -> None:
    """Sending cores back costs once for each supplier that gets any.

    r_po <= c_s          for each core of p against an offer o of supplier s
    c_s 1 if any core goes back to s
    """
    for n, ((_, offer), var) in enumerate(v.back.items()):
        v.model += v.sends[v.problem.offer[offer].supplier] - var >= 0, f"sends_{n}"
