"""Pieces of one part in several lengths or sizes, bought together: what two lights cut off one roll.

A reel is cut without joins, a length is ordered in one and cut, and a sheet gives faces of one size only. The pieces
are few (a lead or a face for each light), so every way to share them out is looked at.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

from optimise.parts.buying import Item, Purchase, Want, by_metre, each_of, items_of, least_packs, left_over
from optimise.parts.offers import Offer

Vector = tuple[int, ...]
"""Pieces by want, in the order of the cuts."""

_HAIR = 1e-9


@dataclass(frozen=True)
class Cuts:
    """Pieces of one part in several lengths or sizes."""

    wants: tuple[Want, ...]

    @property
    def part(self) -> str:
        """The part."""
        return self.wants[0].part

    @property
    def pieces(self) -> Vector:
        """How many are wanted of each."""
        return tuple(want.pieces for want in self.wants)


def gathered(wants: Sequence[Want]) -> list[Want | Cuts]:
    """Return wants with those of one part put together, in the order of their parts' first wants."""
    by_part: dict[str, dict[Want, int]] = {}
    for want in wants:
        shapes = by_part.setdefault(want.part, {})
        shape = replace(want, pieces=1)
        shapes[shape] = shapes.get(shape, 0) + want.pieces
    found: list[Want | Cuts] = []
    for shapes in by_part.values():
        mine = tuple(replace(shape, pieces=number) for shape, number in shapes.items())
        found.append(mine[0] if len(mine) == 1 else Cuts(mine))
    return found


def by_length(offer: Offer) -> bool:
    """Whether an offer is one length, cut as one likes."""
    return offer.sold_by == "length"


