"""What a number of pieces costs: prices against looking at purchases, and bounds that are never above them."""

import math
from random import Random

import numpy as np
import pytest
from oracle import price
from random_shops import offer

from optimise.model.pieces import MOST_PIECES, buying_of, per_pack
from optimise.parts import Offer
from optimise.parts.buying import Want

PIECES = 12


def shelf(rng: Random) -> list[Offer]:
    """Return offers of a part by a few suppliers: packs, price breaks, stock, own pieces."""
    rows = []
    for supplier in rng.sample(["north", "south", "west", "own"], rng.randint(1, 3)):
        pack = rng.choice([1.0, 1.0, 2.0, 5.0])
        each = 0 if supplier == "own" else rng.randint(20, 90)
        stock = float(rng.randint(1, 6)) if supplier == "own" else rng.choice([None, None, 4.0, 10.0])
        rows.append(offer("P", supplier, int(each * pack), pack=pack, stock=stock))
        if rng.random() < 0.4 and supplier != "own":
            cut = int(each * pack * rng.uniform(0.5, 0.9))
            rows.append(offer("P", supplier, cut, pack=pack, stock=stock, quantity_min=float(rng.randint(2, 6))))
    return rows


@pytest.mark.parametrize("seed", range(24))
def test_prices_and_the_bound_below_them(seed: int) -> None:
    rows = shelf(Random(seed))
    found = buying_of(Want("P", 1), rows)
    real = [price(rows, n, 0.0) for n in range(PIECES + 1)]
    paid = [math.inf if cents is None else float(cents) for cents in real]
    assert found.prices(PIECES).tolist() == paid
    assert found.prices(3).tolist() == paid[:4]
    number = np.arange(PIECES + 1)
    least = found.least(number)
    assert np.all(least <= np.array(paid) + 1e-9)
    assert np.isinf(least).tolist() == [n > found.most for n in range(PIECES + 1)]
    assert all(found.unit * n <= cents + 1e-9 for n, cents in zip(number.tolist(), paid, strict=True))
    # The bound is that of whole packs, each at its lowest price, the cheapest first.
    shelves: dict[tuple[str, float], list[Offer]] = {}
    for row in rows:
        shelves.setdefault((row.supplier, row.pack), []).append(row)
    ways = []
    for (_, pack), tiers in shelves.items():
        packs = math.inf if tiers[0].stock is None else tiers[0].stock // pack
        ways.append((min(tier.price for tier in tiers) / pack, packs * pack))
    left, wanted = float(PIECES), 0.0
    for each, most in sorted(ways):
        wanted += each * min(left, most)
        left -= min(left, most)
    assert found.most == min(sum(most for _, most in ways), MOST_PIECES)
    assert found.least(np.array([float(PIECES)]))[0] == pytest.approx(wanted if left == 0.0 else math.inf)
    assert found.unit == pytest.approx(min((each for each, most in ways if most > 0.0), default=math.inf))
    if found.exact:
        assert paid == pytest.approx([found.unit * n for n in range(PIECES + 1)])


@pytest.mark.parametrize(
    ("rows", "exact"),
    [
        ([offer("P", "north", 30)], True),
        ([offer("P", "north", 30, stock=50.0)], False),
        ([offer("P", "north", 30, pack=2.0)], False),
        ([offer("P", "north", 30, quantity_min=2.0)], False),
        ([offer("P", "north", 30, quantity_min=1.0)], True),
        ([offer("P", "north", 30), offer("P", "north", 29, quantity_min=4.0)], False),
        ([offer("P", "north", 30), offer("P", "south", 40, stock=5.0)], True),
        ([offer("P", "north", 30), offer("P", "south", 58, pack=2.0)], False),
        ([offer("P", "north", 30), offer("P", "south", 60, pack=2.0)], True),
    ],
)
def test_a_price_is_exact_where_each_piece_costs_the_least_in_any_number(rows: list[Offer], exact: bool) -> None:
    found = buying_of(Want("P", 1), rows)
    assert found.exact is exact
    assert found.of(7) == Want("P", 7)
    same = all(price(rows, n, 0.0) == n * found.unit for n in range(1, 60))
    assert same is exact


