"""Branching on suppliers without a solver: few choices of invented parts, each bought for true in every case."""

import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from random import Random
from types import SimpleNamespace
from typing import Any

import plain_parts
import pytest
from random_shops import offer

from optimise.model.choice import ChannelChoice, Choice
from optimise.model.exact import bought
from optimise.model.house import EXACT, NEVER, Shop, Terms
from optimise.model.shops import Orders, _codes
from optimise.model.state import TimeUpError
from optimise.parts import Catalogue, Offer, Supplier
from optimise.parts.basket import Order
from optimise.parts.buying import Want
from optimise.scenario import Scenario

MASSES = {"e0": 300, "e1": 200, "e2": 250, "d0": 500, "d1": 400, "p0": 1000, "c": 50}
"""Milligrams of each part."""


def pick(emitter: str, driver: str = "d0", pieces: int = 1) -> Choice:
    return Choice(emitter, (ChannelChoice(driver, pieces, 1, 0.5, 1),), "p0", None, None, 1, 1, "c", "f", "k", None)


@dataclass(frozen=True)
class Bought:
    """What a choice comes to on some terms."""

    choice: Choice
    orders: tuple[Order, ...]
    cents: int
    milligrams: int
    passes: bool
    watts: float = 1.0


def priced(choice: Choice, catalogue: Catalogue, scenario: Scenario) -> Bought:
    """Return a choice bought in the cheapest basket, which tests of baskets hold against looking at all of them."""
    drivers = choice.channels[0].driver
    wants = [Want(code, 1) for code in (drivers, choice.panel, choice.cable)]
    basket = bought([Want(choice.emitter, choice.emitters), *wants], catalogue, scenario)
    budget = scenario.limits.budget
    passes = not basket.missing and (budget is None or basket.cents <= budget)
    mass = MASSES[choice.emitter] * choice.emitters + sum(MASSES[want.part] for want in wants)
    return Bought(choice, basket.orders, basket.cents, mass, passes)


def figures(found: Bought, order: Sequence[str]) -> tuple[int, ...]:
    return tuple({"cost": found.cents, "mass": found.milligrams}[scale] for scale in order)


def within(found: Bought, caps: Mapping[str, float]) -> bool:
    return found.passes and found.cents <= caps["cost"] + 0.25 and found.milligrams <= caps["mass"] + 0.25


@dataclass
class Counted:
    """A search for goods by looking at all choices; a good one is the dearest."""

    house: "ManyChoices"
    choices: Sequence[Choice]
    catalogue: Catalogue
    scenario: Scenario
    order: tuple[str, ...]
    best: Bought | None = None
    low: float = 0.0
    effort: tuple[int, int, int] = (1, 7, 3)

    def _all(self, caps: Mapping[str, float]) -> list[Bought]:
        self.house.looked += 1
        found = [priced(choice, self.catalogue, self.scenario) for choice in self.choices]
        return [each for each in found if within(each, caps)]

    def promise(self, caps: Mapping[str, float]) -> float:
        return 0.0

    def run(self, caps: Mapping[str, float]) -> None:
        self.house.ran += 1
        self.best = min(self._all(caps), key=lambda found: figures(found, self.order), default=None)

    def likely(self, caps: Mapping[str, float]) -> Bought | None:
        self.best = max(self._all(caps), key=lambda found: (found.cents, found.milligrams), default=None)
        return self.best

    def within(self, caps: Mapping[str, float]) -> list[Any]:
        self.house.asked += 1
        left = [found.choice for found in self._all(caps)]
        emitters = sorted({choice.emitter for choice in left})
        mine = [[choice for choice in left if choice.emitter == emitter] for emitter in emitters]
        return [SimpleNamespace(kept=SimpleNamespace(size=len(some)), choices=some) for some in mine]


@dataclass
class ManyChoices:
    """A house of so many choices; it counts what it is asked for."""

    catalogue: Catalogue
    scenario: Scenario
    choices: Sequence[Choice]
    first_stage: int = 0
    few: int = 0
    floors: dict[tuple[str, Any], float] = field(default_factory=dict)
    whole: bool = True
    guessed: Sequence[Choice] = ()
    looked: int = 0
    ran: int = 0
    asked: int = 0
    opened: list[tuple[Catalogue, Scenario, tuple[Supplier, ...]]] = field(default_factory=list)
    lines: list[Any] = field(default_factory=list)

    @property
    def offers(self) -> Mapping[str, Sequence[Offer]]:
        return self.catalogue.offers

    def open(
        self, catalogue: Catalogue, scenario: Scenario, orders: tuple[Supplier, ...], order: tuple[str, ...], lines: Any
    ) -> Callable[[], Counted]:
        self.opened.append((catalogue, scenario, orders))
        self.lines.append(lines)
        choices = self.choices if lines is None else [choice for line in lines for choice in line.choices]
        return lambda: Counted(self, choices, replace(catalogue, suppliers=orders), scenario, order)

    def evaluate(self, choice: Choice, catalogue: Catalogue, scenario: Scenario) -> Bought:
        return priced(choice, catalogue, scenario)

    def guesses(self, order: tuple[str, ...]) -> Iterator[Choice]:
        return iter(self.guessed)


@dataclass
class Search:
    """Where the best is kept."""

    any_will_do: bool = False
    best: Bought | None = None
    given: Any = None
    lows: dict[int, float] = field(default_factory=dict)
    rounds: int = 0
    columns: int = 0
    kept_columns: int = 0
    told: list[Bought] = field(default_factory=list)
    left: int = 1000

    def seconds_left(self) -> float | None:
        self.left -= 1
        if self.left < 0:
            raise TimeUpError
        return None

    def seen(self, found: Bought) -> None:
        self.told.append(found)


