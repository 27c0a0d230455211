"""Baskets against looking at every way to buy, and the price of one order."""

from itertools import combinations, pairwise, product
from pathlib import Path
from random import Random

import pytest
from baskets import paid
from random_shops import NAMES, offer, random_shops

from optimise.parts.basket import Counter, Order, least_extra, order_of
from optimise.parts.buying import Want
from optimise.parts.offers import Offer, Supplier

SHOP = Supplier(supplier="north", delivery=490, delivery_free_over=7500, order_min=1500)


@pytest.mark.parametrize(
    ("goods", "top_up", "delivery"),
    [
        (1000, 500, 490),  # below the least order
        (1500, 0, 490),
        (7010, 0, 490),  # 490 more would reach free delivery: as dear, and nothing to choose
        (7011, 489, 0),  # a cent less than delivery
        (7500, 0, 0),  # from the very value on
        (9000, 0, 0),
    ],
)
def test_an_order_is_topped_up_where_that_is_needed_or_pays(goods: int, top_up: int, delivery: int) -> None:
    assert order_of(SHOP, "north", goods) == Order("north", goods, top_up, delivery)


def test_an_order_never_falls_when_its_goods_rise() -> None:
    totals = [order_of(SHOP, "north", goods).total for goods in range(1, 9000)]
    assert all(a <= b for a, b in pairwise(totals))


def test_the_least_extra_is_never_above_what_an_order_pays() -> None:
    for supplier in (SHOP, SHOP.model_copy(update={"delivery_free_over": None}), Supplier(supplier="north")):
        for most in range(100, 9000, 37):
            low = min(order_of(supplier, "north", goods).total - goods for goods in range(1, most + 1, 11))
            assert least_extra(supplier, most) <= low


def test_the_cheapest_pieces_are_not_the_cheapest_basket() -> None:
    offers = {
        "LAMP": [offer("LAMP", "north", 1000), offer("LAMP", "south", 950)],
        "PLUG": [offer("PLUG", "north", 300), offer("PLUG", "south", 290)],
        "WIRE": [offer("WIRE", "north", 200)],
    }
    sellers = {name: Supplier(supplier=name, delivery=500) for name in ("north", "south")}
    basket = Counter(offers, sellers).basket([Want("LAMP", 2), Want("PLUG", 1), Want("WIRE", 1)])
    assert basket.orders == (Order("north", 2500, 0, 500),)
    assert basket.cents == 3000
    assert Counter(offers, {}).basket([Want("LAMP", 2), Want("PLUG", 1), Want("WIRE", 1)]).cents == 2390


def test_the_worked_example_of_the_readme_is_what_comes_out() -> None:
    prices = {"LED": (530, 510), "BATTERY": (1895, 1840), "BOARD": (1160, 1105), "DRIVER": (895, None)}
    offers = {
        part: [offer(part, name, cents) for name, cents in zip(("larkmoor", "quillbank"), both, strict=True) if cents]
        for part, both in prices.items()
    }
    sellers = {
        "larkmoor": Supplier(supplier="larkmoor", delivery=490, delivery_free_over=7500),
        "quillbank": Supplier(supplier="quillbank", delivery=380, order_min=1000),
    }
    wants = [Want("LED", 3), Want("BATTERY", 1), Want("BOARD", 1), Want("DRIVER", 1)]
    pieces, basket = Counter(offers, {}).basket(wants), Counter(offers, sellers).basket(wants)
    apart = sum(order_of(sellers[order.supplier], order.supplier, order.goods).total for order in pieces.orders)
    assert basket.orders == (Order("larkmoor", 5540, 0, 490),)
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    for cents in (3 * 510 + 1840 + 1105, pieces.cents, apart, 5540, 5540 - pieces.cents, basket.cents):
        assert f"{cents / 100:.2f}" in readme


