"""Money in the program against the cheapest basket, which is found without a solver."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from random import Random

import plain_parts
import priced_parts
import pytest
from random_shops import offer, random_shops

from optimise.model.cells import Formulation, first_cells
from optimise.model.exact import bought, build_of, wants_of
from optimise.model.formulation import add_block
from optimise.model.heuristic import choice_of
from optimise.model.kept import everything
from optimise.model.problem import build_problem
from optimise.model.purse import Purse, Taken, cost_terms, lots_taken, singles_taken
from optimise.model.solver import Program, Status
from optimise.parts import Offer, Supplier
from optimise.parts.basket import Counter, charges
from optimise.parts.buying import Want
from optimise.parts.cutting import gathered


def least(
    lots: Mapping[Want, int],
    singles: Sequence[Mapping[Want, int]],
    offers: Mapping[str, Sequence[Offer]],
    sellers: Sequence[Supplier] = (),
    most: int | None = None,
) -> tuple[int | None, Program]:
    """Return what a program pays for so many pieces at the least; None where they cannot be had."""
    p = Program()

    def taken(wants: Mapping[Want, int]) -> Taken:
        return {want: {p.variable(1, 1, whole=True): float(number)} for want, number in wants.items()}

    # Lots have a variable that counts the pieces, of which more could be taken.
    many: Taken = {}
    for want, number in lots.items():
        v = p.variable(0, number + 2, whole=True)
        p.at_least({v: 1.0}, float(number))
        many[want] = {v: 1.0}
    terms = Purse(p, offers, sellers, most).terms(many, [taken(wants) for wants in singles])
    p.minimise(terms)
    outcome = p.solve(0.5, None, 1)
    if outcome.status is Status.IMPOSSIBLE:
        return None, p
    assert outcome.status is Status.OPTIMAL
    # What is paid is what the objective says, but for the solver's tolerance.
    assert outcome.objective == pytest.approx(round(outcome.objective), abs=0.1)
    return round(outcome.objective), p


def true_least(
    wants: Sequence[Want],
    offers: Mapping[str, Sequence[Offer]],
    sellers: Sequence[Supplier] = (),
    most: int | None = None,
) -> int | None:
    basket = Counter(offers, {seller.supplier: seller for seller in sellers}, most).basket(gathered(wants))
    return None if basket.missing else basket.cents


def one(part: str) -> Want:
    return Want(part, 1)


@pytest.mark.parametrize("number", range(3, 7))
def test_the_program_pays_what_the_cheapest_basket_costs(number: int) -> None:
    offers, sellers, wants, most = random_shops(Random(f"purse {number}"))
    known = [sellers.get(name, Supplier(supplier=name)) for name in ("north", "south", "west")]
    lots = {one(want.part): want.pieces for want in wants[:2]}
    singles = [{one(want.part): want.pieces} for want in wants[2:]]
    orders = [seller for seller in known if most is not None or charges([seller])]
    found, _ = least(lots, singles, offers, orders, most)
    assert found == true_least(wants, offers, known, most)


def sold(*rows: Offer) -> dict[str, tuple[Offer, ...]]:
    offers: dict[str, tuple[Offer, ...]] = {}
    for row in rows:
        offers[row.part] = (*offers.get(row.part, ()), row)
    return offers


NORTH = Supplier(supplier="north", delivery=400, delivery_free_over=3000, order_min=800)


@pytest.mark.parametrize(
    ("goods", "supplier", "paid"),
    [
        (500, NORTH, 1200),  # topped up to 800, then 400 of delivery
        (1000, NORTH, 1400),
        (2550, NORTH, 2950),
        (2700, NORTH, 3000),  # a top-up of 300 is less than delivery
        (3500, NORTH, 3500),
        (500, Supplier(supplier="north", delivery=1), 501),
        (500, Supplier(supplier="north", order_min=501), 501),
        (500, Supplier(supplier="north", delivery=1, delivery_free_over=500), 500),
        # A least order above the value from which delivery is free: never free below it.
        (500, Supplier(supplier="north", delivery=100, delivery_free_over=600, order_min=900), 900),
        (500, Supplier(supplier="north", delivery=0, delivery_free_over=600, order_min=400), 500),
    ],
)
def test_an_order_by_hand(goods: int, supplier: Supplier, paid: int) -> None:
    for lots in (True, False):
        wants = {one("P"): 1}
        found, _ = least(wants if lots else {}, [] if lots else [wants], sold(offer("P", "north", goods)), [supplier])
        assert found == paid
        # No order of what is not bought: then nothing has to be paid.
        q = Program()
        v = q.variable(0, 1, whole=True)
        q.minimise(Purse(q, sold(offer("P", "north", goods)), [supplier], None).terms({}, [{one("P"): {v: 1.0}}]))
        assert q.solve(0.5, None, 1).objective == pytest.approx(0.0, abs=1e-6)


def test_no_more_suppliers_than_may_be_used() -> None:
    rows = [offer("P", "north", 100), offer("Q", "south", 100), offer("R", "west", 100), offer("Q", "north", 900)]
    wants = [{one("P"): 1}, {one("Q"): 1}]
    free = [Supplier(supplier=name) for name in ("north", "south", "west")]
    for most, paid in ((1, 1000), (2, 200), (3, 200)):
        assert least({}, wants, sold(*rows), free, most)[0] == paid
    assert least({}, [*wants, {one("R"): 1}], sold(*rows), free, 1)[0] is None
    assert least({}, [*wants, {one("R"): 1}], sold(*rows), free, 2)[0] == 1100


def reel(supplier: str, price: int, metres: float, **rest: object) -> Offer:
    return offer("P", supplier, price, pack=metres, sold_by="reel", **rest)


def roll(supplier: str, price: int, step: float, **rest: object) -> Offer:
    return offer("P", supplier, price, pack=step, sold_by="length", **rest)


CUTS = {
    "a roll": [roll("north", 40, 0.5)],
    "a roll that may end": [roll("north", 40, 0.5, stock=3.0), roll("own", 70, 5.0)],
    "reels": [reel("north", 300, 2.5)],
    "reels of two sizes": [reel("north", 300, 2.5), reel("north", 500, 5.0)],
    "reels and a roll": [reel("north", 250, 2.5), roll("south", 70, 0.5)],
    "cheaper from two on": [reel("north", 300, 2.5), reel("north", 240, 2.5, quantity_min=5.0)],
    "two ends that are not joined": [roll("north", 40, 0.1, stock=2.5), roll("own", 0, 0.1, stock=0.6)],
    "too short at first": [reel("own", 0, 0.5), reel("north", 300, 2.5)],
    "too short": [reel("north", 300, 1.5)],
    "too short for some": [reel("north", 300, 1.5), reel("south", 450, 2.0)],
}


@pytest.mark.parametrize("way", CUTS)
def test_lengths_are_cut_as_the_basket_cuts_them(way: str) -> None:
    """What lights of several leads take of one cable, and what one of them takes alone."""
    long, short, tiny = (Want("P", 1, length) for length in (1.9, 1.2, 0.6))
    for numbers in ((1, 0, 0), (2, 1, 0), (1, 1, 2), (0, 2, 3)):
        wants = {want: n for want, n in zip((long, short, tiny), numbers, strict=True) if n}
        true = true_least([replace(want, pieces=n) for want, n in wants.items()], sold(*CUTS[way]))
        assert least({}, [{want: n} for want, n in wants.items()], sold(*CUTS[way]))[0] == true, numbers


SHEETS = {
    "sheets": [offer("P", "north", 900, sold_by="sheet", sheet_width=1.0, sheet_height=1.0)],
    "in twos": [offer("P", "north", 1500, sold_by="sheet", sheet_width=1.0, sheet_height=1.0, pack=2.0)],
    "by the piece": [offer("P", "north", 300)],
    "small and large": [
        offer("P", "north", 900, sold_by="sheet", sheet_width=1.0, sheet_height=1.0),
        offer("P", "south", 500, sold_by="sheet", sheet_width=0.5, sheet_height=0.5),
    ],
}


@pytest.mark.parametrize("way", SHEETS)
def test_sheets_are_cut_as_the_basket_cuts_them(way: str) -> None:
    sizes = ((0.7, 0.7), (0.4, 0.4), (0.3, 0.3), (0.9, 0.45))
    shapes = [Want("P", 1, size=size, kerf=0.003) for size in sizes]
    for numbers in ((1, 0, 0, 0), (0, 5, 0, 0), (1, 1, 0, 0), (2, 3, 0, 0), (0, 2, 4, 0), (0, 0, 1, 3), (1, 9, 0, 2)):
        wants = {want: n for want, n in zip(shapes, numbers, strict=True) if n}
        true = true_least([replace(want, pieces=n) for want, n in wants.items()], sold(*SHEETS[way]))
        assert least({}, [{want: n} for want, n in wants.items()], sold(*SHEETS[way]))[0] == true, numbers


@pytest.mark.parametrize(
    ("rows", "pieces", "cents"),
    [
        ([offer("P", "north", 100, pack=5.0)], 11, 300),
        ([offer("P", "north", 100, pack=5.0), offer("P", "south", 30)], 11, 230),
        ([offer("P", "north", 30), offer("P", "north", 20, quantity_min=10.0)], 9, 200),
        ([offer("P", "north", 30), offer("P", "north", 20, quantity_min=10.0)], 6, 180),
        ([offer("P", "north", 30, stock=4.0), offer("P", "south", 50)], 6, 220),
        ([offer("P", "north", 30, stock=4.0)], 6, None),
        ([offer("P", "north", 30, stock=4.0, pack=5.0)], 1, None),
        ([offer("P", "north", 30, quantity_min=4.0)], 1, 120),
        ([offer("P", "north", 30, quantity_min=2.0)], 1, 60),
        # One price for all packs of an item: three at 20 and one at 30 cannot be put together.
        ([offer("P", "north", 30), offer("P", "north", 20, stock=3.0)], 4, 120),
        ([offer("P", "north", 10, stock=3.0, quantity_min=4.0), offer("P", "north", 30)], 4, 120),
        ([], 1, None),
    ],
)
def test_packs_by_hand(rows: list[Offer], pieces: int, cents: int | None) -> None:
    assert least({one("P"): pieces}, [], sold(*rows))[0] == cents
    assert least({}, [{one("P"): pieces}], sold(*rows))[0] == cents
    # Two lights that take of the same part.
    if pieces > 1:
        assert least({}, [{one("P"): 1}, {one("P"): pieces - 1}], sold(*rows))[0] == cents


def test_a_strip_is_cut_from_a_roll_and_what_is_over_on_two_is_not_joined() -> None:
    """0.9 m of 1.0 m: a roll of 1.7 m gives one piece, 2 × 1.7 m in one length three, on two reels two."""
    strip = Want("P", 1, 0.9)
    for sold_by, three in (("length", 340), ("reel", 510)):
        rows = sold(offer("P", "north", 170, pack=1.7, sold_by=sold_by))
        assert least({strip: 3}, [], rows)[0] == three
        assert least({strip: 1}, [], rows)[0] == 170
    # Of two rolls the rests make no piece: 1.7 m and 1.0 m give one piece each, 2.7 m would give three.
    two = sold(
        offer("P", "north", 170, pack=1.7, sold_by="length", stock=1.7),
        offer("P", "south", 100, pack=1.0, sold_by="length", stock=1.0),
    )
    assert least({strip: 2}, [], two)[0] == 270
    assert least({strip: 3}, [], two)[0] is None


def program(
    lots: Mapping[str, int],
    singles: Sequence[Mapping[Want, int]],
    rows: Sequence[Offer],
    *rest: Supplier,
    most: int | None = None,
) -> tuple[list[tuple[float, bool]], int]:
    """Return the upper bound of each variable that money adds to a program and whether it is whole; and its rows."""
    p = Program()
    many = {one(part): {p.variable(0, number, whole=True): 1.0} for part, number in lots.items()}
    single = [{want: {p.variable(0, 1, whole=True): float(n)} for want, n in wants.items()} for wants in singles]
    before = len(p.highs)
    Purse(p, sold(*rows), rest, most).terms(many, single)
    whole = [variable.cat == "Integer" for variable in p._variables]
    return list(zip(p.highs, whole, strict=True))[before:], p.rows


def test_no_more_packs_than_can_be_of_use() -> None:
    """The program is as small as it can be: seven pieces in packs of five are two packs, whatever is in stock."""
    assert program({"P": 7}, [], [offer("P", "north", 100, pack=5.0)]) == ([(2, True)], 1)
    assert program({"P": 1}, [], [offer("P", "north", 100)]) == ([(1, True)], 1)
    # A choice of the price, two rows for each, and that there is one.
    tiers = [offer("P", "north", 100), offer("P", "north", 90, quantity_min=9.0), offer("P", "north", 50, stock=3.0)]
    bounds, rows = program({"P": 7}, [], tiers)
    assert bounds == [(9, True), (1, True), (9, True), (1, True), (3, True), (1, True)]
    assert rows == 1 + 3 * 2 + 1
    # A price from two on alone: whether it is taken, and no more.
    assert program({"P": 1}, [], [offer("P", "north", 90, quantity_min=2.0)]) == ([(2, True), (1, True)], 3)
    # Several lights take so many together at the most.
    assert program({}, [{one("P"): 1}, {one("P"): 2}], [offer("P", "north", 100)]) == ([(3, True)], 1)
    assert program({}, [{one("P"): 2}, {one("P"): 2}], [offer("P", "north", 100, pack=3.0)]) == ([(2, True)], 1)
    p = Program()
    both = {p.variable(0, 1, whole=True): 1.0, p.variable(0, 1, whole=True): 5.0}
    (pack,) = Purse(p, sold(offer("P", "north", 100)), [], None).terms({}, [{one("P"): both}])
    assert p.highs[pack] == 5
    # What is too long for a reel, or too large for a sheet, needs no packs at all.
    long, short = Want("P", 1, 1.9), Want("P", 1, 1.2)
    assert program({}, [{long: 1, short: 1}], [offer("P", "north", 300, pack=1.0, sold_by="reel")]) == ([], 2)
    given = program({}, [{long: 1, short: 1}], [offer("P", "north", 300, pack=1.5, sold_by="reel")])[0]
    # Packs, no long piece, one short piece, and the one way to cut a reel.
    assert given == [(1, True), (0, True), (1, True), (1, True)]


def test_an_order_adds_no_more_than_it_needs() -> None:
    goods = [offer("P", "north", 1000)]
    plain = [(1, True)]
    # Whether it is made, and its cents: goods, and 400 of delivery.
    paid = Supplier(supplier="north", delivery=400)
    assert program({"P": 1}, [], goods, paid) == ([*plain, (1, True), (1400.0, False)], 1 + 2)
    # A least order: up to 800 more, and a row.
    assert program({"P": 1}, [], goods, paid.model_copy(update={"order_min": 800})) == (
        [*plain, (1, True), (2200.0, False)],
        1 + 3,
    )
    # Delivery that may be free: whether it is, with two rows.
    free = paid.model_copy(update={"delivery_free_over": 3000})
    assert program({"P": 1}, [], goods, free) == ([*plain, (1, True), (4400.0, False), (1, True)], 1 + 4)
    assert program({"P": 1}, [], goods, free.model_copy(update={"delivery": 0}))[0] == [
        *plain,
        (1, True),
        (4000.0, False),
    ]
    # Where all may be used, nothing holds them back.
    two = [Supplier(supplier="north"), Supplier(supplier="south")]
    rows = [*goods, offer("P", "south", 1100)]
    assert program({"P": 1}, [], rows, *two, most=2)[1] == program({"P": 1}, [], rows, *two)[1]
    assert program({"P": 1}, [], rows, *two, most=1)[1] == program({"P": 1}, [], rows, *two)[1] + 1


def test_steps_of_a_roll_add_up_to_a_piece() -> None:
    """Three steps of 0.1 m are 0.3 m, whatever floating point makes of a third."""
    strip, rows = Want("P", 1, 0.3), sold(offer("P", "north", 10, pack=0.1, sold_by="length"))
    for pieces in (1, 2, 3):
        assert least({strip: pieces}, [], rows)[0] == 30 * pieces


def formulation(**changes: object) -> Formulation:
    """Return the program of the priced parts with every column, without its money."""
    scenario = plain_parts.SCENARIO.model_copy(update=changes)
    problem = build_problem(priced_parts.parts(), scenario)
    kept = everything(problem)
    f = Formulation(problem, kept, first_cells(problem, kept))
    add_block(f)
    return f


@pytest.mark.parametrize(("copies", "sheets"), [(1, 1), (3, 2)])
def test_a_light_takes_what_the_exact_check_buys(copies: int, sheets: int) -> None:
    f = formulation(look=plain_parts.SCENARIO.look.model_copy(update={"sheets_max": sheets}))
    problem = f.problem
    assert lots_taken(f) == lots_taken(f, 1)
    assert singles_taken(f) == singles_taken(f, 1)
    lots, singles = lots_taken(f, copies), singles_taken(f, copies)
    looked = 0
    for cell, channel, supply in [
        (c, k, s) for c in range(0, len(f.cells), 2) for k in range(0, 56, 9) for s in (0, 2)
    ]:
        mount = (cell + supply) % len(f.mount_vars)
        numbers = {f.channel_vars[channel]: 2, f.cell_vars[cell]: 1, f.supply_vars[supply]: 1, f.mount_vars[mount]: 1}
        if problem.heads.emitter[f.cells[cell].head] != problem.channels.emitter[f.kept.channels[channel]]:
            continue
        choice = choice_of(
            problem,
            f.cells[cell].head,
            int(f.kept.supplies[supply]),
            problem.market.mounts[mount],
            [(int(f.kept.channels[channel]), 2)],
        )
        wants = wants_of(build_of(choice, problem.catalogue), problem.scenario)
        wanted = {replace(want, pieces=1): copies * want.pieces for want in wants}
        found = {
            want: sum(number * numbers.get(v, 0) for v, number in used.items())
            for want, used in (*lots.items(), *singles.items())
        }
        assert {want: number for want, number in found.items() if number} == wanted
        looked += 1
    assert looked > 20


def test_what_a_build_costs_in_the_program_is_what_its_basket_costs() -> None:
    f = formulation()
    terms = cost_terms(f)
    problem, scenario = f.problem, f.problem.scenario
    for channel in range(0, 56, 11):
        head = next(
            i for i, c in enumerate(f.cells) if problem.heads.emitter[c.head] == problem.channels.emitter[channel]
        )
        choice = choice_of(problem, f.cells[head].head, 1, problem.market.mounts[0], [(channel, 1)])
        basket = bought(wants_of(build_of(choice, problem.catalogue), scenario), problem.catalogue, scenario)
        chosen = (f.cell_vars[head], f.channel_vars[channel], f.supply_vars[1], f.mount_vars[0])
        assert sum(terms.get(v, 0.0) for v in chosen) == basket.cents
