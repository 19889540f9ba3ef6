"""The oracles for several jobs together agree with sums made by hand and with each other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from oracle import brute, pool, pool_check, pool_cpsat, pool_scipy
from oracle.random_pools import write_pool
from oracle.random_shops import Table, write_toml
from oracle.reading import read_problem

SMALL = range(60)
MIDDLE = [0, 3, 4, 6, 8]
WITNESSES: list[Callable[[Path, Sequence[Path]], int | None]] = [pool.cost, pool_cpsat.cost, pool_scipy.cost]
HEADER = "supplier,part_number,fills,condition,core_accepts"
SHEET = "Part Number,Price,Core Charge,Stock,Pack,Min Qty,2+"


def shop_of(
    folder: Path, parts: list[str], sheets: dict[str, list[str]], suppliers: dict[str, Table], **shop: Any
) -> Path:
    """A shop with one family of a block and a plate, two designs of each, nothing but prices in it."""
    catalogs = folder / "catalogs"
    (catalogs / "f").mkdir(parents=True)
    write_toml(
        catalogs / "f" / "interchange.toml",
        {
            "format": 1,
            "family": {"code": "f", "name": "F"},
            "era": [{"code": "e", "name": "E", "from": "2001-01"}],
            "position": [{"code": "block", "name": "Block", "lead": True}, {"code": "plate", "name": "Plate"}],
            "design": [
                {"code": f"{p}-{n}", "position": p, "name": f"{p} {n}", "fitted": ["e"]}
                for p in ("block", "plate")
                for n in (1, 2)
            ],
        },
    )
    (catalogs / "f" / "parts.csv").write_text("\n".join([HEADER, *parts]) + "\n", encoding="utf-8")
    for supplier, rows in sheets.items():
        path = catalogs / "price-sheets" / supplier
        path.mkdir(parents=True)
        (path / "2026-03-01.csv").write_text("\n".join([SHEET, *rows]) + "\n", encoding="utf-8")
    terms = [{"code": code, "name": code, **suppliers.get(code, {})} for code in sheets]
    write_toml(catalogs / "suppliers.toml", {"supplier": terms})
    rates = {"currency": "USD", "labour_rate": 0, "comeback_cost": 0, "markup": [{"factor": 1}], **shop}
    write_toml(catalogs / "shop.toml", rates)
    return catalogs


def job_of(folder: Path, number: str, buys: list[str], **limits: Any) -> Path:
    """A job of 2 March 2026 that buys these designs and keeps the rest as found."""
    places = {design.split("-")[0] for design in buys}
    found = {p: f"{p}-1" for p in ("block", "plate")}
    need_by = {"need_by": limits.pop("need_by")} if "need_by" in limits else {}
    found |= limits.pop("found", {})
    keep = [p for p in found if p not in places]
    head = {"number": number, "family": "f", "customer": "Invented", "date": dt.date(2026, 3, 2), **need_by}
    path = folder / "scenarios" / f"{number}.toml"
    path.parent.mkdir(exist_ok=True)
    document = {"job": head, "unit": {"built": "2005-01"}, "found": found}
    write_toml(path, {**document, "limits": {"keep": keep, "require": buys, **limits}})
    return path


def test_two_jobs_reach_a_break_that_one_does_not(tmp_path: Path) -> None:
    catalogs = shop_of(tmp_path, ["s,P,block-2,new,"], {"s": ["P,100,,,,,80"]}, {})
    jobs = [job_of(tmp_path, n, ["block-2"]) for n in "ab"]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [2 * 80_00] * 3
    assert pool.alone(catalogs, jobs) == {"a": 100_00, "b": 100_00}


def test_two_jobs_open_one_pack(tmp_path: Path) -> None:
    catalogs = shop_of(tmp_path, ["s,P,block-2,new,"], {"s": ["P,100,,,2,,"]}, {})
    jobs = [job_of(tmp_path, n, ["block-2"]) for n in "ab"]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [200_00] * 3
    assert pool.alone(catalogs, jobs) == {"a": 200_00, "b": 200_00}


def test_one_kit_is_parted_between_two_jobs(tmp_path: Path) -> None:
    catalogs = shop_of(tmp_path, ["s,P,block-2 + plate-2,new,"], {"s": ["P,100,,,,,"]}, {})
    jobs = [job_of(tmp_path, "a", ["block-2"]), job_of(tmp_path, "b", ["plate-2"])]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [100_00] * 3


def test_the_last_piece_goes_to_one_job_and_the_other_pays_more(tmp_path: Path) -> None:
    catalogs = shop_of(
        tmp_path, ["s,P,block-2,new,", "t,Q,block-2,new,"], {"s": ["P,100,,1,,,"], "t": ["Q,130,,,,,"]}, {}
    )
    jobs = [job_of(tmp_path, n, ["block-2"]) for n in "ab"]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [230_00] * 3
    assert pool.alone(catalogs, jobs) == {"a": 100_00, "b": 130_00}


def test_the_last_piece_goes_to_the_job_whose_limits_leave_no_other(tmp_path: Path) -> None:
    """One after another the first job takes it, and the second has no plan."""
    catalogs = shop_of(
        tmp_path, ["s,P,block-2,new,", "t,Q,block-2,new,"], {"s": ["P,100,,1,,,"], "t": ["Q,130,,,,,"]}, {}
    )
    jobs = [job_of(tmp_path, "a", ["block-2"]), job_of(tmp_path, "b", ["block-2"], avoid_suppliers=["t"])]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [230_00] * 3
    assert pool.alone(catalogs, jobs) == {"a": 100_00, "b": None}


def test_two_jobs_reach_an_order_minimum_together(tmp_path: Path) -> None:
    catalogs = shop_of(tmp_path, ["s,P,block-2,new,"], {"s": ["P,100,,,,,"]}, {"s": {"order_minimum": 200}})
    jobs = [job_of(tmp_path, n, ["block-2"]) for n in "ab"]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [200_00] * 3
    assert [witness(catalogs, jobs[:1]) for witness in WITNESSES] == [None] * 3
    assert pool.alone(catalogs, jobs) == {"a": None, "b": None}


def test_a_core_goes_against_the_piece_of_another_job(tmp_path: Path) -> None:
    """The plate takes block cores only: two charges of 30, one core of a block to set against them."""
    parts = ["s,P,block-2,new,", "s,Q,plate-2,new,block-1"]
    catalogs = shop_of(tmp_path, parts, {"s": ["P,100,,,,,", "Q,50,30,,,,"]}, {"s": {"core_return_cost": 5}})
    block, plate = job_of(tmp_path, "a", ["block-2"]), job_of(tmp_path, "b", ["plate-2"])
    assert [witness(catalogs, [block, plate]) for witness in WITNESSES] == [100_00 + 50_00 + 30_00 - 30_00 + 5_00] * 3
    assert pool.alone(catalogs, [block, plate]) == {"a": 100_00, "b": 80_00}


def test_the_shelf_wants_a_piece_once_and_not_once_a_job(tmp_path: Path) -> None:
    """A pack of four for two jobs: one of the two spare pieces is worth 60, the other nothing."""
    wanted = [{"design": "block-2", "pieces": 1, "worth": 60}]
    catalogs = shop_of(tmp_path, ["s,P,block-2,new,"], {"s": ["P,100,,,4,,"]}, {}, wanted=wanted)
    jobs = [job_of(tmp_path, n, ["block-2"]) for n in "ab"]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [340_00] * 3
    assert pool.alone(catalogs, jobs) == {"a": 340_00, "b": 400_00}


def test_each_job_waits_for_its_own_pieces(tmp_path: Path) -> None:
    """Express is 1 day at 20 flat, ground 4 days free; a day is 10: both by express is 200 + 20 + 20, both by ground 280."""
    freight = [{"mode": "ground", "days": 4, "flat": 0}, {"mode": "express", "days": 1, "flat": 20}]
    catalogs = shop_of(tmp_path, ["s,P,block-2,new,"], {"s": ["P,100,,,,,"]}, {"s": {"freight": freight}}, day_cost=10)
    jobs = [job_of(tmp_path, n, ["block-2"]) for n in "ab"]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [240_00] * 3
    assert pool.alone(catalogs, jobs) == {"a": 130_00, "b": 130_00}


def test_a_line_for_the_shelf_alone_is_carried_by_a_job(tmp_path: Path) -> None:
    """A block for 50 is worth 80 on the shelf. Two jobs that buy plates at s and may have one supplier cannot carry it; one
    that may have two waits 3 days for it, at 5 a day."""
    wanted = [{"design": "block-2", "pieces": 1, "worth": 80}]
    rows = {"s": ["L,100,,,,,"], "t": ["B,50,,,,,"]}
    parts = ["s,L,plate-2,new,", "t,B,block-2,new,"]
    catalogs = shop_of(tmp_path, parts, rows, {"t": {"lead_days": 3}}, wanted=wanted, day_cost=5)
    one, two = (job_of(tmp_path, n, ["plate-2"], max_suppliers=1) for n in "ab")
    free = job_of(tmp_path, "c", ["plate-2"])
    assert [witness(catalogs, [one, two]) for witness in WITNESSES] == [200_00] * 3
    assert [witness(catalogs, [one, free]) for witness in WITNESSES] == [200_00 + 50_00 - 80_00 + 15_00] * 3


def test_only_the_urgent_job_is_held_to_its_day(tmp_path: Path) -> None:
    freight = [{"mode": "ground", "days": 4, "flat": 0}, {"mode": "express", "days": 1, "flat": 0, "per_kg": 0}]
    rows = {"s": ["P,100,,,,,"], "t": ["Q,90,,,,,"]}
    terms = {"s": {"freight": freight}, "t": {"lead_days": 9}}
    catalogs = shop_of(tmp_path, ["s,P,block-2,new,", "t,Q,block-2,new,"], rows, terms)
    jobs = [job_of(tmp_path, "a", ["block-2"]), job_of(tmp_path, "b", ["block-2"], need_by=dt.date(2026, 3, 3))]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [190_00] * 3


def test_few_suppliers_are_asked_of_one_job_only(tmp_path: Path) -> None:
    """Blocks are cheap at s, plates at t; the job that wants one supplier pays 20 more at s, the other one does not."""
    parts = [f"{s},{n}{s},{d}-2,new," for s in "st" for n, d in (("B", "block"), ("L", "plate"))]
    rows = {"s": ["Bs,100,,,,,", "Ls,70,,,,,"], "t": ["Bt,150,,,,,", "Lt,50,,,,,"]}
    catalogs = shop_of(tmp_path, parts, rows, {})
    both = ["block-2", "plate-2"]
    jobs = [job_of(tmp_path, "a", both, max_suppliers=1), job_of(tmp_path, "b", both)]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [170_00 + 150_00] * 3


def test_a_break_can_undo_free_freight_and_make_the_pool_dearer(tmp_path: Path) -> None:
    """One piece for 100 goes free; two at 49 stay below the 100 and pay 150."""
    freight = [{"mode": "van", "days": 1, "flat": 150, "free_over": 100}]
    catalogs = shop_of(tmp_path, ["s,P,block-2,new,"], {"s": ["P,100,,,,,49"]}, {"s": {"freight": freight}})
    jobs = [job_of(tmp_path, n, ["block-2"]) for n in "ab"]
    assert [witness(catalogs, jobs) for witness in WITNESSES] == [2 * 49_00 + 150_00] * 3
    assert pool.alone(catalogs, jobs) == {"a": 100_00, "b": 100_00}


@pytest.mark.parametrize("seed", SMALL)
def test_three_ways_to_the_least_cost_of_a_small_pool_agree(seed: int, tmp_path: Path) -> None:
    jobs = write_pool(seed, tmp_path)
    costs = [witness(tmp_path / "catalogs", jobs) for witness in WITNESSES]
    assert costs == costs[:1] * 3


@pytest.mark.parametrize("seed", range(100, 130))
def test_a_pool_of_one_is_the_job_by_itself(seed: int, tmp_path: Path) -> None:
    catalogs = tmp_path / "catalogs"
    for job in write_pool(seed, tmp_path):
        expected = brute.costs(catalogs, job)
        assert [witness(catalogs, [job]) for witness in WITNESSES] == expected * 3
        assert list(pool.alone(catalogs, [job]).values()) == expected


@pytest.mark.parametrize("seed", MIDDLE)
def test_two_programs_agree_on_a_middle_pool(seed: int, tmp_path: Path) -> None:
    jobs = write_pool(seed, tmp_path, "middle")
    assert pool_cpsat.cost(tmp_path / "catalogs", jobs) == pool_scipy.cost(tmp_path / "catalogs", jobs)


@pytest.mark.parametrize("seed", range(200, 215))
def test_the_order_of_the_jobs_changes_no_oracle(seed: int, tmp_path: Path) -> None:
    jobs = write_pool(seed, tmp_path)
    catalogs = tmp_path / "catalogs"
    for witness in WITNESSES:
        assert witness(catalogs, jobs) == witness(catalogs, jobs[::-1])
    assert pool.alone(catalogs, jobs) == pool.alone(catalogs, jobs[::-1])


def test_the_random_pools_hold_what_makes_a_pool(tmp_path: Path) -> None:
    """Between them: a plan only together, a saving, no saving, none; two families with a number in common; jobs alike."""
    seen: dict[str, int] = {}
    for seed in SMALL:
        folder = tmp_path / str(seed)
        jobs = write_pool(seed, folder)
        together, alone = pool.cost(folder / "catalogs", jobs), list(pool.alone(folder / "catalogs", jobs).values())
        singly = [cost for cost in alone if cost is not None]
        members = pool.read_pool(folder / "catalogs", jobs)
        two_families = any(len(part.rows) > 1 for part in pool.parts_of(members))
        if together is None:
            kind = "impossible"
        elif len(singly) < len(alone):
            kind = "only together"
        else:
            kind = "saved" if together < sum(singly) else "not cheaper"
        for what, is_so in (
            (kind, True),
            ("a number in two families", two_families),
            ("jobs alike", any(pool.Pool(members)._alike_before(j) is not None for j in range(len(jobs)))),
            ("a part in hand", any(m.problem.hands for m in members)),
            ("wanted", bool(pool.wanted_of(members))),
            ("few suppliers", any(m.problem.job.limits.max_suppliers for m in members)),
            ("a day that counts", any(m.problem.job.need_by for m in members)),
            ("waiting costs", members[0].problem.shop.day_cost > 0),
        ):
            seen[what] = seen.get(what, 0) + is_so
    assert all(count >= 3 for count in seen.values()), seen
    assert len(seen) == 11, seen


def test_a_pool_is_drawn_the_same_from_its_seed(tmp_path: Path) -> None:
    first, second = write_pool(7, tmp_path / "a"), write_pool(7, tmp_path / "b")
    assert [path.read_text() for path in first] == [path.read_text() for path in second]
    assert read_problem(tmp_path / "a" / "catalogs", first[0]) == read_problem(tmp_path / "b" / "catalogs", second[0])


# The checker, on plans of single jobs told as pools of one


def told_as_pool(catalogs: Path, job: Path) -> dict[str, Any] | None:
    """The single job's answer in the form in which a pool is told; None where there is no plan."""
    answer = brute.best(catalogs, job)
    if answer["status"] != "proven":
        return None
    problem = read_problem(catalogs, job)
    cost, number = answer["totals"][problem.job.minimise], problem.job.number
    own = {name: answer[name] for name in ("combination", "kept", "in_hand") if name in answer}
    filled_here = [hand["position"] for hand in own.get("in_hand", []) if hand["becomes"] == "fills"]
    need = {d for p, d in own["combination"].items() if p not in own["kept"] and p not in filled_here}
    rows = {(o.supplier, o.number): o for o in problem.offers}
    for line in answer["purchases"]:
        fits = {
            d
            for d in set(line["fills"]) & need
            if rows[line["supplier"], line["part_number"]].condition
            in next(p.conditions for p in problem.family.positions if p.code == problem.family.designs[d].position)
        }
        line["jobs"] = {number: 1 if fits else 0}
        need -= fits
    entry = {"job": number, "share": cost, **own}
    return {**answer, "jobs": [entry], "alone": cost, "saved": "0.00"}


