"""What a number of pieces costs by packs, breaks, lengths, reels and sheets, and which offers may be taken."""

import math
from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.parts.buying import (
    Item,
    Purchase,
    Want,
    allowed_offers,
    cheapest,
    grid,
    items_of,
    left_over,
    mixed_prices,
    packs_wanted,
    pieces_in,
    price_of,
)
from optimise.parts.offers import Offer

DAY = 86400.0


def offer(price: int = 100, supplier: str = "north", **rest: object) -> Offer:
    return Offer.model_validate({"part": "X", "supplier": supplier, "price": price, **rest})


def pieces(number: int, **rest: object) -> Want:
    return Want("X", number, **rest)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("pack", "least", "stock", "amount", "packs"),
    [
        (1.0, 0.0, None, 7, 7),
        (5.0, 0.0, None, 7, 2),
        (5.0, 0.0, None, 10, 2),
        (5.0, 0.0, None, 11, 3),
        (5.0, 0.0, 10.0, 10, 2),
        (5.0, 0.0, 12.0, 11, None),  # twelve in stock are two packs of five
        (1.0, 10.0, None, 7, 10),
        (4.0, 10.0, None, 7, 3),
        (1.0, 10.0, 9.0, 7, None),
        (1.0, 0.0, 0.0, 1, None),
    ],
)
def test_packs_cover_the_pieces_within_the_stock(
    pack: float, least: float, stock: float | None, amount: int, packs: int | None
) -> None:
    found = cheapest([offer(pack=pack, quantity_min=least, stock=stock)], pieces(amount))
    assert (None if found is None else [way.packs for way in found]) == (None if packs is None else [packs])


@pytest.mark.parametrize(
    ("step", "stock", "metres", "packs"),
    [
        (0.1, None, 0.3, 3),  # 0.3 / 0.1 is a hair below 3 in binary
        (0.1, None, 0.7, 7),  # 0.7 / 0.1 is a hair below 7
        (0.1, 0.3, 0.1 + 0.2, 3),  # 0.1 + 0.2 is a hair above 0.3
        (0.1, 0.3, 0.31, None),
        (0.5, 2.5, 2.4, 5),
        (0.3048, None, 6 * 0.3048, 6),
    ],
)
def test_steps_cover_a_length(step: float, stock: float | None, metres: float, packs: int | None) -> None:
    found = cheapest([offer(pack=step, stock=stock, sold_by="length")], pieces(1, length=metres))
    assert (None if found is None else found[0].packs) == packs


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 2000), st.integers(1, 200), st.sampled_from([1000, 100, 10, 4, 3]))
def test_steps_of_a_fraction_of_a_metre_are_counted_exactly(amount: int, pack: int, per_metre: int) -> None:
    exact = math.ceil(Fraction(amount, per_metre) / Fraction(pack, per_metre))
    step = offer(pack=pack / per_metre, sold_by="length")
    assert packs_wanted(step, pieces(1, length=amount / per_metre)) == exact
    assert pieces_in(step, exact, pieces(1, length=amount / per_metre)) == Fraction(exact * pack, amount) // 1
    assert exact == 1 or pieces_in(step, exact - 1, pieces(1, length=amount / per_metre)) == 0


def test_cheapest_of_price_breaks_depends_on_the_number() -> None:
    breaks = [offer(100), offer(90, quantity_min=10), offer(70, quantity_min=25)]
    assert cheapest(breaks, pieces(5)) == (Purchase(breaks[0], 5, 500),)
    assert cheapest(breaks, pieces(12)) == (Purchase(breaks[1], 12, 1080),)
    assert cheapest(breaks, pieces(30)) == (Purchase(breaks[2], 30, 2100),)


def test_more_is_bought_where_the_next_price_break_costs_less() -> None:
    breaks = [offer(100), offer(90, quantity_min=10), offer(70, quantity_min=25)]
    assert cheapest(breaks, pieces(20)) == (Purchase(breaks[2], 25, 1750),)
    stocked = [offer.model_copy(update={"stock": 24.0}) for offer in breaks]
    assert cheapest(stocked, pieces(20)) == (Purchase(stocked[1], 20, 1800),)


def test_price_breaks_of_one_pack_are_not_mixed() -> None:
    # Ten at 90 and one at 100 would undercut eleven at 95 each, but the whole purchase has one price.
    breaks = [offer(95), offer(90, quantity_min=10, stock=10.0)]
    assert price_of(breaks, pieces(11)) == 1045


