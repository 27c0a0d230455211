"""Which parts are never dearer than which others, from whomever they are bought.

Where delivery is charged, the cheaper of two parts may be the worse one: its supplier would get an order of his own.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from optimise.parts import Offer
from optimise.parts.buying import Want, price_of

Offers = Mapping[str, Sequence[Offer]]


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
