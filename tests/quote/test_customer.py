"""The customer's sheet: changed cells move the totals as the tool would, a copy keeps the shop's secrets, choices."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from quote.engines import ENGINES, Values, changed, stored, without_values
from quote.hand import Opened, block_and_screen, chosen
from sourcing.labels import labels_of, languages
from sourcing.plan import Plan
from sourcing.quote.charge import Charge
from sourcing.quote.charging import charge, marked_up
from sourcing.quote.sheets.choices import Choice
from sourcing.quote.workbook import customer_bytes, quote_bytes
from sourcing.shop import Markup

BOOK = """
[[consumable]]
code = "fluid"
name = "Fluid"
quantity = 9.5
unit = "litre"
price = 8.43
[[task]]"""
JOB = """
[quote]
discount = 40.00
[[extra]]
name = "Towing"
amount = 60.00
taxed = "labour"
[[extra]]
name = "Storage"
amount = 12.50
taxed = "no"
[labour]"""
FULL = (
    ("[[task]]", BOOK),
    ("[labour]", f"cores = []\n{JOB}"),
    ("tax_labour = 0.03", "tax_labour = 0.03\ntax_cores = 0.07"),
)


def full(opened: Opened, *changes: tuple[str, str]) -> Plan:
    """Every kind of line at once: a core that stays with the customer, consumables, extras, a discount."""
    return chosen(opened(*FULL, *changes), {"00123": 1, "S-1": 5}, {"block": "00123", "screen": "S-1"})


def places(content: bytes, sheet: str = "Quote") -> dict[str, str]:
    """Where things stand on a sheet: the cell in column E (or C) beside each name."""
    found = {}
    for row in openpyxl.load_workbook(io.BytesIO(content))[sheet].iter_rows():
        for name, cell in ((row[0].value, row[4]), (row[2].value, row[4]), (f"{row[1].value}, quantity", row[2]),
                           (f"{row[1].value}, price", row[3])):  # fmt: skip
            found.setdefault(str(name), cell.coordinate)
    return found


def factors(content: bytes) -> list[str]:
    sheet = openpyxl.load_workbook(io.BytesIO(content))["Parts and sources"]
    return [row[8].coordinate for row in sheet.iter_rows() if not row[8].protection.locked]


def bigger(made: Charge) -> Charge:
    """Twice the blocks."""
    return replace(made, parts=tuple(replace(p, pieces=2) if p.key == "block" else p for p in made.parts),
                   cores=tuple(replace(c, pieces=2) for c in made.cores))  # fmt: skip


def dearer(made: Charge) -> Charge:
    steps = [Markup(up_to=Decimal("10.34"), factor=Decimal("1.9")), Markup(up_to=Decimal(250), factor=Decimal("1.55")),
             Markup(factor=Decimal("1.30"))]  # fmt: skip
    return replace(made, parts=tuple(
        replace(part, price_cents=round(part.cost_cents * marked_up(part.cost_cents, steps))) for part in made.parts))  # fmt: skip


def rates(**new: Decimal) -> Callable[[Charge], Charge]:
    return lambda made: replace(made, rates=replace(made.rates, **new))


def hours(made: Charge) -> Charge:
    return replace(made, work=(replace(made.work[0], hours=Decimal("12.35")), *made.work[1:]))


def fluid(made: Charge) -> Charge:
    return replace(made, consumables=(replace(made.consumables[0], quantity=Decimal("11.25")),))


# What somebody types, and what the tool makes of the same.
CHANGES: dict[str, tuple[dict[str, float], Callable[[Charge], Charge]]] = {
    "hours": ({"The rebuild itself, quantity": 12.35}, hours),
    "an hour's rate": ({"Labour, an hour": 101.15}, rates(labour=Decimal("101.15"))),
    "taxes": ({"Tax on parts and supplies": 0.0725, "Tax on labour": 0.0125, "Tax on core charges": 0.05},
              rates(tax_parts=Decimal("0.0725"), tax_labour=Decimal("0.0125"), tax_cores=Decimal("0.05"))),
    "supplies": ({"Shop supplies, of labour": 0.035, "Shop supplies, at most": 33.33},
                 rates(supplies=Decimal("0.035"), cap=Decimal("33.33"))),
    "discount": ({"Discount": 123.45}, lambda made: replace(made, discount=made.discount.model_copy(
        update={"amount": Decimal("123.45")}))),
    "a discount of more than all": ({"Discount": 99999.0}, lambda made: replace(made, discount=made.discount.model_copy(
        update={"amount": Decimal(99999)}))),
    "fluid": ({"Fluid (litre), quantity": 11.25}, fluid),
    "two blocks": ({"Block one, rebuilt, 12 months warranty, quantity": 2}, bigger),
    "mark-up": ({"factor 0": 1.9, "factor 1": 1.55}, dearer),
}  # fmt: skip


def totals(made: Charge) -> dict[str, int]:
    return {"All together": made.listed_cents, "Before tax": made.before_tax_cents, "Total": made.total_cents}


@pytest.mark.parametrize("engine", ENGINES)
def test_whatever_is_typed_the_totals_move_as_the_tool_would(
    engine: Callable[[Path, Values], Values], opened: Opened, tmp_path: Path
) -> None:
    plan = full(opened)
    content = quote_bytes(plan)
    (tmp_path / "quote.xlsx").write_bytes(content)
    at = places(content) | {f"factor {n}": cell for n, cell in enumerate(factors(content))}
    wrong = {}
    for name, (typed, tool) in {"nothing": ({}, lambda made: made), **CHANGES}.items():
        cells = {
            ("Parts and sources" if key.startswith("factor") else "Quote", at[key]): value
            for key, value in typed.items()
        }
        book = changed(tmp_path / "quote.xlsx", tmp_path / f"{name}.xlsx", cells)
        bare = without_values(book, tmp_path / f"bare {name}.xlsx")
        wanted = totals(tool(charge(plan)))
        found = engine(bare, {("Quote", at[key]): 0.0 for key in wanted})
        got = {key: round(found["Quote", at[key]] * 100, 4) for key in wanted}
        if any(abs(got[key] - wanted[key]) > 1e-4 for key in wanted):
            wrong[name] = (got, wanted)
    assert wrong == {}
    assert len({tuple(totals(tool(charge(plan))).values()) for _, tool in CHANGES.values()}) == len(CHANGES)


def test_what_may_be_changed_is_open_dotted_and_checked_and_all_else_is_locked(opened: Opened) -> None:
    book = openpyxl.load_workbook(io.BytesIO(quote_bytes(full(opened))))
    for sheet in book:
        assert sheet.protection.sheet and not sheet.protection.password
        checked = {cell for rule in sheet.data_validations.dataValidation for cell in str(rule.sqref).split()}
        notes = [rule.prompt for rule in sheet.data_validations.dataValidation]
        assert all(notes)
        open_cells = [cell for row in sheet for cell in row if not cell.protection.locked]
        assert {cell.coordinate for cell in open_cells} == checked
        assert all(cell.fill.patternType == "gray0625" and cell.data_type == "n" for cell in open_cells)
    at = places(quote_bytes(full(opened)))
    assert not book["Quote"][at["Labour, an hour"]].protection.locked
    assert book["Quote"][at["Total"]].protection.locked


def shared(content: bytes) -> Iterator[str]:
    """Everything that a file holds, part by part, unpacked."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        for name in packed.namelist():
            yield name + packed.read(name).decode("utf-8", "replace")


