"""What a number of pieces of one part costs: packs, price breaks, cut lengths, sheets and stock, of one or more offers.

An *item* is what a supplier sells of a part in one pack; its offers are price breaks, of which the whole purchase of
the item has one. Items may be mixed: three from the drawer and a bag of ten.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from optimise.parts.offers import Offer

Floats = NDArray[np.float64]

_HAIR = 1e-9
"""Relative slack when metres are divided into steps: 3 × 0.1 m is three steps of 0.1 m."""

_TOGETHER = 256
"""Purchases that are looked at in one step."""

OWN = "own"
"""The supplier that is one's own drawer."""


@dataclass(frozen=True)
class Want:
    """So many equal pieces of one part; lengths in m."""

    part: str
    pieces: int
    length: float = 0.0
    """Of one piece, for what is cut from a roll or a reel."""
    size: tuple[float, float] | None = None
    """Of one piece, for what is cut from a sheet."""
    sheet: tuple[float, float] | None = None
    """Of the part as it is sold, if that is a sheet from which pieces are cut."""
    kerf: float = 0.0
    """What a cut between two pieces of a sheet takes away."""


@dataclass(frozen=True)
class Purchase:
    """So many packs by one offer; money in cents."""

    offer: Offer
    packs: int
    line: int


@dataclass(frozen=True)
class Item:
    """What one supplier sells of one part in one pack, with its price breaks."""

    tiers: tuple[Offer, ...]

    @property
    def supplier(self) -> str:
        """Who sells it."""
        return self.tiers[0].supplier

    @property
    def most(self) -> int | None:
        """The most packs that can be had; None without a limit."""
        limits = [most_packs(tier) for tier in self.tiers]
        return None if None in limits else max((most for most in limits if most is not None), default=0)

    def purchase(self, packs: int) -> Purchase | None:
        """Return how so many packs are bought at the least price, or None where they cannot be had."""
        ways = [
            Purchase(tier, packs, packs * tier.price)
            for tier in self.tiers
            if least_packs(tier) <= packs and (most_packs(tier) is None or packs <= (most_packs(tier) or 0))
        ]
        return min(ways, key=lambda way: way.line, default=None)

    def useful(self, want: Want) -> tuple[Purchase, ...]:
        """Return the purchases, fewest pieces first, that no other of the item beats: more pieces for no more money.

        None gives more pieces than are wanted by more than it takes to reach them, or the next price break.
        """
        return _useful(self, want)

    def pieces(self, packs: int, want: Want) -> int:
        """Return how many of the pieces wanted so many packs give."""
        return pieces_in(self.tiers[0], packs, want)


@lru_cache(maxsize=50_000)
def _useful(item: Item, want: Want) -> tuple[Purchase, ...]:
    enough = packs_wanted(item.tiers[0], want)
    if enough is None:
        return ()
    last = max([enough, *(least_packs(tier) for tier in item.tiers)])
    most = item.most
    last = last if most is None else min(last, most)
    # There may be very many numbers of packs, and few of them are kept.
    lines, offers = [math.inf] * (last + 1), [item.tiers[0]] * (last + 1)
    for tier in item.tiers:
        there, price = most_packs(tier), tier.price
        for packs in range(least_packs(tier), (last if there is None else min(there, last)) + 1):
            if packs * price < lines[packs]:
                lines[packs], offers[packs] = packs * price, tier
    kept: list[tuple[int, int]] = []
    least, given = math.inf, want.pieces + 1
    for packs in range(last, 0, -1):
        line = lines[packs]
        if line > least or line == math.inf:
            continue
        pieces = min(item.pieces(packs, want), want.pieces)
        if line < least or pieces >= given:
            if kept and pieces == given:
                kept.pop()
            kept.append((packs, pieces))
            least, given = line, pieces
    return tuple(Purchase(offers[packs], packs, int(lines[packs])) for packs, pieces in reversed(kept) if pieces > 0)


def grid(sheet: tuple[float, float], size: tuple[float, float], kerf: float = 0.0) -> tuple[int, int]:
    """Return (columns, rows) of equal pieces that a sheet is cut into, all lying the same way; the better of two."""

    def fit(room: float, side: float) -> int:
        return math.floor((room + kerf) / (side + kerf) * (1.0 + _HAIR))

    ways = [(fit(sheet[0], a), fit(sheet[1], b)) for a, b in (size, size[::-1])]
    return max(ways, key=lambda way: way[0] * way[1])


def each_of(offer: Offer, want: Want) -> int:
    """Return the pieces that one unit of an offer gives that is not cut to order: a piece, a reel or a sheet."""
    if offer.sold_by == "reel":
        return math.floor(offer.pack / want.length * (1.0 + _HAIR)) if want.length > 0.0 else 0
    sheet = want.sheet
    if offer.sold_by == "sheet":
        assert offer.sheet_width is not None
        assert offer.sheet_height is not None
        sheet = offer.sheet_width, offer.sheet_height
    if sheet is None or want.size is None:
        return 1
    columns, rows = grid(sheet, want.size, want.kerf)
    return columns * rows


def pieces_in(offer: Offer, packs: int, want: Want) -> int:
    """Return how many of the pieces wanted so many packs of an offer give."""
    if offer.sold_by == "length":
        return math.floor(packs * offer.pack / want.length * (1.0 + _HAIR)) if want.length > 0.0 else 0
    if offer.sold_by == "reel":
        return packs * each_of(offer, want)
    return math.floor(packs * offer.pack * (1.0 + _HAIR)) * each_of(offer, want)