def catalogue_of(offers: Mapping[str, tuple[Offer, ...]], suppliers: Sequence[Supplier]) -> Catalogue:
    """Return a catalogue with these offers, of parts that are told apart by their codes."""
    plain = plain_parts.catalogue(plain_parts.EMITTER)

    def named(part: Any, *codes: str) -> tuple[Any, ...]:
        return tuple(part.model_copy(update={"part": code}) for code in codes if code in offers)

    return replace(
        plain,
        emitters=named(plain.emitters[0], "e0", "e1", "e2"),
        drivers=named(plain.drivers[0], "d0", "d1"),
        panels=named(plain.panels[0], "p0"),
        cables=named(plain.cables[0], "c"),
        fuses=(),
        connectors=(),
        offers=dict(offers),
        suppliers=tuple(suppliers),
    )


def job(budget: int | None = None, most: int | None = None) -> Scenario:
    scenario = plain_parts.SCENARIO
    limits = scenario.limits.model_copy(update={"budget": budget, "suppliers_max": most})
    return scenario.model_copy(update={"limits": limits})


def drawn(number: int) -> tuple[ManyChoices, dict[str, float]]:
    """Return a random house of few choices, and caps on its figures."""
    rng = Random(number)
    offers: dict[str, tuple[Offer, ...]] = {}
    for code in MASSES:
        base = rng.randint(100, 2000)
        names = rng.sample(("north", "south", "west", "own"), rng.randint(1, 3))
        offers[code] = tuple(
            offer(
                code,
                name,
                0 if name == "own" else int(base * rng.uniform(0.7, 1.4)),
                stock=3.0 if name == "own" else None,
            )
            for name in names
        )
    suppliers = [
        Supplier(
            supplier=name,
            delivery=rng.choice([0, rng.randint(100, 900)]),
            delivery_free_over=rng.choice([None, rng.randint(300, 5000)]),
            order_min=rng.choice([0, 0, rng.randint(200, 3000), rng.randint(2000, 6000)]),
        )
        for name in ("north", "south", "west")
        if rng.random() < 0.9
    ]
    budget = rng.choice([None, None, rng.randint(1000, 6000)])
    scenario = job(budget, rng.choice([None, None, 1, 2]))
    choices = [
        pick(emitter, driver, pieces=pieces)
        for (emitter, pieces), driver in itertools.product([("e0", 2), ("e1", 3), ("e2", 1)], ["d0", "d1"])
    ]
    house = ManyChoices(
        catalogue_of(offers, suppliers),
        scenario,
        choices,
        first_stage=rng.choice([0, 1]),
        few=rng.choice([0, 0, 3]),
        guessed=rng.sample(choices, rng.choice([0, 2])),
    )
    mass = rng.choice([math.inf, math.inf, 2800.0])
    return house, {"cost": math.inf if budget is None else float(budget), "mass": mass, "power": math.inf}


def best_of(house: ManyChoices, order: Sequence[str], caps: Mapping[str, float]) -> tuple[int, ...] | None:
    """Return the figures of the best of all choices as they are bought for true."""
    every = [priced(choice, house.catalogue, house.scenario) for choice in house.choices]
    return min((figures(found, order) for found in every if within(found, caps)), default=None)


@pytest.mark.parametrize("order", [("cost",), ("cost", "mass"), ("mass",)])
def test_the_best_of_all_choices_is_found(order: tuple[str, ...]) -> None:
    none, shops = 0, 0
    for number in range(14):
        house, caps = drawn(number)
        search = Search()
        Orders(house, search, order, caps).go()
        wanted = best_of(house, order, caps)
        assert (None if search.best is None else figures(search.best, order)) == wanted, number
        none += wanted is None
        shops += len(house.opened)
        assert search.best is None or search.best in search.told
        assert all(within(found, caps) for found in search.told)
    assert 0 < none < 10
    assert shops > 14


def test_a_build_known_before_gives_way_to_a_better_one_alone() -> None:
    for number in range(3):
        house, caps = drawn(number)
        for order in (("cost",), ("cost", "mass")):
            passing = [priced(choice, house.catalogue, house.scenario) for choice in house.choices]
            passing = [found for found in passing if within(found, caps)]
            if not passing:
                continue
            for known in (min(passing, key=lambda found: figures(found, order)), max(passing, key=lambda f: f.cents)):
                search = Search(best=known)
                Orders(house, search, order, caps).go()
                assert search.best is not None
                assert figures(search.best, order) == best_of(house, order, caps)


def test_any_that_will_do_ends_the_search() -> None:
    looked, known = 0, 0
    for number in range(14):
        house, caps = drawn(number)
        search = Search(any_will_do=True)
        Orders(house, search, ("cost",), caps).go()
        assert (search.best is None) == (best_of(house, ("cost",), caps) is None), number
        assert search.best is None or within(search.best, caps)
        assert len(search.told) <= 1
        looked += house.looked
        known += search.best is not None
    # Most are found at the first look, or among the guesses without any.
    assert looked < 2.5 * 14
    assert known > 7


def one(sellers: Sequence[Supplier], most: int | None = None, budget: int | None = None) -> ManyChoices:
    """Return a house of one choice: e0 is sold by north, d0 by south, the rest lies in the drawer."""
    cents = {"e0": 1000, "d0": 500, "p0": 0, "c": 0}
    names = {"e0": "north", "d0": "south"}
    offers = {code: (offer(code, names.get(code, "own"), price),) for code, price in cents.items()}
    return ManyChoices(catalogue_of(offers, sellers), job(budget, most), [pick("e0")])


