"""A proposal judged rule by rule, against trying every completion in every world."""

from __future__ import annotations

from random import Random

import pytest
from oracle import bench as oracle
from program.tiny import family_of

from book.books import ERAS, FACTS, marked_tables
from sourcing.book.standing import Standing
from sourcing.book.verdict import judge

BOOKS = range(0, 300, 20)  # twenty books a case


@pytest.mark.parametrize("first", BOOKS)
def test_a_proposal_is_judged_as_trying_every_completion_judges_it(first: int) -> None:
    for seed in range(first, first + 20):
        random = Random(seed)
        tables = marked_tables(random)
        family = family_of(tables)
        facts = {code: random.choice(values) for code, values in FACTS.items() if random.random() < 0.7}
        vehicle: tuple[str | None, ...] = random.choice([("e1",), ("e2", None), ("e1", "e2")])
        standing = Standing(random.choice(ERAS), vehicle, facts)
        proposal = {p: random.choice(held) for p, held in family.holds.items() if held and random.random() < 0.75}
        verdict = judge(family, standing, proposal)
        worlds = list(oracle.worlds(tables, standing.era, vehicle, facts))
        free = {
            p: [proposal[p]] if p in proposal
            else [d for d in held if oracle.usable(tables, {p: d}, standing.era)]
            for p, held in family.holds.items()
        }  # fmt: skip
        tried = [(c, w) for c in oracle.everything(tables, free) for w in worlds]
        answers = {oracle.valid(tables, c, w) for c, w in tried} or {False}
        assert verdict.valid is (answers.pop() if len(answers) == 1 else None)
        assert bool(verdict.reasons) == (verdict.valid is False)
        if verdict.completed:
            made = {p: verdict.completed[p] for p in family.position}
            assert all(made[p] == d for p, d in proposal.items())
            assert any(oracle.valid(tables, made, w) for w in worlds)
        assert bool(verdict.completed) == (verdict.valid is not False)
        if not tried:
            continue
        for ruling, rule in zip(verdict.rulings, tables["rule"], strict=True):
            broken = {oracle.broken(rule, c, w) for c, w in tried}
            expected = {"broken"} if broken == {True} else {"open"} if broken == {True, False} else {"holds", "silent"}
            assert ruling.result in expected
            if ruling.result in ("holds", "silent"):
                spoken = {all({**w, **c}.get(k) in v for k, v in rule.get("when", {}).items()) for c, w in tried}
                assert (ruling.result == "holds") == (spoken == {True})