def packs_wanted(offer: Offer, want: Want) -> int | None:
    """Return the fewest packs that give the pieces wanted, whatever is in stock; None where no number does."""
    if offer.sold_by == "length":
        return math.ceil(want.pieces * want.length / offer.pack * (1.0 - _HAIR)) if want.length > 0.0 else None
    each = each_of(offer, want)
    if each == 0:
        return None
    units = -(-want.pieces // each)
    return units if offer.sold_by == "reel" else math.ceil(units / offer.pack * (1.0 - _HAIR))


def least_packs(offer: Offer) -> int:
    """Return the fewest packs that an offer's price applies to."""
    return max(1, math.ceil(offer.quantity_min / offer.pack * (1.0 - _HAIR)))


def most_packs(offer: Offer) -> int | None:
    """Return the most whole packs in stock, or None without a limit."""
    return None if offer.stock is None else math.floor(offer.stock / offer.pack * (1.0 + _HAIR))


def items_of(offers: Iterable[Offer]) -> tuple[Item, ...]:
    """Return what offers of one part sell, in order of the offers: price breaks of one pack are one item."""
    groups: dict[tuple[object, ...], list[Offer]] = {}
    for offer in offers:
        groups.setdefault(shelf_of(offer), []).append(offer)
    return tuple(Item(tuple(rows)) for rows in groups.values())


def shelf_of(offer: Offer) -> tuple[object, ...]:
    """Return what is the same in all price breaks of what one supplier sells of a part in one pack."""
    return offer.supplier, offer.sold_by, offer.pack, offer.sheet_width, offer.sheet_height


def mixed_prices(items: Sequence[Item], want: Want) -> Floats:
    """Return what 0 … `want.pieces` pieces cost by any mixture of items, cents; infinite where they cannot be had."""
    least = np.full(want.pieces + 1, np.inf)
    least[0] = 0.0
    for item in items:
        least = with_item(least, item, want)
    return least


def with_item(least: Floats, item: Item, want: Want) -> Floats:
    """Return what 0 … `want.pieces` pieces cost, cents, where they did cost `least` without an item more to buy of."""
    after = least.copy()
    ways = item.useful(want)
    # More pieces than are wanted are worth as much as those wanted.
    given = np.array([min(item.pieces(way.packs, want), want.pieces) for way in ways], dtype=np.int64)
    lines = np.array([way.line for way in ways], dtype=np.float64)
    number = np.arange(len(least))
    for first in range(0, len(ways), _TOGETHER):
        some = slice(first, first + _TOGETHER)
        before = np.maximum(number[None, :] - given[some, None], 0)
        np.minimum(after, (least[before] + lines[some, None]).min(axis=0), out=after)
    after[0] = 0.0
    return after


def cheapest(offers: Iterable[Offer], want: Want) -> tuple[Purchase, ...] | None:
    """Return the cheapest way to buy what is wanted, mixed of any offers; None where it cannot be had.

    Of equal ways the one with fewer purchases, then the one that uses earlier offers.
    """
    items = items_of(offers)
    single = [way for item in items if (way := _alone(item, want)) is not None]
    best = min(single, key=lambda way: way.line, default=None)
    if len(items) < 2 or (want.pieces == 1 and best is not None):
        return None if best is None else (best,)
    totals = [np.full(want.pieces + 1, np.inf)]
    totals[0][0] = 0.0
    for item in items:
        totals.append(with_item(totals[-1], item, want))
    if not np.isfinite(totals[-1][-1]):
        return None
    if best is not None and best.line <= totals[-1][-1]:
        return (best,)
    found: list[Purchase] = []
    left = want.pieces
    for item, before, after in zip(reversed(items), reversed(totals[:-1]), reversed(totals[1:]), strict=True):
        if after[left] == before[left]:
            continue
        for way in item.useful(want):
            rest = max(left - item.pieces(way.packs, want), 0)
            if before[rest] + way.line == after[left]:
                found.append(way)
                left = rest
                break
    return tuple(reversed(found))


def price_of(offers: Iterable[Offer], want: Want) -> int | None:
    """Return what the cheapest way to buy what is wanted costs, cents; None where it cannot be had."""
    return _price_of(tuple(offers), want)


@lru_cache(maxsize=50_000)
def _price_of(offers: tuple[Offer, ...], want: Want) -> int | None:
    found = cheapest(offers, want)
    return None if found is None else sum(way.line for way in found)


def _alone(item: Item, want: Want) -> Purchase | None:
    """Return the cheapest purchase of one item that gives all that is wanted."""
    ways = [way for way in item.useful(want) if item.pieces(way.packs, want) >= want.pieces]
    return min(ways, key=lambda way: way.line, default=None)


def by_metre(offer: Offer) -> bool:
    """Whether an offer counts in metres."""
    return offer.sold_by in {"length", "reel"}


def left_over(purchases: Iterable[Purchase], want: Want) -> float:
    """Return how many pieces more than wanted purchases give; for what is cut from a roll, metres."""
    bought = tuple(purchases)
    if bought and all(by_metre(way.offer) for way in bought):
        return sum(way.packs * way.offer.pack for way in bought) - want.pieces * want.length
    return float(sum(pieces_in(way.offer, way.packs, want) for way in bought) - want.pieces)


def allowed_offers(
    offers: Iterable[Offer],
    suppliers: Iterable[str] | None,
    deadline: float | None,
    day: date | None = None,
) -> tuple[Offer, ...]:
    """Return the offers of the suppliers named (None: all) that arrive within `deadline` seconds and hold on `day`.

    What is owned is at hand whatever the list, the deadline and the day say.
    """
    names = None if suppliers is None else set(suppliers)
    return tuple(
        offer
        for offer in offers
        if offer.supplier == OWN
        or (
            (names is None or offer.supplier in names)
            and (deadline is None or (offer.lead_time is not None and offer.lead_time <= deadline))
            and (day is None or offer.until is None or day <= offer.until)
        )
    )
