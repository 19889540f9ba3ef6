"""Trade facts of four styles of solenoid block, told of an unnamed family: common practice, no source.

The family, its codes, prices and suppliers are invented. The facts are what rebuilders commonly say of a unit whose block was
changed three times: how many solenoids and check balls to count, what goes back to the first year and with which plate,
and what goes with nothing else. Each is asked of the tool through files of its own, as a shop would write them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from sourcing import open_shop, quote_job
from sourcing.book.bench import Bench, identify
from sourcing.book.family import Family, read_family
from sourcing.book.marks import Seen
from sourcing.book.standing import Standing
from sourcing.plan import Plan

BOOK = """
format = 1
[family]
code = "unnamed"
name = "An unnamed family"

[[era]]
code = "y1"
name = "first style"
from = "2000-01"
to = "2000-12"
[[era]]
code = "y2"
name = "second style"
from = "2001-01"
to = "2004-12"
[[era]]
code = "y3"
name = "third style"
from = "2005-01"
to = "2008-12"
[[era]]
code = "y4"
name = "fourth style, last valve body"
from = "2009-01"

[[fact]]
code = "shift"
ask = "Is there a tap slot beside the lever?"
values = ["plain", "tap"]
of = "vehicle"

[[position]]
code = "block"
name = "Solenoid block"
lead = true
[[position]]
code = "plate"
name = "Range plate"
[[position]]
code = "screen"
name = "Screen"
[[position]]
code = "body"
name = "Valve body"

[[mark]]
code = "solenoids"
position = "block"
ask = "How many solenoids?"
[[mark]]
code = "balls"
position = "body"
ask = "How many check balls?"

[[design]]
code = "block-1"
position = "block"
name = "First-style block"
fitted = ["y1"]
marks = {solenoids = 7}
[[design]]
code = "block-2"
position = "block"
name = "Second-style block"
fitted = ["y2"]
retrofits = ["y1", "y3"]
marks = {solenoids = 7}
[[design]]
code = "block-3"
position = "block"
name = "Third-style block"
fitted = ["y3"]
marks = {solenoids = 6}
[[design]]
code = "block-4"
position = "block"
name = "Fourth-style block"
fitted = ["y4"]
marks = {solenoids = 8}
[[design]]
code = "plate-1"
position = "plate"
name = "First-style plate"
fitted = ["y1"]
[[design]]
code = "plate-2"
position = "plate"
name = "Second-style plate"
fitted = ["y2"]
retrofits = ["y1", "y3"]
[[design]]
code = "plate-tap"
position = "plate"
name = "Tap-shift plate"
fitted = ["y2", "y3"]
[[design]]
code = "plate-3"
position = "plate"
name = "Third-style plate"
fitted = ["y3"]
[[design]]
code = "plate-4"
position = "plate"
name = "Fourth-style plate"
fitted = ["y4"]
[[design]]
code = "screen-1"
position = "screen"
name = "First screen"
fitted = ["y1"]
[[design]]
code = "screen-23"
position = "screen"
name = "Screen of the second and third style"
fitted = ["y2", "y3"]
[[design]]
code = "screen-4"
position = "screen"
name = "Fourth screen"
fitted = ["y4"]
[[design]]
code = "body-1"
position = "body"
name = "First valve body"
fitted = ["y1"]
marks = {balls = 7}
[[design]]
code = "body-2"
position = "body"
name = "Valve body of the second and third style"
fitted = ["y2", "y3"]
marks = {balls = 5}
[[design]]
code = "body-4"
position = "body"
name = "Last valve body"
fitted = ["y4"]
marks = {balls = 5}

