"""What a piece costs at the very least where others are bought with it: prices for bounds, never more than is paid.

A light of a kit is searched by itself at these prices. What it comes to bounds its share of any kit.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimise.columns.dearer import Offers
from optimise.model.pieces import per_pack
from optimise.parts import Catalogue, Offer, Panel
from optimise.parts.buying import OWN, Want, allowed_offers, each_of, items_of, price_of
from optimise.scenario import KitLight, Scenario


def usable_offers(catalogue: Catalogue, scenario: Scenario) -> Offers:
    """Return the offers by part that a scenario lets in."""
    limit, day = scenario.limits, scenario.buying.date
    return {
        part: kept
        for part, rows in catalogue.offers.items()
        if (kept := allowed_offers(rows, limit.suppliers, limit.deadline, day))
    }


def at_least(catalogue: Catalogue, offers: Offers, scenario: Scenario, entry: KitLight) -> Catalogue:
    """Return a catalogue with bounds below what a light of a kit pays for each part, by the piece."""
    lights = sum(light.count for light in scenario.kit)
    lengths = {light.job.power.lead_length for light in scenario.kit}
    kerf = scenario.buying.kerf
    priced: dict[str, tuple[Offer, ...]] = {}

    def alone(part: str, price: float | None) -> None:
        if price is not None:
            priced[part] = (_piece(part, OWN, price, None),)

    many = [Want(emitter.part, 1, emitter.length) for emitter in catalogue.emitters]
    many += [Want(part.part, 1) for part in (*catalogue.drivers, *catalogue.batteries)]
    for want in many:
        pieces = tuple(_pieces(offers.get(want.part, ()), want, entry.count))
        if pieces:
            priced[want.part] = pieces
    for panel in catalogue.panels:
        want = Want(panel.part, 1, size=(panel.width, panel.height), kerf=kerf)
        alone(panel.part, _shared(offers.get(panel.part, ()), want, lights))
    for cable in catalogue.cables:
        rows, want = offers.get(cable.part, ()), Want(cable.part, 1, entry.job.power.lead_length)
        alone(cable.part, _shared(rows, want, lights) if len(lengths) == 1 else _by_the_metre(rows, want))
    for each in (*catalogue.fuses, *catalogue.connectors, *catalogue.mounts):
        alone(each.part, _shared(offers.get(each.part, ()), Want(each.part, 1), lights))
    for diffuser in catalogue.diffusers:
        sheet = diffuser.width, diffuser.height
        most = max((_faces(sheet, panel, kerf) for panel in catalogue.panels), default=1)
        rows = offers.get(diffuser.part, ())
        alone(diffuser.part, _shared(rows, Want(diffuser.part, 1), lights, max(most, 1)))
    return replace(catalogue, offers=priced, suppliers=())


def for_bounds(scenario: Scenario, entry: KitLight, *, power_counts: bool) -> Scenario:
    """Return the job of a light at these prices: what is on offer is settled, and the kit's limits are caps."""
    limits = {"suppliers": None, "deadline": None}
    if power_counts and entry.job.limits.power is None:
        # Losses in leads tell supplies apart as soon as power is limited at all.
        limits["power"] = 1e9  # type: ignore[assignment]
    buying = entry.job.buying.model_copy(update={"date": None})
    changed = {"limits": entry.job.limits.model_copy(update=limits), "buying": buying, "search": scenario.search}
    return entry.job.model_copy(update=changed)


def _piece(part: str, supplier: str, price: float, stock: int | None) -> Offer:
    return Offer(part=part, supplier=supplier, price=math.floor(price + 1e-9), pack=1.0, stock=stock, sold_by="each")


def _pieces(offers: Sequence[Offer], want: Want, copies: int) -> Iterator[Offer]:
    """Yield the least that a piece of each item costs; of what is in stock each copy has its share."""
    for number, item in enumerate(items_of(offers)):
        each = per_pack(item.tiers[0], want)
        if each < 1e-6 or item.most == 0:
            continue
        price = min(tier.price for tier in item.tiers) / each
        stock = None if item.most is None else math.ceil(item.most * each / copies)
        # A name for each item: what one supplier sells by the piece would else be one item with price breaks.
        yield _piece(want.part, f"item-{number}", price, stock)


def _shared(offers: Sequence[Offer], want: Want, lights: int, most: int = 1) -> float | None:
    """Return the least that one of up to so many pieces costs, of which one as sold gives `most` at the most."""
    prices = [
        price / number
        for number in range(1, lights + 1)
        if (price := price_of(offers, replace(want, pieces=-(-number // most)))) is not None
    ]
    return min(prices, default=None)


def _by_the_metre(offers: Sequence[Offer], want: Want) -> float | None:
    """Return what the least price of a metre makes of a length; of what is sold by the piece, a piece."""
    prices = [
        tier.price / per_pack(tier, want) if tier.sold_by == "each" else tier.price * want.length / tier.pack
        for item in items_of(offers)
        for tier in item.tiers
        if tier.sold_by in {"length", "reel", "each"}
    ]
    return min(prices, default=None)


def _faces(sheet: tuple[float, float], panel: Panel, kerf: float) -> int:
    face = Want(panel.part, 1, size=(panel.width, panel.height), sheet=sheet, kerf=kerf)
    return each_of(Offer(part=panel.part, supplier=OWN, price=0, pack=1.0, sold_by="each"), face)
