"""A shop's folder to start from: the demo to change, or an empty one whose comments say what to fill in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Literal

from sourcing.book.family import family_of
from sourcing.faults import BadInput, BadValue, Fault, InTheWay, raise_any, shown
from sourcing.prices.suppliers import suppliers_of
from sourcing.shop import shop_of
from sourcing.tomltext import literal

Kind = Literal["example", "empty"]
_CODE = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
PARTS = "supplier,part_number,fills,condition,warranty_months,core_accepts,comeback_rate,replaced_by,note\n"
TAKEN = ("price-sheets", "con", "prn", "aux", "nul")  # names that a family's folder must not have


@dataclass(frozen=True, slots=True)
class Start:
    """What a new folder begins with; for an example "" and None leave what the demo says."""

    kind: Kind
    name: str = ""
    currency: str = "USD"
    labour_rate: Decimal | None = None
    family: str = "my-family"
    family_name: str = "My family"


def make_folder(catalogs: Path, jobs: Path, start: Start) -> list[Path]:
    """Write a shop's folder, and say which files were made; never over another file.

    Raises
    ------
    BadInput
        where a file stands in the way, or something that was said cannot be; nothing is written then
    """
    made = {**_catalogs(start, catalogs), **_jobs(start, jobs)}
    there = [path for path in made if path.exists() or path.is_symlink()]
    raise_any([InTheWay(file=shown(path), found=path.name) for path in there])
    _write(made)
    return sorted(made)


def make_family(catalogs: Path, code: str, name: str) -> list[Path]:
    """Write the beginnings of a further family's book. Raises as `make_folder` does."""
    made = _family(catalogs, code, name)
    raise_any([InTheWay(file=shown(path), found=path.name) for path in made if path.exists() or path.is_symlink()])
    _write(made)
    return sorted(made)


def _write(made: Mapping[Path, bytes]) -> None:
    """Write every file or none; shop.toml last, since it is what makes a folder a shop's."""
    written: list[Path] = []
    try:
        for path in sorted(made, key=lambda path: path.name == "shop.toml"):
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("xb") as file:
                written.append(path)
                file.write(made[path])
    except FileExistsError as error:
        _take_back(written)
        name = Path(str(error.filename))
        raise BadInput([InTheWay(file=shown(name), found=name.name)]) from None
    except BaseException:
        _take_back(written)
        raise


def _take_back(written: list[Path]) -> None:
    for path in written:
        path.unlink(missing_ok=True)


def _catalogs(start: Start, catalogs: Path) -> dict[Path, bytes]:
    if start.kind == "empty":
        made = {
            catalogs / "shop.toml": _empty_shop(start).encode(),
            catalogs / "suppliers.toml": SUPPLIERS.encode(),
            catalogs / "README.md": _packaged("catalogs", "README.md").read_bytes(),
            **_family(catalogs, start.family, start.family_name),
        }
        suppliers_of(SUPPLIERS, catalogs / "suppliers.toml")
    else:
        made = {catalogs / name: content for name, content in _all_of(_packaged("catalogs")).items()}
        text = made[catalogs / "shop.toml"].decode("utf-8")
        made[catalogs / "shop.toml"] = _own(text, start).encode()
    path = catalogs / "shop.toml"
    shop_of(made[path].decode("utf-8"), path, logo=False)
    return made


def _jobs(start: Start, jobs: Path) -> dict[Path, bytes]:
    if start.kind == "empty":
        return {}
    return {jobs / name: content for name, content in _all_of(_packaged("scenarios")).items()}


def _packaged(*names: str) -> Traversable:
    return files("sourcing").joinpath("example", *names)


def _all_of(folder: Traversable, above: str = "") -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    for entry in folder.iterdir():
        if entry.is_dir():
            found |= _all_of(entry, f"{above}{entry.name}/")
        elif not entry.name.startswith((".", "__")):
            found[f"{above}{entry.name}"] = entry.read_bytes()
    return found


