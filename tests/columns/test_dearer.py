"""Which parts stand in for others: against prices of every number of each, and by hand. Invented offers."""

from itertools import pairwise
from random import Random

import numpy as np
import pytest

from optimise.columns.dearer import Together, at_one_price, by_supplier, never_dearer
from optimise.parts import Offer
from optimise.parts.buying import Want, price_of

LIGHTS = 3


def offered(rng: Random, part: str, supplier: str) -> list[Offer]:
    """Return a pack or a single piece, at times with a break or a stock that ends."""
    pack = rng.choice([1.0, 1.0, 2.0])
    price = rng.randrange(50, 400, 25)
    stock = rng.choice([None, None, 2.0, 20.0])
    offers = [Offer(part=part, supplier=supplier, price=price, pack=pack, stock=stock)]
    if rng.random() < 0.3:
        offers.append(Offer(part=part, supplier=supplier, price=price // 2, pack=pack, quantity_min=4.0, stock=stock))
    if rng.random() < 0.2:
        offers[0] = offers[0].model_copy(update={"quantity_min": 2.0 * pack})
    return offers


def steps(offers: list[Offer], want: Want, most: int) -> list[float]:
    """Return what each piece more costs; infinite from where they cannot be had."""
    prices = [price_of(offers, Want(want.part, n, want.length)) for n in range(1, most + 1)]
    told = [0.0, *(float("inf") if price is None else float(price) for price in prices)]
    return [b - a if b < np.inf else np.inf for a, b in pairwise(told)]


@pytest.mark.parametrize("seed", range(40))
def test_one_piece_more_never_adds_more_than_one_less_of_the_other_saves(seed: int) -> None:
    rng = Random(seed)
    offers = {
        part: [offer for shop in ("s", "t") if rng.random() < 0.8 for offer in offered(rng, part, shop)]
        for part in ("a", "b", "c")
    }
    wants = [Want(part, 1) for part in offers]
    together = Together(offers, LIGHTS, frozenset({2.0}))
    for covers, most in ((together.singles(wants, offers), LIGHTS), (together.lots(wants, offers), 9)):
        assert covers.diagonal().all()
        for i, j in zip(*np.nonzero(covers), strict=True):
            if i == j:
                continue
            for shop in {offer.supplier for offer in offers[wants[j].part]}:
                mine, other = ([o for o in offers[wants[k].part] if o.supplier == shop] for k in (i, j))
                added, saved = steps(mine, wants[i], most), steps(other, wants[j], most)
                assert max(added) <= min(saved) + 1e-9, (wants[i].part, wants[j].part, shop)


def test_a_piece_stands_in_where_it_costs_no_more_from_the_same_shop() -> None:
    offers = {
        "cheap": [Offer(part="cheap", supplier="s", price=100)],
        "dear": [Offer(part="dear", supplier="s", price=150)],
        "away": [Offer(part="away", supplier="t", price=50)],
        "pack": [Offer(part="pack", supplier="s", price=100, pack=2.0)],
        "few": [Offer(part="few", supplier="s", price=100, stock=2.0)],
        "none": [],
    }
    wants = [Want(part, 1) for part in offers]
    # From the shop of the other. A pack never adds more than its price, and may save nothing: another light takes the
    # other half. A stock of two ends before three lights have one each.
    singles = Together(offers, LIGHTS, frozenset({2.0})).singles(wants, offers)
    expected = {("cheap", "dear"), ("cheap", "few"), ("pack", "cheap"), ("pack", "dear"), ("pack", "few")}
    expected |= {(part, "none") for part in offers}
    expected |= {(part, part) for part in offers}
    names = list(offers)
    assert {(names[i], names[j]) for i, j in zip(*np.nonzero(singles), strict=True)} == expected
    # By itself a light takes one: a pack costs what it costs, and two in stock are enough.
    alone = never_dearer(wants, offers)
    assert {names[i] for i in np.flatnonzero(alone[:, names.index("dear")])} == {"cheap", "dear", "pack", "few"}
    np.testing.assert_array_equal(by_supplier(wants, offers)[:, 0], [100.0, 150.0, np.inf, 100.0, 100.0, np.inf])


def test_what_is_cut_to_length_saves_whole_steps_alone() -> None:
    def cable(part: str, price: int, step: float) -> Offer:
        return Offer(part=part, supplier="s", price=price, pack=step, sold_by="length")

    offers = {"a": [cable("a", 100, 1.0)], "b": [cable("b", 300, 1.0)], "c": [cable("c", 140, 1.0)]}
    wants = [Want(part, 1, 2.5) for part in offers]
    several = Together(offers, LIGHTS, frozenset({2.5, 4.0}))
    # One lead of 2.5 m more is three steps at most, one less is two steps at least: 300 against 600, and against 280.
    np.testing.assert_array_equal(several.singles(wants, offers)[0], [True, True, False])
    # All leads alike: 2.5, 5 and 7.5 m are 3, 5 and 8 steps, so that one more is 2 or 3 of them either way.
    alike = Together(offers, LIGHTS, frozenset({2.5}))
    np.testing.assert_array_equal(alike.singles(wants, offers)[0], [True, True, False])
    # Of a sheet another face may be cut: nothing is known of what one costs.
    faces = [Want(part, 1, size=(0.5, 0.4)) for part in offers]
    np.testing.assert_array_equal(several.singles(faces, offers), np.eye(3, dtype=bool))


def test_one_price_is_one_for_any_number() -> None:
    offers = {
        "a": [Offer(part="a", supplier="s", price=100)],
        "b": [Offer(part="b", supplier="s", price=120), Offer(part="b", supplier="s", price=90, quantity_min=10.0)],
        "c": [Offer(part="c", supplier="s", price=400, pack=4.0)],
        "d": [Offer(part="d", supplier="s", price=80, stock=5.0)],
    }
    found = at_one_price([Want(part, 1) for part in offers], offers)
    # 100 each: no more than 400 for four; more than 90 from ten on. What is in packs, or ends, has no one price.
    np.testing.assert_array_equal(found[0], [True, False, True, False])
    np.testing.assert_array_equal(found[2], [False] * 4)
    np.testing.assert_array_equal(found[3], [False] * 4)


def covering(of: str, offers: dict[str, list[Offer]], together: Together, **want: object) -> bool:
    """Whether part a can be bought in place of part b by `singles` or `lots`."""
    wants = [Want(part, 1, **want) for part in ("a", "b")]  # type: ignore[arg-type]
    return bool(getattr(together, of)(wants, offers)[0, 1])


def sold(part: str, price: int, **figures: object) -> Offer:
    return Offer(part=part, supplier="s", price=price, **figures)  # type: ignore[arg-type]


def lots(mine: list[Offer], other: list[Offer], length: float = 0.0) -> bool:
    return covering("lots", {"a": mine, "b": other}, Together({"a": mine, "b": other}, 2, frozenset()), length=length)


def leads(mine: list[Offer], other: list[Offer], lights: int, length: float, *others: float) -> bool:
    offers = {"a": mine, "b": other}
    return covering("singles", offers, Together(offers, lights, frozenset({length, *others})), length=length)


def test_one_price_counts_every_supplier_and_every_pack() -> None:
    def found(mine: list[Offer], other: list[Offer]) -> bool:
        return bool(at_one_price([Want("a", 1), Want("b", 1)], {"a": mine, "b": other})[0, 1])

    # Four for 300 are 75 each; from two shops each must have the one.
    assert not found([sold("a", 100)], [sold("b", 300, pack=4.0)])
    assert found([sold("a", 75)], [sold("b", 300, pack=4.0)])
    elsewhere = Offer(part="b", supplier="t", price=200)
    assert not found([sold("a", 100)], [sold("b", 120), elsewhere])
    assert found([sold("a", 100), Offer(part="a", supplier="t", price=200)], [sold("b", 120), elsewhere])
    # A least number of one is none; one of two is.
    assert found([sold("a", 100, quantity_min=1.0)], [sold("b", 100)])
    assert not found([sold("a", 100, quantity_min=2.0)], [sold("b", 100)])


def test_of_any_number_breaks_and_packs_count_by_what_they_may_add_or_save() -> None:
    assert lots([sold("a", 100)], [sold("b", 120)])
    # A price for ten and more never adds more than the first; one from two on has no price for a single piece.
    assert lots([sold("a", 100), sold("a", 90, quantity_min=10.0)], [sold("b", 120)])
    assert not lots([sold("a", 100, quantity_min=2.0)], [sold("b", 120)])
    # Nine at 120 cost as much as ten at 108: the tenth saves nothing; and of a pack of two one may be left.
    assert not lots([sold("a", 1)], [sold("b", 120), sold("b", 108, quantity_min=10.0)])
    assert not lots([sold("a", 1)], [sold("b", 300, pack=2.0)])
    assert not lots([sold("a", 1)], [sold("b", 300, quantity_min=2.0)])
    # Whoever has two packs takes the better: single ones of the first, and of the other those that save less.
    assert lots([sold("a", 100), sold("a", 250, pack=2.0)], [sold("b", 120)])
    assert not lots([sold("a", 100)], [sold("b", 120), sold("b", 200, pack=2.0)])


def test_lengths_that_are_whole_steps_are_so_in_spite_of_rounding() -> None:
    # 0.3 m are three steps of 0.1 m, both of what is added and of what is saved.
    mine, other = ([sold(part, 10, pack=0.1, sold_by="length")] for part in ("a", "b"))
    assert lots(mine, other, length=0.3)


def test_leads_that_differ_share_steps_of_one_roll() -> None:
    mine, other = ([sold(part, price, sold_by="length")] for part, price in (("a", 100), ("b", 110)))
    # Two of 2.6 m take 3 and 6 steps of a metre: each is three, 330 saved for 300 added. With one of 1.4 m they are
    # cut of 4 m, of which 1.4 m alone takes 2 steps: 220 are saved.
    assert leads(mine, other, 2, 2.6)
    assert not leads(mine, other, 2, 2.6, 1.4)
    # Shorter than a metre: two of 0.6 m take 1 and 2 steps; beside another they may take none.
    assert leads(mine, other, 2, 0.6)
    assert not leads(mine, other, 2, 0.6, 1.4)
    # Fuses have no length, whatever the leads are.
    fuses = {"a": [sold("a", 1)], "b": [sold("b", 2)]}
    assert covering("singles", fuses, Together(fuses, 2, frozenset({1.0, 2.0})))


def test_stock_must_last_for_as_many_as_all_leads_could_need() -> None:
    other = [sold("b", 300, sold_by="length")]

    def lasts(stock: float) -> bool:
        return leads([sold("a", 100, sold_by="length", stock=stock)], other, 2, 1.4, 3.0)

    # Two of 3 m are more than four of 1.4 m and less than five, each of two steps of a metre: ten of them.
    assert lasts(10.0)
    assert not lasts(9.0)
    assert not leads([sold("a", 100, sold_by="length", stock=0.0)], other, 1, 1.0, 0.5)
    # A reel that is shorter than the lead is none, of either.
    assert not leads([sold("a", 1, pack=2.0, sold_by="reel")], other, 2, 2.5, 1.0)
    assert not leads([sold("a", 1, sold_by="length")], [sold("b", 300, pack=2.0, sold_by="reel")], 2, 2.5, 1.0)


def test_a_break_that_costs_more_than_all_that_is_needed_saves_nothing_less() -> None:
    # Of two leads of 3 m ten metres are enough, 1200 at 120 each; 20 m at 60 or more never pay, 12 m at 60 do.
    mine = [sold("a", 60, sold_by="length")]

    def saves(price: int, least: float) -> bool:
        breaks = [sold("b", 120, sold_by="length"), sold("b", price, sold_by="length", quantity_min=least)]
        return leads(mine, breaks, 2, 1.4, 3.0)

    assert saves(100, 20.0)
    assert saves(60, 20.0)
    assert not saves(60, 12.0)


def test_nothing_is_known_of_what_a_face_saves() -> None:
    # Of a sheet another face may be cut: not even a cent is sure to be saved.
    offers = {"a": [sold("a", 1)], "b": [sold("b", 500)]}
    wants = [Want("a", 1), Want("b", 1, size=(0.5, 0.4))]
    assert not Together(offers, 2, frozenset({1.0})).singles(wants, offers)[0, 1]
