"""What builds come to at least, as a search leaves it: against all builds, and through a record. Parts are invented."""

import math
from dataclasses import replace
from random import Random

import pytest
from baskets import with_charges
from random_catalogues import random_case

from optimise.model.floors import Floors, known_in, told_of
from optimise.model.house import Terms
from optimise.model.market import build_market
from optimise.model.search import best_build
from optimise.parts import Catalogue, Supplier
from optimise.report.proof import floors_of, floors_record
from optimise.scenario import Scenario

SHOPS = {
    Terms(out=frozenset({"north"})): 1999.25,
    Terms(paid=frozenset({"south", "east"}), free=frozenset({"west"})): 2100.5,
    Terms(orders=2): math.inf,
}


def case(number: int, objective: str = "cost") -> tuple[Catalogue, Scenario]:
    drawn = random_case(number, "battery", 7000, 8)
    search = drawn.scenario.search.model_copy(update={"objective": objective})
    return drawn.catalogue, drawn.scenario.model_copy(update={"search": search})


def test_floors_are_known_by_the_codes_of_emitters_and_the_terms_of_shops() -> None:
    catalogue, scenario = case(0)
    market = build_market(catalogue, scenario)
    codes = [emitter.part for emitter in market.parts.emitters]
    known = {("cost", 0): 12.0, ("cost", 1): 34.0, ("mass", 0): 5.0, ("cost", len(codes)): 1.0}
    shops = {("cost", shop): low for shop, low in SHOPS.items()}
    told = told_of({**known, **shops}, market, "cost")
    # A mixture has no code, and mass is another figure.
    assert told == Floors({codes[0]: 12.0, codes[1]: 34.0}, SHOPS)
    assert known_in(told, market, "cost") == {("cost", 0): 12.0, ("cost", 1): 34.0} | shops
    # Where a kind is not to be had any more, nothing is known of another in its place.
    fewer = replace(market, parts=replace(market.parts, emitters=market.parts.emitters[1:]))
    assert known_in(told, fewer, "cost") == {("cost", 0): 34.0} | shops
    assert told_of({}, market, "cost") == Floors({}, {})


def test_a_record_keeps_what_is_finite() -> None:
    floors = Floors({"b": 12.345678901234567, "a": math.inf}, SHOPS)
    read = floors_of(floors_record(floors))
    assert read.shops == {shop: low for shop, low in SHOPS.items() if math.isfinite(low)}
    # Never more than it was, for all its twelve digits.
    assert list(read.emitters) == ["b"]
    assert floors.emitters["b"] * (1 - 1e-8) < read.emitters["b"] <= floors.emitters["b"]


@pytest.mark.parametrize("objective", ["cost", "mass"])
@pytest.mark.parametrize("number", [0, 2])
def test_no_build_of_a_kind_comes_to_less_than_is_said(number: int, objective: str) -> None:
    catalogue, scenario = case(number, objective)
    found = best_build(catalogue, scenario)
    assert found.proof.floors is not None
    looked = 0
    for code, low in found.proof.floors.emitters.items():
        alone = replace(catalogue, emitters=tuple(e for e in catalogue.emitters if e.part == code))
        best = best_build(alone, scenario).evaluation
        looked += 1
        if best is not None:
            assert (best.cents if objective == "cost" else best.milligrams) >= low * (1 - 1e-9)
    assert looked > 0


def test_what_no_shop_with_a_paid_delivery_has_room_for_is_no_floor_of_all_builds() -> None:
    """A shop that is paid for a delivery leaves less of the budget for goods than one with a free delivery does."""
    drawn = random_case(122, "battery", 6, 6)
    asked = {"ashgrove": (603, None, 0), "birchway": (2436, 4698, 2279), "cloverley": (635, 2444, 0)}
    suppliers = tuple(
        Supplier(supplier=name, delivery=delivery, delivery_free_over=free, order_min=least)
        for name, (delivery, free, least) in asked.items()
    )
    search = drawn.scenario.search.model_copy(update={"objective": "mass"})
    limits = drawn.scenario.limits.model_copy(update={"budget": 16_800})
    scenario = drawn.scenario.model_copy(update={"search": search, "limits": limits})
    found = best_build(replace(drawn.catalogue, suppliers=suppliers), scenario)
    assert found.evaluation is not None
    assert found.proof.floors is not None
    lows = found.proof.floors.emitters
    assert lows.get(found.evaluation.choice.emitter, 0.0) <= found.evaluation.milligrams
    assert math.inf in lows.values()


@pytest.mark.parametrize("number", [1, 4])
def test_no_build_of_a_shop_costs_less_than_is_said(number: int) -> None:
    """A shop from which some sell nothing: the best of those builds, by a search that knows nothing of shops."""
    catalogue, scenario = case(number)
    catalogue = with_charges(catalogue, Random(number))
    found = best_build(catalogue, scenario)
    assert found.proof.floors is not None
    looked = 0
    for shop, low in found.proof.floors.shops.items():
        offers = {
            code: tuple(offer for offer in rows if offer.supplier not in shop.out)
            for code, rows in catalogue.offers.items()
        }
        best = best_build(replace(catalogue, offers=offers), scenario).evaluation
        if best is None or shop.orders:
            continue
        # The best build without them is in that shop, or buys from too few: then another may be dearer.
        sellers = {order.supplier for order in best.orders}
        if shop.paid | shop.free <= sellers:
            looked += 1
            assert best.cents >= low
    assert looked > 0
