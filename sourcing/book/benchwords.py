"""What is on the bench, in the trade's words: the unit, whether it belongs together, what speaks against it."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from sourcing.book.bench import Ask, Bench, InEra
from sourcing.book.looks import Look

MOST_LISTED = 6
DATED_BY_VEHICLE = "dated by the vehicle: the unit has no date of its own. Units get swapped; look at its tag"
WHO_DECIDES = (
    "The book says what its author wrote into it. Where the maker's service information says otherwise, that is right."
)
NOTHING_LEFT = "Nothing is left to look at: no unseen mark tells more."


def unit_told(bench: Bench, tag: str) -> str:
    """The eras that the unit can be of, likely ones with their chance, and its tag."""
    family = bench.family
    names = [
        family.era[one.standing.era].name + (f" ({percent(one.chance)})" if len(bench.eras) > 1 and one.chance else "")
        for one in bench.eras
    ]
    return f"Unit of {' or '.join(names)}" + (f', tag "{tag}"' if tag else "")


def verdict_told(bench: Bench) -> str:
    """Whether what was seen belongs together."""
    count = bench.combinations
    ways = "one whole combination fits" if count == 1 else f"{many(count)} whole combinations fit"
    if bench.valid is None:
        several = len(bench.eras) > 1
        counted = [
            f"{many(one.combinations)}{f' in {one.standing.era}' if several else ''}"
            for one in bench.eras
            if one.combinations is not None
        ]
        good = f", of which {' and '.join(counted)} would be valid" if counted else ""
        return f"OPEN whether it belongs together: {ways} what was seen{good}."
    if bench.valid:
        return "It belongs together in this unit."
    if any(one.mixed for one in bench.eras):
        return "MIXED BEFORE: it does not belong together in this unit."
    return "It belongs together in the unit, but not in this vehicle."


def changed_before(bench: Bench, one: InEra) -> str:
    """That somebody changed the unit by a way that the book allows; nothing where the factory can have built it so."""
    if not one.valid or one.built:
        return ""
    inside = inside_told(bench, one)
    return f"but not as the factory built it{inside}: somebody changed it before, by a way that the book allows"


def hangs_on(bench: Bench, one: InEra) -> str:
    """The rules on which it hangs whether all belongs together; nothing where it hangs on none."""
    rules = [reason for reason in one.reasons if reason.kind == "rule"]
    if one.valid is not None or not rules or not bench.combinations:
        return ""
    listed = ", ".join(reason.code for reason in rules[:MOST_LISTED])
    inside = inside_told(bench, one)
    head = f"{inside.strip().capitalize()} it" if inside else "It"
    return f"{head} hangs on: {listed}" + (", ..." if len(rules) > MOST_LISTED else "")


def inside_told(bench: Bench, one: InEra) -> str:
    """Of which unit something is said, where the unit can be of several eras."""
    return f" in a unit of {bench.family.era[one.standing.era].name}" if len(bench.eras) > 1 else ""


def misfit_head(one: InEra, ways: Sequence[object], inside: str) -> str:
    """What is said above parts of which one set does not belong."""
    if len(ways) == 1:
        return f"Does not belong{inside}"
    return f"One of these does not belong{inside}; nothing seen so far says which"


def ask_told(ask: Ask) -> str:
    """A question that decides, with what each answer would say."""
    answers = "; ".join(f"{value}: {validity_word(answer)}" for value, answer in ask.outcomes)
    return f"{ask.ask} ({answers})"


def worth_told(look: Look, money: str | None) -> str:
    """How telling a look is, what it is worth and what must come off for it."""
    needs = f"; needs {look.mark.needs}" if look.mark.needs else ""
    said = "" if money is None else ", worth nothing" if money == "0.00" else f", worth {money}"
    return f"{look.bits:.2f} bits{said}{needs}"


def outcomes_told(look: Look) -> list[str]:
    """What each answer of a look would leave."""
    told = []
    for outcome in look.outcomes:
        left = ", ".join("nothing" if design == "none" else design for design in outcome.leaves[:MOST_LISTED])
        more = ", ..." if len(outcome.leaves) > MOST_LISTED else ""
        told.append(f"{outcome.answer} ({percent(outcome.chance)}): leaves {left}{more}")
    return told


def percent(chance: Fraction | None) -> str:
    """A chance as a person says it.

    >>> percent(Fraction(1, 3)), percent(Fraction(1, 1000)), percent(None)
    ('33%', '<1%', '?')
    """
    if chance is None:
        return "?"
    share = float(chance) * 100
    return "<1%" if 0 < share < 1 else ">99%" if 99 < share < 100 else f"{share:.0f}%"


def many(count: int) -> str:
    return f"{count:,}" if count < 10**9 else f"about 10^{len(str(count)) - 1}"


def validity_word(answer: bool | None) -> str:
    return "open" if answer is None else "belongs together" if answer else "does not"
