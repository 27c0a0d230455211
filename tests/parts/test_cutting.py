"""Pieces in several lengths or sizes off one part, against looking at every way (invented parts)."""

from itertools import product
from random import Random

import pytest

from optimise.parts import Offer
from optimise.parts.buying import Want, cheapest
from optimise.parts.cutting import Cuts, cheapest_cuts, gathered, left_of, needed, reels_for


def offer(price: int, pack: float, sold_by: str, supplier: str = "ashgrove", **more: object) -> Offer:
    return Offer.model_validate(
        {"part": "FLEX", "supplier": supplier, "price": price, "pack": pack, "sold_by": sold_by, **more}
    )


def leads(*lengths: float) -> Want | Cuts:
    return gathered([Want("FLEX", 1, length) for length in lengths])[0]


def fewest_reels(lengths: tuple[float, ...], reel: float) -> int | None:
    """Return the fewest reels by every way to give each length a reel."""
    if any(length > reel for length in lengths):
        return None
    for number in range(len(lengths) + 1):
        for which in product(range(number), repeat=len(lengths)):
            cut = [sum(x for x, w in zip(lengths, which, strict=True) if w == i) for i in range(number)]
            if all(metres <= reel * (1 + 1e-9) for metres in cut):
                return number
    return None


@pytest.mark.parametrize("number", range(40))
def test_reels_are_as_few_as_can_be(number: int) -> None:
    rng = Random(number)
    lengths = tuple(
        sorted((rng.choice([1.0, 1.5, 2.0, 2.5, 3.0, 4.0]) for _ in range(rng.randint(1, 5))), reverse=True)
    )
    assert reels_for(lengths, 5.0) == fewest_reels(lengths, 5.0)
    assert reels_for((6.0, *lengths), 5.0) is None


def least(offers: list[Offer], lengths: tuple[float, ...]) -> int | None:
    """Return the least cents by every way to give each piece an offer, and every number of packs of it."""
    best: int | None = None
    for which in product(range(len(offers)), repeat=len(lengths)):
        total = 0
        for place, row in enumerate(offers):
            mine = tuple(sorted((x for x, w in zip(lengths, which, strict=True) if w == place), reverse=True))
            if not mine:
                continue
            reels = fewest_reels(mine, row.pack) if row.sold_by == "reel" else None
            packs = 0
            for packs in range(1, 60):
                metres = packs * row.pack
                enough = metres >= sum(mine) * (1 - 1e-9) if row.sold_by == "length" else (reels or 99) <= packs
                if enough and metres >= row.quantity_min:
                    break
            if (row.stock is not None and packs * row.pack > row.stock * (1 + 1e-9)) or packs == 59:
                break
            total += packs * row.price
        else:
            best = total if best is None else min(best, total)
    return best


@pytest.mark.parametrize("number", range(60))
def test_lengths_off_rolls_and_reels_cost_the_least(number: int) -> None:
    rng = Random(f"cut {number}")
    lengths = tuple(rng.choice([1.0, 2.0, 2.5, 3.5]) for _ in range(rng.randint(2, 4)))
    offers = []
    for supplier in ("ashgrove", "birchway", "own")[: rng.randint(1, 3)]:
        sold_by = rng.choice(["length", "reel"])
        pack = rng.choice([0.5, 1.0]) if sold_by == "length" else rng.choice([3.0, 5.0])
        price = 0 if supplier == "own" else round(rng.uniform(40, 90) * pack)
        stock = rng.choice([None, 4.0, 8.0]) if supplier != "own" else 3.0
        least_metres = rng.choice([0.0, 0.0, 6.0]) if stock is None else 0.0
        offers.append(offer(price, pack, sold_by, supplier, stock=stock, quantity_min=least_metres))
    want = leads(*lengths)
    wanted = least(offers, lengths)
    found = cheapest(offers, want) if isinstance(want, Want) else cheapest_cuts(offers, want)
    assert (None if found is None else sum(way.line for way in found)) == wanted


def test_two_leads_share_a_reel_and_a_roll() -> None:
    want = leads(2.0, 3.0)
    assert isinstance(want, Cuts)
    reel, roll = offer(900, 5.0, "reel"), offer(70, 1.0, "length", "birchway")
    assert cheapest_cuts([reel], want) == cheapest_cuts([reel], leads(3.0, 2.0))  # type: ignore[arg-type]
    assert [way.packs for way in cheapest_cuts([reel], want) or ()] == [1]
    bought = cheapest_cuts([reel, roll], want)
    assert bought is not None
    assert [(way.offer.supplier, way.packs) for way in bought] == [("birchway", 5)]
    assert needed(want, roll) == 5.0
    assert left_of(bought, want) == 0.0


def test_faces_of_two_sizes_come_from_sheets_of_their_own() -> None:
    sheet = (0.6, 0.6)
    wants = [Want("FLEX", 1, size=(0.3, 0.3), sheet=sheet)] * 3 + [Want("FLEX", 1, size=(0.5, 0.5), sheet=sheet)]
    cuts = gathered(wants)[0]
    assert isinstance(cuts, Cuts)
    assert cuts.pieces == (3, 1)
    bought = cheapest_cuts([offer(800, 1.0, "each")], cuts)
    assert bought is not None
    assert [way.packs for way in bought] == [2]


def test_equal_pieces_are_one_want() -> None:
    assert leads(2.0, 2.0) == Want("FLEX", 2, 2.0)
