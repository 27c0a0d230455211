"""What emitters share: which supplies feed which drivers one by one, and prices that change under the same parts."""

from dataclasses import replace
from random import Random
from types import SimpleNamespace
from typing import Any

import numpy as np
import plain_parts
import priced_parts
import pytest
from random_shops import offer

from optimise.columns.dearer import Together, never_dearer
from optimise.columns.supplies import MAINS
from optimise.model.market import REMEMBERED, Market, build_market, repriced, stand_in_of, supplies_of
from optimise.parts import Driver, Supplier

SCENARIO = plain_parts.SCENARIO


@pytest.fixture
def market() -> Market:
    return build_market(priced_parts.parts(), SCENARIO)


def fitted(number: int) -> Market:
    """Return a market with random drivers and supplies, of few voltages, so that windows often end at one of them."""
    rng = np.random.default_rng(number)
    plain = build_market(priced_parts.parts(), SCENARIO)
    volts = np.array([10.0, 12.0, 24.0, 48.0])
    drivers: list[Driver] = []
    for place in range(6):
        low, high = sorted(rng.choice(volts, 2).tolist())
        drivers.append(
            plain.parts.drivers[0].model_copy(
                update={
                    "part": f"d{place}",
                    "input": "ac" if rng.random() < 0.3 else "dc",
                    "input_min": low,
                    "input_max": high,
                }
            )
        )
    supplies = plain.supplies.take(np.zeros(12, dtype=np.int64))
    floor = rng.choice(volts, 12)
    # A hair of rounding on either side is no voltage more or less.
    hair = 1.0 + rng.choice([-1e-13, 0.0, 1e-13], 12)
    supplies = replace(
        supplies,
        battery=np.where(rng.random(12) < 0.3, MAINS, 0),
        floor=floor * hair,
        highest=np.maximum(floor, rng.choice(volts, 12)) * hair,
        cores=rng.integers(2, 4, 12),
    )
    return replace(plain, parts=replace(plain.parts, drivers=tuple(drivers)), supplies=supplies)


def is_fed(market: Market, driver: int, supply: int) -> bool:
    """Whether a driver may hang on a supply: of its kind, and never outside of its window."""
    part, s = market.parts.drivers[driver], market.supplies
    if (part.input == "ac") != (s.battery[supply] == MAINS):
        return False
    return bool(part.input_min <= s.floor[supply] * 1.000001 and part.input_max >= s.highest[supply] * 0.999999)


@pytest.mark.parametrize("number", range(6))
def test_who_feeds_whom_is_what_each_pair_says(number: int) -> None:
    market = fitted(number)
    rng = Random(number)
    truth = np.array([[is_fed(market, d, s) for s in range(12)] for d in range(6)])
    assert 0 < truth.sum() < truth.size
    drivers, supplies = (np.array(sorted(rng.sample(range(n), k)), dtype=np.int64) for n, k in ((6, 3), (12, 5)))
    assert np.array_equal(market.feeds(drivers, supplies), truth[np.ix_(drivers, supplies)])
    assert np.array_equal(market.fed(supplies), truth[:, supplies].any(axis=1))
    assert np.array_equal(market.feeding(drivers), truth[drivers].any(axis=0))
    groups = market.groups(drivers, supplies)
    places = np.concatenate([mine for _, mine in groups])
    assert sorted(places.tolist()) == list(range(len(supplies)))
    for mask, mine in groups:
        assert len(mine)
        for place in mine:
            assert np.array_equal(mask, truth[drivers, supplies[place]])
    # Supplies that feed the same are together.
    assert len({tuple(mask) for mask, _ in groups}) == len(groups)
    assert np.array_equal(market.earthed, (market.supplies.battery != MAINS) | (market.supplies.cores == 3))


def test_most_emitters_are_what_fits_and_what_can_be_bought(market: Market) -> None:
    # 0.8 m × 0.25 m hold 4 × 5 emitters of 0.2 m × 0.05 m, either way round.
    assert market.capacity.tolist() == [20, 20]
    offers = {**priced_parts.parts().offers, "e2": (offer("e2", "north", 1100, stock=7.0),)}
    few = repriced(market, replace(market.catalogue, offers=offers), SCENARIO)
    assert few.capacity.tolist() == [20, 7]
    small = plain_parts.PANEL.model_copy(update={"part": "s", "width": 0.4, "height": 0.1})
    roomy = priced_parts.parts()
    roomy = replace(roomy, panels=(small, roomy.panels[0]), offers={**roomy.offers, "s": (offer("s", "north", 1),)})
    assert build_market(roomy, SCENARIO).capacity.tolist() == [20, 20]
    longer = roomy.emitters[1].model_copy(update={"length": 0.4})
    assert build_market(replace(roomy, emitters=(roomy.emitters[0], longer)), SCENARIO).capacity.tolist() == [20, 10]
    bare = build_market(replace(priced_parts.parts(), panels=()), SCENARIO)
    assert bare.capacity.tolist() == [0, 0]