def with_choices(opened: Opened) -> list[Choice]:
    plan = block_and_screen(opened())
    other = chosen(plan.problem, {"K-9": 1}, {"block": "K-9", "plate": "K-9"}, {"block": "K-9"})
    third = chosen(plan.problem, {}, {})
    return [Choice(("choice_cheapest",), plan, charge(plan)), Choice(("choice_soonest",), other, charge(other)),
            Choice(("choice_durable",), third, charge(third))]  # fmt: skip


@pytest.mark.parametrize("several", [False, True], ids=["one plan", "choices"])
def test_a_customers_copy_holds_no_supplier_no_number_no_cost_and_no_margin(several: bool, opened: Opened) -> None:
    plan = block_and_screen(opened())
    content = customer_bytes(plan, with_choices(opened) if several else ())
    book = openpyxl.load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["Quote"] and book["Quote"].sheet_state == "visible"
    problem = plan.problem
    secrets = [terms.name for terms in problem.terms.values()] + list(problem.terms)
    secrets += [str(offer.part.number) for offer in problem.offers] + ["Parts and sources", "margin", ".csv", "markup"]
    words = "".join(shared(content)).casefold()
    assert not [
        secret for secret in secrets if re.search(rf"(?<![a-z0-9]){re.escape(secret.casefold())}(?![a-z0-9])", words)
    ]
    costs = {cents / 100 for purchase in plan.choice.purchases  # type: ignore[union-attr]
             for cents in (purchase.line.offer.cents(purchase.quantity), purchase.line.offer.core_cents,
                           *(step.cents for step in purchase.line.offer.steps))} - {0.0}  # fmt: skip
    costs |= {plan.totals.landed / 100, plan.totals.cash / 100, charge(plan).margin_cents / 100}
    held = {cell.value for row in book["Quote"] for cell in row if isinstance(cell.value, int | float)}
    solved = openpyxl.load_workbook(io.BytesIO(content), data_only=True)["Quote"]
    held |= {cell.value for row in solved for cell in row if isinstance(cell.value, int | float)}
    assert not costs & held
    assert not [cell for row in book["Quote"] for cell in row if cell.data_type == "f" and "!" in cell.value]
    assert all(cell.protection.locked for row in book["Quote"] for cell in row)


def test_the_search_of_a_copy_would_find_what_the_shops_own_file_holds(opened: Opened) -> None:
    words = "".join(shared(quote_bytes(block_and_screen(opened())))).casefold()
    assert all(secret in words for secret in ("northgate", "00123", "margin", "<v>250</v>"))