def test_packs_of_different_sizes_and_suppliers_are_mixed() -> None:
    bag, single, other = offer(420, pack=5), offer(100), offer(95, "south", stock=1.0)
    assert cheapest([bag, single], pieces(6)) == (Purchase(bag, 1, 420), Purchase(single, 1, 100))
    assert cheapest([bag, single, other], pieces(6)) == (Purchase(bag, 1, 420), Purchase(other, 1, 95))
    assert cheapest([bag, single], pieces(4)) == (Purchase(single, 4, 400),)
    assert cheapest([bag, single], pieces(9)) == (Purchase(bag, 1, 420), Purchase(single, 4, 400))


def test_own_parts_cost_nothing_and_the_rest_is_bought() -> None:
    offers = [offer(100), offer(0, "own", stock=3.0)]
    assert cheapest(offers, pieces(3)) == (Purchase(offers[1], 3, 0),)
    assert cheapest(offers, pieces(4)) == (Purchase(offers[0], 1, 100), Purchase(offers[1], 3, 0))


def test_a_roll_is_cut_for_all_pieces_together_and_a_reel_joins_none() -> None:
    roll, reel = offer(40, sold_by="length", pack=0.5), offer(40, sold_by="reel", pack=5.0)
    assert cheapest([roll], pieces(3, length=0.25)) == (Purchase(roll, 2, 80),)
    assert pieces_in(reel, 2, pieces(1, length=1.8)) == 4  # two of each reel, though 10 m would make five
    assert cheapest([reel], pieces(5, length=1.8)) == (Purchase(reel, 3, 120),)
    assert cheapest([reel], pieces(1, length=5.1)) is None


def test_what_is_over_on_two_rolls_is_not_joined() -> None:
    rolls = [offer(100, name, sold_by="length", pack=0.5, stock=1.5) for name in ("north", "south")]
    assert price_of(rolls, pieces(2, length=1.0)) == 400
    assert price_of(rolls, pieces(3, length=1.0)) is None


@pytest.mark.parametrize(
    ("sheet", "size", "kerf", "expected"),
    [
        ((1.0, 1.0), (0.5, 0.5), 0.0, (2, 2)),
        ((1.0, 1.0), (0.5, 0.5), 0.003, (1, 1)),
        ((1.003, 1.003), (0.5, 0.5), 0.003, (2, 2)),
        ((1.2, 0.6), (0.4, 0.25), 0.0, (3, 2)),
        ((0.6, 1.2), (0.4, 0.25), 0.0, (2, 3)),  # turned by a quarter
        ((0.3, 0.3), (0.4, 0.2), 0.0, (0, 1)),
        ((0.9, 0.1), (0.1, 0.3), 0.0, (3, 1)),
    ],
)
def test_pieces_are_cut_in_rows_and_columns(
    sheet: tuple[float, float], size: tuple[float, float], kerf: float, expected: tuple[int, int]
) -> None:
    assert grid(sheet, size, kerf) == expected


def test_panels_are_cut_from_stock_sheets_and_faces_from_a_diffuser() -> None:
    sheet = offer(900, sold_by="sheet", sheet_width=1.25, sheet_height=0.7)
    board = pieces(1, size=(0.6, 0.3), kerf=0.003)
    assert pieces_in(sheet, 1, board) == 4
    assert left_over([Purchase(sheet, 1, 900)], board) == 3
    film = pieces(3, size=(0.5, 0.5), sheet=(1.2, 1.1))
    assert pieces_in(offer(500), 1, film) == 4
    assert price_of([offer(500)], film) == 500
    assert price_of([offer(500)], pieces(5, size=(0.5, 0.5), sheet=(1.2, 1.1))) == 1000


def test_tie_goes_to_one_purchase_and_the_first_offer() -> None:
    offers = [offer(100, "south"), offer(50, "north", pack=0.5)]
    assert cheapest(offers, pieces(2)) == (Purchase(offers[0], 2, 200),)
    assert cheapest(offers[::-1], pieces(2)) == (Purchase(offers[1], 4, 200),)


def test_nothing_is_bought_where_no_offers_can_supply_it() -> None:
    assert cheapest([], pieces(1)) is None
    assert cheapest([offer(stock=2.0), offer(supplier="south", stock=0.0)], pieces(3)) is None
    assert cheapest([offer(stock=2.0), offer(supplier="south", stock=1.0)], pieces(3)) is not None


