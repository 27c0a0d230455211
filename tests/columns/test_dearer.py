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
