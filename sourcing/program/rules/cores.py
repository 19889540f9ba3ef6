"""Rules about cores: what goes back, once, against which piece."""

from __future__ import annotations

import pulp

from sourcing.program.grouped import grouped
from sourcing.program.variables import Variables


def return_each_core_once(v: Variables) -> None:
    """A found part that is not kept goes back once, or not at all.

    sum_o r_do <= n_d - k_d      for each design d of which there is a core
    r_do cores of d that go back against offer o, n_d found parts of d, k_d of them that go back into their units
    """
    found = grouped(
        ((unit.family, core), (unit, position)) for unit in v.units for position, core in unit.problem.cores.items()
    )
    for i, (wanted, back) in enumerate(grouped(((f, d), var) for (f, d, _), var in v.back.items()).items()):
        cores = [unit.count for unit, _ in found[wanted]]
        kept = [unit.keeps[position] for unit, position in found[wanted] if position in unit.keeps]
        v.model += pulp.lpSum([*back, *kept]) - pulp.lpSum(cores) <= 0, f"core_{i}_once"


def return_a_core_for_a_piece(v: Variables) -> None:
    """Each piece that is bought, or in hand and not sent back, takes back at most one core.

    sum_d r_do <= sum_{l of o} q_l + a_o         for each offer o that accepts some core
    r_do <= N_d (sum_{l of o} t_l + a_o)         for each d (the same, said strongly)
    a_o = sum over the pieces of o in hand of (1 - b_p), b_p 1 if that of p goes back to its supplier, N_d the most cores
    """
    for offer, back in sorted(grouped((offer, var) for (_, _, offer), var in v.back.items()).items()):
        lines = v.lines_of(offer)
        v.model += (
            pulp.lpSum(v.quantity(i) for i in lines) + v.hands(offer) - pulp.lpSum(back) >= 0,
            f"cores_for_{offer}",
        )
        for n, var in enumerate(back):
            taken = pulp.lpSum(v.taken(i) for i in lines) + v.hands(offer)
            v.model += var.upBound * taken - var >= 0, f"core_{n}_for_{offer}"


def pay_core_return_once(v: Variables) -> None:
    """Sending cores back costs once for each supplier that gets any.

    r_do <= N_d c_s          for each core of d against an offer o of supplier s
    c_s 1 if any core goes back to s, N_d the most cores
    """
    for n, ((_, _, offer), var) in enumerate(v.back.items()):
        v.model += var.upBound * v.sends[v.pool.offer[offer].supplier] - var >= 0, f"sends_{n}"