def orders_of(house: ManyChoices, cap: float = math.inf, search: Search | None = None, **rest: Any) -> Orders:
    caps = {"cost": cap, "mass": math.inf, "power": math.inf}
    return Orders(house, search or Search(), rest.get("order", ("cost",)), caps)


NORTH = Supplier(supplier="north", delivery=400, delivery_free_over=3000, order_min=800)
SOUTH = Supplier(supplier="south", delivery=250)


def shops_of(house: ManyChoices) -> list[Shop]:
    """Return every shop of up to three sellers, in which all orders are settled or not."""
    names = sorted(Orders(house, Search(), ("cost",), {"cost": math.inf}).sellers)
    found = []
    for told in itertools.product("-opf", repeat=len(names)):
        sets = [frozenset(n for n, t in zip(names, told, strict=True) if t == kind) for kind in "opf"]
        if all(house_seller(house, name).delivery_free_over is not None for name in sets[2]):
            found += [Shop(*sets, stage=stage) for stage in range(3)]
    return found


def house_seller(house: ManyChoices, name: str) -> Supplier:
    return next((s for s in house.catalogue.suppliers if s.supplier == name), Supplier(supplier=name))


def is_in(found: Bought, shop: Shop, house: ManyChoices) -> bool:
    """Whether a basket is one of a shop: from nobody who is out, and surely from those who are used."""
    paid = {order.supplier: order for order in found.orders}
    if any(name in paid for name in shop.out) or not shop.used <= paid.keys():
        return False
    if any(paid[name].delivery != house_seller(house, name).delivery for name in shop.paid):
        return False
    reached = {name: paid[name].goods + paid[name].top_up for name in shop.free}
    return all(cents >= (house_seller(house, name).delivery_free_over or 0) for name, cents in reached.items())


def test_goods_and_charge_of_a_shop_are_never_more_than_any_of_its_builds_costs() -> None:
    looked = {0: 0, 1: 0, 2: 0}
    for number in range(5):
        house, caps = drawn(number)
        orders = Orders(house, Search(), ("cost",), {**caps, "cost": 20_000.0})
        true = [priced(choice, house.catalogue, house.scenario) for choice in house.choices[::3]]
        for shop in shops_of(house):
            inside = [found for found in true if found.passes and is_in(found, shop, house)]
            if not inside:
                continue
            charge = orders._charge(shop)
            catalogue, scenario = orders._terms(shop, charge)
            for found in inside:
                here = priced(found.choice, catalogue, scenario)
                assert here.passes
                assert here.cents + charge <= found.cents
                looked[shop.stage] += 1
    assert min(looked.values()) > 10


def test_the_charge_of_a_shop_is_what_its_orders_surely_add() -> None:
    orders = orders_of(one([NORTH, SOUTH]), 9000.0)
    north, south = frozenset({"north"}), frozenset({"south"})
    # Of an order of which no one knows, the least that any part asks for: north delivers free from 3000 on.
    assert orders._charge(Shop()) == 250
    assert orders._charge(Shop(paid=north)) == 400
    assert orders._charge(Shop(paid=north | south)) == 650
    # 3000 in all for whatever is bought where delivery is free, or nothing more than the goods at their prices.
    assert orders._charge(Shop(free=north)) == 3000
    assert orders._charge(Shop(free=north, paid=south)) == 3250
    assert orders._charge(Shop(free=north, stage=1)) == 0
    assert orders._charge(Shop(free=north, paid=south, stage=EXACT)) == 0
    assert orders._worthless(Shop(free=north)) == north
    assert orders._worthless(Shop(free=north, stage=1)) == frozenset()
    # A least order above the value from which delivery is free is the one that counts; who is paid tops up to less.
    high = orders_of(one([NORTH.model_copy(update={"order_min": 3500})]))
    assert high._threshold(Shop(free=north), "north") == 3500
    assert orders._threshold(Shop(free=north), "north") == 3000
    assert orders._threshold(Shop(paid=north), "north") == 800
    assert orders_of(one([SOUTH]))._threshold(Shop(free=south), "south") == 0
    assert orders_of(one([SOUTH]))._threshold(Shop(paid=south), "south") == 0


def test_the_first_order_costs_at_least_its_delivery() -> None:
    # Below 3000 north's order is never free: 400; south's is 250. Emitters come from north alone.
    assert orders_of(one([NORTH, SOUTH]), 2000.0)._charge(Shop()) == 400
    # Up to 600 an order of north's is short of 800 by 200 at least.
    assert orders_of(one([NORTH, SOUTH]), 600.0)._charge(Shop()) == 600
    # Where nothing caps the cost, north may be free; south never is.
    assert orders_of(one([NORTH, SOUTH]))._charge(Shop()) == 250
    # Where a part has no other seller than one who is out, there is no build.
    assert orders_of(one([NORTH, SOUTH]), 2000.0)._charge(Shop(out=frozenset({"north"}))) == NEVER
    assert orders_of(one([NORTH, SOUTH]))._look(Shop(out=frozenset({"north"}))) == []
    # Of several sellers of one part it is the cheapest one who counts.
    house = one([NORTH, SOUTH])
    both = {**house.catalogue.offers, "e0": (offer("e0", "north", 1000), offer("e0", "south", 1100))}
    house.catalogue = replace(house.catalogue, offers=both)
    assert orders_of(house, 2000.0)._charge(Shop()) == 250
    house.catalogue = replace(house.catalogue, offers={**both, "d0": (offer("d0", "own", 0),)})
    assert orders_of(house, 2000.0)._charge(Shop()) == 250


