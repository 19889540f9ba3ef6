"""A tiny shop whose quote can be reckoned by hand, and plans chosen by hand: no solver."""

from __future__ import annotations

from collections.abc import Callable

from sourcing.breaches import breaches
from sourcing.plan import Choice, Plan, Proof, Purchase, Return, Status, plan_of
from sourcing.problem import Line, Problem

SHOP = """
currency = "USD"
labour_rate = 95.05
labour_cost = 40.00
comeback_cost = 300.00
day_cost = 7.00
tax_parts = 0.08875
tax_labour = 0.03
quote_days = 30
fx = {EUR = 1.10}
shop_supplies = {share = 0.045, cap = 40.00}
markup = [{up_to = 10.34, factor = 1.755}, {up_to = 250, factor = 1.45}, {factor = 1.30}]
wanted = [{design = "screen-1", pieces = 3, worth = 4.00}]
"""
SUPPLIERS = """
[[supplier]]
code = "nrth"
name = "Northgate Invented"
core_recovery = 0.9
core_return_cost = 12.00
freight = [{mode = "ground", days = 2, flat = 10.00, per_kg = 1.00, free_over = 400.00}]
[[supplier]]
code = "sth"
name = "Southfield Invented"
currency = "EUR"
breaks = "incremental"
"""
BOOK = """
format = 1
family = {code = "oak", name = "Oak four-speed"}
era = [{code = "only", name = "the one era", from = "2000-01"}]
fact = [{code = "lever", ask = "Which lever?", values = ["gate", "tap"]}]
position = [{code = "block", name = "Solenoid block", lead = true}, {code = "plate", name = "Range plate"},
    {code = "screen", name = "Oil screen"}, {code = "loom", name = "Loom", optional = true}]
[[design]]
code = "block-1"
position = "block"
name = "Block one"
fitted = ["only"]
weight_kg = 2.5
comeback_rate = "3/41"
[[design]]
code = "plate-1"
position = "plate"
name = "Plate one"
fitted = ["only"]
comeback_rate = 0.01
[[design]]
code = "screen-1"
position = "screen"
name = "Screen one"
fitted = ["only"]
[[design]]
code = "loom-1"
position = "loom"
name = "Loom one"
retrofits = ["only"]
[[rule]]
code = "pair"
says = "The block's springs must meet the plate's tracks"
source = "Shop note 1"
caution = "Look at the tracks first."
allow = {positions = ["block", "plate"], rows = [["block-1", "plate-1"]]}
[[rule]]
code = "tap"
says = "A tap lever needs plate one"
source = "Shop note 2"
caution = "Only for the tap lever."
when = {lever = ["tap"]}
need = {plate = ["plate-1"]}
[[task]]
code = "fit"
name = "Fit the block"
hours = 0.8
cost = 9.55
replacing = ["block"]
caution = "Torque in order."
"""
PARTS = """supplier,part_number,fills,condition,warranty_months
nrth,00123,block-1,reman,12
nrth,K-9,block-1 + plate-1,reman,12
sth,S-1,screen-1,new,0
"""
NORTH = """part number,description,price,core charge,stock,valid until
00123,=1+1,250.00,80.00,,2026-03-20
K-9,kit,390.00,80.00,4,
"""
SOUTH = """part number,description,price,3+,pack
S-1,screens,10.00,9.00,5
"""
JOB = """
[job]
number = "77"
family = "oak"
customer = "Invented: A. Person"
date = 2026-03-02
[unit]
built = "2001-01"
facts = {lever = "gate"}
[found]
block = "block-1"
plate = "plate-1"
screen = "screen-1"
[limits]
keep = ["block", "plate", "screen"]
[labour]
base_hours = 10
"""
FILES = {
    "shop.toml": SHOP,
    "suppliers.toml": SUPPLIERS,
    "oak/interchange.toml": BOOK,
    "oak/parts.csv": PARTS,
    "price-sheets/nrth/2026-02-01.csv": NORTH,
    "price-sheets/sth/2026-02-01.csv": SOUTH,
    "job.toml": JOB,
}
Opened = Callable[..., Problem]


def chosen(
    problem: Problem,
    buys: dict[str, int],
    fills: dict[str, str],
    returns: dict[str, str] | None = None,
    in_hand: tuple[str, ...] = (),
    sent_back: tuple[str, ...] = (),
) -> Plan:
    """A plan by hand: pieces by part number, the number that fills each position, the number that takes a core back,
    positions filled by the part in hand, and those whose part in hand goes back."""
    lines: dict[str, Line] = {line.offer.part.number.spelt: line for line in problem.lines}
    combination = {"block": "block-1", "plate": "plate-1", "screen": "screen-1", "loom": "none"}
    choice = Choice(
        combination=combination,
        kept=tuple(position for position in ("block", "plate", "screen") if position not in (*fills, *in_hand)),
        fills={position: lines[number].offer.id for position, number in fills.items()},
        purchases=tuple(Purchase(lines[number], pieces) for number, pieces in buys.items()),
        returns=tuple(
            Return(position, combination[position], lines[number].offer.id)
            for position, number in (returns or {}).items()
        ),
        in_hand=in_hand,
        sent_back=sent_back,
    )
    assert breaches(problem, choice) == []
    return plan_of(problem, choice, Status.PROVEN, Proof())


def block_and_screen(problem: Problem) -> Plan:
    """Block 00123, its core going back, and a pack of five screens; the plate is kept."""
    return chosen(problem, {"00123": 1, "S-1": 5}, {"block": "00123", "screen": "S-1"}, {"block": "00123"})


HERE = (
    "base_hours = 10",
    """base_hours = 10
[in_hand]
block = {design = "block-1", source = "received", supplier = "nrth", part_number = "00123", cost = 250.00, came = 2026-02-27}
plate = {design = "plate-1", source = "customer"}
screen = {design = "screen-1", source = "shelf", cost = 10.00}
""",
)
TERMS = (
    "core_return_cost = 12.00",
    """core_return_cost = 12.00
order_fee = 4.00
return_days = 14
restock_share = 0.105
core_days = 30
core_needs = "complete, drained, in its box"
""",
)


def all_in_hand(problem: Problem) -> Plan:
    """Everything is here; the core goes back against the block that was received."""
    return chosen(problem, {}, {}, {"block": "00123"}, in_hand=("block", "plate", "screen"))


def block_sent_back(problem: Problem) -> Plan:
    """The block that came goes back, and a kit is bought instead; the screen stays on the shelf."""
    return chosen(problem, {"K-9": 1}, {"block": "K-9", "plate": "K-9"}, {"block": "K-9"}, sent_back=("block",))
