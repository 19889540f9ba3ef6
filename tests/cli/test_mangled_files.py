"""Whatever happens to a shop's files, the tool answers or names the fault: never a traceback."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from cli.conftest import Counter, Said

ROUNDS = 20
SEEDS = range(10)
NUMBERS = ["0", "-1", "1", "0.005", "-0.0", "99999999999999999999", "1e400", "1e-400", "nan", "inf", "true", "9999-12-31",
           "0001-01-01", '"x"', '""', "[]", "{}", "2026-02-29", "١٢", "0x10", "1_000", "3/0", '"3/0"', "1,5"]  # fmt: skip
SIGNS = ['"', "'", "[", "]", "{", "}", "=", ",", ";", "\t", "\n", "\r", "#", "\x00", "\ufeff", "é", "€", "\u202e", "*", "+", "|",
         "none", "=1+1", "\\", "."]  # fmt: skip


def of_bytes(random: Random, raw: bytes) -> bytes:
    """A file damaged below its letters."""
    at = random.randrange(len(raw) + 1)
    match random.randrange(5):
        case 0:
            return raw[:at]
        case 1:
            return raw[:at] + bytes([random.randrange(256)]) + raw[at + 1 :]
        case 2:
            return raw[:at] + random.randbytes(random.randrange(1, 6)) + raw[at:]
        case 3:
            return raw.decode("utf-8").encode(random.choice(["utf-16", "utf-8-sig", "cp1252"]), errors="replace")
        case _:
            return b""


def of_lines(random: Random, text: str) -> str:
    """A file with lines lost, doubled, exchanged or joined."""
    lines = text.split("\n")
    one, other = random.randrange(len(lines)), random.randrange(len(lines))
    match random.randrange(5):
        case 0:
            del lines[one]
        case 1:
            lines.insert(other, lines[one])
        case 2:
            lines[one], lines[other] = lines[other], lines[one]
        case 3:
            del lines[min(one, other) : max(one, other)]
        case _:
            lines[one] += lines.pop(other) if one < other else ""
    return "\n".join(lines)


def of_words(random: Random, text: str) -> str:
    """A file with a value, a code or a sign in the wrong place."""
    match random.randrange(4):
        case 0:
            found = list(re.finditer(r"(?<![\w.-])(?:\d{4}-\d\d(?:-\d\d)?|\d[\d.]*)(?![\w-])", text))
            new = random.choice(NUMBERS)
        case 1:
            found = list(re.finditer(r"[a-z]+-[a-z0-9]+|\"[^\"\n]*\"", text))
            new = random.choice(found).group() if found else ""
        case 2:
            found = list(re.finditer(r"\w+", text))
            new = random.choice([random.choice(found).group() if found else "", "", "none", "*", "era", "block"])
        case _:
            at = random.randrange(len(text) + 1)
            return text[:at] + random.choice(SIGNS) + text[at:]
    if not found:
        return text
    place = random.choice(found)
    return text[: place.start()] + new + text[place.end() :]


def mangle(random: Random, path: Path) -> None:
    """Do one to three things to a file."""
    for _ in range(random.randint(1, 3)):
        raw = path.read_bytes()
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            return
        kind = random.random()
        if kind < 0.15:
            path.write_bytes(of_bytes(random, raw))
        else:
            path.write_bytes((of_lines if kind < 0.4 else of_words)(random, text).encode("utf-8"))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_mangled_folder_is_answered_or_its_fault_named(
    seed: int, counter: Counter, sourcing: Callable[..., Said]
) -> None:
    random = Random(seed)
    jobs = sorted((counter.folder / "scenarios").glob("*.toml"))
    files = [*sorted(counter.catalogs.rglob("*.toml")), *sorted(counter.catalogs.rglob("*.csv"))]
    for turn in range(ROUNDS):
        job = random.choice(jobs)
        hurt = random.sample([*files, job, job], random.choice([1, 1, 1, 2]))
        whole = {path: path.read_bytes() for path in hurt}
        for path in whole:
            mangle(random, path)
        mangled = {path.name: path.read_bytes() for path in whole}
        before = counter.files()
        said = sourcing("quote", job, "--out", f"out-{turn}", "--json", "--time-limit", "20")
        story = f"seed {seed}, turn {turn}, {job.name}, {list(mangled)}: {said}"
        assert said.code in (0, 2, 3, 5), story
        assert "defect of the tool" not in said.out + said.err, story
        assert "Traceback" not in said.out + said.err, story
        if said.code == 2:
            assert all(": expected " in line for line in said.err.splitlines()) and said.err, story
            assert counter.files() == before, story
        for path, content in whole.items():
            path.write_bytes(content)
