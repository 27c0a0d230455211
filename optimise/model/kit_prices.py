"""What a piece costs at the very least where others are bought with it: prices for bounds, never more than is paid.

A light of a kit is searched by itself at these prices. What it comes to bounds its share of any kit.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimise.columns.dearer import Offers
from optimise.model.pieces import per_pack
from optimise.parts import Catalogue, Offer, Panel
from optimise.parts.buying import OWN, Want, each_of, items_of, price_of
from optimise.scenario import KitLight, Scenario


def of_suppliers(offers: Offers, names: Collection[str]) -> dict[str, tuple[Offer, ...]]:
    """Return by part the offers of these suppliers; no part without any."""
    kept = {part: tuple(offer for offer in rows if offer.supplier in names) for part, rows in offers.items()}
    return {part: rows for part, rows in kept.items() if rows}


@dataclass(frozen=True)
class Bounds:
    """Prices for each light of a kit that are never more than it pays, but for a credit of the whole kit, cents."""

    catalogues: tuple[Catalogue, ...]
    credit: float


def at_least(catalogue: Catalogue, offers: Offers, scenario: Scenario, credited: Collection[str]) -> Bounds:
    """Return bounds below what the lights of a kit pay for each part, by the piece.

    What all lights come to at these prices, less the credit, is never more than the kit costs. credited: parts that
    count at what one more of them costs, less a credit for the whole kit, rather than at their least: a drawer with
    one handle makes none of three handles free, each counts at the shop's price, and one is given back.
    """
    entries = scenario.kit
    lights = sum(entry.count for entry in entries)
    lengths = {entry.job.power.lead_length for entry in entries}
    kerf = scenario.buying.kerf
    given_back = 0.0
    sheets = max(entry.job.look.sheets_max for entry in entries)
    common: dict[str, tuple[Offer, ...]] = {}

    def singles(wants: Iterable[tuple[Want, int]], each: int = 1) -> None:
        nonlocal given_back
        back: list[float] = []
        for want, most in wants:
            known = _line_below(offers.get(want.part, ()), want, each * lights, most, last=want.part in credited)
            if known is not None:
                common[want.part] = (_piece(want.part, known[0]),)
                back.append(known[1])
        # Each entry has so many parts of a kind at most.
        given_back += sum(sorted(back)[-each * len(entries) :])

    singles((Want(p.part, 1, size=(p.width, p.height), kerf=kerf), 1) for p in catalogue.panels)
    for kind in (catalogue.fuses, catalogue.connectors, catalogue.mounts):
        singles((Want(part.part, 1), 1) for part in kind)
    for diffuser in catalogue.diffusers:
        sheet = diffuser.width, diffuser.height
        most = max((_faces(sheet, panel, kerf) for panel in catalogue.panels), default=1)
        singles([(Want(diffuser.part, 1), max(most, 1))], sheets)
    if len(lengths) == 1:
        singles((Want(cable.part, 1, min(lengths)), 1) for cable in catalogue.cables)
    metres = {cable.part: Want(cable.part, 1, 1.0) for cable in catalogue.cables} if len(lengths) > 1 else {}
    many = [Want(emitter.part, 1, emitter.length) for emitter in catalogue.emitters]
    many += [Want(part.part, 1) for part in (*catalogue.drivers, *catalogue.batteries)]
    bought: dict[str, float] = {}
    for want in (*many, *metres.values()):
        rows = offers.get(want.part, ())
        own = sum(_stock_of([offer for offer in rows if offer.supplier == OWN], want))
        least = _least_of([offer for offer in rows if offer.supplier != OWN], want)
        if want.part in credited and 0.0 < own < math.inf and least is not None:
            bought[want.part] = least
            given_back += own * least
    catalogues = []
    for entry in entries:
        priced = dict(common)
        for part, metre in metres.items():
            price = bought.get(part, _least_of(offers.get(part, ()), metre))
            if price is not None:
                priced[part] = (_piece(part, price * entry.job.power.lead_length),)
        for want in many:
            price = bought.get(want.part, _least_of(offers.get(want.part, ()), want))
            if price is not None:
                priced[want.part] = (_piece(want.part, price),)
        catalogues.append(replace(catalogue, offers=priced, suppliers=()))
    return Bounds(tuple(catalogues), given_back)


def for_bounds(scenario: Scenario, entry: KitLight, *, power_counts: bool) -> Scenario:
    """Return the job of a light at these prices: what is on offer is settled, and the kit's limits are caps."""
    limits = {"suppliers": None, "deadline": None}
    if power_counts and entry.job.limits.power is None:
        # Losses in leads tell supplies apart as soon as power is limited at all.
        limits["power"] = 1e9  # type: ignore[assignment]
    buying = entry.job.buying.model_copy(update={"date": None})
    changed = {"limits": entry.job.limits.model_copy(update=limits), "buying": buying, "search": scenario.search}
    return entry.job.model_copy(update=changed)