def spoilt(told: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """A plan with one thing wrong, as often as there are things."""
    for name in told["totals"]:
        yield name, {**told, "totals": {**told["totals"], name: f"{float(told['totals'][name]) + 0.01:.2f}"}}
    for name in ("alone", "saved"):
        yield name, {**told, name: "99999.99"}
    entry = told["jobs"][0]
    yield "share", {**told, "jobs": [{**entry, "share": "99999.99"}]}
    yield "combination", {**told, "jobs": [{**entry, "combination": dict.fromkeys(entry["combination"], "nothing")}]}
    yield "kept", {**told, "jobs": [{**entry, "kept": ["nowhere"]}]}
    for n, line in enumerate(told["purchases"]):
        rest = told["purchases"][:n] + told["purchases"][n + 1 :]
        yield "line left out", {**told, "purchases": rest}
        for name, value in (("quantity", line["quantity"] * 2), ("unit_price", "0.01"), ("core_charge", "7777.77")):
            yield name, {**told, "purchases": [*rest, {**line, name: value}]}
    for n, order in enumerate(told["freight"]):
        rest = told["freight"][:n] + told["freight"][n + 1 :]
        yield "freight", {**told, "freight": [*rest, {**order, "cost": "7777.77"}]}
        yield "arrives", {**told, "freight": [*rest, {**order, "arrives": "2030-01-01"}]}
    for n in range(len(told["core_returns"])):
        yield "return left out", {**told, "core_returns": told["core_returns"][:n] + told["core_returns"][n + 1 :]}


@pytest.mark.parametrize("seed", range(300, 330))
def test_the_checker_passes_a_right_plan_and_finds_what_is_spoilt(seed: int, tmp_path: Path) -> None:
    catalogs = tmp_path / "catalogs"
    for job in write_pool(seed, tmp_path):
        told = told_as_pool(catalogs, job)
        if told is not None:
            assert pool_check.check(catalogs, [job], told) == []
            for name, wrong in spoilt(told):
                assert pool_check.check(catalogs, [job], wrong) != [], name
