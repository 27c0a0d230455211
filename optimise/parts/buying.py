"""What a number of pieces of one part costs, bought by a single offer."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from optimise.parts.kinds import Offer

_HAIR = 1e-9
"""Relative slack when metres are divided into steps: 3 × 0.1 m is three steps of 0.1 m."""


@dataclass(frozen=True)
class Purchase:
    """So many packs by one offer; money in cents."""

    offer: Offer
    packs: int
    line: int


def least_packs(offer: Offer) -> int:
    """Return the fewest packs that an offer's price applies to."""
    return max(1, math.ceil(offer.quantity_min / offer.pack * (1.0 - _HAIR)))


def most_packs(offer: Offer) -> int | None:
    """Return the most whole packs in stock, or None without a limit."""
    return None if offer.stock is None else math.floor(offer.stock / offer.pack * (1.0 + _HAIR))


def packs_for(offer: Offer, amount: float) -> int | None:
    """Return the packs to buy for `amount` pieces (or metres), or None where the stock is too small.

    The least quantity of an offer counts: it may pay to buy more than is needed to get the better price.
    """
    packs = max(least_packs(offer), math.ceil(amount / offer.pack * (1.0 - _HAIR)))
    most = most_packs(offer)
    return packs if most is None or packs <= most else None


def amount_of(offer: Offer, pieces: int, length: float) -> float:
    """Return what `pieces` are in the offer's own measure: pieces, or metres where sold by length."""
    return pieces * length if offer.sold_by == "length" else float(pieces)


def all_cheapest(offers: Iterable[Offer], pieces: int, length: float = 0.0) -> tuple[Purchase, ...]:
    """Return every way to buy `pieces` by one offer that costs no more than any other, in order of offers.

    `length` is that of one piece in metres, for offers by length. Empty where no offer can supply them.
    """
    ways = [
        Purchase(offer, packs, packs * offer.price)
        for offer in offers
        if (packs := packs_for(offer, amount_of(offer, pieces, length))) is not None
    ]
    least = min((way.line for way in ways), default=0)
    return tuple(way for way in ways if way.line == least)


def cheapest(offers: Iterable[Offer], pieces: int, length: float = 0.0) -> Purchase | None:
    """Return the first of `all_cheapest`, or None where no offer can supply them."""
    return next(iter(all_cheapest(offers, pieces, length)), None)


def allowed_offers(
    offers: Iterable[Offer], suppliers: Iterable[str] | None, deadline: float | None
) -> tuple[Offer, ...]:
    """Return the offers of the suppliers named (None: all) that arrive within `deadline` seconds.

    What is owned is at hand whatever the list and the deadline say.
    """
    names = None if suppliers is None else set(suppliers)
    return tuple(
        offer
        for offer in offers
        if offer.supplier == "own"
        or (
            (names is None or offer.supplier in names)
            and (deadline is None or (offer.lead_time is not None and offer.lead_time <= deadline))
        )
    )
