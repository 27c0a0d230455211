"""The record of a proof: how far the objective is proven, and what is known of other builds."""

import math

from optimise.model.floors import Floors
from optimise.model.house import Terms
from optimise.model.light import HAIR
from optimise.model.search import Proof
from optimise.report.record_parts import RecordModel, short


class ShopRecord(RecordModel):
    """What builds cost at least that are bought on some terms: without some suppliers, surely from others."""

    without: list[str]
    paid: list[str]
    free: list[str]
    orders: int
    least: float


class FloorsRecord(RecordModel):
    """What other builds come to at least, for a search at other prices: in cents, mg or W, as the objective has it.

    `emitters` has the goods of builds with one kind of emitter, by its code; `shops` the cents at the door.
    """

    emitters: dict[str, float]
    shops: list[ShopRecord]


class ProofRecord(RecordModel):
    """How far the objective is proven, and at what effort; `floors` where it says more of other builds."""

    bound: float | None
    gap: float | None
    rounds: int
    columns: int
    kept: int
    seconds: float
    floors: FloorsRecord | None = None


def proof_record(proof: Proof) -> ProofRecord:
    """Return the record of a proof."""
    return ProofRecord(
        bound=None if proof.bound is None else short(proof.bound),
        gap=None if proof.gap is None else short(proof.gap),
        rounds=proof.rounds,
        columns=proof.columns,
        kept=proof.kept,
        seconds=round(proof.seconds, 3),
        floors=None if proof.floors is None else floors_record(proof.floors),
    )


def floors_record(floors: Floors) -> FloorsRecord:
    """Return the record of what builds come to at least."""
    shops = [
        ShopRecord(
            without=sorted(shop.out), paid=sorted(shop.paid), free=sorted(shop.free), orders=shop.orders, least=least
        )
        for shop, least in floors.shops.items()
        if math.isfinite(least)
    ]
    return FloorsRecord(
        # A hair less is never too much.
        emitters={code: short(low * (1 - HAIR)) for code, low in floors.emitters.items() if math.isfinite(low)},
        shops=sorted(shops, key=lambda shop: (shop.without, shop.paid, shop.free, shop.orders)),
    )


def floors_of(record: FloorsRecord) -> Floors:
    """Return what a record says builds come to at least."""
    shops = {
        Terms(frozenset(shop.without), frozenset(shop.paid), frozenset(shop.free), shop.orders): shop.least
        for shop in record.shops
    }
    return Floors(record.emitters, shops)
