"""The bid evaluation of Bracken and McCormick, bought by the program under both readings of quantity breaks.

Source: J. Bracken and G. P. McCormick, "Selected Applications of Nonlinear Programming", Wiley 1968, ch. 3: 239600.48
units from five vendors, each with a setup cost and a price that falls by segments. The two optima stand in
../shared/published/README.md, found there by two independent solvers: 15210109.512 with incremental breaks,
14998190.531 with all-units breaks.

How it is told here, through files and `quote_job`:

- a vendor is a supplier, its setup a flat freight charge, its segments price breaks, its largest quantity its stock, its
  smallest its minimum;
- a job buys for a unit no more than serves, so the units are pieces that the shop wants on its shelf, of a design that
  goes into no era. Each is worth more than any costs, so that all are bought; the test looks that they were. What is
  left of `whole` when their worth is added back is what buying exactly that many costs at least;
- one published unit of money is 1000 cents, which makes every price whole;
- pieces are whole and the published quantity is not. Both neighbours, 239600 and 239601, are bought. Every segment
  begins and ends at a whole number, so on the interval between them the least cost is a minimum of straight lines (one for
  each choice of vendors, segments and the one that is not at an end): it lies nowhere below the chord, and on it where
  one such choice is best at both ends. That it is the same choice at both ends is checked; the chord at .48 is then the
  published problem's own optimum, exactly.

The program is tested, with breaks, stocks, minimums and flat charges at real sizes; fractional pieces are not, since the
tool has none.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

import pytest

from sourcing import open_shop, quote_job

BID = Path(__file__).resolve().parents[3] / "shared" / "published" / "bid.csv"
NEED = Decimal("239600.48")
OPTIMA = {"incremental": Decimal("15210109.512"), "all-units": Decimal("14998190.531")}
CENTS = 1000  # for one published unit of money
WORTH = 100_000  # cents; the dearest vendor asks 72488 for a piece
Segments = list[dict[str, str]]


def vendors() -> dict[str, Segments]:
    found: dict[str, Segments] = {}
    with BID.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["vendor"], []).append(row)
    return found


def amount(published: str) -> str:
    cents = Decimal(published) * CENTS
    assert cents == int(cents)
    return f"{int(cents) // 100}.{int(cents) % 100:02d}"


def write_shop(bids: Mapping[str, Segments], breaks: str, pieces: int, folder: Path) -> Path:
    """Write the bids as catalogs and a job that wants so many pieces; returns the job."""
    catalogs = folder / "catalogs"
    terms, parts = [], ["supplier,part_number,fills,condition"]
    for vendor, segments in bids.items():
        terms.append(f'[[supplier]]\ncode = "{vendor}"\nname = "Vendor {vendor}"\nbreaks = "{breaks}"')
        terms.append(f'[[supplier.freight]]\nmode = "bid"\ndays = 0\nflat = {amount(segments[0]["setup"])}')
        parts.append(f"{vendor},PIECE-{vendor},piece,new")
        # All units: the lower price holds from its quantity on. Incremental: for the pieces above it.
        above = 1 if breaks == "incremental" else 0
        steps = [str(int(segment["qmin"]) + above) + "+" for segment in segments[1:]]
        header = ["Part Number", "Price", "Stock", "Min Qty", *steps]
        first = [
            f"PIECE-{vendor}",
            amount(segments[0]["price"]),
            segments[-1]["qmax"],
            max("1", segments[0]["qmin"], key=int),
        ]
        sheet = catalogs / "price-sheets" / vendor / "2026-01-02.csv"
        sheet.parent.mkdir(parents=True)
        with sheet.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header, [*first, *(amount(segment["price"]) for segment in segments[1:])]])
    (catalogs / "bids").mkdir()
    (catalogs / "bids" / "parts.csv").write_text("\n".join(parts), encoding="utf-8")
    (catalogs / "bids" / "interchange.toml").write_text(
        'format = 1\n[family]\ncode = "bids"\nname = "Bids"\n[[era]]\ncode = "e"\nname = "e"\nfrom = "2000-01"\n'
        '[[position]]\ncode = "store"\nname = "Store"\nlead = true\noptional = true\n'
        '[[design]]\ncode = "piece"\nposition = "store"\nname = "Piece"\nfitted = []\n',
        encoding="utf-8",
    )
    (catalogs / "suppliers.toml").write_text("\n".join(terms), encoding="utf-8")
    (catalogs / "shop.toml").write_text('currency = "USD"\n', encoding="utf-8")
    job = folder / "job.toml"
    job.write_text(
        f'[job]\nnumber = "1"\nfamily = "bids"\ndate = 2026-01-05\n'
        f'[[wanted]]\ndesign = "piece"\npieces = {pieces}\nworth = {WORTH // 100}.00\n',
        encoding="utf-8",
    )
    return job


def bought(breaks: str, pieces: int, folder: Path) -> tuple[int, dict[str, int]]:
    """The least cost in cents of so many pieces, and the pieces from each vendor."""
    folder.mkdir()
    job = write_shop(vendors(), breaks, pieces, folder)
    plan = quote_job(open_shop(folder / "catalogs"), job).plan
    assert plan.status == "proven"
    assert plan.choice is not None and plan.totals is not None
    quantities = {purchase.line.offer.supplier: purchase.quantity for purchase in plan.choice.purchases}
    assert sum(quantities.values()) == pieces
    assert plan.totals.whole == plan.totals.cash - WORTH * pieces
    return plan.totals.cash, quantities


def standing(quantities: Mapping[str, int], breaks: str) -> dict[str, tuple[int, bool]]:
    """Each vendor's segment, and whether its quantity stands at that segment's end (or the stock's)."""
    stands = {}
    for vendor, quantity in quantities.items():
        segments = vendors()[vendor]
        last = max(i for i, s in enumerate(segments) if int(s["qmin"]) < quantity or i == 0)
        if breaks == "all-units":
            last = max(i for i, s in enumerate(segments) if int(s["qmin"]) <= quantity)
        ends = {int(segments[last]["qmin"]), int(segments[last]["qmax"])}
        stands[vendor] = (last, quantity in ends)
    return stands


@pytest.mark.skipif(not BID.is_file(), reason=f"the published bids are not there: {BID}")
@pytest.mark.parametrize("breaks", OPTIMA)
def test_the_published_bid_is_bought_at_its_optimum(breaks: str, tmp_path: Path) -> None:
    below = int(NEED)
    share = NEED - below
    low, at_low = bought(breaks, below, tmp_path / "low")
    high, at_high = bought(breaks, below + 1, tmp_path / "high")
    assert standing(at_low, breaks) == standing(at_high, breaks)
    moving = [vendor for vendor in at_low if at_low[vendor] != at_high[vendor]]
    assert len(moving) == 1
    least = (low + share * (high - low)) / CENTS
    assert least.quantize(OPTIMA[breaks]) == OPTIMA[breaks]
