"""Which offers have moved between two price lists, and how far prices have fallen at most."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimise.parts.buying import shelf_of
from optimise.parts.offers import Offer

Offers = Mapping[str, Sequence[Offer]]
"""Offers by part."""


@dataclass(frozen=True)
class Moved:
    """One offer that has changed; None where it is new, or gone."""

    before: Offer | None
    now: Offer | None

    @property
    def easier(self) -> bool:
        """Whether it may make a build better that uses it: new, cheaper, or more of it."""
        if self.now is None:
            return False
        return self.before is None or self.now.price < self.before.price or self.more

    @property
    def more(self) -> bool:
        """Whether there is more of it, or one may take less."""
        if self.now is None or self.before is None:
            return self.now is not None
        there, then = self.now.stock, self.before.stock
        fewer = self.now.quantity_min < self.before.quantity_min
        return fewer or (then is not None and (there is None or there > then))


def moved(before: Offers, now: Offers) -> list[Moved]:
    """Return the offers that differ, by part and supplier."""
    found: list[Moved] = []
    for part in sorted({*before, *now}):
        if before.get(part) == now.get(part):
            continue
        old, new = _by_shelf(before.get(part, ())), _by_shelf(now.get(part, ()))
        for key in sorted({*old, *new}, key=str):
            found += [Moved(*pair) for pair in _paired(old.get(key, []), new.get(key, [])) if pair[0] != pair[1]]
    return found


def fallen(before: Offers, now: Offers) -> float | None:
    """Return the least that a price is of what it was, at most 1; None where there is something new, or more of it.

    What is bought now for some sum could be bought before for that sum by this share, at most.
    """
    changes = [change for change in moved(before, now) if change.now is not None]
    if any(change.more for change in changes):
        return None
    pairs = [(change.now.price, change.before.price) for change in changes if change.now and change.before]
    return min([1.0, *(now / then for now, then in pairs if then)])


def _by_shelf(offers: Sequence[Offer]) -> dict[tuple[object, ...], list[Offer]]:
    shelves: dict[tuple[object, ...], list[Offer]] = {}
    for offer in offers:
        shelves.setdefault((*shelf_of(offer), offer.quantity_min), []).append(offer)
    return shelves


def _paired(old: Sequence[Offer], new: Sequence[Offer]) -> Iterator[tuple[Offer | None, Offer | None]]:
    for place in range(max(len(old), len(new))):
        yield old[place] if place < len(old) else None, new[place] if place < len(new) else None