[[rule]]
code = "own-plate"
says = "Each block takes only its own plate, or the tap-shift plate where it has that contact"
source = "common practice, no source"
allow = {positions = ["block", "plate"], rows = [
    ["block-1", "plate-1"], ["block-2", "plate-2"], ["block-2", "plate-tap"], ["block-3", "plate-3"],
    ["block-3", "plate-tap"], ["block-4", "plate-4"],
]}
[[rule]]
code = "tap"
says = "A tap slot needs the tap-shift plate"
source = "common practice, no source"
when = {shift = ["tap"], era = ["y2", "y3"]}
need = {plate = ["plate-tap"]}
[[rule]]
code = "plain"
says = "Without a tap slot the tap-shift plate has nothing to talk to"
source = "common practice, no source"
when = {shift = ["plain"]}
never = {plate = ["plate-tap"]}
[[rule]]
code = "last-body"
says = "Nothing crosses the last change of valve body"
source = "common practice, no source"
when = {body = ["body-4"]}
need = {block = ["block-4"], plate = ["plate-4"], screen = ["screen-4"]}
[[rule]]
code = "before-last-body"
says = "Nothing crosses the last change of valve body, the other way either"
source = "common practice, no source"
when = {body = ["body-1", "body-2"]}
never = {block = ["block-4"]}
"""

PRICES = {
    "block-1": "300.00",
    "block-2": "200.00",
    "block-3": "180.00",
    "block-4": "260.00",
    "plate-1": "40.00",
    "plate-2": "50.00",
    "plate-tap": "60.00",
    "plate-3": "45.00",
    "plate-4": "55.00",
    "screen-1": "12.00",
    "screen-23": "14.00",
    "screen-4": "16.00",
    "body-1": "150.00",
    "body-2": "140.00",
    "body-4": "170.00",
}
BUILT = {"y1": "2000-06", "y2": "2003-06", "y3": "2006-06", "y4": "2010-06"}
STYLES = ("1", "2", "3", "4")
Quote = Callable[..., Plan]


@pytest.fixture
def quoted(tmp_path: Path) -> Quote:
    """Quote a unit of an era: `prices` override the sheet, `found` and `limits` are lines of the job."""

    def make(
        era: str,
        shift: str = "plain",
        prices: Mapping[str, str] | None = None,
        found: str = "",
        limits: str = "",
        told: str = BOOK,
    ) -> Plan:
        catalogs = tmp_path / "catalogs"
        (catalogs / "unnamed").mkdir(parents=True, exist_ok=True)
        (catalogs / "price-sheets" / "counter").mkdir(parents=True, exist_ok=True)
        asked = {**PRICES, **(prices or {})}
        (catalogs / "shop.toml").write_text('currency = "USD"\n', encoding="utf-8")
        (catalogs / "suppliers.toml").write_text(
            '[[supplier]]\ncode = "counter"\nname = "Over the counter"\n', encoding="utf-8"
        )
        (catalogs / "unnamed" / "interchange.toml").write_text(told, encoding="utf-8")
        parts = [f"counter,N-{design},{design},reman" for design in asked]
        rows = [f"N-{design},{price}" for design, price in asked.items()]
        write(catalogs / "unnamed" / "parts.csv", ["supplier,part_number,fills,condition", *parts])
        write(catalogs / "price-sheets" / "counter" / "2026-01-02.csv", ["Part Number,Price", *rows])
        job = tmp_path / "job.toml"
        head = f'[job]\nnumber = "1"\nfamily = "unnamed"\ndate = 2026-01-05\n[unit]\nbuilt = "{BUILT[era]}"\n'
        job.write_text(f'{head}facts = {{shift = "{shift}"}}\n[found]\n{found}\n[limits]\n{limits}\n', encoding="utf-8")
        return quote_job(open_shop(catalogs), job).plan

    return make


def write(path: Path, lines: list[str]) -> None:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture
def book(tmp_path: Path) -> Family:
    path = tmp_path / "unnamed" / "interchange.toml"
    path.parent.mkdir()
    path.write_text(BOOK, encoding="utf-8")
    return read_family(path)


def combination(plan: Plan) -> dict[str, str]:
    assert plan.status == "proven", [reason.says for reason in plan.reasons]
    assert plan.choice is not None
    return dict(plan.choice.combination)


def why_not(plan: Plan) -> str:
    assert plan.status == "impossible"
    return " ".join(reason.says for reason in plan.reasons)


def test_a_second_style_block_goes_back_to_the_first_year_when_its_own_plate_comes_with_it(quoted: Quote) -> None:
    held = combination(quoted("y1", limits='require = ["block-2"]'))
    assert (held["block"], held["plate"]) == ("block-2", "plate-2")
    assert (held["screen"], held["body"]) == ("screen-1", "body-1")


def test_it_does_not_go_back_onto_the_first_plate(quoted: Quote) -> None:
    assert "own plate" in why_not(quoted("y1", limits='require = ["block-2", "plate-1"]'))


def test_the_first_plate_that_was_found_is_not_kept_under_a_second_style_block(quoted: Quote) -> None:
    plan = quoted("y1", found='plate = "plate-1"', limits='keep = ["plate"]\nrequire = ["block-2"]')
    assert combination(plan)["plate"] == "plate-2"
    assert plan.choice is not None and plan.choice.kept == ()


@pytest.mark.parametrize("era", ["y2", "y3"])
def test_a_first_style_block_goes_no_further(quoted: Quote, era: str) -> None:
    assert "does not belong in a unit" in why_not(quoted(era, limits='require = ["block-1"]'))


def test_a_second_style_block_serves_a_tap_shift_unit_with_the_tap_shift_plate(quoted: Quote) -> None:
    held = combination(quoted("y2", shift="tap", limits='require = ["block-2"]'))
    assert (held["block"], held["plate"]) == ("block-2", "plate-tap")


def test_it_does_not_serve_a_tap_shift_unit_with_its_plain_plate(quoted: Quote) -> None:
    assert "tap slot" in why_not(quoted("y2", shift="tap", limits='require = ["plate-2"]'))


def test_a_unit_without_taps_has_the_plain_plate(quoted: Quote) -> None:
    assert combination(quoted("y2"))["plate"] == "plate-2"


def test_one_screen_serves_second_and_third_style_but_not_the_first(quoted: Quote) -> None:
    assert combination(quoted("y2"))["screen"] == combination(quoted("y3"))["screen"] == "screen-23"
    assert combination(quoted("y1"))["screen"] == "screen-1"
    assert "does not belong in a unit" in why_not(quoted("y1", limits='require = ["screen-23"]'))


def test_solenoids_run_seven_seven_six_eight(book: Family) -> None:
    assert [book.design[f"block-{style}"].marks["solenoids"] for style in STYLES] == [7, 7, 6, 8]


def test_the_third_style_has_one_solenoid_less_than_the_second(book: Family) -> None:
    second, third = (book.design[f"block-{style}"].marks["solenoids"] for style in ("2", "3"))
    assert third == second - 1


def test_check_balls_run_seven_then_five(book: Family) -> None:
    assert [book.design[body].marks["balls"] for body in ("body-1", "body-2", "body-4")] == [7, 5, 5]


def test_six_solenoids_on_the_bench_are_a_third_style_block(quoted: Quote) -> None:
    plan = quoted("y3", found="block = {solenoids = 6}", limits='keep = ["block"]')
    assert combination(plan)["block"] == "block-3"
    assert plan.choice is not None and plan.choice.kept == ("block",)


def test_seven_solenoids_alone_do_not_tell_the_first_style_from_the_second(quoted: Quote) -> None:
    plan = quoted("y1", found="block = {solenoids = 7}", limits='keep = ["block"]')
    assert plan.problem.found["block"] == ("block-1", "block-2")
    assert plan.choice is not None and plan.choice.kept == ()
    assert any("exactly one" in note for note in plan.problem.notes)


@pytest.mark.parametrize("part", ["block-4", "plate-4", "screen-4", "body-4"])
@pytest.mark.parametrize("era", ["y1", "y2", "y3"])
def test_nothing_of_the_last_style_goes_back(quoted: Quote, era: str, part: str) -> None:
    assert quoted(era, limits=f'require = ["{part}"]').status == "impossible"


@pytest.mark.parametrize("part", [design for design in PRICES if not design.endswith("4")])
def test_nothing_earlier_goes_into_the_last_style(quoted: Quote, part: str) -> None:
    assert quoted("y4", limits=f'require = ["{part}"]').status == "impossible"


def test_the_last_style_is_whole_by_itself(quoted: Quote) -> None:
    held = combination(quoted("y4"))
    assert held == {"block": "block-4", "plate": "plate-4", "screen": "screen-4", "body": "body-4"}


def test_the_rule_itself_bars_the_crossing_even_where_eras_would_let_it(quoted: Quote) -> None:
    """With the last block and plate written down for the third era as well, the valve body still refuses them."""
    told = BOOK
    for name in ("Fourth-style block", "Fourth-style plate"):
        told = told.replace(f'name = "{name}"\nfitted = ["y4"]', f'name = "{name}"\nfitted = ["y3", "y4"]')
    assert told.count('"y3", "y4"') == 2
    assert "crosses the last change of valve body" in why_not(quoted("y3", limits='require = ["block-4"]', told=told))


ON_THE_BENCH = {
    "y1": 'plate = "plate-1"\nscreen = "screen-1"\nbody = "body-1"',
    "y3": 'plate = "plate-3"\nscreen = "screen-23"\nbody = "body-2"',
}
KEPT = 'keep = ["plate", "screen", "body"]'


# The exact block stands on the plate that was found. The other style comes at 200 with its own plate at 50: 250.
@pytest.mark.parametrize("exact", ["400.00", "250.01"])
@pytest.mark.parametrize(("era", "block"), [("y1", "block-1"), ("y3", "block-3")])
def test_when_the_exact_block_climbs_the_second_style_with_the_right_plate_is_cheaper(
    quoted: Quote, era: str, block: str, exact: str
) -> None:
    plan = quoted(era, prices={block: exact}, found=ON_THE_BENCH[era], limits=KEPT)
    held = combination(plan)
    assert (held["block"], held["plate"]) == ("block-2", "plate-2")
    assert plan.cost == 25000


@pytest.mark.parametrize("exact", ["249.99", "150.00"])
@pytest.mark.parametrize(("era", "block"), [("y1", "block-1"), ("y3", "block-3")])
def test_when_it_falls_it_is_not(quoted: Quote, era: str, block: str, exact: str) -> None:
    plan = quoted(era, prices={block: exact}, found=ON_THE_BENCH[era], limits=KEPT)
    assert combination(plan)["block"] == block
    assert plan.cost == round(100 * float(exact))


def test_in_a_tap_shift_unit_the_older_style_lands_on_the_tap_shift_plate_that_is_there(quoted: Quote) -> None:
    found = ON_THE_BENCH["y3"].replace("plate-3", "plate-tap")
    # The plate is kept under either block: block 2 at 200 against block 3.
    dear = quoted("y3", shift="tap", prices={"block-3": "200.01"}, found=found, limits=KEPT)
    assert (combination(dear)["block"], combination(dear)["plate"]) == ("block-2", "plate-tap")
    cheap = quoted("y3", shift="tap", prices={"block-3": "199.99"}, found=found, limits=KEPT)
    assert (combination(cheap)["block"], combination(cheap)["plate"]) == ("block-3", "plate-tap")


def test_at_the_same_cost_what_was_found_stays(quoted: Quote) -> None:
    plan = quoted("y1", prices={"block-1": "250.00"}, found=ON_THE_BENCH["y1"], limits=KEPT)
    assert combination(plan)["block"] == "block-1"


# From what can be counted alone, without a date (common practice, no source).
CONNECTOR = """
[[mark]]
code = "connector"
position = "block"
ask = "Is the connector of the block round or square?"
values = ["round", "square"]
"""


def on_the_bench(tmp_path: Path, **found: dict[str, Seen]) -> Bench:
    """What is told of a unit of which nothing is known but counts."""
    book = BOOK.replace("marks = {solenoids = 7}", 'marks = {solenoids = 7, connector = "round"}', 1)
    book = book.replace("marks = {solenoids = 7}\n", 'marks = {solenoids = 7, connector = "square"}\n', 1)
    path = tmp_path / "unnamed" / "interchange.toml"
    path.parent.mkdir(parents=True)
    path.write_text(book + CONNECTOR, encoding="utf-8")
    family = read_family(path)
    return identify(family, [Standing(era, (era,)) for era in family.era], dict(found))


def likeliest(bench: Bench, position: str) -> str:
    return max(bench.candidates[position], key=lambda one: one.chance or 0).design


@pytest.mark.parametrize(("solenoids", "balls", "style"), [(7, 7, "y1"), (7, 5, "y2"), (6, 5, "y3"), (8, 5, "y4")])
def test_from_counts_alone_the_style_is_found(solenoids: int, balls: int, style: str, tmp_path: Path) -> None:
    bench = on_the_bench(tmp_path, block={"solenoids": solenoids}, body={"balls": balls})
    assert bench.likeliest.standing.era == style
    assert likeliest(bench, "block") == f"block-{style[1]}"


def test_where_the_count_leaves_two_blocks_the_connector_is_asked_for_first(tmp_path: Path) -> None:
    bench = on_the_bench(tmp_path, block={"solenoids": 7})
    assert [one.design for one in bench.candidates["block"]] == ["block-1", "block-2"]
    assert {look.mark.code for look in bench.looks[:2]} == {"connector", "balls"}
    look = next(look for look in bench.looks if look.mark.code == "connector")
    assert {outcome.answer: outcome.leaves for outcome in look.outcomes} == {
        "round": ("block-1",), "square": ("block-2",)}  # fmt: skip
    bench = on_the_bench(tmp_path / "again", block={"solenoids": 7}, body={"balls": 5})
    assert bench.looks[0].mark.code == "connector"
    assert [one.design for one in bench.candidates["block"]] == ["block-1", "block-2"]
