"""What a build must use of the one part that has become cheaper, to be better than the earlier best one.

The earlier build A was the cheapest. Another one, B, was no cheaper, so to win it must save more by the new prices than
A does; where it saves as much, it costs no less now than A, and would have been the better one before. What B saves at
the door is no more than what its goods save: of what is paid less for goods, an order passes on all at most
(`parts.basket`). So the number of pieces that can save more than A bounds B from below, and where B cannot have so
many, there is no B.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from optimise.model.exact import want_of
from optimise.parts import Cable, Connector, Diffuser, Fuse, Mount, Offer, Panel
from optimise.parts.buying import OWN, Item, Want, items_of, shelf_of
from optimise.parts.part import Part
from optimise.scenario import Scenario

ONE = (Panel, Cable, Fuse, Connector, Mount)
"""Kinds of which a build has one, or none."""

MANY = 200
"""Pieces up to which the number is looked for."""


def least_number(
    part: Part, scenario: Scenario, before: Sequence[Offer], now: Sequence[Offer], saved: int
) -> int | None:
    """Return how many pieces of a part a better build uses at least; None where there is no better one.

    before, now: the offers of the part that the scenario lets in; saved: what the earlier build costs less now, cents.
    """
    if isinstance(part, Diffuser):
        return 1  # faces differ in size from build to build
    most = 1 if isinstance(part, ONE) else MANY
    for pieces in range(1, most + 1):
        if most_saved(want_of(part, pieces, scenario), before, now) > saved:
            return pieces
    return None if most == 1 else most


def most_saved(want: Want, before: Sequence[Offer], now: Sequence[Offer]) -> float:
    """Return the most cents that buying pieces of one part can save by new offers.

    Infinite where that is not known, −infinite where so many cannot be had. What is in the drawer is used first: it is
    free. Nothing is bought of an item where the others do without.
    """
    known, items = {shelf_of(item.tiers[0]): item for item in items_of(before)}, items_of(now)
    if [offer for offer in before if offer.supplier == OWN] != [offer for offer in now if offer.supplier == OWN]:
        return math.inf
    wanted = max(want.pieces - sum(_all_of(item, want) for item in items if item.supplier == OWN), 0)
    most = {0: 0.0}
    for item in items if wanted else ():
        if item.supplier == OWN:
            continue
        old = known.get(shelf_of(item.tiers[0]))
        for given, saved in dict(most).items():
            for way in item.useful(replace(want, pieces=wanted - given)) if given < wanted else ():
                then = None if old is None else old.purchase(way.packs)
                fall = math.inf if then is None else max(then.line - way.line, 0)
                total = min(given + item.pieces(way.packs, want), wanted)
                most[total] = max(most.get(total, -math.inf), saved + fall)
    return most.get(wanted, -math.inf)


def _all_of(item: Item, want: Want) -> int:
    """Return how many pieces the drawer gives: none where less is in it than is to be taken at least."""
    packs = 0 if item.most is None or item.purchase(item.most) is None else item.most
    return item.pieces(packs, want)