def test_prices_of_parts_by_hand(market: Market) -> None:
    assert [panel.part for panel in market.parts.panels] == ["p", "t"]
    assert market.panel_cost.tolist() == [700.0, 650.0]
    # Panels by cloth, film, and none at the end.
    assert market.sheet_cost.tolist() == [[400.0, 600.0, 0.0]] * 2
    # No offer of the second mount.
    assert market.mounts == (0,)
    assert (market.mount_cost.tolist(), market.mount_mass.tolist()) == ([500.0], [200000.0])
    # 5 kg, and not a milligram more than the exact check forgives.
    assert market.mount_load.tolist() == [5_000_000.0]
    assert [buying.unit for buying in market.emitter_buying] == [900.0, 1100.0]
    assert [buying.unit for buying in market.driver_buying] == [800.0, 950.0]
    assert market.target == pytest.approx(100.0)
    assert market.orders == ()


def test_what_no_one_sells_is_left_out_at_first_and_endlessly_dear_later(market: Market) -> None:
    offers = {code: rows for code, rows in market.catalogue.offers.items() if code not in ("t", "film")}
    fresh = build_market(replace(market.catalogue, offers=offers), SCENARIO)
    assert [panel.part for panel in fresh.parts.panels] == ["p"]
    assert [sheet.part for sheet in fresh.parts.diffusers] == ["cloth"]
    assert fresh.panel_cost.tolist() == [700.0]
    assert fresh.sheet_cost.tolist() == [[400.0, 0.0]]
    assert fresh.grid[0].shape == (2, 1)
    # Nor what is on offer, but not so large, or no longer there.
    scraps = {"sold_by": "sheet", "sheet_width": 0.1, "sheet_height": 0.1}
    none = {**offers, "t": (offer("t", "north", 9, **scraps),), "film": (offer("film", "north", 9, stock=0.0),)}
    short = build_market(replace(market.catalogue, offers=none), SCENARIO)
    assert ([panel.part for panel in short.parts.panels], short.panel_cost.tolist()) == (["p"], [700.0])
    assert ([sheet.part for sheet in short.parts.diffusers], short.sheet_cost.tolist()) == (["cloth"], [[400.0, 0.0]])
    again = repriced(market, replace(market.catalogue, offers={**offers, "t": ()}), SCENARIO)
    assert again.panel_cost.tolist() == [700.0, np.inf]
    assert again.sheet_cost.tolist() == [[400.0, np.inf, 0.0]] * 2
    assert again.parts.panels == market.parts.panels
    assert "t" not in again.parts.offers
    for name in ("target", "boards", "grid", "drivers", "supplies_at"):
        assert getattr(again, name) is getattr(market, name)
    gone = repriced(market, replace(market.catalogue, offers={**offers, "m": ()}), SCENARIO)
    assert gone.mounts == ()


def test_two_sheets_are_there_where_they_are_asked_for() -> None:
    look = SCENARIO.look.model_copy(update={"sheets_max": 2})
    sheets = build_market(priced_parts.parts(), SCENARIO.model_copy(update={"look": look})).parts.diffusers
    assert len(sheets) > 2
    assert len(build_market(priced_parts.parts(), SCENARIO).parts.diffusers) == 2
    # Two layers of one cloth are there where it covers some panel, if not the largest.
    wide = plain_parts.PANEL.model_copy(update={"part": "w", "width": 1.2})
    parts = priced_parts.parts()
    parts = replace(parts, panels=(*parts.panels, wide), offers={**parts.offers, "w": (offer("w", "north", 9),)})
    found = build_market(parts, SCENARIO.model_copy(update={"look": look}))
    assert [panel.part for panel in found.parts.panels] == ["p", "t", "w"]
    assert [sheet.part for sheet in found.parts.diffusers] == [sheet.part for sheet in sheets]
    assert np.isinf(found.sheet_cost[2]).any()


NORTH = Supplier(supplier="north", delivery=100)


