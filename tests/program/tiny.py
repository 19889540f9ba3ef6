"""Problems so small that the answer is done in the head, made from dicts through the real models and `seal`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from sourcing.book.family import Family
from sourcing.book.rules import Setting
from sourcing.job import Job
from sourcing.money import convert, to_minor
from sourcing.partnumber import PartNumber
from sourcing.plan import Choice, Purchase, Return
from sourcing.prices.offers import Offer, Offers, Source, Step
from sourcing.prices.parts import Part, PartRow
from sourcing.prices.suppliers import Supplier
from sourcing.problem import Problem
from sourcing.sealing import seal
from sourcing.shop import Shop
from sourcing.terms import terms_of

Table = dict[str, Any]
MONDAY = date(2026, 3, 2)


def family_of(book: Table) -> Family:
    """A book from a dict as interchange.toml gives it; format and eras have defaults."""
    head = {
        "format": 1,
        "family": {"code": "demo", "name": "Demo"},
        "era": [{"code": "e", "name": "E", "from": "2000-01"}],
    }
    return Family.model_validate({**head, **book})


def sold(
    supplier: str, number: str, fills: str, price: Any, breaks: Mapping[int, Any] | None = None, **rest: Any
) -> Table:
    """A supplier's number: what it fills, its price in the supplier's currency, its breaks, and anything else of its row."""
    return {"supplier": supplier, "part_number": number, "fills": fills, "price": price, "breaks": breaks or {}, **rest}


def tiny(
    positions: Sequence[str | Table],
    designs: Sequence[str | Table],
    offers: Sequence[Table] = (),
    *,
    rules: Sequence[Table] = (),
    tasks: Sequence[Table] = (),
    facts: Sequence[Table] = (),
    inspections: Sequence[Table] = (),
    suppliers: Mapping[str, Table] | None = None,
    shop: Table | None = None,
    job: Table | None = None,
    setting: Setting | None = None,
    **sections: Any,
) -> Problem:
    """A sealed problem of a few designs.

    A position is its code or its table, the first one leads; a design is its code ("block-1" stands at "block") or its
    table. Suppliers that are not described have no terms: no freight, no minimum. `sections` are those of the job
    (found, limits, wanted, ..); `job` is its head.
    """
    tables = [{"code": p} if isinstance(p, str) else p for p in positions]
    drawn = [{"code": d} if isinstance(d, str) else d for d in designs]
    family = family_of({
        "position": [{"name": p["code"], "lead": n == 0, **p} for n, p in enumerate(tables)],
        "design": [{"position": d["code"].split("-")[0], "name": d["code"], "fitted": ["e"], **d} for d in drawn],
        "rule": [{"code": f"r{n}", "says": f"reason {n}", "source": "invented", **r} for n, r in enumerate(rules)],
        "task": [{"code": f"t{n}", "name": f"task {n}", **t} for n, t in enumerate(tasks)],
        "fact": list(facts),
        "inspection": list(inspections),
    })  # fmt: skip
    rates = Shop.model_validate({"currency": "USD", **(shop or {})})
    named = {row["supplier"]: {} for row in offers} | dict(suppliers or {})
    terms = {code: Supplier.model_validate({"code": code, "name": code, **said}) for code, said in named.items()}
    asked = Job.model_validate({"job": {"number": "1", "family": "demo", "date": MONDAY, **(job or {})}, **sections})
    made = tuple(offer(n, row, terms[row["supplier"]], rates) for n, row in enumerate(offers))
    prices = Offers(asked.job.date, made)
    converted = {code: terms_of(supplier, rates) for code, supplier in terms.items()}
    return seal(asked, family, rates, converted, prices, setting or Setting("e", "e", asked.facts))


def offer(number: int, row: Table, supplier: Supplier, shop: Shop) -> Offer:
    """One offer, its amounts rounded in the supplier's currency and then converted."""
    currency = supplier.currency or shop.currency

    def both(amount: Any) -> tuple[int, int]:
        minor = to_minor(Decimal(str(amount)), currency)
        return minor, convert(minor, currency, shop.rate(currency) or Decimal(1))

    fills = row["fills"].split(" + ")
    asked = {name: row[name] for name in ("warranty_months", "core_accepts", "comeback_rate") if name in row}
    part = PartRow.model_validate({"supplier": row["supplier"], "part_number": row["part_number"], "fills": fills,
                                   "condition": row.get("condition", "new"), **asked})  # fmt: skip
    accepts = frozenset(part.core_accepts) or frozenset(fills)
    return Offer(
        id=number,
        part=Part(part.supplier, PartNumber(part.part_number), tuple(part.fills), part.condition,
                  part.warranty_months, accepts, part.comeback_rate, "", ""),
        description="",
        steps=tuple(Step(q, *both(price)) for q, price in sorted({1: row["price"], **row["breaks"]}.items())),
        incremental=supplier.breaks == "incremental",
        core_minor=both(row.get("core_charge", 0))[0],
        core_cents=both(row.get("core_charge", 0))[1],
        stock=row.get("stock"),
        pack=row.get("pack", 1),
        minimum=row.get("minimum", 1),
        lead_workdays=row.get("lead_days", supplier.lead_days),
        valid_until=row.get("valid_until"),
        source=Source("sheet.csv", "", number + 2, MONDAY),
    )  # fmt: skip


def chosen(
    problem: Problem,
    combination: Mapping[str, str],
    buys: Mapping[str | tuple[str, str], int] | None = None,
    kept: Sequence[str] = (),
    fills: Mapping[str, str] | None = None,
    returns: Mapping[str, str] | None = None,
) -> Choice:
    """A choice by part numbers: `buys` number (or number and mode) -> pieces, `fills` position -> number,
    `returns` position -> number that takes its core."""
    ids = {o.part.number.spelt: o.id for o in problem.offers}
    purchases = []
    for key, quantity in (buys or {}).items():
        number, mode = key if isinstance(key, tuple) else (key, None)
        line = next(
            line for line in problem.lines
            if line.offer.part.number.spelt == number and mode in (None, line.mode.mode)
        )  # fmt: skip
        purchases.append(Purchase(line, quantity))
    back = tuple(Return(p, problem.cores[p], ids[number]) for p, number in (returns or {}).items())
    filled = {p: ids[number] for p, number in (fills or {}).items()}
    return Choice(dict(combination), tuple(kept), filled, tuple(purchases), back)