def units_for(offer: Offer, vector: Vector, cuts: Cuts) -> int | None:
    """Return how many reels, sheets or pieces as sold give these pieces; None where none do."""
    if offer.sold_by == "reel":
        lengths = [want.length for want, number in zip(cuts.wants, vector, strict=True) for _ in range(number)]
        return reels_for(tuple(sorted(lengths, reverse=True)), offer.pack)
    units = 0
    for want, number in zip(cuts.wants, vector, strict=True):
        each = each_of(offer, want)
        if number and not each:
            return None
        units += -(-number // each) if number else 0
    return units


@lru_cache(maxsize=20_000)
def reels_for(lengths: tuple[float, ...], reel: float) -> int | None:
    """Return the fewest reels from which these lengths (longest first) are cut without joins; None where one is longer.

    Looks at every way to share them out, each next length on a reel begun before or on a new one.
    """
    room = reel * (1.0 + _HAIR)
    if lengths and lengths[0] > room:
        return None
    best = len(lengths)

    def go(place: int, left: list[float]) -> None:
        nonlocal best
        if len(left) >= best and place < len(lengths):
            return
        if place == len(lengths):
            best = min(best, len(left))
            return
        tried: set[float] = set()
        for reel_number, rest in enumerate(left):
            if lengths[place] <= rest and rest not in tried:
                tried.add(rest)
                go(place + 1, [*left[:reel_number], rest - lengths[place], *left[reel_number + 1 :]])
        go(place + 1, [*left, room - lengths[place]])

    go(0, [])
    return best


def packs_for(offer: Offer, vector: Vector, cuts: Cuts) -> int | None:
    """Return the fewest packs that give these pieces, whatever is in stock; None where no number does."""
    if by_length(offer):
        metres = math.fsum(n * want.length for n, want in zip(vector, cuts.wants, strict=True))
        return math.ceil(metres / offer.pack * (1.0 - _HAIR))
    units = units_for(offer, vector, cuts)
    if units is None or offer.sold_by == "reel":
        return units
    return math.ceil(units / offer.pack * (1.0 - _HAIR))


def patterns(offer: Offer, cuts: Cuts) -> list[Vector]:
    """Return the ways to cut one reel to which no piece can be added, of the pieces wanted."""
    fitting = [v for v in _below(cuts.pieces) if any(v) and units_for(offer, v, cuts) == 1]
    return [v for v in fitting if not any(v != w and all(a <= b for a, b in zip(v, w, strict=True)) for w in fitting)]


def _below(most: Vector) -> Iterator[Vector]:
    return product(*(range(number + 1) for number in most))


@lru_cache(maxsize=2_000)
def _ways(item: Item, cuts: Cuts) -> tuple[tuple[Vector, Purchase], ...]:
    """Return what an item can give, each with the cheapest purchase that gives it."""
    found: list[tuple[Vector, Purchase]] = []
    for vector in _below(cuts.pieces):
        enough = packs_for(item.tiers[0], vector, cuts) if any(vector) else None
        if enough is None:
            continue
        numbers = sorted({enough, *(max(enough, least_packs(tier)) for tier in item.tiers)})
        ways = [way for packs in numbers if (way := item.purchase(packs)) is not None]
        if ways:
            found.append((vector, min(ways, key=lambda way: way.line)))
    return tuple(found)


def _less(whole: Vector, part: Vector) -> Vector | None:
    rest = tuple(a - b for a, b in zip(whole, part, strict=True))
    return rest if min(rest) >= 0 else None


def cheapest_cuts(offers: Sequence[Offer], cuts: Cuts) -> tuple[Purchase, ...] | None:
    """Return the cheapest way to buy all pieces, mixed of any offers; None where they cannot be had.

    Of equal ways the one with fewer purchases, then the one that uses earlier offers.
    """
    known: dict[Vector, tuple[int, int, tuple[Purchase, ...]]] = {cuts.pieces: (0, 0, ())}
    for item in items_of(offers):
        after = dict(known)
        for left, (cents, number, purchases) in known.items():
            for vector, way in _ways(item, cuts):
                rest = _less(left, vector)
                if rest is not None:
                    new = cents + way.line, number + 1, (*purchases, way)
                    if rest not in after or new[:2] < after[rest][:2]:
                        after[rest] = new
        known = after
    done = known.get((0,) * len(cuts.wants))
    return None if done is None else done[2]


def mixtures_of_cuts(
    items: Sequence[Item], cuts: Cuts, watched: Sequence[str], below: float
) -> dict[Vector, Mapping[tuple[int, ...], tuple[Purchase, ...]]]:
    """Return by what is still to be bought the ways to pay, (paid elsewhere, value of each watched order)."""
    known: dict[Vector, dict[tuple[int, ...], tuple[Purchase, ...]]] = {cuts.pieces: {(0,) * (len(watched) + 1): ()}}
    for item in items:
        place = watched.index(item.supplier) + 1 if item.supplier in watched else 0
        after = {left: dict(ways) for left, ways in known.items()}
        for left, ways in known.items():
            for vector, way in _ways(item, cuts):
                rest = _less(left, vector)
                for spent, purchases in ways.items() if rest is not None else ():
                    if sum(spent) + way.line < below:
                        paid = tuple(v + way.line if i == place else v for i, v in enumerate(spent))
                        after.setdefault(rest or (), {}).setdefault(paid, (*purchases, way))
        known = after
    return dict(known)


def dearest(items: Sequence[Item], want: Want | Cuts) -> dict[str, int]:
    """Return the most that each supplier could be paid for what is wanted."""
    most: dict[str, int] = {}
    for item in items:
        ways = item.useful(want) if isinstance(want, Want) else [way for _, way in _ways(item, want)]
        if ways:
            most[item.supplier] = most.get(item.supplier, 0) + max(way.line for way in ways)
    return most


def needed(want: Want | Cuts, offer: Offer) -> float:
    """Return how much is wanted: pieces, or metres of what an offer sells by the metre."""
    wants = want.wants if isinstance(want, Cuts) else (want,)
    return math.fsum(each.pieces * each.length if by_metre(offer) else each.pieces for each in wants)


def left_of(purchases: Sequence[Purchase], want: Want | Cuts) -> float:
    """Return how many pieces (or metres) purchases give beyond what is wanted; of several faces, whole sheets."""
    if isinstance(want, Want):
        return left_over(purchases, want)
    if all(by_metre(way.offer) for way in purchases):
        return sum(way.packs * way.offer.pack for way in purchases) - needed(want, purchases[0].offer)
    sheets = math.fsum(way.packs * (1.0 if way.offer.sold_by == "reel" else way.offer.pack) for way in purchases)
    units = units_for(purchases[0].offer, want.pieces, want)
    return max(sheets - (units or 0), 0.0)
