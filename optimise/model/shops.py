"""Branching on suppliers: shops, in each of which goods alone are counted."""

import heapq
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from optimise.model.choice import Choice
from optimise.model.heuristic import value_of
from optimise.model.house import EXACT, NEVER, Goods, House, Shop
from optimise.model.state import TimeUpError, hair, keeps, preferred, step
from optimise.model.weights import SCALES, limits_of
from optimise.parts import Catalogue, Supplier
from optimise.parts.basket import charges, least_extra
from optimise.parts.buying import OWN
from optimise.scenario import Scenario


class Orders:
    """The branching on suppliers: for one order of figures, of which cost is the first or does not count.

    search: where the best build is kept, with the deadline.
    """

    def __init__(self, house: House, search: Any, order: tuple[str, ...], caps: Mapping[str, float]) -> None:
        self.house, self.search, self.order, self.caps = house, search, order, dict(caps)
        self.most = house.scenario.limits.suppliers_max
        selling = {offer.supplier for rows in house.offers.values() for offer in rows} - {OWN}
        known = {supplier.supplier: supplier for supplier in house.catalogue.suppliers}
        self.sellers = {name: known.get(name, Supplier(supplier=name)) for name in sorted(selling)}
        self.kinds = list(self._by_kind())

    def _by_kind(self) -> Iterator[frozenset[str]]:
        """Yield who has parts of each kind that every light has."""
        shop = self.house.catalogue
        for kind in (shop.emitters, shop.drivers, shop.panels, shop.cables, shop.fuses, shop.connectors):
            yield frozenset(offer.supplier for part in kind for offer in self.house.offers.get(part.part, ()))

    def go(self) -> None:
        """Leave the best build in the search: none within the caps, or as good as the one there, is better."""
        search = self.search
        if search.best is None:
            for choice in self.house.guesses(self.order):
                self._offer(self._true(choice))
                if search.any_will_do and search.best is not None:
                    return
        few = search.given is not None and self._few(search.given)
        first = [(0.0, Shop(stage=EXACT))] if few else self._first()
        queue = [(low, number, shop) for number, (low, shop) in enumerate(first)]
        heapq.heapify(queue)
        number = len(queue)
        while queue:
            _, _, shop = heapq.heappop(queue)
            search.seconds_left()
            for low, part in self._look(shop):
                number += 1
                heapq.heappush(queue, (low, number, part))
            if search.any_will_do and search.best is not None:
                return

    def _first(self) -> list[tuple[float, Shop]]:
        """Return the shops that hold all builds: where cost comes first, those with one order, and the one with more.

        One seller has little on offer, so the best of each is soon found, and it leaves little room for two deliveries.
        Where hardly anybody sells parts of all kinds, that is no help.
        """
        charging = frozenset(name for name in self.sellers if self._matters(name))
        everything = charging.intersection(*(names for names in self.kinds if names - {OWN}))
        if self.order[0] != "cost" or len(everything) < 2:
            return [(0.0, Shop())]
        alone = [Shop(out=charging - {name}) for name in sorted(charging)]
        self.search.lows = {0: self._promise(Shop())}
        # Where a good build is known they may come in any order.
        lows = [self._promise(shop) if self.search.best is None else 0.0 for shop in alone]
        return [*zip(lows, alone, strict=True), (math.inf, Shop(orders=2))]

    def _promise(self, shop: Shop) -> float:
        """Return what builds of a shop come to at least, by the parts alone."""
        charge = self._charge(shop)
        caps = self._caps(charge)
        if charge >= NEVER or caps["cost"] < 0.0:
            return math.inf
        return self._opened(shop, charge)[0]().promise(caps) + charge

    def _look(self, shop: Shop) -> list[tuple[float, Shop]]:
        """Look for a build of a shop that may be better; return the shops that are left to look at, likely ones first.

        Any build shows that a shop is not empty. Only where all its orders are settled is the best of it asked for.
        """
        charge = self._charge(shop)
        reached = sum(self._threshold(shop, name) for name in shop.free)
        delivered = sum(self.sellers[name].delivery for name in shop.paid)
        if charge >= NEVER or min(self._caps(charge)["cost"], self._caps(reached + delivered)["cost"]) < 0.0:
            return []
        if self.house.floors.get(("cost", shop.terms), -math.inf) >= self._caps(0)["cost"]:
            return []
        opened, catalogue, scenario = self._opened(shop, charge)
        if self.house.few and self._unknown(shop):
            # Where a build is known that may well be the best, little is left of the columns.
            shop = self._known(shop, opened, charge)
            charge = self._charge(shop)
            opened, catalogue, scenario = self._opened(shop, charge)
        found = None
        if shop.hint is not None and shop.stage < EXACT:
            found = self.house.evaluate(shop.hint, catalogue, scenario)
            caps = self._caps(charge).items()
            found = found if found.passes and all(value_of(found, name) <= cap for name, cap in caps) else None
        if found is None:
            found = self._found(shop, opened(), charge, proven=shop.stage == EXACT)
        parts = None if found is None else self._left(shop, found, charge)
        if parts is None and found is not None and shop.stage < EXACT and not self.search.any_will_do:
            found = self._found(shop, opened(), charge, proven=True)
            parts = None if found is None else self._left(shop, found, charge)
        if found is None or not parts:
            return []
        if self._unknown(shop):
            known = self._known(shop, opened, charge)
            parts = [known] if known.stage > shop.stage else [replace(part, lines=known.lines) for part in parts]
        return [(float(found.cents + charge), replace(part, hint=found.choice)) for part in parts]

    def _opened(self, shop: Shop, charge: int) -> tuple[Callable[[], Goods], Catalogue, Scenario]:
        """Return what makes searches of a shop, and what it has on offer on which terms."""
        catalogue, scenario = self._terms(shop, charge)
        orders = tuple(supplier for supplier in catalogue.suppliers if self._matters(supplier.supplier))
        return self.house.open(catalogue, scenario, orders, self.order, shop.lines), catalogue, scenario

    def _unknown(self, shop: Shop) -> bool:
        """Whether the columns of a shop are still to be looked up, and a build says within which cost."""
        return shop.lines is None and self.search.given is None and self.search.best is not None

    def _known(self, shop: Shop, opened: Callable[[], Goods], charge: int) -> Shop:
        """Return a shop with the columns of its builds that may be better than the best one, as it is bought.

        Where they are few, all orders go into one program at once.
        """
        wide = opened()
        lines = wide.within(self._caps(charge))
        self._count(wide)
        return replace(shop, lines=lines, stage=EXACT if self._few(lines) else shop.stage)

    def _few(self, lines: Any) -> bool:
        """Whether columns are so few that all orders go into one program."""
        return self.house.few > 0 and sum(line.kept.size for line in lines) <= self.house.few

    def _found(self, shop: Shop, sub: Goods, charge: int, *, proven: bool) -> Any:
        """Return the best build of a shop by its goods, or any good one; None where there is none."""
        caps = self._caps(charge)
        found = self._of_goods(sub, caps, proven=proven)
        if found is None:
            self._keep_floor(shop, caps, caps["cost"] + charge)
        elif proven and self.order[0] == "cost":
            self._keep_floor(shop, caps, found.cents + charge - 0.5)
        return found

    def _of_goods(self, sub: Goods, caps: Mapping[str, float], *, proven: bool) -> Any:
        try:
            if proven:
                sub.run(caps)
                return sub.best
            return sub.likely(caps)
        except (TimeUpError, KeyboardInterrupt):
            if sub.best is not None:
                self._offer(self._true(sub.best.choice))
            raise
        finally:
            self._count(sub)

    def _keep_floor(self, shop: Shop, caps: Mapping[str, float], cents: float) -> None:
        """Remember that no build of a shop costs so little, where that holds for all that the scenario allows."""
        limits, floors = limits_of(self.house.scenario), self.house.floors
        if self.house.whole and all(caps[scale] >= limits[scale] for scale in SCALES if scale != "cost"):
            floors["cost", shop.terms] = max(floors.get(("cost", shop.terms), -math.inf), cents)

    def _count(self, sub: Goods) -> None:
        if not self.search.lows:
            self.search.lows = {0: sub.low}  # of the first shop: all builds are in it
        rounds, columns, kept = sub.effort
        self.search.rounds += rounds
        self.search.columns = max(self.search.columns, columns)
        self.search.kept_columns = max(self.search.kept_columns, kept)

    def _true(self, choice: Any) -> Any:
        """Return what a choice comes to as it is bought."""
        best = self.search.best
        if best is not None and choice == best.choice:
            return best
        return self.house.evaluate(choice, self.house.catalogue, self.house.scenario)

    def _left(self, shop: Shop, found: Any, charge: int) -> list[Shop] | None:
        """Return the shops that a shop with this build in it falls into; None where it is bought for no more there."""
        true = self._true(found.choice)
        self._offer(true)
        undecided = [
            order.supplier
            for order in found.orders
            if order.supplier in self.sellers and order.supplier not in shop.used and self._matters(order.supplier)
        ]
        if shop.stage == EXACT or (
            self._inside(true) and (true.cents <= found.cents + charge or "cost" not in self.order)
        ):
            return None
        if undecided:
            name = max(undecided, key=lambda name: (self.sellers[name].delivery, self.sellers[name].order_min, name))
            return self._split(shop, name)
        return [replace(shop, stage=1 if shop.free and shop.stage == 0 else EXACT)]

    def _matters(self, name: str) -> bool:
        return self.most is not None or charges([self.sellers[name]])

    def _split(self, shop: Shop, name: str) -> list[Shop]:
        """Return the shops without a supplier, with a paid delivery of his, and with a free one."""
        seller, out = self.sellers[name], shop.out
        parts = [replace(shop, out=out | {name}, stage=self.house.first_stage)]
        if self.most is not None and len(shop.used) >= self.most:
            return parts
        if self.most is not None and len(shop.used) + 1 == self.most:
            out = out | (set(self.sellers) - shop.used - {name})
        parts.append(replace(shop, out=out, paid=shop.paid | {name}, stage=self.house.first_stage))
        over = seller.delivery_free_over
        if over is not None and seller.delivery and over <= self._caps(0)["cost"]:
            parts.append(replace(shop, out=out, free=shop.free | {name}, stage=self.house.first_stage))
        return parts

    def _threshold(self, shop: Shop, name: str) -> int:
        """Return the value to which an order is topped up."""
        seller = self.sellers[name]
        free = (seller.delivery_free_over or 0) if name in shop.free else 0
        return max(seller.order_min, free)

    def _charge(self, shop: Shop) -> int:
        """Return the cents that come to the goods of every build of a shop."""
        if shop.stage == EXACT:
            return 0
        if not shop.used:
            return max(self._first_order(shop), self._more_orders(shop))
        delivery = sum(self.sellers[name].delivery for name in shop.paid) + self._more_orders(shop)
        return delivery + sum(self._threshold(shop, name) for name in self._worthless(shop))

    def _first_order(self, shop: Shop) -> int:
        """Return what the order of some part that cannot come from the drawer costs at least beyond its goods."""
        asked = [names for names in self.kinds if names and OWN not in names]
        return max((min((self._extra(name) for name in names - shop.out), default=NEVER) for names in asked), default=0)

    def _more_orders(self, shop: Shop) -> int:
        """Return what the orders that are still to be settled cost at least beyond their goods."""
        number = max(shop.orders - sum(self._matters(name) for name in shop.used), 0)
        extras = sorted(self._extra(name) for name in {*self.sellers} - shop.out - shop.used if self._matters(name))
        return sum(extras[:number]) if number <= len(extras) else NEVER

    def _extra(self, name: str) -> int:
        """Return what an order costs at least beyond its goods, of a build that may be better than the best one."""
        return least_extra(self.sellers[name], int(min(self._caps(0)["cost"], NEVER)))

    def _worthless(self, shop: Shop) -> frozenset[str]:
        """Return the suppliers whose goods count as worth their threshold in all, whatever is bought."""
        return shop.free if shop.stage == 0 else frozenset()

    def _caps(self, charge: int) -> dict[str, float]:
        """Return the caps of goods alone that builds keep which may be better than the best one.

        Where one figure alone is made least, a build must be better by it; else one as good may be better by the next.
        """
        caps, best = dict(self.caps), self.search.best
        if best is not None and not self.search.any_will_do:
            first = self.order[0]
            value = value_of(best, first)
            caps[first] = min(caps[first], value + (hair if len(self.order) > 1 else _less)(first, value))
        caps["cost"] -= charge
        return caps

    def _terms(self, shop: Shop, charge: int) -> tuple[Catalogue, Scenario]:
        """Return what a shop has on offer, and the scenario with what its goods may cost."""
        worthless = self._worthless(shop)
        offers = {
            code: tuple(
                offer.model_copy(update={"price": 0}) if offer.supplier in worthless else offer
                for offer in rows
                if offer.supplier not in shop.out
            )
            for code, rows in self.house.offers.items()
        }
        scenario = self.house.scenario
        budget, most = scenario.limits.budget, self.most
        sellers: tuple[Supplier, ...] = ()
        if shop.stage == EXACT:
            sellers = tuple(self._seller(shop, name) for name in self.sellers if name not in shop.out)
        else:
            most = None
        limits = scenario.limits.model_copy(
            update={"budget": None if budget is None else budget - charge, "suppliers_max": most}
        )
        catalogue = replace(self.house.catalogue, offers=offers, suppliers=sellers)
        return catalogue, scenario.model_copy(update={"limits": limits})

    def _seller(self, shop: Shop, name: str) -> Supplier:
        """Return what a supplier charges on the terms of a shop."""
        if name in shop.paid:
            return self.sellers[name].model_copy(update={"delivery_free_over": None})
        if name in shop.free:
            least = self._threshold(shop, name)
            return Supplier(supplier=name, order_min=least)
        return self.sellers[name]

    def _inside(self, found: Any) -> bool:
        """Whether a build passes and keeps the caps."""
        return found.passes and keeps(found, self.caps)

    def _offer(self, found: Any) -> None:
        """Take a build if it is better than the best one, or as good with earlier part codes."""
        if not self._inside(found):
            return
        self.search.seen(found)
        best = self.search.best
        if best is None:
            self.search.best = found
            return
        which = preferred(found, best, self.order)
        if which < 0 or (which == 0 and _codes(found.choice) < _codes(best.choice)):
            self.search.best = found


def _less(scale: str, value: float) -> float:
    return -step(scale, value)


def _codes(choice: Any) -> tuple[Any, ...]:
    if not isinstance(choice, Choice):
        return tuple(_codes(each) for each in choice)
    supply = (choice.battery or "~", choice.battery_series, choice.battery_parallel)
    lead = (choice.cable, choice.fuse, choice.connector, choice.mount or "")
    return (choice.emitter, choice.panel, choice.sheets or ("~",), supply, lead, choice.channels)