def test_what_the_drawer_holds_asks_for_no_order() -> None:
    house = one([NORTH])
    owned = {code: (offer(code, "own", 0),) for code in house.offers}
    # Some parts are of no kind that every light has; where all is owned, no order is needed.
    house.catalogue = replace(
        house.catalogue, offers=owned, fuses=house.catalogue.cables, connectors=house.catalogue.cables
    )
    orders = orders_of(house, 2000.0)
    assert all("own" in names for names in orders.kinds if names)
    assert orders._charge(Shop()) == 0


NOBODY: frozenset[str] = frozenset()


def by_all(*sellers: Supplier, best: Bought | None = None, order: tuple[str, ...] = ("cost",)) -> Orders:
    """Return orders of a house of whose parts each is sold by everybody."""
    offers = {code: tuple(offer(code, seller.supplier, 500) for seller in sellers) for code in ("e0", "d0", "p0", "c")}
    house = ManyChoices(catalogue_of(offers, sellers), job(), [pick("e0")])
    return orders_of(house, 9000.0, Search(best=best), order=order)


WEST = Supplier(supplier="west", delivery=100)


def test_where_everybody_sells_everything_one_order_is_looked_at_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Counted, "promise", lambda self, caps: 1000.0 + len(self.catalogue.offers["e0"]))
    orders = by_all(NORTH, SOUTH, WEST)
    *alone, (last, more) = orders._first()
    # Each with one seller's offer, and his delivery; north may deliver free.
    assert [(sorted(shop.out), low) for low, shop in alone] == [
        (["south", "west"], 1001.0),
        (["north", "west"], 1001.0 + 250.0),
        (["north", "south"], 1001.0 + 100.0),
    ]
    assert (more, last) == (Shop(orders=2), math.inf)
    # All have the least that any order costs, and all offers: that holds of every build.
    assert orders.search.lows == {0: 1003.0}
    # Where a build is known their order is of no account.
    known = by_all(NORTH, SOUTH, WEST, best=bought_of("north"))
    assert [low for low, _ in known._first()] == [0.0, 0.0, 0.0, math.inf]
    for few in (
        by_all(NORTH, SOUTH, order=("mass",)),
        by_all(NORTH, Supplier(supplier="south")),  # who asks for nothing is in every shop
        orders_of(one([NORTH, SOUTH])),  # no one sells everything
    ):
        assert few._first() == [(0.0, Shop())]
    # A promise that is above the caps is none.
    assert by_all(NORTH, SOUTH, best=bought_of(cents=0))._promise(Shop()) == math.inf


def test_orders_that_are_still_to_be_settled_are_charged() -> None:
    orders = by_all(NORTH.model_copy(update={"delivery_free_over": None, "order_min": 0}), SOUTH, WEST)
    north, south, west = (frozenset({name}) for name in ("north", "south", "west"))
    assert orders._charge(Shop()) == 100
    assert orders._charge(Shop(orders=1)) == 100
    assert orders._charge(Shop(orders=2)) == 350
    assert orders._charge(Shop(orders=3)) == 750
    assert orders._charge(Shop(orders=4)) >= NEVER
    assert orders._charge(Shop(orders=2, out=west)) == 650
    assert orders._charge(Shop(orders=2, out=west | south)) >= NEVER
    assert orders._charge(Shop(orders=2, paid=north)) == 500
    assert orders._charge(Shop(orders=2, paid=north | south)) == 650
    assert orders._charge(Shop(orders=2, paid=north | south | west)) == 750
    assert orders._charge(Shop(orders=2, stage=EXACT)) == 0
    assert orders._look(Shop(orders=2, out=west | south)) == []
    # Parts of a shop have as many orders.
    assert [part.orders for part in orders._split(Shop(orders=2), "north")] == [2, 2]


def of_everybody(rng: Random) -> dict[str, tuple[Offer, ...]]:
    return {
        code: tuple(offer(code, name, rng.randint(100, 2000)) for name in ("north", "south", "west")) for code in MASSES
    }


def test_the_best_is_found_where_everybody_sells_everything() -> None:
    looked = 0
    for number in range(12):
        house, caps = drawn(number)
        rng = Random(number)
        house.catalogue = replace(house.catalogue, offers=of_everybody(rng))
        for order in (("cost",), ("cost", "mass")):
            search = Search()
            orders = Orders(house, search, order, caps)
            looked += len(orders._first()) > 1
            orders.go()
            assert (None if search.best is None else figures(search.best, order)) == best_of(house, order, caps), number
    assert looked > 10


