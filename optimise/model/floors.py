"""What builds come to at least, as far as a search has proven it: it holds wherever nothing is easier to buy."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from optimise.model.house import Terms
from optimise.model.market import Market


@dataclass(frozen=True)
class Floors:
    """By the figure that was made least, in cents, mg or W."""

    emitters: Mapping[str, float]
    """What the goods of builds with one kind of emitter, by its code, come to at least."""
    shops: Mapping[Terms, float]
    """What builds of a shop cost at the door at least, cents."""


def told_of(floors: Mapping[tuple[str, Any], float], market: Market, scale: str) -> Floors:
    """Return what a search on a market found out that made a figure least."""
    codes = [emitter.part for emitter in market.parts.emitters]
    mine = {what: low for (name, what), low in floors.items() if name == scale}
    # A line past the kinds of emitter is a mixture.
    lines = {codes[what]: low for what, low in mine.items() if isinstance(what, int) and what < len(codes)}
    return Floors(dict(sorted(lines.items())), {what: low for what, low in mine.items() if not isinstance(what, int)})


def known_in(floors: Floors, market: Market, scale: str) -> dict[tuple[str, Any], float]:
    """Return the same for a search on another market."""
    places = {emitter.part: place for place, emitter in enumerate(market.parts.emitters)}
    known: dict[tuple[str, Any], float] = {
        (scale, places[code]): low for code, low in floors.emitters.items() if code in places
    }
    return known | {(scale, shop): low for shop, low in floors.shops.items()}
