"""The customer's sheet: one page with what is done, what it costs, how long that holds, and the cautions.

It names no supplier and no purchase cost. In the quote's workbook prices come by formula from the shop's sheet, which stays
in the shop; in the customer's copy, which has no other sheet, they are values.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from sourcing.labels import Labels
from sourcing.money import to_cents
from sourcing.plan import Plan
from sourcing.problem import Problem
from sourcing.quote.cautions import Caution
from sourcing.quote.charge import Charge
from sourcing.quote.described import described
from sourcing.quote.sheets.bill import Bill
from sourcing.quote.sheets.cells import Cell, Cents, Entry, Formula, Percent, Value, cent
from sourcing.quote.sheets.choices import Choice, draw_choices
from sourcing.quote.sheets.head import draw_head
from sourcing.quote.sheets.page import Page, print_once
from sourcing.quote.sheets.rates import Rate, Rates, tax
from sourcing.quote.sheets.texts import clean, lines_of

WIDTHS = (21, 45, 10, 12, 13)
CAUTION_LINES = 34  # more would press the page below what can be read


@dataclass(frozen=True, slots=True)
class Quoted:
    """Where the shop's sheet finds what the customer's says: hours and materials by task, the price before tax."""

    hours: dict[str, str]
    materials: dict[str, str]
    before_tax: str


@dataclass
class _Lines:
    """The rows of the lines drawn so far, by the tax that they bear: 0-based, in column E."""

    rows: dict[str, list[int]] = field(default_factory=dict)

    def add(self, taxed: str, row: int) -> None:
        self.rows.setdefault(taxed, []).append(row)

    def sum(self, *taxes: str) -> str:
        """The sum of the lines under some taxes, as a term."""
        rows = sorted(row for tax in taxes for row in self.rows.get(tax, ()))
        spans: list[list[int]] = []
        for row in rows:
            if spans and spans[-1][1] == row - 1:
                spans[-1][1] = row
            else:
                spans.append([row, row])
        return f"SUM({','.join(f'E{first + 1}:E{last + 1}' for first, last in spans)})" if spans else "0"


class CustomersSheet:
    """The page while it is drawn: `begin`, then the shop's bill, then `finish`.

    Parameters
    ----------
    page : an empty sheet
    plan, charge : what is quoted
    labels : the words
    live : whether it stands beside the shop's sheet, whose prices it refers to, and has cells that may be changed
    """

    def __init__(self, page: Page, plan: Plan, charge: Charge, labels: Labels, live: bool = True) -> None:
        self.page, self.plan, self.charge, self.labels, self.live = page, plan, charge, labels, live
        self.problem: Problem = plan.problem
        self._lines = _Lines()

    def begin(self, stamp: str, ends: str, choices: Sequence[Choice]) -> dict[str, str]:
        """Draw the head down to the headings of the lines; the cells that will hold each part's pieces."""
        page, say = self.page, self.labels
        shop = self.problem.shop.letterhead
        draw_head(page, shop, say("logo", shop=shop.name or say("the_shop")))
        page.heading(say("quote_of", number=self.problem.job.number))
        any_core = any(made.cores for made in (self.charge, *(choice.charge for choice in choices)))
        self._rates = self._heading(stamp, ends, any_core)
        page.row += 1
        names = [say(f"head_{name}") for name in ("position", "what", "quantity", "price", "amount")]
        self._head = page.headings(names, [2, 3, 4])
        return {part.key: page.far(page.row + place, 2) for place, part in enumerate(self.charge.parts)}

    def finish(self, cautions: Sequence[Caution], bill: Bill | None, choices: Sequence[Choice], stamp: str) -> Quoted:
        """Draw the lines, the totals, the choices, the terms and the cautions, and set the page up for printing."""
        page = self.page
        self._parts(bill)
        hours, labour = self._labour()
        materials = self._goods(labour)
        self._cores(bill)
        self._untaxed(bill)
        before, total = self._totals()
        if len(choices) > 1:
            draw_choices(page, self.labels, choices, self._rates, total)
        page.row += 1
        for says in self._terms():
            page.paragraph(says, "")
        if self.live:
            page.paragraph(self.labels("changeable"))
        self._cautions(cautions)
        self._signature()
        name = f"{self.labels('quote_of', number=self.problem.job.number)}, {stamp}"
        print_once(page, name, self.problem.shop.letter, self._head)
        page.protect()
        return Quoted(hours, materials, page.far(before, 4))

    def _entry(self, value: Value, note: str, most: int | None = None, whole: bool = False) -> Cell:
        """A value that may be changed where the sheet is live."""
        return Entry(value, self.labels(note), most, whole) if self.live else value

    def _heading(self, stamp: str, ends: str, any_core: bool) -> Rates:
        """What the quote is about on the left; on the right its dates, and the rates that it reckons with."""
        page, say, charge, top = self.page, self.labels, self.charge, self.page.row
        left = _about(self.plan, say, stamp)
        right = self._dates(top, ends)
        rates: dict[str, Rate] = {}
        for key, name, value, cell in self._reckoning(any_core):
            rates[key] = Rate(f"$E${top + len(right) + 1}", value)
            right.append((name, cell))
        for place in range(max(len(left), len(right))):
            label, text = left[place] if place < len(left) else ("", "")
            name, cell = right[place] if place < len(right) else ("", None)
            page.put(0, label, "label")
            page.wide(2, 3, name, "label")
            page.put(4, cell, "right")
            page.line([text], first=1)
        absent = Rate("0", Percent(Decimal(0)))
        return Rates(rates["labour"], rates["share"], rates["cap"], rates["tax_parts"], rates["tax_labour"],
                     rates.get("tax_cores", absent), rates["discount"], charge.discount.share is not None)  # fmt: skip

    def _dates(self, top: int, ends: str) -> list[tuple[str, Cell]]:
        say, job, shop = self.labels, self.problem.job, self.problem.shop
        until: Cell = self.charge.stands_until
        if self.live:
            until = Formula(f"MIN(E{top + 1}+E{top + 2}{',' + ends if ends else ''})", self.charge.stands_until)
        return [(say("date"), job.job.date), (say("stands_days"), shop.quote_days), (say("stands_until"), until)]

    def _reckoning(self, any_core: bool) -> Iterator[tuple[str, str, Value, Cell]]:
        """Each rate: its key, its name, its value and its cell."""
        rates, say, off = self.charge.rates, self.labels, self.charge.discount
        cap = None if rates.cap is None else Cents(to_cents(rates.cap))
        listed: list[tuple[str, str, Value, str]] = [
            ("labour", "labour_rate", Cents(to_cents(rates.labour)), "note_rate"),
            ("share", "supplies_share", Percent(rates.supplies), "note_share"),
            ("cap", "supplies_cap", say("no_limit") if cap is None else cap, "note_cap"),
            ("tax_parts", "tax_parts_rate", Percent(rates.tax_parts), "note_share"),
            ("tax_labour", "tax_labour_rate", Percent(rates.tax_labour), "note_share"),
        ]
        if any_core or rates.tax_cores:
            listed.append(("tax_cores", "tax_cores_rate", Percent(rates.tax_cores), "note_share"))
        discount: Value = Cents(to_cents(off.amount)) if off.share is None else Percent(off.share)
        listed.append(
            ("discount", "discount_rate", discount, "note_share" if off.share is not None else "note_discount")
        )
        for key, name, value, note in listed:
            may_change = not isinstance(value, str)
            most = 1 if note == "note_share" else None
            yield key, say(name), value, self._entry(value, note, most) if may_change else value

    def _amount(self, taxed: str, label: str, says: str, pieces: Cell, price: Cell, cents: int) -> int:
        """A row of quantity x unit price."""
        row = self.page.row + 1
        made = self.page.line([label, says, pieces, price, Formula(cent(f"C{row}*D{row}"), Cents(cents))], "row")
        self._lines.add(taxed, made)
        return made

    def _parts(self, bill: Bill | None) -> None:
        for part in self.charge.parts:
            names = " + ".join(self.problem.family.position[position].name for position in part.positions)
            price: Cell = Cents(part.price_cents)
            if bill is not None and not part.kept:
                price = Formula(bill.price[part.key], Cents(part.price_cents))
            fixed = part.kept or part.own
            pieces = part.pieces if fixed else self._entry(part.pieces, "note_quantity", whole=True)
            self._amount("parts", names, described(part, self.problem, self.labels), pieces, price, part.amount_cents)

    def _labour(self) -> tuple[dict[str, str], int]:
        """Each work with its hours, then all hours at the shop's rate; where each work's hours stand, and the row of all."""
        page, say, hours = self.page, self.labels, dict[str, str]()
        for item in self.charge.consumables:
            name = say("of_unit", name=item.says, unit=item.unit) if item.unit else item.says
            quantity = self._entry(item.quantity, "note_amount")
            price = self._entry(Cents(item.price_cents), "note_price")
            self._amount("parts", say("consumable"), name, quantity, price, item.amount_cents)
        first = page.row
        for work in self.charge.work:
            cells: list[Cell] = [
                say("hours"),
                work.says or say("rebuild"),
                self._entry(work.hours, "note_hours"),
                None,
                None,
            ]
            hours[work.code] = page.far(page.line(cells, "row"), 2)
        every = Formula(page.sum(2, first, page.row - 1), self.charge.hours)
        rate = self._rates.labour.shown
        return hours, self._amount("labour", say("labour"), say("all_hours"), every, rate, self.charge.labour_cents)

    def _goods(self, labour: int) -> dict[str, str]:
        """Materials, extras and supplies; where each work's materials stand."""
        page, say, materials = self.page, self.labels, dict[str, str]()
        for work in self.charge.work:
            if work.materials_cents:
                cents = work.materials_cents
                price = self._entry(Cents(cents), "note_price")
                row = self._amount("parts", say("materials"), work.says, 1, price, cents)
                materials[work.code] = page.far(row, 3)
        self._extras("parts", "labour")
        rates = self._rates
        supplies = Formula(rates.supplies(page.cell(labour, 4)), Cents(self.charge.supplies_cents))
        self._lines.add("parts", page.line([say("supplies"), say("supplies_says"), None, None, supplies], "row"))
        return materials

    def _extras(self, *taxes: str) -> None:
        for extra in self.charge.extras:
            if extra.taxed in taxes:
                cents = to_cents(extra.amount)
                price = self._entry(Cents(cents), "note_price")
                self._amount(extra.taxed, self.labels("extra"), extra.name, 1, price, cents)

    def _cores(self, bill: Bill | None) -> None:
        """The core charges that are the customer's, with the reason."""
        row_of = {part.key: self._head + 1 + place for place, part in enumerate(self.charge.parts)}
        held = {part.key: part.pieces for part in self.charge.parts}
        for core in self.charge.cores:
            names = " + ".join(map(self.problem.family.name_of, core.designs))
            says = self.labels(f"core_{core.reason}", part=names)
            pieces: Cell = core.pieces
            price: Cell = Cents(core.each_cents)
            if bill is not None:
                beyond = held[core.line] - core.pieces
                pieces = Formula(f"MAX(0,C{row_of[core.line] + 1}-{beyond})", core.pieces)
                price = Formula(bill.core[core.line], Cents(core.each_cents))
            self._amount("cores", self.labels("core"), says, pieces, price, core.amount_cents)

    def _untaxed(self, bill: Bill | None) -> None:
        say = self.labels
        freight = (("freight_in", self.charge.freight_cents, bill and bill.freight),
                   ("freight_back", self.charge.core_return_cents, bill and bill.core_return))  # fmt: skip
        for key, cents, at in freight:
            if cents or key == "freight_in":
                price: Cell = Formula(at, Cents(cents)) if at else Cents(cents)
                self._amount("no", say(key), say(f"{key}_says"), 1, price, cents)
        self._extras("no")

    def _totals(self) -> tuple[int, int]:
        """All together, the discount, before tax, the taxes, the total; the rows of the price before tax and of the total."""
        page, say, charge, rates = self.page, self.labels, self.charge, self._rates
        every = self._lines.sum("parts", "labour", "cores", "no")
        listed = page.line(
            [say("listed"), None, None, None, Formula(f"ROUND({every},2)", Cents(charge.listed_cents))], "sum"
        )
        at, off = page.cell(listed, 4), page.cell(listed + 1, 4)
        page.line([say("discount"), say("discount_says"), None, rates.discount.shown,
                   Formula(f"-{rates.off(at)}", Cents(-charge.discount_cents))], "row")  # fmt: skip
        before = page.line([say("before_tax"), None, None, None, Formula(f"ROUND({at}+{off},2)",
                            Cents(charge.before_tax_cents))], "sum")  # fmt: skip
        taxes = [("tax_parts", "parts", rates.tax_parts, charge.tax_parts_cents),
                 ("tax_labour", "labour", rates.tax_labour, charge.tax_labour_cents)]  # fmt: skip
        if charge.cores:
            taxes.append(("tax_cores", "cores", rates.tax_cores, charge.tax_cores_cents))
        for key, lines, rate, cents in taxes:
            term = tax(self._lines.sum(lines), at, f"-{off}", rate.at)
            page.line([say("tax"), say(key), None, rate.shown, Formula(term, Cents(cents))], "row")
        total = Formula(f"ROUND(SUM({page.span(4, before, page.row - 1)}),2)", Cents(charge.total_cents))
        return before, page.line([say("total"), None, None, None, total], "total")

    def _terms(self) -> Iterator[str]:
        say, charge, name_of = self.labels, self.charge, self.problem.family.name_of
        job, shop = self.problem.job.job, self.problem.shop.letterhead
        yield say("stands", date=job.date.isoformat(), until=charge.stands_until.isoformat())
        returns = self.plan.choice.returns if self.plan.choice else ()
        if returns:
            yield say("cores_back", parts=", ".join(dict.fromkeys(name_of(item.design) for item in returns)))
        elif not charge.cores and self._core_charges():
            yield say("cores_held")
        months = charge.warranty_months
        yield say("warranty_no_parts") if months is None else say("warranty_force", months=say.months(months))
        for key, lines in (
            ("warranty_kept", [part for part in charge.parts if part.kept]),
            ("warranty_own", [part for part in charge.parts if part.own]),
        ):
            if lines:
                yield say(key, parts=", ".join(name_of(design) for part in lines for design in part.designs))
        yield say("rounding")
        yield from (words for words in (shop.warranty, shop.terms, shop.closing) if words)

    def _core_charges(self) -> bool:
        """Whether any part that goes in bears a core charge."""
        numbers = (part.core_offer for part in self.charge.parts if part.core_offer is not None)
        return any(self.problem.offer[number].core_cents for number in numbers)

    def _cautions(self, cautions: Sequence[Caution]) -> None:
        """The cautions, as many as one page holds; the count of those that stand on the sheet of rules only."""
        self.page.part(self.labels("cautions"))
        room = CAUTION_LINES
        for number, caution in enumerate(cautions):
            room -= lines_of(clean(caution.says), sum(self.page.widths))
            if room < 0:
                self.page.paragraph(self.labels("more_cautions", count=len(cautions) - number))
                return
            self.page.paragraph(f"- {caution.says}")

    def _signature(self) -> None:
        """A line to sign on."""
        page = self.page
        page.skip(2)
        page.wide(0, len(page.widths) - 1, self.labels("accepted"), "signed")
        page.line([], "signed", len(page.widths))


def _about(plan: Plan, say: Labels, stamp: str) -> list[tuple[str, str]]:
    problem = plan.problem
    job, era = problem.job, problem.family.era[problem.setting.era]
    unit, car = job.unit, job.vehicle
    told = [("vin", car.vin), ("built", car.built), ("model_year", car.model_year)] if car else []
    built = unit.built or (say("model_year", value=unit.model_year) if unit.model_year else say("built_unknown"))
    here = plan.last_arrival
    return [
        (say("customer"), job.job.customer or "-"),
        (say("transmission"), problem.family.family.name),
        (say("unit"), era.name),
        (say("unit_built"), built),
        (say("unit_tag"), unit.tag or "-"),
        (say("vehicle"), ", ".join(say(name, value=value) for name, value in told if value is not None) or "-"),
        (say("wanted_by"), job.job.need_by.isoformat() if job.job.need_by else "-"),
        (say("parts_here"), here.isoformat() if here else say("days_none")),
        (say("currency"), problem.shop.currency),
        (say("quote"), stamp),
    ]
