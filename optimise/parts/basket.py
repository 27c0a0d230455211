"""The cheapest way to buy several parts together: what arrives at the door, delivery included.

An order below a supplier's least order is topped up to it, and one just below the value from which delivery is free
may be topped up to that; what the top-up buys is not on the bill. With this, what an order of value v costs,

    c(v) = min(max(v, order_min) + delivery, max(v, order_min, delivery_free_over)),

never falls when v rises, and a basket is found exactly, in whole cents, without a solver.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from optimise.parts.beaten import unbeaten
from optimise.parts.buying import OWN, Item, Purchase, Want, cheapest, items_of, with_item
from optimise.parts.cutting import Cuts, cheapest_cuts, dearest, mixtures_of_cuts
from optimise.parts.offers import Offer, Supplier

_T = TypeVar("_T")

_NEVER = 1 << 60
"""More cents than any price."""


@dataclass(frozen=True)
class Order:
    """What one supplier is paid, cents."""

    supplier: str
    goods: int
    top_up: int
    delivery: int

    @property
    def total(self) -> int:
        """All of it."""
        return self.goods + self.top_up + self.delivery


@dataclass(frozen=True)
class Basket:
    """Everything bought: purchases by want, in the order of the wants, and the orders by supplier."""

    bought: tuple[tuple[Want | Cuts, tuple[Purchase, ...]], ...]
    orders: tuple[Order, ...]
    missing: tuple[str, ...] = ()
    """Parts that cannot be had in the number wanted."""

    @property
    def cents(self) -> int:
        """What arrives at the door costs."""
        return sum(order.total for order in self.orders)


def order_of(supplier: Supplier | None, name: str, goods: int) -> Order:
    """Return what an order of some goods costs by the cheaper way; paid delivery where both cost the same."""
    if supplier is None:
        return Order(name, goods, 0, 0)
    paid = Order(name, goods, max(supplier.order_min - goods, 0), supplier.delivery)
    if supplier.delivery_free_over is None:
        return paid
    free = Order(name, goods, max(supplier.order_min - goods, supplier.delivery_free_over - goods, 0), 0)
    return free if free.total < paid.total else paid


def least_extra(supplier: Supplier | None, most: int) -> int:
    """Return the least that an order of at most `most` cents costs beyond its goods."""
    if supplier is None:
        return 0
    paid = supplier.delivery + max(supplier.order_min - most, 0)
    if supplier.delivery_free_over is None:
        return paid
    return min(paid, max(supplier.order_min - most, supplier.delivery_free_over - most, 0))


def charges(suppliers: Iterable[Supplier]) -> bool:
    """Whether any of these asks for more than the goods."""
    return any(supplier.delivery or supplier.order_min for supplier in suppliers)


@dataclass
class Counter:
    """Where baskets are put together: offers by part, what suppliers charge, how many of them may be used."""

    offers: Mapping[str, Sequence[Offer]]
    suppliers: Mapping[str, Supplier]
    most_suppliers: int | None = None
    _alone: dict[tuple[Want | Cuts, frozenset[str]], tuple[Purchase, ...] | None] = field(default_factory=dict)

    def basket(self, wants: Sequence[Want | Cuts]) -> Basket:
        """Return the cheapest basket; of equal ones, one of few orders. The same for the same offers, always.

        Where something cannot be had, what can is bought at the least price, and the rest is named.
        """
        missing = tuple(want.part for want in wants if self._cheapest(want, frozenset()) is None)
        if missing:
            return self._priced(wants, [self._cheapest(want, frozenset()) or () for want in wants], missing)
        search = _Search(self, wants)
        search.go(frozenset(), frozenset())
        if search.best is None:
            # Every part can be had, but not all of them from as few suppliers as may be used.
            return self._priced(wants, [() for _ in wants], tuple(want.part for want in wants))
        return self._gathered(wants, search.best)

    def _gathered(self, wants: Sequence[Want | Cuts], basket: Basket) -> Basket:
        """Return a basket that costs no more and does without suppliers that it does not need."""
        everyone = frozenset(offer.supplier for want in wants for offer in self.offers.get(want.part, ()))
        for order in sorted(basket.orders, key=lambda order: (order.goods, order.supplier)):
            mine = {other.supplier for other in basket.orders} - {order.supplier} | {OWN}
            bought = [self._cheapest(want, everyone - mine) for want in wants]
            if order.supplier != OWN and all(purchases is not None for purchases in bought):
                fewer = self._priced(wants, [purchases or () for purchases in bought])
                basket = fewer if fewer.cents <= basket.cents else basket
        return basket

    def _cheapest(self, want: Want | Cuts, without: frozenset[str]) -> tuple[Purchase, ...] | None:
        key = want, without
        if key not in self._alone:
            offers = [offer for offer in self.offers.get(want.part, ()) if offer.supplier not in without]
            self._alone[key] = cheapest(offers, want) if isinstance(want, Want) else cheapest_cuts(offers, want)
        return self._alone[key]

    def _priced(
        self, wants: Sequence[Want | Cuts], bought: Sequence[tuple[Purchase, ...]], missing: tuple[str, ...] = ()
    ) -> Basket:
        goods: dict[str, int] = {}
        for purchases in bought:
            for way in purchases:
                goods[way.offer.supplier] = goods.get(way.offer.supplier, 0) + way.line
        orders = tuple(order_of(self.suppliers.get(name), name, goods[name]) for name in sorted(goods))
        return Basket(tuple(zip(wants, bought, strict=True)), orders, missing)


class _Search:
    """Branches on suppliers: whom the cheapest purchases use is either left out, or surely charges its least."""

    def __init__(self, counter: Counter, wants: Sequence[Want | Cuts]) -> None:
        self.counter, self.wants = counter, wants
        self.best: Basket | None = None
        self.least = _NEVER
        self.most_goods: dict[str, int] = {}
        for want in wants:
            for name, cents in dearest(items_of(counter.offers.get(want.part, ())), want).items():
                self.most_goods[name] = self.most_goods.get(name, 0) + cents

    def extra(self, name: str) -> int:
        return least_extra(self.counter.suppliers.get(name), self.most_goods.get(name, 0))

    def go(self, out: frozenset[str], used: frozenset[str]) -> None:
        bought: list[tuple[Purchase, ...]] = []
        for want in self.wants:
            purchases = self.counter._cheapest(want, out)
            if purchases is None:
                return
            bought.append(purchases)
        low = sum(way.line for purchases in bought for way in purchases) + sum(self.extra(name) for name in used)
        if low >= self.least:
            return
        found = {way.offer.supplier for purchases in bought for way in purchases} - {OWN}
        most = self.counter.most_suppliers
        if most is None or len(found) <= most:
            self._take(bought)
        if low >= self.least:
            return
        if most is not None and len(used) == most and found - used:
            others = set(self.most_goods) - used - {OWN}
            self.go(out | others, used)
            return
        undecided = sorted(found - used, key=lambda name: (-self.extra(name), name))
        if most is None:
            undecided = [name for name in undecided if self._charges(name)]
        if undecided:
            name = undecided[0]
            self.go(out | {name}, used)
            self.go(out, used | {name})
        elif low < self.least:
            self._settle(out, used)

    def _charges(self, name: str) -> bool:
        supplier = self.counter.suppliers.get(name)
        return supplier is not None and charges([supplier])

    def _take(self, bought: Sequence[tuple[Purchase, ...]]) -> None:
        basket = self.counter._priced(self.wants, bought)
        if basket.cents < self.least:
            self.best, self.least = basket, basket.cents

    def _settle(self, out: frozenset[str], used: frozenset[str]) -> None:
        """Find the best basket of these suppliers where thresholds may make a dearer price the better one.

        Goes through the wants and keeps what no other choice beats: in what is paid elsewhere, and in the value of
        the order of each supplier with a threshold.
        """
        watched = sorted(name for name in used if self._has_threshold(name))
        # Whoever else would charge is in no better basket: what the cheapest purchases use is all among these.
        everyone = {offer.supplier for want in self.wants for offer in self.counter.offers.get(want.part, ())}
        free = {name for name in everyone if self.counter.most_suppliers is None and not self._charges(name)}
        allowed = (used | free | {OWN}) - out
        labels: dict[tuple[int, ...], tuple[tuple[Purchase, ...], ...]] = {(0,) * (len(watched) + 1): ()}
        rest = [sum(way.line for way in self.counter._cheapest(want, out) or ()) for want in self.wants]
        slack = self.least - sum(rest) - sum(self.extra(name) for name in used)
        for place, want in enumerate(self.wants):
            offers = [offer for offer in self.counter.offers.get(want.part, ()) if offer.supplier in allowed]
            ways = _mixtures(items_of(offers), want, watched, rest[place] + slack)
            after = sum(rest[place + 1 :]) + sum(self.extra(name) for name in used)
            fresh: dict[tuple[int, ...], tuple[tuple[Purchase, ...], ...]] = {}
            for spent, chosen in labels.items():
                for more, purchases in ways.items():
                    both = tuple(a + b for a, b in zip(spent, more, strict=True))
                    if sum(both) + after < self.least:
                        fresh.setdefault(both, (*chosen, purchases))
            labels = _unbeaten(fresh)
        for chosen in labels.values():
            self._take(chosen)

    def _has_threshold(self, name: str) -> bool:
        supplier = self.counter.suppliers.get(name)
        if supplier is None:
            return False
        return supplier.order_min > 0 or (supplier.delivery > 0 and supplier.delivery_free_over is not None)


def _mixtures(
    items: Sequence[Item], want: Want | Cuts, watched: Sequence[str], below: int
) -> dict[tuple[int, ...], tuple[Purchase, ...]]:
    """Return the ways to buy what is wanted that no other beats, by (paid elsewhere, value of each watched order).

    below: cents that all together must stay below.
    """
    if isinstance(want, Cuts):
        done = mixtures_of_cuts(items, want, watched, below).get((0,) * len(want.wants), {})
        return _unbeaten(dict(done))
    # What so many pieces cost at the least of the items that are still to come.
    later = [np.append(0.0, np.full(want.pieces, np.inf))]
    for item in reversed(items):
        later.append(with_item(later[-1], item, want))
    start = (0,) * (len(watched) + 1)
    known: dict[int, dict[tuple[int, ...], tuple[Purchase, ...]]] = {0: {start: ()}}
    for item, rest in zip(items, reversed(later[:-1]), strict=True):
        place = watched.index(item.supplier) + 1 if item.supplier in watched else 0
        after: dict[int, dict[tuple[int, ...], tuple[Purchase, ...]]] = {}
        for given, ways in known.items():
            for spent, purchases in ways.items():
                if sum(spent) + rest[want.pieces - given] < below:
                    after.setdefault(given, {}).setdefault(spent, purchases)
            for way in item.useful(want) if given < want.pieces else ():
                both = min(given + item.pieces(way.packs, want), want.pieces)
                for spent, purchases in ways.items():
                    if sum(spent) + way.line + rest[want.pieces - both] < below:
                        paid = tuple(v + way.line if i == place else v for i, v in enumerate(spent))
                        after.setdefault(both, {}).setdefault(paid, (*purchases, way))
        known = {given: _unbeaten(ways) for given, ways in after.items()}
    return known.get(want.pieces, {})


def _unbeaten(labels: dict[tuple[int, ...], _T]) -> dict[tuple[int, ...], _T]:
    if len(labels) < 2:
        return labels
    keys = sorted(labels)
    return {keys[place]: labels[keys[place]] for place in unbeaten(np.array(keys, dtype=np.float64)).tolist()}
