"""Every kind of tampering with a sound plan is caught and named; no solver in sight."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from program.tiny import Table, chosen, sold, tiny

from sourcing.breaches import breaches
from sourcing.plan import Choice, Purchase
from sourcing.problem import Problem

BLOCK = {"block": "block-1"}


def shop_of_many_rules() -> Problem:
    """A sound shop: block and plate bought of s by air, a screen kept, one core sent back."""
    return tiny(
        ["block", "plate", "screen", {"code": "body", "optional": True, "conditions": ["new"]}],
        [{"code": "block-1", "weight_kg": 1}, "block-2", "plate-1", "plate-2", "screen-1", "screen-2", "body-1"],
        [
            sold("s", "A", "block-1", 50, core_charge=9, stock=3, pack=2, warranty_months=12),
            sold("s", "B", "plate-1", 20, warranty_months=12), sold("s", "B2", "plate-2", 20, warranty_months=12),
            sold("t", "C", "screen-2", 5, warranty_months=12), sold("t", "D", "body-1", 5, condition="used", warranty_months=12),
            sold("t", "E", "block-1", 70, minimum=2, warranty_months=12), sold("t", "F", "block-2", 70, warranty_months=12),
        ],
        rules=[{"never": {"block": ["block-1"], "plate": ["plate-2"]}}],
        suppliers={"s": {"order_minimum": 60, "freight": [{"mode": "air", "days": 1, "flat": 5}, {"mode": "ground", "days": 5}]}},
        job={"need_by": "2026-03-09"},
        found={"block": "block-1", "plate": "plate-1", "screen": "screen-1"},
        limits={"keep": ["screen"], "require": ["screen-1"], "exclude": ["block-2"], "max_suppliers": 1},
        wanted=[{"design": "plate-1", "pieces": 1, "worth": 3}],
    )  # fmt: skip


SOUND = {"block": "block-1", "plate": "plate-1", "screen": "screen-1", "body": "none"}


def sound(problem: Problem, **changes: Any) -> Choice:
    asked: dict[str, Any] = {"combination": SOUND, "buys": {"A": 2, "B": 1}, "kept": ["screen"],
                             "fills": {"block": "A", "plate": "B"}, "returns": {"block": "A"}}  # fmt: skip
    return chosen(problem, **{**asked, **changes})


def test_the_sound_choice_breaks_nothing() -> None:
    problem = shop_of_many_rules()
    assert breaches(problem, sound(problem)) == []


def returning(**changes: Any) -> Callable[[Problem], Choice]:
    def tampered(problem: Problem) -> Choice:
        choice = sound(problem)
        (item,) = choice.returns
        return replace(choice, returns=(*choice.returns[: changes.pop("keep", 0)], replace(item, **changes)))

    return tampered


def line_of(problem: Problem, number: str, mode: str | None = None) -> Any:
    return next(
        line for line in problem.lines if line.offer.part.number.spelt == number and mode in (None, line.mode.mode)
    )


TAMPERED: dict[str, tuple[Callable[[Problem], Choice], str]] = {
    "a rule of the book": (lambda p: sound(p, combination={**SOUND, "plate": "plate-2"}, buys={"A": 2, "B2": 1},
                                           fills={"block": "A", "plate": "B2"}), "reason 0"),
    "an empty position": (lambda p: sound(p, combination={**SOUND, "plate": "none"}, buys={"A": 2}, fills={"block": "A"}),
                          "the unit does not run without its plate"),
    "a position left out": (lambda p: sound(p, combination={k: v for k, v in SOUND.items() if k != "body"}),
                            "a position is neither filled nor left empty"),
    "a required design": (lambda p: sound(p, combination={**SOUND, "screen": "screen-2"}, buys={"A": 2, "B": 1, "C": 1},
                                          kept=[], fills={"block": "A", "plate": "B", "screen": "C"}), "the job requires screen-1"),
    "an excluded design": (lambda p: sound(p, combination={**SOUND, "block": "block-2"}, buys={"F": 1, "B": 1},
                                           fills={"block": "F", "plate": "B"}, returns={}), "the job excludes block-2"),
    "too many suppliers": (lambda p: sound(p, buys={"E": 2, "B": 1}, fills={"block": "E", "plate": "B"}, returns={}),
                           "2 suppliers, at most 1 allowed"),
    "a position filled twice": (lambda p: sound(p, kept=["screen", "block"]), "block is filled 2 times"),
    "a position filled by nothing": (lambda p: sound(p, kept=[]), "screen is filled 0 times"),
    "something in an empty position": (lambda p: sound(p, kept=["screen", "body"]), "body is filled 2 times"),
    "a part kept that may not": (lambda p: sound(p, kept=["screen", "plate"], fills={"block": "A"}),
                                 "plate keeps a part that may not go back in"),
    "a part that is another design": (lambda p: sound(p, fills={"block": "B", "plate": "B"}), "B is no block-1"),
    "a condition that the position bars": (lambda p: sound(p, combination={**SOUND, "body": "body-1"},
                                                           buys={"A": 2, "B": 1, "D": 1},
                                                           fills={"block": "A", "plate": "B", "body": "D"}),
                                           "D is used, which body does not take"),
    "a broken pack": (lambda p: sound(p, buys={"A": 1, "B": 1}), "1 of A is no whole line"),
    "below the minimum": (lambda p: sound(p, buys={"E": 1, "B": 1}, fills={"block": "E", "plate": "B"}, returns={}),
                          "1 of E is no whole line"),
    "more than the stock": (lambda p: sound(p, buys={"A": 4, "B": 1}), "4 of A, 3 in stock"),
    "more than serves": (lambda p: sound(p, buys={"A": 4, "B": 1}), "4 of A is not the smallest quantity that serves"),
    "a part for nobody": (lambda p: sound(p, buys={"A": 2, "B": 1, "C": 1}), "1 of C is not the smallest quantity that serves"),
    "more than is wanted": (lambda p: sound(p, buys={"A": 2, "B": 3}), "2 further pieces of plate-1, 1 wanted"),
    "a part that is not bought": (lambda p: sound(p, buys={"A": 2}), "plate is filled by a part that is not bought"),
    "an order below its minimum": (lambda p: sound(p, buys={("A", "air"): 2, ("B", "ground"): 1}),
                                   "the order to s by ground is below its minimum"),
    "a line twice": (lambda p: replace(sound(p), purchases=(*sound(p).purchases, Purchase(line_of(p, "B"), 1))),
                     "one line stands twice"),
    "a core back twice": (lambda p: replace(sound(p), returns=sound(p).returns * 2), "one core goes back twice"),
    "a core that was kept": (lambda p: sound(p, returns={"screen": "A"}), "the core of screen is not there to go back"),
    "a core that was never found": (returning(position="body", design="body-1"), "the core of body is not there to go back"),
    "a core that is another design": (returning(design="block-2"), "the core of block is not there to go back"),
    "a core that the part does not take": (lambda p: sound(p, returns={"plate": "A"}), "A takes no plate-1 as a core"),
    "a core against nothing bought": (lambda p: sound(p, returns={"block": "E"}), "more cores go back than pieces were bought"),
}  # fmt: skip


@pytest.mark.parametrize("kind", TAMPERED)
def test_a_tampered_choice_is_caught_and_named(kind: str) -> None:
    tamper, says = TAMPERED[kind]
    problem = shop_of_many_rules()
    assert says in breaches(problem, tamper(problem))


LIMITS: dict[str, tuple[Table, Table, str]] = {
    "suppliers": ({"suppliers": ["t"]}, {}, "s is not among the suppliers allowed"),
    "avoid_suppliers": ({"avoid_suppliers": ["s"]}, {}, "s is to be avoided"),
    "conditions": ({"conditions": ["reman"]}, {}, "A is new"),
    "min_warranty_months": ({"min_warranty_months": 13}, {}, "A has 12 months of warranty"),
    "need_by": ({}, {"need_by": date(2026, 3, 2)}, "A arrives on 2026-03-03"),
}


@pytest.mark.parametrize("name", LIMITS)
def test_a_purchase_beyond_a_limit_is_caught(name: str) -> None:
    limit, head, says = LIMITS[name]
    problem = shop_of_many_rules()
    limits = problem.job.limits.model_copy(update=limit)
    job = problem.job.model_copy(update={"limits": limits, "job": problem.job.job.model_copy(update=head)})
    assert says in breaches(replace(problem, job=job), sound(problem))


def test_a_price_that_no_longer_holds_is_caught() -> None:
    """The lines of a problem are all that can be bought: a line that is none of them is no purchase."""
    problem = shop_of_many_rules()
    choice = sound(problem)
    fewer = replace(problem, lines=tuple(line for line in problem.lines if line.offer.part.number.spelt != "A"))
    stale = replace(choice, fills={"plate": choice.fills["plate"]}, returns=())
    assert [says for says in breaches(fewer, stale) if "A" in says.split()]


def test_a_design_that_the_unit_cannot_take_is_caught() -> None:
    problem = tiny(["block"], [{"code": "block-1", "fitted": []}, "block-2"], [sold("s", "A", "block-1 + block-2", 50)])
    choice = chosen(problem, BLOCK, {"A": 1}, fills={"block": "A"})
    (says,) = breaches(problem, choice)
    assert says.startswith("block-1 does not belong in a unit of E")
