"""What is on the bench, by trying everything: a book as plain tables, every combination one by one.

Written from the meaning of the files alone; it shares no code with the package and imports none of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations as subsets
from itertools import product
from math import log2
from typing import Any

Book = dict[str, Any]
World = dict[str, str | None]


def may_hold(book: Book, position: str) -> list[str]:
    held = [d["code"] for d in book["design"] if d["position"] == position]
    optional = next(p for p in book["position"] if p["code"] == position).get("optional")
    return [*held, "none"] if optional else held


def positions(book: Book) -> list[str]:
    return [p["code"] for p in book["position"]]


def design(book: Book, code: str) -> dict[str, Any]:
    return next(d for d in book["design"] if d["code"] == code)


def broken(rule: dict[str, Any], held: Mapping[str, str], world: World) -> bool:
    known = {**world, **held}
    if not all(known.get(key) in values for key, values in rule.get("when", {}).items()):
        return False
    if "need" in rule:
        return not all(held[p] in values for p, values in rule["need"].items())
    if "never" in rule:
        return all(held[p] in values for p, values in rule["never"].items())
    stands = [held[p] for p in rule["allow"]["positions"]]
    return not any(
        all(cell in ("*", value) for cell, value in zip(row, stands, strict=True)) for row in rule["allow"]["rows"]
    )


def usable(book: Book, held: Mapping[str, str], era: str, only_fitted: bool = False) -> bool:
    for code in held.values():
        if code != "none":
            made = design(book, code)
            if era not in made.get("fitted", []) and (only_fitted or era not in made.get("retrofits", [])):
                return False
    return True


def valid(book: Book, held: Mapping[str, str], world: World) -> bool:
    return usable(book, held, str(world["era"])) and not any(broken(rule, held, world) for rule in book["rule"])


def everything(book: Book, holds: Mapping[str, Sequence[str]]) -> Iterator[dict[str, str]]:
    for values in product(*(holds[p] for p in positions(book))):
        yield dict(zip(positions(book), values, strict=True))


def candidates(book: Book, found: Mapping[str, Any]) -> dict[str, list[str]]:
    """What each position may hold: no mark that was seen contradicts it; what nobody saw may be anything."""
    held = {}
    for position in positions(book):
        seen = found.get(position)
        if seen is None:
            held[position] = may_hold(book, position)
        elif isinstance(seen, str):
            held[position] = [seen]
        else:
            held[position] = [
                d["code"]
                for d in book["design"]
                if d["position"] == position
                and not any(code in d["marks"] and d["marks"][code] != value for code, value in seen.items())
            ]
    return held


def worlds(book: Book, era: str, vehicle_eras: Sequence[str | None], facts: Mapping[str, str]) -> Iterator[World]:
    """Every way in which a unit of an era can stand: what is not given can be anything."""
    codes = [f["code"] for f in book.get("fact", [])]
    values = [[facts[f["code"]]] if f["code"] in facts else f["values"] for f in book.get("fact", [])]
    for vehicle_era in vehicle_eras:
        for chosen in product(*values):
            yield {"era": era, "vehicle_era": vehicle_era, **dict(zip(codes, chosen, strict=True))}


def smallest_misfits(book: Book, found: Mapping[str, Any], factory: Sequence[World]) -> set[frozenset[str]]:
    """The fewest found positions without whose parts the rest belongs together, in some world; all such sets."""
    held = candidates(book, found)
    for size in range(len(found) + 1):
        hits = set()
        for out in subsets(sorted(found), size):
            free = {p: may_hold(book, p) if p in out else held[p] for p in positions(book)}
            if any(valid(book, c, world) for c in everything(book, free) for world in factory):
                hits.add(frozenset(out))
        if hits:
            return hits
    return set()


def joint(book: Book, factory: Mapping[str, Sequence[World]], share: Fraction) -> dict[tuple[str, ...], Fraction]:
    """The prior of every whole combination, by era worlds: eras evenly, worlds evenly, factory combinations evenly.

    Each position is then swapped with probability `share`, evenly over all that it may hold. Worlds without a factory
    combination do not count; the caller makes sure that each era has one.
    """
    chances: dict[tuple[str, ...], Fraction] = {}
    for era, given in factory.items():
        built = [
            [c for c in everything(book, {p: may_hold(book, p) for p in positions(book)})
             if usable(book, c, era, only_fitted=True) and not any(broken(rule, c, world) for rule in book["rule"])]
            for world in given
        ]  # fmt: skip
        some = [combinations for combinations in built if combinations]
        for combinations in some:
            for made in combinations:
                weight = Fraction(1, len(factory) * len(some) * len(combinations))
                for now in everything(book, {p: may_hold(book, p) for p in positions(book)}):
                    chance = weight
                    for p in positions(book):
                        chance *= (1 - share) * (now[p] == made[p]) + share / len(may_hold(book, p))
                    key = tuple(now.values())
                    chances[key] = chances.get(key, Fraction(0)) + chance
    return chances


def posterior(
    book: Book, prior: Mapping[tuple[str, ...], Fraction], found: Mapping[str, Any]
) -> dict[tuple[str, ...], Fraction]:
    held = candidates(book, found)
    left = {
        key: chance
        for key, chance in prior.items()
        if all(value in held[p] for p, value in zip(positions(book), key, strict=True))
    }
    whole = sum(left.values())
    return {key: chance / whole for key, chance in left.items()} if whole else {}


def expected_bits(book: Book, chances: Mapping[tuple[str, ...], Fraction], mark: Mapping[str, Any]) -> float:
    """Entropy of the whole combination less what is expected to be left of it after the answer, term by term."""
    at = positions(book).index(mark["position"])
    answers: list[Any] = list(mark.get("values") or [])
    for d in book["design"]:
        if mark["code"] in d.get("marks", {}) and d["marks"][mark["code"]] not in answers:
            answers.append(d["marks"][mark["code"]])
    possible = {key[at] for key in chances}
    if all(code == "none" or mark["code"] in design(book, code).get("marks", {}) for code in possible):
        said = {code if code == "none" else design(book, code)["marks"][mark["code"]] for code in possible}
        answers = [answer for answer in answers if answer in said]
    shown = len(answers)
    answers = [*answers, "none"]

    def says(code: str, answer: Any) -> Fraction:
        if code == "none":
            return Fraction(answer == "none")
        marks = design(book, code).get("marks", {})
        if mark["code"] in marks:
            return Fraction(marks[mark["code"]] == answer)
        return Fraction(0) if answer == "none" else Fraction(1, shown)

    left = 0.0
    for answer in answers:
        both = {key: chance * says(key[at], answer) for key, chance in chances.items()}
        whole = sum(both.values())
        if whole:
            left += float(whole) * entropy([chance / whole for chance in both.values()])
    return entropy(list(chances.values())) - left


def entropy(chances: Sequence[Fraction]) -> float:
    return -sum(float(chance) * log2(chance) for chance in chances if chance)
