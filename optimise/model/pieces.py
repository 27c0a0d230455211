"""How many pieces of a part can be had, and what they cost, where the number is not known beforehand."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np

from optimise.columns.expand import Floats, Ints
from optimise.model.covering import price_in_pieces
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
    _pieces: dict[tuple[int, int, float], tuple[Floats, float, float]] = field(
        default_factory=dict, compare=False, repr=False
    )

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

    def in_pieces(self, number: int, layers: int, worth: float) -> tuple[Floats, float, float]:
        """Return what pieces cost, for `number` of them at least, remembered.

        (first, more) as `covering.price_in_pieces` returns them, and the least that one piece more costs.
        """
        number = 1 << max(number - 1, 1).bit_length()
        key = number, layers, worth
        if key not in self._pieces:
            prices = self.prices(number)
            known = prices[np.isfinite(prices)]
            step = float(np.diff(known).min()) if len(known) > 1 else np.inf
            self._pieces[key] = *price_in_pieces(prices, layers, worth), step
        return self._pieces[key]

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
    """Return how a part can be bought that is wanted in pieces such as `want`, of these offers.

    What is worked out for one market serves all others with the same offers of it.
    """
    return _buying_of(want, tuple(offers))


@lru_cache(maxsize=10_000)
def _buying_of(want: Want, offers: tuple[Offer, ...]) -> Buying:
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