def _own(text: str, start: Start) -> str:
    """The demo's shop.toml with the shop's own name and rate in it."""
    if start.labour_rate is not None:
        text = re.sub(r"(?m)^labour_rate = \S+", lambda _: f"labour_rate = {literal(start.labour_rate)}", text)
    if start.name:
        head, letterhead, rest = text.partition("[letterhead]")
        text = head + letterhead + re.sub(r"(?m)^name = .*$", lambda _: f"name = {literal(start.name)}", rest, count=1)
    return text


def _family(catalogs: Path, code: str, name: str) -> dict[Path, bytes]:
    faults: list[Fault] = []
    if not _CODE.fullmatch(code) or code in TAKEN:
        faults.append(BadValue(file=shown(catalogs), place="family code", found=f'"{code}"',
                               expected="small letters, figures and hyphens, at most 40"))  # fmt: skip
    raise_any(faults)
    book = catalogs / code / "interchange.toml"
    text = BOOK.replace("CODE", literal(code)).replace("NAME", literal(name or code))
    family_of(text, book)
    return {book: text.encode(), catalogs / code / "parts.csv": PARTS.encode()}


def _empty_shop(start: Start) -> str:
    rate = literal(start.labour_rate if start.labour_rate is not None else Decimal("0.00"))
    return SHOP.replace("CURRENCY", literal(start.currency)).replace("RATE", rate).replace("NAME", literal(start.name))


SHOP = """\
# Your shop's own rates. README.md beside this file explains each field; a line that begins with # says nothing yet.
currency = CURRENCY
labour_rate = RATE             # what an hour is charged at
# labour_cost = 0.00           # fill in: what an hour costs you; the choice counts this one
comeback_cost = 0.00           # fill in: what one unit that comes back costs you; at 0 comebacks weigh nothing
day_cost = 0.00                # fill in: what each working day costs that a unit waits for parts
# holidays = [2026-12-25]      # days that are no working days, besides Saturday and Sunday
tax_parts = 0.0                # fill in, such as 0.065
tax_labour = 0.0
quote_days = 14                # for how many days a quote holds

[[markup]]                     # fill in: by what the unit cost of a part is multiplied; steps need up_to, the last has none
factor = 1.00

[letterhead]
name = NAME
"""
SUPPLIERS = """\
# Who sells to you, on what terms. README.md explains each field. Take the # away from the lines below, or use the page.
#
# [[supplier]]
# code = "first"               # your short word for it; also its folder's name under price-sheets/
# name = "First supplier"
# lead_days = 1                # working days until it sends
#
# [[supplier.freight]]
# mode = "ground"
# days = 3
# flat = 12.00
"""
BOOK = """\
# What fits what. The tool knows no transmission: it knows only what you write here. Take every rule from the maker's
# service information or your own tested practice, and name that in `source`; where the two differ, the maker's service
# information is right. A wrong range-switch plate can let an engine start in gear: put a caution on such a rule.
# `sourcing review` looks for holes in what you wrote.
format = 1

[family]
code = CODE
name = NAME

# fill in: spans of build months in which nothing changed that matters; the last one may leave `to` out
[[era]]
code = "first"
name = "first era"
from = "2000-01"
model_years = [2000]

# fill in: what must be asked of vehicle or unit because it decides
# [[fact]]
# code = "lever"
# ask = "Which lever has the vehicle?"
# values = ["one", "other"]
# of = "vehicle"

# the places that a part fills; exactly one leads, and its design names the route
[[position]]
code = "block"
name = "Solenoid block"
lead = true

[[position]]
code = "plate"
name = "Range-switch plate"

# fill in: what can be seen or counted on a part
# [[mark]]
# code = "solenoids"
# position = "block"
# ask = "How many solenoids are on the block?"

# fill in: every design, whoever makes it, and the eras that it belongs in
# [[design]]
# code = "block-a"
# position = "block"
# name = "Block A"
# fitted = ["first"]
# comeback_rate = "1/40"

# fill in: what belongs with what, and why
# [[rule]]
# code = "plates"
# says = "the plate must read as the block does"
# source = "where this is written"
# allow = {positions = ["block", "plate"], rows = [["block-a", "plate-1"]]}
"""