def charged(market: Market, *suppliers: Supplier, most: int | None = None) -> bool:
    limits = SCENARIO.limits.model_copy(update={"suppliers_max": most})
    scenario = SCENARIO.model_copy(update={"limits": limits})
    return replace(market, catalogue=replace(market.catalogue, suppliers=suppliers), scenario=scenario).charged


def test_a_build_costs_more_than_its_goods_where_a_seller_charges(market: Market) -> None:
    assert not charged(market)
    assert charged(market, NORTH)
    assert not charged(market, Supplier(supplier="north"))
    # Who sells nothing charges nothing.
    assert not charged(market, Supplier(supplier="south", delivery=100))
    assert charged(market, Supplier(supplier="south", delivery=100), NORTH)
    assert charged(market, most=2)


def test_the_cheaper_part_gives_way_only_where_orders_do_not_count(market: Market) -> None:
    together = Together(market.parts.offers, 3, frozenset({1.0}))
    assert market.stand_in is None
    assert stand_in_of((NORTH,), None) is never_dearer
    assert stand_in_of((), together) == together.singles
    assert stand_in_of((NORTH,), together) == together.singles
    with_orders = repriced(market, market.catalogue, SCENARIO, (NORTH,))
    assert with_orders.orders == (NORTH,)
    assert with_orders.stand_in is never_dearer
    of_kit = repriced(market, market.catalogue, SCENARIO, together=together)
    assert of_kit.together is together
    assert build_market(market.catalogue, SCENARIO, together).together is together
    # Of two fuses alike the cheaper one is taken; where orders count, its seller may be the wrong one.
    alike = market.catalogue.fuses[0].model_copy(update={"part": "f2"})
    offers = {**market.catalogue.offers, "f2": (offer("f2", "south", 80),)}
    mixed = replace(market.catalogue, offers=offers, fuses=(market.catalogue.fuses[0], alike))
    free = build_market(mixed, SCENARIO)
    assert set(free.supplies.fuse.tolist()) == {1}
    assert set(repriced(free, mixed, SCENARIO, (NORTH,)).supplies.fuse.tolist()) == {0, 1}


def test_supplies_are_kept_by_all_that_they_depend_on(market: Market, monkeypatch: pytest.MonkeyPatch) -> None:
    known: dict[Any, Any] = {}
    first = supplies_of(market.parts, SCENARIO, known)
    assert supplies_of(market.parts, SCENARIO, known) is first
    assert len(known) == 1
    # Prices of other parts do not matter; those of batteries, cables, fuses and connectors do.
    offers = dict(market.parts.offers)
    assert supplies_of(replace(market.parts, offers={**offers, "e": ()}), SCENARIO, known) is first
    for code in ("b", "c", "f", "k"):
        other = replace(market.parts, offers={**offers, code: (offer(code, "north", 7),)})
        assert supplies_of(other, SCENARIO, known) is not first
    assert len(known) == 5
    assert supplies_of(market.parts, SCENARIO, known, (NORTH,)) is not first
    power = SCENARIO.power.model_copy(update={"runtime": 120.0})
    assert supplies_of(market.parts, SCENARIO.model_copy(update={"power": power}), known) is not first
    limits = SCENARIO.limits.model_copy(update={"power": 50.0})
    assert supplies_of(market.parts, SCENARIO.model_copy(update={"limits": limits}), known) is not first
    assert len(known) == 8 == REMEMBERED
    assert supplies_of(market.parts, SCENARIO, known) is first
    # The oldest one gives way.
    free = {**offers, "b2": (offer("b2", "north", 8),)}
    supplies_of(replace(market.parts, offers=free), SCENARIO, known)
    assert len(known) == REMEMBERED
    assert supplies_of(market.parts, SCENARIO, known) is not first
    # Of a kit they are those of its basket, and not kept.
    together = Together(offers, 3, frozenset({1.0}))
    before = len(known)
    kit = supplies_of(market.parts, SCENARIO, known, (), together)
    assert kit is not supplies_of(market.parts, SCENARIO, known, (), together)
    assert len(known) == before


def test_light_is_limited_where_there_can_be_too_much_of_it(market: Market) -> None:
    assert market.targets == ()
    assert not market.light_is_limited
    for most, limited in (((None, None), False), ((None, 5.0), True), ((5.0,), True)):
        other = replace(market)
        other.__dict__["targets"] = tuple(SimpleNamespace(least=1.0, most=value) for value in most)
        assert other.light_is_limited is limited
