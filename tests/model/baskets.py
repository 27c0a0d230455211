"""The cheapest basket, and the best build at the door, by looking at every way to buy."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from random import Random
from typing import Any

from oracle import LOOSE, Build, Oracle, price, purchases, shelves, taken, usable_offers, whole

from optimise.model.choice import Choice
from optimise.model.exact import evaluate
from optimise.parts import Catalogue, Offer, Supplier
from optimise.scenario import Scenario

Wanted = Mapping[str, tuple[int, float]]


def with_charges(catalogue: Catalogue, rng: Random) -> Catalogue:
    """Return a catalogue whose suppliers charge for delivery, ask for least orders, deliver free from some value."""

    def charging(supplier: Supplier) -> Supplier:
        free = rng.choice([None, rng.randint(500, 12000)])
        return Supplier(
            supplier=supplier.supplier,
            delivery=rng.choice([0, rng.randint(100, 2500), rng.randint(100, 900)]),
            delivery_free_over=free,
            order_min=rng.choice([0, 0, rng.randint(300, 6000)]),
        )

    return replace(catalogue, suppliers=tuple(charging(supplier) for supplier in catalogue.suppliers))


def sold_by_all(catalogue: Catalogue, rng: Random) -> Catalogue:
    """Return a catalogue in which every supplier sells every part, in the same packs, at prices of his own."""
    names = [supplier.supplier for supplier in catalogue.suppliers]

    def rows(offers: Sequence[Offer]) -> tuple[Offer, ...]:
        first = next((offer for offer in offers if offer.supplier in names), None)
        if first is None:
            return tuple(offers)
        theirs = {offer.supplier for offer in offers}
        more = [
            first.model_copy(update={"supplier": name, "price": max(round(first.price * rng.uniform(0.8, 1.3)), 1)})
            for name in names
            if name not in theirs
        ]
        return (*offers, *more)

    return replace(catalogue, offers={part: rows(offers) for part, offers in catalogue.offers.items()})


def paid(supplier: Supplier | None, goods: int) -> int:
    """Return what an order of some goods costs, topped up where that is needed or pays."""
    if supplier is None:
        return goods
    prices = [max(goods, supplier.order_min) + supplier.delivery]
    if supplier.delivery_free_over is not None:
        prices.append(max(goods, supplier.order_min, supplier.delivery_free_over))
    return min(prices)


def undominated(states: set[tuple[tuple[str, int], ...]]) -> set[tuple[tuple[str, int], ...]]:
    """Return the payments that no other undercuts at every supplier: an order never costs less for more goods."""
    kept: list[dict[str, int]] = []
    for state in sorted(states, key=lambda state: sum(cents for _, cents in state)):
        mine = dict(state)
        if not any(all(cents <= mine.get(name, -1) for name, cents in other.items()) for other in kept):
            kept.append(mine)
    return {tuple(sorted(state.items())) for state in kept}


def ways(offers: Sequence[Offer], pieces: int, length: float, below: float) -> set[tuple[tuple[str, int], ...]]:
    """Return what each supplier may be paid for so many pieces, below some sum in all, over all mixtures of packs."""
    known: set[tuple[int, tuple[tuple[str, int], ...]]] = {(0, ())}
    for shelf in shelves(offers):
        after = set(known)
        for given, cents in purchases(shelf, pieces, length):
            for before, spent in known:
                if before < pieces and cents + sum(part for _, part in spent) < below:
                    sums = dict(spent)
                    sums[shelf[0].supplier] = sums.get(shelf[0].supplier, 0) + cents
                    after.add((min(before + given, pieces), tuple(sorted(sums.items()))))
        numbers = {given for given, _ in after}
        known = {(n, spent) for n in numbers for spent in undominated({s for given, s in after if given == n})}
    return {spent for given, spent in known if given == pieces}


def basket(wanted: Wanted, catalogue: Catalogue, scenario: Scenario, below: float = math.inf) -> int | None:
    """Return the least that arrives at the door for, cents, if that is less than `below`; None where there is none."""
    sellers = {supplier.supplier: supplier for supplier in catalogue.suppliers}
    every = {code: usable_offers(catalogue, scenario, code) for code in wanted}
    names = sorted({offer.supplier for offers in every.values() for offer in offers} - {"own"})
    most = scenario.limits.suppliers_max
    # What the cheapest pieces cost with every charge there is: more than the least.
    alone = [price(every[code], pieces, length) for code, (pieces, length) in wanted.items()]
    charges = sum(seller.delivery + seller.order_min for seller in catalogue.suppliers)
    if None in alone:
        return None
    plain = [cents for cents in alone if cents is not None]
    most_paid = sum(plain) + charges + 1 if most is None else math.inf
    best = bound = min(below, most_paid)
    for number in range(min(len(names), len(names) if most is None else most) + 1):
        for chosen in combinations(names, number):
            allowed = {*chosen, "own"}
            sums: set[tuple[tuple[str, int], ...]] = {()}
            for place, (code, (pieces, length)) in enumerate(wanted.items()):
                offers = [offer for offer in every[code] if offer.supplier in allowed]
                after = set()
                for spent in sums:
                    for more in ways(offers, pieces, length, best - sum(plain) + plain[place]):
                        both = dict(spent)
                        for name, cents in more:
                            both[name] = both.get(name, 0) + cents
                        if sum(both.values()) < best:
                            after.add(tuple(sorted(both.items())))
                sums = undominated(after)
            for spent in sums:
                best = min(best, sum(paid(sellers.get(name), cents) for name, cents in spent))
    return None if best == bound else int(best)


class DoorOracle:
    """All builds of one job at what they cost at the door."""

    def __init__(self, catalogue: Catalogue, scenario: Scenario, nodes: int) -> None:
        self.catalogue, self.scenario = catalogue, scenario
        unlimited = scenario.limits.model_copy(update={"budget": None})
        self.goods = Oracle(catalogue, scenario.model_copy(update={"limits": unlimited}), nodes)
        self.known: dict[Choice, int | None] = {}

    def price(self, choice: Choice, below: float) -> int | None:
        """Return what a choice costs at the door, if that is less than `below`."""
        if choice not in self.known:
            found = basket(taken(choice, self.catalogue, self.scenario), self.catalogue, self.scenario, below)
            if found is None and math.isfinite(below):
                return None
            self.known[choice] = found
        found = self.known[choice]
        return None if found is None or found >= below else found

    def best(self, objective: str) -> tuple[int, int] | None:
        """Return the cents and milligrams of the best build by cost or mass."""
        builds: list[Build] = []
        for lit in self.goods.lit:
            for source in self.goods.sources:
                for mount in self.goods.mounts:
                    build = whole(lit, source, mount, self.goods.scenario, LOOSE)
                    if build is not None:
                        builds.append(build)
        most = self.scenario.limits.budget
        limit = math.inf if most is None else most + 1
        best: tuple[int, int] | None = None
        # Goods alone are a bound below what arrives at the door.
        for build in sorted(builds, key=lambda build: build.key(objective)):
            if objective == "cost" and best is not None and build.cents > best[0]:
                break
            if objective == "mass" and best is not None and build.milligrams > best[1]:
                break
            if objective == "mass" or best is None:
                below = limit if best is None else min(limit, best[0])
            else:
                below = min(limit, best[0] + 1)
            if build.cents >= below:
                continue
            cents = self.price(build.choice, below)
            if cents is None or not self.goods_pass(build):
                continue
            found = cents, build.milligrams
            key = {"cost": lambda pair: pair, "mass": lambda pair: pair[::-1]}[objective]
            best = found if best is None or key(found) < key(best) else best
        return best

    def goods_pass(self, build: Build) -> bool:
        """Whether the exact check lets the build through, money apart."""
        return evaluate(build.choice, self.catalogue, self.goods.scenario).passes


def assert_is(wanted: tuple[int, int] | None, status: str, best: Any) -> None:
    """Assert that a search came to what looking at everything came to: its cents and milligrams, or to nothing."""
    assert status == ("impossible" if wanted is None else "optimal")
    if wanted is not None:
        assert best is not None
        assert best.passes
        assert (best.cents, best.milligrams) == wanted
        assert best.cents == sum(order.total for order in best.orders)
        assert sum(order.goods for order in best.orders) == sum(line.purchase.line for line in best.bill)