def test_what_shops_are_known_to_cost_holds_at_prices_that_are_no_lower() -> None:
    """Nothing is overlooked where shops are left out by what was found at lower prices."""
    fewer, known = 0, 0
    for number in range(12):
        house, caps = drawn(number)
        rng = Random(100 + number)
        if number % 2:
            house.catalogue = replace(house.catalogue, offers=of_everybody(rng))
        before = Search()
        Orders(house, before, ("cost", "mass"), caps).go()
        true = [priced(choice, house.catalogue, house.scenario) for choice in house.choices]
        for shop in shops_of(house):
            low = house.floors.get(("cost", shop.terms), -math.inf)
            known += low > 0.0
            # Of those below it there is none; the least of a shop is told half a cent too low.
            assert all(found.cents > low for found in true if found.passes and is_in(found, shop, house))
        offers = {
            code: tuple(
                one.model_copy(update={"price": one.price * rng.choice([100, 100, 100, 110]) // 100}) for one in rows
            )
            for code, rows in house.catalogue.offers.items()
        }
        dearer = replace(house, catalogue=replace(house.catalogue, offers=offers), looked=0)
        fresh = replace(dearer, floors={}, looked=0)
        for there in (dearer, fresh):
            start = None if before.best is None else priced(before.best.choice, there.catalogue, there.scenario)
            search = Search(best=start if start is not None and within(start, caps) else None)
            Orders(there, search, ("cost", "mass"), caps).go()
            wanted = best_of(there, ("cost", "mass"), caps)
            assert (None if search.best is None else figures(search.best, ("cost", "mass"))) == wanted, number
        assert dearer.looked <= fresh.looked
        fewer += dearer.looked < fresh.looked
    assert known > 12
    assert fewer > 2


def test_what_shops_are_known_to_cost_holds_for_all_builds() -> None:
    """What a shop comes to is told only of searches in which the scenario's own limits and no others bind."""
    by_hand = by_all(NORTH, SOUTH)
    by_hand.go()
    # Four parts at 500 and south's delivery are 2250: none costs less from him, from north, or from both.
    assert by_hand.house.floors == {
        ("cost", Terms(out=frozenset({"north"}))): 2249.25,
        ("cost", Terms(out=frozenset({"south"}), paid=frozenset({"north"}))): 2249.25,
        ("cost", Terms(orders=2)): 2249.25,
    }
    # The least of a shop is told half a cent too low, whatever the next figure is.
    best = by_all(NORTH, SOUTH, order=("cost", "mass"))
    best.go()
    assert best.house.floors["cost", Terms(out=frozenset({"north"}))] == 2249.5
    some = one([NORTH, SOUTH])
    some.whole = False
    orders_of(some).go()
    assert some.floors == {}
    # A cap on mass that is not the scenario's: another search may ask for heavier builds.
    light = one([NORTH, SOUTH])
    Orders(light, Search(), ("cost",), {"cost": math.inf, "mass": 1000.0, "power": math.inf}).go()
    assert light.floors == {}
    # Mass made least: only builds lighter than the best are looked for in the end, whatever they cost.
    mass = one([NORTH, SOUTH])
    orders_of(mass, order=("mass",)).go()
    assert mass.floors == {}
    # No build at all within the caps: none is so cheap.
    dear = one([NORTH, SOUTH])
    orders_of(dear, 1600.0).go()
    assert dear.floors == {("cost", Shop().terms): 1600.0}
    dear.looked = 0
    orders_of(dear, 1600.0).go()
    assert dear.looked == 0
    orders_of(dear, 1601.0).go()
    assert dear.looked > 0


def test_a_shop_that_must_cost_too_much_is_not_opened() -> None:
    north, south = frozenset({"north"}), frozenset({"south"})
    for shop, cap, looked in (
        # North's order comes to 3000 at least, whatever its goods, and south's delivery is 250.
        (Shop(free=north, stage=1), 2999.0, False),
        (Shop(free=north, stage=1), 3000.0, True),
        (Shop(free=north, paid=south, stage=1), 3249.0, False),
        (Shop(free=north, paid=south, stage=1), 3250.0, True),
        (Shop(paid=north), 399.0, False),
        (Shop(paid=north), 400.0, True),
        # Of no order known, the least that one costs.
        (Shop(), 100.0, False),
    ):
        house = one([NORTH, SOUTH])
        orders_of(house, cap)._look(shop)
        assert bool(house.opened) is looked, (shop, cap)


def test_the_build_that_a_shop_was_split_at_is_looked_at_first() -> None:
    """Where it keeps the caps of the shop no search is needed to know that there is some build."""
    hint = pick("e0")
    for cap, stage, mass, likely, ran in (
        (9000.0, 1, math.inf, 0, 1),
        (1900.0, 1, math.inf, 0, 1),  # 1500 of goods, and 400 of delivery
        (1899.0, 1, math.inf, 1, 0),
        (9000.0, 1, 10.0, 1, 0),
        # Where all orders count the best is asked for at once.
        (9000.0, EXACT, math.inf, 0, 1),
    ):
        house = one([NORTH, Supplier(supplier="south")])
        orders = Orders(house, Search(), ("cost",), {"cost": cap, "mass": mass, "power": math.inf})
        orders._look(Shop(paid=frozenset({"north"}), stage=stage, hint=hint))
        assert (house.looked - house.ran, house.ran) == (likely, ran), (cap, stage)
    # One that does not pass is none.
    house = one([NORTH, SOUTH], budget=1000)
    orders_of(house, 9000.0)._look(Shop(hint=hint))
    assert house.looked > 0


def test_shops_that_are_left_say_what_they_come_to_and_keep_what_is_known() -> None:
    house = one([NORTH, SOUTH])
    orders = orders_of(house, 9000.0)
    parts = orders._look(Shop(paid=frozenset({"south"}), stage=1))
    # Goods of 1500 and 250 of delivery; north is still to be decided upon.
    # Free delivery from 3000 on is above the 2150 of the build that is known now.
    assert [low for low, _ in parts] == [1750.0] * 2
    assert {part.hint for _, part in parts} == {pick("e0")}
    assert [part.paid for _, part in parts] == [frozenset({"south"}), frozenset({"north", "south"})]
    # Once a build is known, the columns of builds that may be better go with them.
    house = one([NORTH, SOUTH])
    known = priced(pick("e0"), house.catalogue, house.scenario)
    for few in (5, 0):
        house = one([NORTH, SOUTH])
        house.few = few
        search = Search(best=known)
        parts = orders_of(house, 9000.0, search)._look(Shop(stage=1))
        assert house.asked == 1
        if few:
            # Few: they are looked up before anything else, and all orders counted at once; nothing is left.
            assert parts == []
            assert house.lines[0] is None
            assert [line.kept.size for line in house.lines[1]] == [1]
            assert house.opened[1][2] == (NORTH, SOUTH)
        else:
            assert [[line.kept.size for line in part.lines] for _, part in parts] == [[1]] * 2
            assert {part.stage for _, part in parts} == {0}
    # Of those known nothing is looked up again, nor where columns were given.
    for shop, search in (
        (
            Shop(stage=1, lines=parts[0][1].lines),
            Search(best=known),
        ),
        (Shop(stage=1), Search(best=known, given=[])),
    ):
        house = one([NORTH, SOUTH])
        left = orders_of(house, 9000.0, search)._look(shop)
        assert house.asked == 0
        assert all(part.lines is shop.lines for _, part in left)


def test_few_columns_are_as_many_as_the_house_says() -> None:
    house = one([NORTH])
    lines = [SimpleNamespace(kept=SimpleNamespace(size=size)) for size in (2, 3)]
    for few, is_few in ((0, False), (4, False), (5, True), (6, True)):
        house.few = few
        assert orders_of(house)._few(lines) is is_few
    house.few = 0
    assert not orders_of(house)._few([])
    house.few = 1
    assert orders_of(house)._few(lines[:0])


def bought_of(*names: str, cents: int = 1500, passes: bool = True) -> Bought:
    return Bought(pick("e0"), tuple(Order(name, 100, 0, 0) for name in names), cents, 2000, passes)


def test_what_is_left_of_a_shop_by_hand() -> None:
    """True costs of 2150: goods of 1500, 400 and 250 of delivery."""
    north, south = (frozenset({name}) for name in ("north", "south"))

    def left(shop: Shop, found: Bought, charge: int, order: tuple[str, ...] = ("cost",), cap: float = 9000.0) -> Any:
        house = one([NORTH, SOUTH, Supplier(supplier="west")])
        orders = orders_of(house, cap, order=order)
        orders.sellers["west"] = Supplier(supplier="west")
        parts = orders._left(shop, found, charge)
        return None if parts is None else [(part.out, part.paid, part.free, part.stage) for part in parts]

    # As dear for true: this is what the shop comes to. Dearer: who charges most for delivery is decided upon.
    assert left(Shop(), bought_of("north", "south"), 650) is None
    assert left(Shop(), bought_of("north", "south"), 651) is None
    # With 2150 known, no order of 3000 in which delivery is free can be better.
    by_north = [(north, NOBODY, NOBODY, 0), (NOBODY, north, NOBODY, 0)]
    assert left(Shop(), bought_of("north", "south"), 649) == by_north
    assert left(Shop(), bought_of("south", "north", "west", "own"), 0) == by_north
    # Who is decided upon already, asks for nothing, or is no seller, is not asked again.
    of_south = [(south, north, NOBODY, 0), (NOBODY, north | south, NOBODY, 0)]
    assert left(Shop(paid=north), bought_of("north", "south"), 0) == of_south
    # All decided: goods of whom delivery is free count at their prices next, then all orders exactly.
    assert left(Shop(free=north, paid=south), bought_of("north", "south"), 0) == [(NOBODY, south, north, 1)]
    assert left(Shop(free=north, paid=south, stage=1), bought_of("north", "south"), 0) == [
        (NOBODY, south, north, EXACT)
    ]
    assert left(Shop(paid=north | south), bought_of("north", "south"), 0) == [(NOBODY, north | south, NOBODY, EXACT)]
    assert left(Shop(), bought_of("west", "own", "unknown"), 0) == [(NOBODY, NOBODY, NOBODY, EXACT)]
    assert left(Shop(stage=EXACT), bought_of("north"), 0) is None
    # Where cost does not count, a build within the caps is enough; one that is dearer than they let it be is not.
    assert left(Shop(), bought_of("north", "south"), 0, ("mass",)) is None
    assert left(Shop(), bought_of("north", "south"), 0, ("mass",), 2149.0) == by_north
    assert left(Shop(), bought_of("north", "south"), 650, cap=2149.0) is not None


def test_of_equal_deliveries_the_greater_least_order_is_decided_upon_first() -> None:
    sellers = [
        Supplier(supplier=name, delivery=100, order_min=least) for name, least in (("north", 900), ("south", 50))
    ]
    for mine, name in ((sellers, "north"), ([sellers[0], sellers[1].model_copy(update={"order_min": 900})], "south")):
        parts = orders_of(one(mine), 9000.0)._left(Shop(), bought_of("north", "south"), 0)
        assert parts is not None
        assert parts[0].out == frozenset({name})


def test_who_is_asked_for_parts_that_no_drawer_holds() -> None:
    orders = orders_of(one([NORTH, SOUTH]))
    by_kind = [{"north"}, {"south"}, {"own"}, {"own"}, set(), set()]  # no fuses at all
    assert orders.kinds == [frozenset(names) for names in by_kind]
    assert orders.sellers == {"north": NORTH, "south": SOUTH}
    # Who asks for nothing is known by name alone.
    assert orders_of(one([NORTH])).sellers == {"north": NORTH, "south": Supplier(supplier="south")}


def test_a_shop_is_split_by_whom_it_buys_from() -> None:
    orders = orders_of(one([NORTH, SOUTH]), 9000.0)
    north, south = frozenset({"north"}), frozenset({"south"})
    parts = orders._split(Shop(stage=1, lines="these"), "north")
    assert [(p.out, p.paid, p.free) for p in parts] == [
        (north, frozenset(), frozenset()),
        (frozenset(), north, frozenset()),
        (frozenset(), frozenset(), north),
    ]
    assert [(p.stage, p.lines) for p in parts] == [(0, "these")] * 3
    # Nothing free where south never delivers free, where delivery costs nothing, or the value is above the cap.
    assert len(orders._split(Shop(), "south")) == 2
    assert len(orders_of(one([NORTH]), 3000.0)._split(Shop(), "north")) == 3
    assert len(orders_of(one([NORTH]), 2999.0)._split(Shop(), "north")) == 2
    assert len(orders_of(one([NORTH.model_copy(update={"delivery": 0})]), 9000.0)._split(Shop(), "north")) == 2
    # At the last supplier that may be used, all others are out; after it, no one is asked.
    single = orders_of(one([NORTH, SOUTH], most=1), 9000.0)
    assert [(p.out, p.used) for p in single._split(Shop(), "north")] == [
        (north, frozenset()),
        (south, north),
        (south, north),
    ]
    assert [(p.out, p.used) for p in single._split(Shop(paid=south), "north")] == [(north, south)]
    two = orders_of(one([NORTH, SOUTH], most=2), 9000.0)
    assert [(p.out, p.paid) for p in two._split(Shop(paid=south), "north")][:2] == [
        (north, south),
        (frozenset(), north | south),
    ]
    assert [p.out for p in two._split(Shop(), "north")] == [north, frozenset(), frozenset()]


def test_what_is_on_offer_in_a_shop() -> None:
    house = one([NORTH, SOUTH], most=2, budget=5000)
    orders = orders_of(house, 9000.0)
    north, south = frozenset({"north"}), frozenset({"south"})
    catalogue, scenario = orders._terms(Shop(out=south, free=north), 3000)
    assert {code: [row.price for row in rows] for code, rows in catalogue.offers.items()} == {
        "e0": [0],  # paid for by the charge
        "d0": [],  # out
        "p0": [0],
        "c": [0],
    }
    assert catalogue.suppliers == ()
    assert (scenario.limits.budget, scenario.limits.suppliers_max) == (2000, None)
    catalogue, scenario = orders._terms(Shop(free=north, paid=south, stage=1), 250)
    assert [catalogue.offers[code][0].price for code in ("e0", "d0")] == [1000, 500]
    assert (catalogue.suppliers, scenario.limits.budget, scenario.limits.suppliers_max) == ((), 4750, None)
    # Where orders count: one that is free has to reach its value, one that is paid for never gets it free.
    catalogue, scenario = orders._terms(Shop(free=north, stage=EXACT), 0)
    assert catalogue.suppliers == (Supplier(supplier="north", order_min=3000), SOUTH)
    assert (scenario.limits.budget, scenario.limits.suppliers_max) == (5000, 2)
    catalogue, _ = orders._terms(Shop(paid=north, out=south, stage=EXACT), 0)
    assert catalogue.suppliers == (NORTH.model_copy(update={"delivery_free_over": None}),)
    catalogue, _ = orders._terms(Shop(stage=EXACT), 0)
    assert catalogue.suppliers == (NORTH, SOUTH)
    assert orders_of(one([NORTH]))._terms(Shop(), 0)[1].limits.budget is None


def test_caps_leave_room_for_what_may_be_better() -> None:
    best = priced(pick("e0"), one([]).catalogue, job())
    assert best.cents == 1500
    house = one([])
    # By cost alone a cent has to be saved: anything between 1499 and 1500. With mass next, as dear is let in.
    alone = orders_of(house, search=Search(best=best))._caps(100)["cost"]
    assert 1499 <= alone + 100 < 1500
    both = orders_of(house, search=Search(best=best), order=("cost", "mass"))._caps(100)["cost"]
    assert 1500 <= both + 100 < 1501
    # The cap that was there holds where it is the tighter one, and where any build will do.
    assert orders_of(house, 1400.0, Search(best=best))._caps(100)["cost"] == 1300
    assert orders_of(house, 1600.0, Search(best=best, any_will_do=True))._caps(100)["cost"] == 1500
    mass = orders_of(house, 1600.0, Search(best=best), order=("mass",))._caps(0)
    assert best.milligrams - 1 <= mass["mass"] < best.milligrams
    assert mass["cost"] == 1600


def test_of_builds_that_tie_the_earlier_part_codes_are_kept() -> None:
    first = replace(pick("e0"), diffuser="s", battery="b")
    later = [
        replace(first, battery="b", battery_series=2),
        replace(first, battery=None),
        replace(first, diffuser="t"),
        replace(first, diffuser=None),
        replace(first, panel="p1", diffuser="a"),
        replace(first, emitter="e1", panel="a"),
    ]
    leads = [replace(first, battery_parallel=2), replace(first, battery_parallel=2, cable="d", fuse="a")]
    leads += [replace(leads[1], fuse="b", connector="a"), replace(leads[1], fuse="b", connector="b")]
    leads += [replace(leads[3], mount="m", channels=()), replace(first, battery="c", channels=())]
    channels = [replace(first, channels=(ChannelChoice("d1", 1, 1, 0.5, 1),))]
    assert sorted([*later, *channels, first], key=_codes) == [first, *channels, *later]
    assert sorted(leads, key=_codes) == leads
    # Of a kit, light by light.
    assert _codes((first, later[0])) == (_codes(first), _codes(later[0]))
    for one_, other, kept in ((first, later[0], first), (later[0], first, first), (first, first, first)):
        search = Search(best=Bought(other, (), 1500, 2000, passes=True))
        found = Bought(one_, (), 1500, 2000, passes=True)
        before = search.best
        orders_of(one([]), search=search, order=("cost", "mass"))._offer(found)
        assert search.best is not None
        assert search.best.choice == kept
        # One that is no other is not taken for a new one.
        assert (search.best is before) == (kept == other)
    for cents, grams, taken in ((1499, 2001, True), (1500, 1999, True), (1500, 2001, False), (1501, 1999, False)):
        search = Search(best=Bought(later[0], (), 1500, 2000, passes=True))
        orders_of(one([]), search=search, order=("cost", "mass"))._offer(Bought(first, (), cents, grams, passes=True))
        assert search.best is not None
        assert (search.best.choice == first) is taken
    search = Search()
    orders_of(one([]), 1400.0, search)._offer(Bought(first, (), 1500, 2000, passes=True))
    orders_of(one([]), 1600.0, search)._offer(Bought(first, (), 1500, 2000, passes=False))
    assert search.best is None
    assert search.told == []


def test_where_time_is_up_what_was_found_of_goods_is_bought_for_true(monkeypatch: pytest.MonkeyPatch) -> None:
    house = one([NORTH, SOUTH])
    search = Search(any_will_do=False)

    def stopped(self: Counted, caps: Mapping[str, float]) -> None:
        self.best = priced(self.choices[0], self.catalogue, self.scenario)
        raise TimeUpError

    monkeypatch.setattr(Counted, "likely", stopped)
    with pytest.raises(TimeUpError):
        orders_of(house, search=search).go()
    assert search.best is not None
    assert search.best.cents == 1500 + 400 + 250
    assert search.rounds == 1
    monkeypatch.setattr(Counted, "likely", lambda self, caps: stopped_with_nothing())

    def stopped_with_nothing() -> None:
        raise KeyboardInterrupt

    search = Search()
    with pytest.raises(KeyboardInterrupt):
        orders_of(house, search=search).go()
    assert search.best is None
    search = Search(left=0)
    with pytest.raises(TimeUpError):
        orders_of(house, search=search).go()
    assert house.looked == 0


def test_searches_are_counted() -> None:
    house = one([NORTH, SOUTH])
    search = Search(columns=5, kept_columns=99)
    orders_of(house, search=search).go()
    assert search.rounds == house.looked
    assert (search.columns, search.kept_columns) == (7, 99)
    assert search.lows == {0: 0.0}
    orders = orders_of(house, search=Search(lows={0: 0.0}, columns=99))
    low = Counted(house, [], house.catalogue, house.scenario, ("cost",), low=5.0)
    orders._count(low)
    # What the first shop says holds of all.
    assert orders.search.lows == {0: 0.0}
    assert (orders.search.columns, orders.search.kept_columns) == (99, 3)
    fresh = orders_of(house)
    fresh._count(low)
    assert fresh.search.lows == {0: 5.0}


def test_few_columns_go_into_one_program_with_all_orders() -> None:
    line = SimpleNamespace(kept=SimpleNamespace(size=2), choices=[pick("e0")])
    house = one([NORTH, SOUTH])
    for few, exact in ((0, False), (1, False), (2, True), (3, True)):
        house.few, house.opened, house.ran = few, [], 0
        search = Search(given=[line])
        orders_of(house, search=search).go()
        assert search.best is not None
        assert (house.opened[0][2] == (NORTH, SOUTH)) is exact
        assert (len(house.opened) == 1) is exact
        assert not exact or house.ran == 1
    # Without given ones they are looked up once a build is known, and not before.
    for few, asked in ((0, 0), (4, 1)):
        house = one([NORTH, SOUTH])
        house.few = few
        orders_of(house, search=Search(best=priced(pick("e0"), house.catalogue, house.scenario))).go()
        assert house.asked >= asked
        assert not few or house.opened[1][2] == (NORTH, SOUTH)


def test_nobody_who_asks_for_nothing_is_branched_on() -> None:
    house = one([Supplier(supplier="north"), Supplier(supplier="south")])
    orders_of(house, search=Search()).go()
    assert len(house.opened) == 1
    assert not orders_of(house)._matters("north")
    # But where only so many may be used.
    assert orders_of(one([], most=1))._matters("north")
    search = Search()
    orders_of(one([], most=1), search=search).go()
    assert search.best is None
    search = Search()
    orders_of(one([], most=2), search=search).go()
    assert search.best is not None


def test_first_guesses_save_searches() -> None:
    saved = 0
    for number in range(5):
        house, caps = drawn(number)
        house.few = 0
        plain = replace(house, guessed=(), opened=[])
        Orders(plain, Search(), ("cost",), caps).go()
        every = [priced(choice, house.catalogue, house.scenario) for choice in house.choices]
        best = min((f for f in every if within(f, caps)), key=lambda f: f.cents, default=None)
        if best is not None:
            told = replace(house, guessed=[best.choice], opened=[])
            search = Search()
            Orders(told, search, ("cost",), caps).go()
            assert search.told[0] == best
            saved += plain.looked - told.looked
    assert saved > 0
