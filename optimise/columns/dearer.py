"""Which parts are never dearer than which others, from whomever they are bought.

Where delivery is charged, the cheaper of two parts may be the worse one: its supplier would get an order of his own.
Where several lights are bought together, it may be so because another light leaves half a pack of the dearer one.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimise.parts import Offer
from optimise.parts.buying import Item, Want, items_of, least_packs, mixed_prices, most_packs, packs_wanted, price_of

Offers = Mapping[str, Sequence[Offer]]

StandIn = Callable[[Sequence[Want], Offers], np.ndarray]
"""Which want (rows) can be bought in place of which other (columns), and what is paid never rises."""


def by_supplier(wants: Sequence[Want], offers: Offers) -> np.ndarray:
    """Return what each supplier (columns) asks for each want (rows), cents; infinite where he cannot supply it."""
    rows = [offers.get(want.part, ()) for want in wants]
    suppliers = sorted({offer.supplier for mine in rows for offer in mine})
    prices = np.full((len(wants), len(suppliers)), np.inf)
    for row, (mine, want) in enumerate(zip(rows, wants, strict=True)):
        for column, supplier in enumerate(suppliers):
            price = price_of([offer for offer in mine if offer.supplier == supplier], want)
            if price is not None:
                prices[row, column] = price
    return prices


def never_dearer(wants: Sequence[Want], offers: Offers) -> np.ndarray:
    """Return which want (rows) costs no more than which other (columns), from each supplier of that other.

    Good for parts of which a build takes one: then one can be bought in place of the other, and no order grows.
    """
    prices = by_supplier(wants, offers)
    return np.asarray((prices[:, None, :] <= prices[None, :, :]).all(axis=2))


def at_one_price(wants: Sequence[Want], offers: Offers) -> np.ndarray:
    """Return which want (rows) costs no more than which other (columns), whatever the number of each.

    A row is true where each supplier of the other sells the one by the piece without end, at one price that is no
    more than the other's in any number.
    """
    suppliers = sorted({offer.supplier for want in wants for offer in offers.get(want.part, ())})
    steady = np.full((len(wants), len(suppliers)), np.inf)
    least = np.full((len(wants), len(suppliers)), np.inf)
    for row, want in enumerate(wants):
        for offer in offers.get(want.part, ()):
            column = suppliers.index(offer.supplier)
            if offer.pack == 1.0 and offer.quantity_min <= 1.0 and offer.stock is None and offer.sold_by == "each":
                steady[row, column] = min(steady[row, column], offer.price)
            least[row, column] = min(least[row, column], offer.price / offer.pack)
    return np.asarray((steady[:, None, :] <= least[None, :, :]).all(axis=2))


@dataclass(frozen=True)
class Together:
    """What several lights are bought from in one basket."""

    offers: Offers
    lights: int
    """How many: of a cable, a fuse, a connector each takes one."""
    lengths: frozenset[float]
    """Of their leads, m."""

    def singles(self, wants: Sequence[Want], offers: Offers) -> np.ndarray:
        """Return which want (rows) can be bought in place of which other (columns), by one light of all.

        From each supplier of that other, one more of the one never adds more than one less of the other saves.
        """
        return self._covers(wants, self._steps)

    def lots(self, wants: Sequence[Want], offers: Offers) -> np.ndarray:
        """Return the same of parts of which lights take any number."""
        return self._covers(wants, lambda mine, want: _steps_of_any(items_of(mine), want, np.inf))

    def _covers(
        self, wants: Sequence[Want], steps: Callable[[Sequence[Offer], Want], tuple[float, float]]
    ) -> np.ndarray:
        rows = [self.offers.get(want.part, ()) for want in wants]
        suppliers = sorted({offer.supplier for mine in rows for offer in mine})
        added = np.full((len(wants), len(suppliers)), np.inf)
        saved = np.full((len(wants), len(suppliers)), np.inf)
        for row, (mine, want) in enumerate(zip(rows, wants, strict=True)):
            for column, supplier in enumerate(suppliers):
                his = [offer for offer in mine if offer.supplier == supplier]
                if his:
                    saved[row, column], added[row, column] = steps(his, want)
        return np.asarray((added[:, None, :] <= saved[None, :, :]).all(axis=2) | np.eye(len(wants), dtype=bool))

    def _steps(self, offers: Sequence[Offer], want: Want) -> tuple[float, float]:
        """Return the least and the most that one piece more costs, of all that are taken; infinite without end."""
        items = items_of(offers)
        if want.size is not None:
            return 0.0, np.inf  # another face may be cut from the same sheet
        if want.length > 0.0 and len(self.lengths) > 1:
            # As many of the longest are more than all lights take of any.
            return _steps_of_any(items, want, self.lights * max(self.lengths) / want.length)
        prices = mixed_prices(items, replace(want, pieces=self.lights))
        there = np.diff(prices[np.isfinite(prices)])
        if not len(there):
            return 0.0, np.inf
        return float(there.min()), float(there.max()) if len(there) == self.lights else np.inf


def _steps_of_any(items: Sequence[Item], want: Want, most: float) -> tuple[float, float]:
    """Return the least and the most that one piece more costs, of up to so many, whatever else is cut of it."""
    return min(_least_saved(item, want, most) for item in items), min(_most_added(item, want, most) for item in items)


def _packs(item: Item, want: Want, most: float) -> float:
    """Return how many packs are enough for so many pieces; infinite where no number is."""
    each = packs_wanted(item.tiers[0], want)
    return np.inf if each is None else each * np.ceil(most)


def _most_added(item: Item, want: Want, most: float) -> float:
    """Return the most that one piece more adds, cents; infinite where stock may end."""
    packs, enough = packs_wanted(item.tiers[0], want), _packs(item, want, most)
    if packs is None or any((most_packs(tier) or 0) < enough for tier in item.tiers if tier.stock is not None):
        return np.inf
    if min(least_packs(tier) for tier in item.tiers) > 1:
        return np.inf
    return float(packs * max(tier.price for tier in item.tiers))


def _least_saved(item: Item, want: Want, most: float) -> float:
    """Return the least that one piece less saves, cents: nothing of a pack that is shared."""
    offer, enough = item.tiers[0], _packs(item, want, most)
    dear = [tier for tier in item.tiers[1:] if least_packs(tier) * tier.price >= enough * max(offer.price, 1e-9)]
    if len(dear) < len(item.tiers) - 1 or least_packs(offer) > 1:
        return 0.0
    if offer.sold_by == "length":
        return float(np.floor(want.length / offer.pack * (1.0 + 1e-9)) * offer.price)
    return float(offer.price) if offer.sold_by == "each" and offer.pack == 1.0 else 0.0
