"""How many pieces of a part can be had, and what they cost, where the number is not known beforehand."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optimise.columns.expand import Floats, Ints
from optimise.parts import Offer
from optimise.parts.buying import Item, Want, items_of, mixed_prices, pieces_in

MOST_PIECES = 100_000


@dataclass(frozen=True)
class Buying:
    """How one kind of emitter or driver can be bought in a number not known beforehand."""

    want: Want
    """One piece of it."""
    items: tuple[Item, ...]
    exact: bool
    """Whether every piece costs exactly `unit`, whatever their number."""
    most: int
    """Most pieces that can be had of all items together."""

    _known: list[Floats] = field(default_factory=list, compare=False, repr=False)
    """The longest list of prices worked out so far."""

    def prices(self, most: int) -> Floats:
        """Return what 0 … `most` pieces cost, mixed of any items, cents; infinite where so many cannot be had.

        The array is shared: it must not be changed.
        """
        if not self._known or len(self._known[0]) <= most:
            longest = max(most, 24)
            steady = self.exact and self.most >= longest
            prices = np.arange(longest + 1) * self.unit if steady else mixed_prices(self.items, self.of(longest))
            self._known[:] = [np.asarray(prices, dtype=np.float64)]
        return self._known[0][: most + 1]

    def of(self, pieces: int) -> Want:
        """Return what so many pieces are to be bought as."""
        return replace(self.want, pieces=pieces)

    @cached_property
    def _steps(self) -> tuple[Floats, Floats]:
        """Return (pieces, cents): corners of a line that is never above what pieces cost, each item at its best."""
        best: list[tuple[float, float]] = []
        for item in self.items:
            unit = min(tier.price / per_pack(tier, self.want) for tier in item.tiers)
            there = item.most
            most = MOST_PIECES if there is None else per_pack(item.tiers[0], self.want) * there
            if most > 0:
                best.append((unit, float(min(most, MOST_PIECES))))
        best.sort()
        pieces = np.cumsum([0.0, *(most for _, most in best)])
        return pieces, np.cumsum([0.0, *(unit * most for unit, most in best)])

    def least(self, pieces: Floats | Ints) -> Floats:
        """Return a bound below what numbers of pieces cost, cents: quick, where `prices` is exact."""
        corners, cents = self._steps
        return np.asarray(np.where(pieces <= self.most, np.interp(pieces, corners, cents), np.inf))

    @property
    def unit(self) -> float:
        """Lowest price of a piece by any item, cents: never more than what is paid."""
        corners, cents = self._steps
        return float(cents[1] / corners[1]) if len(corners) > 1 else np.inf


def buying_of(want: Want, offers: Sequence[Offer]) -> Buying:
    """Return how a part can be bought that is wanted in pieces such as `want`, of these offers."""
    items = items_of(offers)
    there = [item.most for item in items]
    most = [MOST_PIECES if n is None else item.pieces(n, want) for n, item in zip(there, items, strict=True)]
    prices = [tier.price / per_pack(tier, want) for item in items for tier in item.tiers]
    exact = any(
        tier.price == min(prices) and pieces_in(tier, 1, want) == 1 and tier.quantity_min <= 1 and tier.stock is None
        for item in items
        for tier in item.tiers
        if tier.sold_by != "length" or tier.pack == want.length
    )
    return Buying(want, items, exact, min(sum(most), MOST_PIECES))


def per_pack(offer: Offer, want: Want) -> float:
    """Return how many pieces a pack gives at the very best, many packs taken together."""
    return offer.pack / want.length if offer.sold_by == "length" else max(float(pieces_in(offer, 1, want)), 1e-9)
