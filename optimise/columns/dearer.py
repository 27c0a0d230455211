"""Which parts are never dearer than which others, from whomever they are bought.

Where delivery is charged, the cheaper of two parts may be the worse one: its supplier would get an order of his own.
Where several lights are bought together, it may be so because another light leaves half a pack of the dearer one.
"""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from optimise.parts import Offer
from optimise.parts.buying import Item, Want, items_of, least_packs, packs_wanted, price_of

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


def never_dearer_together(wants: Sequence[Want], offers: Offers) -> np.ndarray:
    """Return which want (rows) costs no more than which other (columns), from each supplier of that other, one by one.

    Good for parts that other lights may take as well: one more of the one never adds more than one less of the other
    surely saves.
    """
    suppliers = sorted({offer.supplier for want in wants for offer in offers.get(want.part, ())})
    added = np.full((len(wants), len(suppliers)), np.inf)
    saved = np.full((len(wants), len(suppliers)), np.inf)
    for row, want in enumerate(wants):
        for item in items_of(offers.get(want.part, ())):
            column = suppliers.index(item.supplier)
            added[row, column] = min(added[row, column], _most_added(item, want))
            saved[row, column] = min(saved[row, column], _least_saved(item, want))
    covers = (added[:, None, :] <= saved[None, :, :]).all(axis=2)
    same = [[one.part == other.part for other in wants] for one in wants]
    return np.asarray(covers | (np.array(same, dtype=bool) & _no_more(wants)))


def _no_more(wants: Sequence[Want]) -> np.ndarray:
    """Return which want (rows) takes no more pieces, no longer ones, than which other (columns)."""
    pieces = np.array([want.pieces for want in wants], dtype=np.int64)
    length = np.array([want.length for want in wants], dtype=np.float64)
    return np.asarray((pieces[:, None] <= pieces[None, :]) & (length[:, None] <= length[None, :]))


def _most_added(item: Item, want: Want) -> float:
    """Return the most that one purchase more of what is wanted adds, cents; infinite where stock may end."""
    packs = packs_wanted(item.tiers[0], want)
    if packs is None or any(tier.stock is not None for tier in item.tiers):
        return np.inf
    if min(least_packs(tier) for tier in item.tiers) > 1:
        return np.inf
    return float(packs * max(tier.price for tier in item.tiers))


def _least_saved(item: Item, want: Want) -> float:
    """Return the least that one purchase less of what is wanted saves, cents: nothing of a pack that is shared."""
    offer = item.tiers[0]
    if len(item.tiers) > 1 or least_packs(offer) > 1 or want.size is not None or want.sheet is not None:
        return 0.0
    if offer.sold_by == "length":
        return float(np.floor(want.pieces * want.length / offer.pack * (1.0 - 1e-9)) * offer.price)
    return float(want.pieces * offer.price) if offer.sold_by == "each" and offer.pack == 1.0 else 0.0