def test_strips_are_bought_by_the_metre_in_steps() -> None:
    want = Want("P", 1, 0.4)
    by_step = offer("P", "north", 100, pack=0.1, sold_by="length")
    # 0.4 m are four steps of 0.1 m: 400 cents, in any number; a piece of a step of 1 m is 2.5 pieces at the best.
    by_piece = offer("P", "south", 390, pack=0.4, sold_by="length")
    wide = offer("P", "west", 1000, pack=1.0, sold_by="length", stock=3.0)
    assert per_pack(wide, want) == 2.5
    assert per_pack(by_step, want) == pytest.approx(0.25)
    assert per_pack(offer("P", "north", 1, pack=3.0), Want("P", 1)) == 3.0
    found = buying_of(want, [by_step])
    assert found.unit == pytest.approx(400.0)
    # Whole steps of one roll come to the same, but this is not known of every step.
    assert not found.exact
    assert buying_of(want, [by_piece]).exact
    assert not buying_of(want, [by_piece.model_copy(update={"stock": 9.0})]).exact
    for rows in ([by_step], [by_piece], [wide], [by_step, by_piece, wide]):
        bought = buying_of(want, rows)
        paid = [price(rows, n, 0.4) for n in range(9)]
        assert bought.prices(8).tolist() == [math.inf if cents is None else float(cents) for cents in paid]
        assert np.all(bought.least(np.arange(9)) <= bought.prices(8) + 1e-9)
    # Three metres give seven pieces of 0.4 m; by the metre they are 7.5 pieces' worth.
    assert buying_of(want, [wide]).most == 7
    assert buying_of(want, [wide]).least(np.array([7.0]))[0] == pytest.approx(7 * 400.0)


def test_a_part_that_nobody_sells_cannot_be_had() -> None:
    found = buying_of(Want("P", 1), [])
    assert (found.unit, found.most, found.exact) == (math.inf, 0, False)
    assert found.prices(2).tolist() == [0.0, math.inf, math.inf]
    sold_out = buying_of(Want("P", 1), [offer("P", "north", 30, stock=0.0)])
    assert (sold_out.unit, sold_out.most) == (math.inf, 0)


def test_a_long_list_of_prices_is_that_of_a_short_one_and_more() -> None:
    rows = [offer("P", "north", 30), offer("P", "south", 52, pack=2.0, stock=8.0)]
    found = buying_of(Want("P", 1), rows)
    short = found.prices(3).tolist()
    long = found.prices(60).tolist()
    assert len(long) == 61
    assert long[:4] == short
    # Four packs of two at 52 cents, the rest at 30 each.
    assert long[60] == 4 * 52 + 52 * 30
    assert found.prices(60).base is found.prices(2).base
    # A list that is one too short is not taken for long enough.
    again = buying_of(Want("P", 1), rows)
    for most in range(60):
        assert len(again.prices(most)) == most + 1
    # What is remembered is no part of what it is.
    assert again == found == buying_of(Want("P", 1), rows)
    assert repr(again) == repr(buying_of(Want("P", 1), rows))
    steady = buying_of(Want("P", 1), [offer("P", "north", 30)])
    assert steady.prices(40).tolist() == [30.0 * n for n in range(41)]
    few = buying_of(Want("P", 1), [offer("P", "own", 0, stock=2.0), offer("P", "north", 30)])
    assert few.prices(30)[30] == 28 * 30


def test_prices_in_pieces_by_hand() -> None:
    def in_pieces(number: int, layers: int, *offers: Offer) -> tuple[list[float], float, float]:
        first, more, step = buying_of(Want("d", 1), offers).in_pieces(number, layers, 1.0)
        return first.tolist(), more, step

    # Steady prices: one price says it all, whatever the number.
    assert in_pieces(3, 4, offer("d", "north", 800)) == ([0.0], 800.0, 800.0)
    # Of four pieces: 0, 1000, 1000, 1000, 2000; two followed, then (2000 − 1000) / 2 at least; a step may be free.
    assert in_pieces(3, 2, offer("d", "north", 1000, pack=3.0)) == ([0.0, 1000.0, 1000.0], 0.0, 0.0)
    assert in_pieces(3, 2, offer("d", "north", 1000, stock=1.0))[2] == 1000.0
    assert in_pieces(3, 2)[1:] == (np.inf, np.inf)


def test_prices_in_pieces_are_worked_out_once_for_numbers_by_twos() -> None:
    buying = buying_of(Want("d", 1), (offer("d", "north", 801, pack=2.0),))
    assert buying.in_pieces(4, 4, 1.0) is buying.in_pieces(3, 4, 1.0)
    assert buying.in_pieces(5, 4, 1.0) is not buying.in_pieces(4, 4, 1.0)
    assert buying.in_pieces(4, 3, 1.0) is not buying.in_pieces(4, 4, 1.0)
    assert buying.in_pieces(4, 4, 0.5) is not buying.in_pieces(4, 4, 1.0)
    # The same offers give the same prices to all who ask.
    assert buying_of(Want("d", 1), [offer("d", "north", 801, pack=2.0)]) is buying
    assert buying_of(Want("d", 1), [offer("d", "north", 802, pack=2.0)]) is not buying
