"""What a number of pieces costs by one offer, and which offers may be taken."""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimise.parts.buying import Purchase, allowed_offers, amount_of, cheapest, packs_for
from optimise.parts.kinds import Offer

DAY = 86400.0


def offer(price: int = 100, supplier: str = "north", **rest: object) -> Offer:
    return Offer.model_validate({"part": "X", "supplier": supplier, "price": price, **rest})


@pytest.mark.parametrize(
    ("pack", "least", "stock", "amount", "packs"),
    [
        (1.0, 0.0, None, 7.0, 7),
        (5.0, 0.0, None, 7.0, 2),
        (5.0, 0.0, None, 10.0, 2),
        (5.0, 0.0, None, 11.0, 3),
        (5.0, 0.0, 10.0, 10.0, 2),
        (5.0, 0.0, 12.0, 11.0, None),  # twelve in stock are two packs of five
        (1.0, 10.0, None, 7.0, 10),
        (4.0, 10.0, None, 7.0, 3),
        (1.0, 10.0, 9.0, 7.0, None),
        (1.0, 0.0, 0.0, 1.0, None),
        (0.1, 0.0, None, 0.3, 3),  # 0.3 / 0.1 is a hair below 3 in binary
        (0.1, 0.0, None, 0.7, 7),  # 0.7 / 0.1 is a hair below 7
        (0.1, 0.0, 0.3, 0.1 + 0.2, 3),  # 0.1 + 0.2 is a hair above 0.3
        (0.1, 0.0, 0.3, 0.31, None),
        (0.5, 0.0, 2.5, 2.4, 5),
        (0.3048, 0.0, None, 6 * 0.3048, 6),
    ],
)
def test_packs_cover_the_amount_within_the_stock(
    pack: float, least: float, stock: float | None, amount: float, packs: int | None
) -> None:
    assert packs_for(offer(pack=pack, quantity_min=least, stock=stock), amount) == packs


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 2000), st.integers(1, 200), st.sampled_from([1000, 100, 10, 4, 3]))
def test_steps_of_a_fraction_of_a_metre_are_counted_exactly(amount: int, pack: int, per_metre: int) -> None:
    exact = math.ceil(Fraction(amount, per_metre) / Fraction(pack, per_metre))
    assert packs_for(offer(pack=pack / per_metre), amount / per_metre) == exact


def test_length_is_bought_in_metres_and_pieces_by_number() -> None:
    assert amount_of(offer(sold_by="length"), 3, 0.5) == 1.5
    assert amount_of(offer(), 3, 0.5) == 3.0


def test_cheapest_of_price_breaks_depends_on_the_number() -> None:
    breaks = [offer(100), offer(90, quantity_min=10), offer(70, quantity_min=25)]
    assert cheapest(breaks, 5) == Purchase(breaks[0], 5, 500)
    assert cheapest(breaks, 12) == Purchase(breaks[1], 12, 1080)
    assert cheapest(breaks, 30) == Purchase(breaks[2], 30, 2100)


def test_more_is_bought_where_the_next_price_break_costs_less() -> None:
    breaks = [offer(100), offer(90, quantity_min=10), offer(70, quantity_min=25)]
    assert cheapest(breaks, 20) == Purchase(breaks[2], 25, 1750)
    stocked = [offer.model_copy(update={"stock": 24.0}) for offer in breaks]
    assert cheapest(stocked, 20) == Purchase(stocked[1], 20, 1800)


def test_larger_pack_wins_where_it_costs_less_in_all() -> None:
    offers = [offer(100), offer(420, "south", pack=5)]
    assert cheapest(offers, 4) == Purchase(offers[0], 4, 400)
    assert cheapest(offers, 5) == Purchase(offers[1], 1, 420)
    assert cheapest(offers, 6) == Purchase(offers[0], 6, 600)


def test_own_parts_cost_nothing_while_they_last() -> None:
    offers = [offer(100), offer(0, "own", stock=3.0)]
    assert cheapest(offers, 3) == Purchase(offers[1], 3, 0)
    assert cheapest(offers, 4) == Purchase(offers[0], 4, 400)


def test_length_is_cut_for_all_pieces_together() -> None:
    roll = offer(40, sold_by="length", pack=0.5)
    assert cheapest([roll], 3, 0.25) == Purchase(roll, 2, 80)


def test_tie_goes_to_the_first_offer() -> None:
    offers = [offer(100, "south"), offer(50, "north", pack=0.5)]
    assert cheapest(offers, 2) == Purchase(offers[0], 2, 200)
    assert cheapest(offers[::-1], 2) == Purchase(offers[1], 4, 200)


def test_nothing_is_bought_where_no_offer_can_supply_it() -> None:
    assert cheapest([], 1) is None
    assert cheapest([offer(stock=2.0), offer(stock=0.0)], 3) is None


OFFERS = st.lists(
    st.builds(
        offer,
        st.integers(0, 500),
        pack=st.sampled_from([1.0, 2.0, 5.0]),
        quantity_min=st.sampled_from([0.0, 5.0, 20.0]),
        stock=st.sampled_from([None, 3.0, 12.0, 40.0]),
    ),
    max_size=5,
)


@settings(max_examples=60, deadline=None)
@given(OFFERS, st.integers(1, 40))
def test_cheapest_is_the_least_of_all_numbers_of_packs(offers: list[Offer], pieces: int) -> None:
    lines = [
        packs * each.price
        for each in offers
        for packs in range(1, 41)
        if packs * each.pack >= max(pieces, each.quantity_min)
        and (each.stock is None or packs * each.pack <= each.stock)
    ]
    best = cheapest(offers, pieces)
    assert (None if best is None else best.line) == min(lines, default=None)


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


def test_one_name_given_as_an_iterator_is_not_used_up() -> None:
    assert allowed_offers((NORTH, NORTH), iter(["north"]), None) == (NORTH, NORTH)
