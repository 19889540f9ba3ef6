"""Routes against every plan that there is: the best one for each design, what sets two apart, which is recommended."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from oracle.random_shops import write_shop

from decision.jobs import cost_only, possible_problems, tried_jobs
from sourcing.decision.others import with_design, with_part
from sourcing.decision.routes import CAUSES, causes, compare, routes
from sourcing.folder import Folder
from sourcing.plan import Status

SEEDS = range(330, 352)


@pytest.mark.parametrize("seed", SEEDS)
def test_each_design_costs_what_the_cheapest_of_all_its_plans_costs(seed: int, tmp_path: Path) -> None:
    for it in tried_jobs(seed, tmp_path, edges=seed % 2 == 0):
        found = routes(it.problem, cost_only)
        designs = [route.design for route in found]
        assert sorted(designs) == sorted(it.problem.family.holds[it.problem.family.lead.code])
        for route in found:
            expected = it.least(*(plan for plan in it.plans if it.buyer.lead(plan) == route.design))
            if expected is None:
                assert route.plan.status == Status.IMPOSSIBLE
                assert route.reasons
            else:
                assert route.plan.cost == expected
                assert route.plan.choice is not None
                assert route.plan.choice.combination[it.problem.family.lead.code] == route.design
                assert with_design(it.problem, route.design, cost_only).cost == expected
        prices = [route.plan.cost for route in found if route.plan.choice is not None]
        assert prices == sorted(prices)
        assert designs[len(prices) :] == [route.design for route in found if route.plan.choice is None]
        assert prices[:1] == [it.plan.cost] * bool(it.plan.choice), "the best route costs what the quote costs"


@pytest.mark.parametrize("seed", SEEDS)
def test_what_sets_two_routes_apart_adds_up_to_the_cent(seed: int, tmp_path: Path) -> None:
    for problem in possible_problems(seed, tmp_path, edges=seed % 2 == 0):
        found = [route.plan for route in routes(problem, cost_only) if route.plan.choice is not None]
        for dearer in found:
            for cheaper in found:
                told = causes(dearer, cheaper)
                assert tuple(told) == CAUSES[problem.minimise]
                assert sum(told.values()) == dearer.cost - cheaper.cost


@pytest.mark.parametrize("seed", range(340, 349))
def test_nobody_changes_for_less_than_it_is_worth(seed: int, tmp_path: Path) -> None:
    """The cheapest; but an exact one that costs more by no more than `worth_changing`, to the cent, is kept."""
    for problem in possible_problems(seed, tmp_path):
        plain = compare(problem, cost_only)
        possible = [route for route in plain.routes if route.plan.choice is not None]
        for route in possible:
            assert route.exact == (problem.setting.era in problem.family.design[route.design].fitted)
        exact = min((route.plan.cost for route in possible if route.exact), default=None)
        least = possible[0].plan.cost
        for cents in {0, 10_000_000, *([] if exact is None else [exact - least, max(0, exact - least - 1)])}:
            asked = problem.shop.model_copy(update={"worth_changing": Decimal(cents) / 100})
            found = compare(replace(problem, shop=asked), cost_only)
            stays = exact is not None and exact <= least + cents
            chosen = next(route for route in possible if route.design == found.recommended)
            assert chosen.plan.cost == (exact if stays else least)
            assert chosen.exact or not stays


@pytest.mark.parametrize("seed", range(360, 376))
def test_the_best_plan_with_a_part_is_the_cheapest_of_all_that_it_fills(seed: int, tmp_path: Path) -> None:
    for it in tried_jobs(seed, tmp_path, edges=seed % 2 == 0):
        for n, sold in enumerate(it.buyer.offers):
            offer = next((o for o in it.problem.offers
                          if (o.supplier, o.part.number.spelt) == (sold.supplier, sold.number)), None)  # fmt: skip
            expected = it.least(*(plan for plan in it.plans if n in plan.filling.used))
            if offer is None or it.problem.fitting is None:
                assert expected is None
                continue
            plan = with_part(it.problem, offer.id, cost_only)
            assert (plan.cost if plan.choice is not None else None) == expected


@pytest.mark.parametrize("seed", range(380, 396))
def test_a_further_suppliers_sheets_make_no_route_dearer(seed: int, tmp_path: Path) -> None:
    jobs = write_shop(seed, tmp_path, edges=True)
    catalogs = tmp_path / "catalogs"
    both = [costs_by_design(catalogs, job) for job in jobs]
    for one in ("s0", "s1"):
        (catalogs / "price-sheets" / one).rename(tmp_path / one)
        for job, told in zip(jobs, both, strict=True):
            for design, cost in costs_by_design(catalogs, job).items():
                assert told[design] <= cost, f"{design} without {one}"
        (tmp_path / one).rename(catalogs / "price-sheets" / one)


def costs_by_design(catalogs: Path, job: Path) -> dict[str, float]:
    found = routes(Folder(catalogs).problems(job)[0], cost_only)
    return {route.design: route.plan.cost if route.plan.choice is not None else float("inf") for route in found}