@pytest.mark.parametrize("engine", ENGINES)
def test_a_copy_and_its_choices_are_recalculated_alike(
    engine: Callable[[Path, Values], Values], opened: Opened, tmp_path: Path
) -> None:
    plan = block_and_screen(opened())
    for name, content in (
        ("copy", customer_bytes(plan, with_choices(opened))),
        ("quote", quote_bytes(plan, choices=with_choices(opened))),
    ):
        path = tmp_path / f"{name}.xlsx"
        path.write_bytes(content)
        ours = stored(path)
        theirs = engine(without_values(path, tmp_path / f"bare-{name}.xlsx"), ours)
        assert {cell: value for cell, value in ours.items() if abs(value - theirs[cell]) > 1e-6} == {}


@pytest.mark.parametrize("engine", ENGINES[:2])
def test_all_choices_move_with_a_rate(engine: Callable[[Path, Values], Values], opened: Opened, tmp_path: Path) -> None:
    choices = with_choices(opened)
    content = quote_bytes(choices[0].plan, choices=choices)
    (tmp_path / "quote.xlsx").write_bytes(content)
    at = places(content)
    typed = {"Labour, an hour": 101.15, "Tax on parts and supplies": 0.0725, "Discount": 17.0}
    cells = {("Quote", at[name]): value for name, value in typed.items()}
    book = changed(tmp_path / "quote.xlsx", tmp_path / "typed.xlsx", cells)
    rows = {f"\u2610  {name}": at[f"\u2610  {name}"] for name in ("Cheapest", "Soonest", "Most durable")}
    found = engine(without_values(book, tmp_path / "bare.xlsx"), {("Quote", cell): 0.0 for cell in rows.values()})
    for choice, cell in zip(choices, rows.values(), strict=True):
        made = rates(labour=Decimal("101.15"), tax_parts=Decimal("0.0725"))(choice.charge)
        made = replace(made, discount=made.discount.model_copy(update={"amount": Decimal(17)}))
        assert round(found["Quote", cell] * 100, 4) == made.total_cents


def test_the_sheet_says_why_a_core_is_charged_and_what_is_warranted(opened: Opened) -> None:
    text = " ".join(
        str(cell.value)
        for row in openpyxl.load_workbook(io.BytesIO(quote_bytes(full(opened))))["Quote"]
        for cell in row
    )
    assert "Block one: the old part stays with you" in text
    assert "Without warranty, since the found part goes back in: Plate one" in text
    assert "rounded to the cent, halves up" in text and "Accepted: name, date, signature" in text


OWN = '\n[in_hand]\nplate = {design = "plate-1", source = "customer"}\n'


def test_a_part_that_the_customer_brought_costs_nothing_and_carries_no_warranty(opened: Opened) -> None:
    problem = opened(("[labour]", f"{OWN}\n[labour]"))
    plan = block_and_screen(problem)
    choice = plan.choice
    assert choice is not None
    from sourcing.breaches import breaches
    from sourcing.plan import plan_of

    mine = replace(choice, kept=("screen",) if "screen" in choice.kept else (), in_hand=("plate",))
    assert breaches(problem, mine) == []
    made = plan_of(problem, mine, plan.status, plan.proof)
    line = next(part for part in charge(made).parts if part.key == "plate")
    assert (line.own, line.amount_cents) == (True, 0)
    sheet = openpyxl.load_workbook(io.BytesIO(customer_bytes(made)))["Quote"]
    text = " ".join(str(cell.value) for row in sheet for cell in row)
    assert "Plate one, supplied by you, no warranty" in text
    assert "Without warranty, since you brought the part: Plate one" in text


def test_every_language_has_the_same_words_with_the_same_places_to_fill() -> None:
    english = labels_of("en")
    for language in languages():
        other = labels_of(language)
        for ours, theirs in ((english.words, other.words), (english.cautions, other.cautions)):
            assert set(ours) == set(theirs), language
            for key in ours:
                assert set(re.findall(r"{\w+}", ours[key])) == set(re.findall(r"{\w+}", theirs[key])), key


def test_a_language_is_one_more_file(opened: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sourcing.labels as labels

    english = (labels.FOLDER / "en.toml").read_text(encoding="utf-8")
    (tmp_path / "words").mkdir()
    (tmp_path / "words" / "xx.toml").write_text(re.sub(r'= "', '= "\u00e4 ', english), encoding="utf-8")
    (tmp_path / "words" / "en.toml").write_text(english, encoding="utf-8")
    monkeypatch.setattr(labels, "FOLDER", tmp_path / "words")
    labels.labels_of.cache_clear()
    problem = opened(("quote_days = 30", 'quote_days = 30\nletterhead = {language = "xx"}'))
    sheet = openpyxl.load_workbook(io.BytesIO(customer_bytes(block_and_screen(problem)))).active
    labels.labels_of.cache_clear()
    assert sheet is not None and sheet.title == "\u00e4 Quote"
    ours = {cell.value for row in sheet for cell in row if isinstance(cell.value, str) and " " in cell.value}
    from_files = ("Invented: A. Person", "Oak four-speed", "the one era", "Block one", "- Look at the tracks", "- Torque",
                  "Solenoid block", "Range plate", "Oil screen", "Fit the block")  # fmt: skip
    plain = [text for text in ours if "\u00e4" not in text and not text.startswith(from_files)]
    assert plain == []