OFFERS = st.lists(
    st.builds(
        offer,
        st.integers(0, 500),
        st.sampled_from(["north", "south"]),
        pack=st.sampled_from([1.0, 2.0, 5.0]),
        quantity_min=st.sampled_from([0.0, 5.0, 12.0]),
        stock=st.sampled_from([None, 3.0, 12.0, 40.0]),
    ),
    max_size=5,
)


def every_price(offers: Sequence[Offer], wanted: int) -> int | None:
    """Return the least price over all numbers of packs of all items, gone through one by one."""
    shelves: dict[tuple[str, float], list[Offer]] = {}
    for each in offers:
        shelves.setdefault((each.supplier, each.pack), []).append(each)
    ways = []
    for rows in shelves.values():
        mine = [(0, 0)]
        for each in rows:
            for packs in range(1, 14):
                number = packs * each.pack
                if number >= each.quantity_min and (each.stock is None or number <= each.stock):
                    mine.append((int(number), packs * each.price))
        ways.append(mine)
    totals = [
        sum(cents for _, cents in chosen) for chosen in product(*ways) if sum(number for number, _ in chosen) >= wanted
    ]
    return min(totals, default=None)


@settings(max_examples=60, deadline=None)
@given(OFFERS, st.integers(1, 13))
def test_cheapest_is_the_least_of_all_mixtures(offers: list[Offer], wanted: int) -> None:
    best, exact = cheapest(offers, pieces(wanted)), every_price(offers, wanted)
    assert (None if best is None else sum(way.line for way in best)) == exact
    assert price_of(offers, pieces(wanted)) == exact
    if best is not None:
        assert sum(int(way.packs * way.offer.pack) for way in best) >= wanted
        for way in best:
            assert way.packs * way.offer.pack >= way.offer.quantity_min
    prices = mixed_prices(items_of(offers), pieces(wanted))
    for number in range(1, wanted + 1):
        exact = every_price(offers, number)
        assert prices[number] == (np.inf if exact is None else exact)


@settings(max_examples=60, deadline=None)
@given(OFFERS, st.integers(1, 13))
def test_useful_purchases_are_beaten_by_none(offers: list[Offer], wanted: int) -> None:
    for item in items_of(offers):
        ways = item.useful(pieces(wanted))
        for before, after in pairwise(ways):
            assert before.line <= after.line
            assert item.pieces(before.packs, pieces(wanted)) < min(item.pieces(after.packs, pieces(wanted)), wanted)


def test_an_item_knows_its_stock() -> None:
    assert Item((offer(stock=3.0), offer(stock=None, quantity_min=5.0))).most is None
    assert Item((offer(stock=3.0), offer(stock=8.0, quantity_min=5.0))).most == 8


NORTH = offer(lead_time=2 * DAY)
SOUTH = offer(supplier="south", lead_time=14 * DAY)
VAGUE = offer(supplier="south")
OWN = offer(0, "own")
ALL = (NORTH, SOUTH, VAGUE, OWN)


@pytest.mark.parametrize(
    ("suppliers", "deadline", "allowed"),
    [
        (None, None, ALL),
        (["north"], None, (NORTH, OWN)),
        ([], None, (OWN,)),
        (None, 14 * DAY, (NORTH, SOUTH, OWN)),
        (None, 13.9 * DAY, (NORTH, OWN)),
        (None, 0.0, (OWN,)),
        (["south"], 14 * DAY, (SOUTH, OWN)),
        (["south", "north"], None, ALL),
    ],
)
def test_offers_are_those_of_the_suppliers_that_arrive_in_time(
    suppliers: list[str] | None, deadline: float | None, allowed: tuple[Offer, ...]
) -> None:
    assert allowed_offers(ALL, suppliers, deadline) == allowed


def test_an_offer_ends_with_its_last_day_and_what_is_owned_does_not() -> None:
    ends, owned = offer(until=date(2031, 1, 31)), offer(0, "own", until=date(2020, 1, 1))
    assert allowed_offers((ends, owned, NORTH), None, None, date(2031, 1, 31)) == (ends, owned, NORTH)
    assert allowed_offers((ends, owned, NORTH), None, None, date(2031, 2, 1)) == (owned, NORTH)
    assert allowed_offers((ends, owned), None, None, None) == (ends, owned)


def test_one_name_given_as_an_iterator_is_not_used_up() -> None:
    assert allowed_offers((NORTH, NORTH), iter(["north"]), None) == (NORTH, NORTH)