def _piece(part: str, price: float) -> Offer:
    return Offer(part=part, supplier=OWN, price=math.floor(price + 1e-9))


def _stock_of(offers: Sequence[Offer], want: Want) -> Iterator[float]:
    """Yield how many pieces each item has in stock."""
    for item in items_of(offers):
        yield math.inf if item.most is None else item.most * per_pack(item.tiers[0], want)


def _line_below(
    offers: Sequence[Offer], want: Want, lights: int, most: int, *, last: bool
) -> tuple[float, float] | None:
    """Return (price, credit) of a line below what up to so many pieces cost: price × number − credit, never more.

    most: pieces that one as sold gives at the most; last: whether the line is that of the last piece rather than of
    the first. None where there is no piece to be had.
    """
    prices = {0: 0.0}
    for number in range(1, lights + 1):
        price = price_of(offers, replace(want, pieces=-(-number // most)))
        if price is not None:
            prices[number] = float(price)
    if len(prices) == 1:
        return None
    first = min(price / number for number, price in prices.items() if number)
    if not last:
        return first, 0.0
    end = max(prices)
    # Through the last piece, and below all others.
    slope = max((prices[end] - price) / (end - number) for number, price in prices.items() if number < end)
    return slope, max(slope * number - price for number, price in prices.items())


def _least_of(offers: Sequence[Offer], want: Want) -> float | None:
    """Return the least that a piece (or a metre) costs at any item's best."""
    prices: list[float] = []
    for item in items_of(offers):
        for tier in item.tiers:
            each = tier.pack / want.length if tier.sold_by in {"length", "reel"} else per_pack(tier, want)
            if each > 1e-6 and item.most != 0:
                prices.append(tier.price / each)
    return min(prices, default=None)


def _faces(sheet: tuple[float, float], panel: Panel, kerf: float) -> int:
    face = Want(panel.part, 1, size=(panel.width, panel.height), sheet=sheet, kerf=kerf)
    return each_of(Offer(part=panel.part, supplier=OWN, price=0), face)


def with_weight(catalogue: Catalogue, cents_per_gram: float) -> Catalogue:
    """Return a catalogue of bounds in whose prices each gram of a part counts as so many cents.

    What a diffuser or a cable weighs by area or length is left out: a bound stays one without it.
    """
    grams = {
        part.part: part.milligrams / 1e3
        for kind in (
            catalogue.emitters,
            catalogue.drivers,
            catalogue.panels,
            catalogue.batteries,
            catalogue.fuses,
            catalogue.connectors,
            catalogue.mounts,
        )
        for part in kind
    }
    offers = {
        code: tuple(
            offer.model_copy(update={"price": offer.price + math.floor(cents_per_gram * grams.get(code, 0.0))})
            for offer in rows
        )
        for code, rows in catalogue.offers.items()
    }
    return replace(catalogue, offers=offers)
