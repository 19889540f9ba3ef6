"""Large books made by code: so many positions, tables of thousands of rows, every design marked."""

from __future__ import annotations

from pathlib import Path
from random import Random


def large_book(positions: int, seed: int, rows: int = 2000) -> str:
    """An interchange.toml of chains of three to nine positions, joined now and then; the first table is the longest.

    Every fifth position is optional; every group has pairs that go together, triples now and then, and rules that hang on a
    fact or an era. The first two positions of each chain hold fifty designs, the others four to nine.
    """
    random = Random(seed)
    lines = ["format = 1", '[family]\ncode = "large"\nname = "A large family"']
    eras = ["e1", "e2", "e3"]
    for number, era in enumerate(eras):
        until = f'\nto = "{2004 + 4 * number}-12"' if number < 2 else ""
        years = [*range(2001 + 4 * number, 2005 + 4 * number)]
        lines.append(
            f'[[era]]\ncode = "{era}"\nname = "era {era}"\nfrom = "{2001 + 4 * number}-01"{until}\nmodel_years = {years}'
        )
    for fact in range(6):
        lines.append(f'[[fact]]\ncode = "f{fact}"\nask = "Fact {fact}?"\nvalues = ["yes", "no"]')
    held: list[list[str]] = []
    for p in range(positions):
        optional = p % 5 == 4
        lines.append(f'[[position]]\ncode = "p{p}"\nname = "Position {p}"' + ("\nlead = true" if p == 0 else "")
                     + ("\noptional = true" if optional else ""))  # fmt: skip
        lines.append(f'[[mark]]\ncode = "m{p}a"\nposition = "p{p}"\nask = "Count {p}?"')
        lines.append(f'[[mark]]\ncode = "m{p}b"\nposition = "p{p}"\nask = "Colour {p}?"\nneeds = "cover off"')
        designs = 50 if p % 12 < 2 else random.randint(4, 9)
        held.append([f"p{p}-d{n}" for n in range(designs)])
        for n, code in enumerate(held[p]):
            fitted = [era for k, era in enumerate(eras) if (n + k) % 3 != 0] or eras[:1]
            retrofits = [era for era in eras if era not in fitted and n % 2]
            lines.append(f'[[design]]\ncode = "{code}"\nposition = "p{p}"\nname = "Design {n} of {p}"\nfitted = {fitted}\n'
                         f"retrofits = {retrofits}\nmarks = {{m{p}a = {n % 4}, m{p}b = {n % 3}}}")  # fmt: skip
    number = 0

    def rule(words: str) -> None:
        nonlocal number
        number += 1
        lines.append(f'[[rule]]\ncode = "r{number}"\nsays = "reason {number}"\nsource = "made by code"\n{words}')

    start = 0
    while start < positions - 1:
        length = min(random.randint(3, 9), positions - start)
        for p in range(start + 1, start + length):
            one, other = held[p - 1], held[p]
            pairs = {(a, other[i * len(other) // len(one)]) for i, a in enumerate(one)}
            pairs |= {(one[i * len(one) // len(other)], b) for i, b in enumerate(other)}
            pairs |= {(random.choice(one), random.choice(other)) for _ in range(min(rows, len(one) * len(other) // 3))}
            if p % 5 == 4:
                pairs |= {(a, "none") for a in one}
            if (p - 1) % 5 == 4:
                pairs |= {("none", b) for b in other}
            listed = ", ".join(f'["{a}", "{b}"]' for a, b in sorted(pairs))
            rule(f'allow = {{positions = ["p{p - 1}", "p{p}"], rows = [{listed}]}}')
        if length > 3:
            three = [start, start + 1, start + 3]
            some = [held[p] + (["none"] if p % 5 == 4 else []) for p in three]
            triples = {tuple(random.choice(values) for values in some) for _ in range(rows)}
            triples |= {(a, b, "*") for a in some[0][:2] for b in some[1][:2]}
            listed = ", ".join("[" + ", ".join(f'"{v}"' for v in row) + "]" for row in sorted(triples))
            named = ", ".join(f'"p{p}"' for p in three)
            rule(f'when = {{f{random.randint(0, 5)} = ["yes"]}}\nallow = {{positions = [{named}], rows = [{listed}]}}')
        a, b = start, start + length - 1
        rule(f'when = {{era = ["e2"], f{random.randint(0, 5)} = ["no"]}}\n'
             f'never = {{p{a} = ["{held[a][0]}"], p{b} = ["{held[b][-1]}"]}}')  # fmt: skip
        if random.random() < 0.3 and start + length < positions:
            c = start + length
            rule(
                f'when = {{p{a} = ["{held[a][1]}"]}}\nneed = {{p{c} = {held[c][:-1] + (["none"] if c % 5 == 4 else [])}}}'
            )
        start += length
    for p in range(0, positions, 7):
        lines.append(f'[[task]]\ncode = "t{p}"\nname = "Task {p}"\nhours = 0.5\nreplacing = ["p{p}"]')
    return "\n".join(lines).replace("'", '"') + "\n"


def large_job(positions: int) -> str:
    """A job that gives a model year, one fact, and one mark at every other position."""
    seen = "\n".join(f"p{p} = {{m{p}a = {p % 4}}}" for p in range(0, positions, 2))
    return (
        '[job]\nnumber = "1"\nfamily = "large"\ndate = 2026-03-24\n[unit]\nbuilt = "2006-05"\n[unit.facts]\nf0 = "yes"\n'
        f"[found]\n{seen}\n"
    )


def write_large(folder: Path, positions: int, seed: int = 1) -> Path:
    """A folder with nothing but a large book, and a job beside it; the job's path."""
    (folder / "catalogs" / "large").mkdir(parents=True, exist_ok=True)
    (folder / "catalogs" / "large" / "interchange.toml").write_text(large_book(positions, seed), encoding="utf-8")
    job = folder / "job.toml"
    job.write_text(large_job(positions), encoding="utf-8")
    return job
