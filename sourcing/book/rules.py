"""Need, never and allow as one form: a table of the rows that a rule lets stand, with its reason.

A row gives each of the table's positions a set of designs ("none" among them where a position may stay empty); a
combination obeys the table when some row holds it at every position. A rule that hangs on other positions becomes the
rows in which its condition fails, one after the other, and those in which it holds and is obeyed: the rows of one rule
of need or never exclude each other, so that a table is also a tight description for the program. (Compressed tuples:
Katsirelos and Walsh, "A compression algorithm for large arity extensional constraints", CP 2007.)
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sourcing.book.family import ANY, Choice, Family, Rule

Row = tuple[frozenset[str], ...]
Atom = tuple[str, frozenset[str]]
Left = Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True)
class Setting:
    """What is known of a unit besides its parts: its era, its vehicle's era (None: none of ours), and the facts."""

    era: str
    vehicle_era: str | None = None
    facts: Mapping[str, str] = field(default_factory=dict)

    def value(self, key: str) -> str | None:
        if key == "era":
            return self.era
        if key == "vehicle_era":
            return self.vehicle_era
        return self.facts.get(key)


@dataclass(frozen=True, slots=True)
class Table:
    """One rule as rows over its positions, in force for one setting."""

    code: str
    says: str
    source: str
    positions: tuple[str, ...]
    rows: tuple[Row, ...]

    def admits(self, combination: Mapping[str, str]) -> bool:
        held = tuple(combination[position] for position in self.positions)
        return any(all(value in cell for value, cell in zip(held, row, strict=True)) for row in self.rows)


def applies(when: Choice, setting: Setting, combination: Mapping[str, str]) -> bool:
    """Whether every key of a `when` holds for a unit of this setting with this combination."""
    return all((combination.get(key) or setting.value(key)) in values for key, values in when.items())


def asked(family: Family, held: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """The facts (and "vehicle_era") that some rule or task of the book asks for, in the book's order.

    `held` is what each position can still hold: a rule whose position condition can never be met asks for nothing.
    """
    keys: set[str] = set()
    for when in (*(rule.when for rule in family.rules), *(task.when for task in family.tasks)):
        if all(key not in held or set(values) & set(held[key]) for key, values in when.items()):
            keys |= {key for key in when if key not in family.position and key != "era"}
    return tuple(key for key in ("vehicle_era", *family.fact) if key in keys)


def tables(family: Family, setting: Setting, left_open: Left | None = None) -> tuple[Table, ...]:
    """The rules in force for a setting, as tables; a rule that everything obeys is left out.

    `left_open` gives keys of `when` that the setting does not settle, with the values that each may have: they stand in
    the tables as if they were positions.
    """
    made = (_table(family, rule, setting, left_open or {}) for rule in family.rules)
    return tuple(table for table in made if table is not None)


def _table(family: Family, rule: Rule, setting: Setting, left_open: Left) -> Table | None:
    asked_of_parts: list[Atom] = []
    for key, values in rule.when.items():
        if key in family.position or key in left_open:
            asked_of_parts.append((key, frozenset(values)))
        elif setting.value(key) not in values:
            return None
    scope = list(dict.fromkeys([key for key, _ in asked_of_parts] + named(rule)))
    everything = {key: frozenset(family.holds[key] if key in family.position else left_open[key]) for key in scope}
    rows = [*_first_failing(asked_of_parts, everything)]
    condition = _met(asked_of_parts, everything)
    rows += [row for row in _obeying(rule, everything, condition) if all(row.values())]
    packed = tuple(dict.fromkeys(tuple(row[position] for position in scope) for row in rows))
    if any(all(cell == everything[position] for position, cell in zip(scope, row, strict=True)) for row in packed):
        return None
    return Table(rule.code, rule.says, rule.source, tuple(scope), packed)


def obeyed(rule: Rule, setting: Setting, combination: Mapping[str, str]) -> bool:
    """Whether a combination obeys a rule, by the rule's own words; one that leaves a position of the rule out obeys it."""
    places = named(rule)
    if any(place not in combination for place in places):
        return True
    for key, values in rule.when.items():
        if (combination[key] if key in combination else setting.value(key)) not in values:
            return True
    if rule.need is not None:
        return all(combination[place] in values for place, values in rule.need.items())
    if rule.never is not None:
        return not all(combination[place] in values for place, values in rule.never.items())
    assert rule.allow is not None
    held = [combination[place] for place in places]
    return held in rule.allow.rows or any(
        all(value in (ANY, one) for value, one in zip(row, held, strict=True)) for row in rule.allow.rows if ANY in row
    )


def named(rule: Rule) -> list[str]:
    """The positions that a rule speaks of besides those of its condition."""
    return list(rule.allow.positions) if rule.allow else list(rule.need or rule.never or ())


def _met(atoms: Sequence[Atom], everything: Mapping[str, frozenset[str]]) -> dict[str, frozenset[str]]:
    """The box in which all atoms hold."""
    box = dict(everything)
    for position, values in atoms:
        box[position] &= values
    return box


def _first_failing(atoms: Sequence[Atom], box: Mapping[str, frozenset[str]]) -> list[dict[str, frozenset[str]]]:
    """Boxes that exclude each other and together hold all in which some atom fails: by the first that fails."""
    boxes = []
    here = dict(box)
    for position, values in atoms:
        boxes.append({**here, position: here[position] - values})
        here[position] &= values
    return [found for found in boxes if all(found.values())]


def _obeying(
    rule: Rule, everything: Mapping[str, frozenset[str]], condition: dict[str, frozenset[str]]
) -> list[dict[str, frozenset[str]]]:
    if rule.need is not None:
        return [_met([(position, frozenset(values)) for position, values in rule.need.items()], condition)]
    if rule.never is not None:
        return _first_failing([(position, frozenset(values)) for position, values in rule.never.items()], condition)
    assert rule.allow is not None
    cells = {
        p: {ANY: condition[p], **{v: frozenset([v]) & condition[p] for v in everything[p]}}
        for p in rule.allow.positions
    }
    rows = []
    for row in rule.allow.rows:
        rows.append(condition | {p: cells[p][value] for p, value in zip(rule.allow.positions, row, strict=True)})
    return rows
