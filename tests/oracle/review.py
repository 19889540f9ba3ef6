"""The holes of a book, by trying every combination in every world. Shares no code with the package."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product

from .bench import Book, World, broken, everything, may_hold, positions, usable, valid, worlds


def eras(book: Book) -> list[str]:
    return [era["code"] for era in book["era"]]


def worlds_of(book: Book, era: str) -> list[World]:
    """Every fact, and a vehicle of every era of the book or of none."""
    return list(worlds(book, era, [*eras(book), None], {}))


def all_valid(book: Book, era: str) -> list[tuple[dict[str, str], World]]:
    held = {p: may_hold(book, p) for p in positions(book)}
    return [(c, w) for c in everything(book, held) for w in worlds_of(book, era) if valid(book, c, w)]


def barren_worlds(book: Book, era: str) -> list[World]:
    good = [w for _, w in all_valid(book, era)]
    return [w for w in worlds_of(book, era) if w not in good]


def places(book: Book) -> set[tuple[str, str]]:
    """Design and era of every valid unit."""
    return {(code, era) for era in eras(book) for c, _ in all_valid(book, era) for code in c.values()}


def scope(rule: dict[str, object], book: Book) -> list[str]:
    named: list[str] = []
    for part in ("when", "need", "never"):
        named += [key for key in rule.get(part, {}) if key in positions(book)]  # type: ignore[attr-defined]
    named += rule["allow"]["positions"] if "allow" in rule else []  # type: ignore[index]
    return list(dict.fromkeys(named))


def bites(book: Book, rule: dict[str, object], era: str) -> bool:
    """Whether designs that may be used in an era can break a rule."""
    named = scope(rule, book)
    for values in product(*(may_hold(book, p) for p in named)):
        held = dict(zip(named, values, strict=True))
        if usable(book, held, era) and any(broken(rule, held, w) for w in worlds_of(book, era)):
            return True
    return False


def only_it_is_broken(book: Book, rule: Mapping[str, object], era: str) -> bool:
    """Whether something obeys every other rule and breaks this one."""
    others = {**book, "rule": [other for other in book["rule"] if other is not rule]}
    return any(broken(dict(rule), c, w) for c, w in all_valid(others, era))


def due(book: Book, task: Mapping[str, object]) -> bool:
    for era in eras(book):
        for c, w in all_valid(book, era):
            known = {**w, **c}
            met = all(known[key] in values for key, values in task.get("when", {}).items())  # type: ignore[attr-defined]
            replacing = task.get("replacing")
            if met and (replacing is None or any(c[p] != "none" for p in replacing)):  # type: ignore[attr-defined]
                return True
    return False


def mixed_up(book: Book) -> Iterator[tuple[str, str]]:
    """Pairs of designs that no mark tells apart, of which one stands validly where the other would not."""
    for position in positions(book):
        held = [d for d in book["design"] if d["position"] == position]
        for n, one in enumerate(held):
            for other in held[n + 1 :]:
                shared = one["marks"].keys() & other["marks"].keys()
                if any(one["marks"][mark] != other["marks"][mark] for mark in shared):
                    continue
                for era in eras(book):
                    good = all_valid(book, era)
                    swap = {one["code"]: other["code"], other["code"]: one["code"]}
                    if any(
                        c[position] in swap and not valid(book, {**c, position: swap[c[position]]}, w) for c, w in good
                    ):
                        yield one["code"], other["code"]
                        break