def test_a_dearer_offer_is_taken_where_it_brings_free_delivery() -> None:
    offers = {
        "A": [offer("A", "north", 6500)],
        "B": [offer("B", "north", 1100), offer("B", "south", 1000)],
    }
    sellers = {"north": Supplier(supplier="north", delivery=900, delivery_free_over=7500)}
    basket = Counter(offers, sellers).basket([Want("A", 1), Want("B", 1)])
    assert basket.orders == (Order("north", 7600, 0, 0),)


def test_of_equal_baskets_that_of_fewer_orders_is_taken() -> None:
    offers = {"A": [offer("A", "north", 100)], "B": [offer("B", "east", 50), offer("B", "north", 50)]}
    basket = Counter(offers, {}).basket([Want("A", 1), Want("B", 1)])
    assert [order.supplier for order in basket.orders] == ["north"]


def test_what_cannot_be_had_is_named() -> None:
    offers = {"A": [offer("A", "north", 100)], "B": [offer("B", "south", 50)]}
    assert Counter(offers, {}).basket([Want("A", 1), Want("C", 1)]).missing == ("C",)
    assert Counter(offers, {}, 1).basket([Want("A", 1), Want("B", 1)]).missing == ("A", "B")
    assert Counter(offers, {}, 2).basket([Want("A", 1), Want("B", 1)]).missing == ()


def by_every_way(
    offers: dict[str, list[Offer]], sellers: dict[str, Supplier], wants: list[Want], most: int | None
) -> int | None:
    """Return the least over all numbers of packs, one by one; more packs than one piece each needs are of no use."""
    names = NAMES[:3]
    best: int | None = None
    for number in range(len(names) + 1 if most is None else most + 1):
        for chosen in combinations(names, min(number, len(names))):
            sums: set[tuple[int, ...]] = {(0, 0, 0)}
            for want in wants:
                ways: set[tuple[int, ...]] = set()
                shelves: dict[tuple[str, float], list[Offer]] = {}
                for each in offers[want.part]:
                    if each.supplier in chosen or each.supplier == "own":
                        shelves.setdefault((each.supplier, each.pack), []).append(each)
                choices = []
                for (supplier, _), rows in shelves.items():
                    mine = [(0, supplier, 0)]
                    for each in rows:
                        for packs in range(1, max(want.pieces, int(each.quantity_min)) + 1):
                            count = packs * each.pack
                            if count >= each.quantity_min and (each.stock is None or count <= each.stock):
                                mine.append((int(count), supplier, packs * each.price))
                    choices.append(mine)
                for picked in product(*choices):
                    if sum(count for count, _, _ in picked) >= want.pieces:
                        spent = [0, 0, 0]
                        for _, supplier, cents in picked:
                            if supplier != "own":
                                spent[names.index(supplier)] += cents
                        ways.add(tuple(spent))
                sums = {tuple(a + b for a, b in zip(x, y, strict=True)) for x in sums for y in ways}
            for spent in sums:
                total = sum(paid(sellers.get(n), v) for n, v in zip(names, spent, strict=True) if v)
                best = total if best is None else min(best, total)
    return best


@pytest.mark.parametrize("number", range(150))
def test_the_basket_is_the_cheapest_of_all(number: int) -> None:
    offers, sellers, wants, most = random_shops(Random(f"basket {number}"))
    basket = Counter(offers, sellers, most).basket(wants)
    assert (None if basket.missing else basket.cents) == by_every_way(offers, sellers, wants, most)
    if not basket.missing:
        for want, purchases in basket.bought:
            assert sum(int(way.packs * way.offer.pack) for way in purchases) >= want.pieces
            assert all(way.line == way.packs * way.offer.price for way in purchases)
        goods = {order.supplier: 0 for order in basket.orders}
        for _, purchases in basket.bought:
            for way in purchases:
                goods[way.offer.supplier] += way.line
        assert basket.orders == tuple(order_of(sellers.get(n), n, v) for n, v in sorted(goods.items()))
        assert most is None or len(set(goods) - {"own"}) <= most
