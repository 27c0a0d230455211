"""Random offers of a few parts, suppliers who charge, and what is wanted."""

from random import Random

from optimise.parts.buying import Want
from optimise.parts.offers import Offer, Supplier


def offer(part: str, supplier: str, price: int, **rest: object) -> Offer:
    return Offer.model_validate({"part": part, "supplier": supplier, "price": price, **rest})


NAMES = ("north", "south", "west", "own")


def random_shops(rng: Random) -> tuple[dict[str, list[Offer]], dict[str, Supplier], list[Want], int | None]:
    parts = [f"P{i}" for i in range(rng.randint(1, 5))]
    offers: dict[str, list[Offer]] = {}
    for part in parts:
        base = rng.randint(50, 1500)
        rows = []
        for supplier in rng.sample(NAMES, rng.randint(1, 3)):
            pack = rng.choice([1.0, 1.0, 2.0, 5.0])
            price = 0 if supplier == "own" else int(base * pack * rng.uniform(0.7, 1.3))
            stock = rng.choice([None, None, 4.0, 10.0]) if supplier != "own" else float(rng.randint(1, 3))
            rows.append(offer(part, supplier, price, pack=pack, stock=stock))
            if rng.random() < 0.3 and supplier != "own":
                cut = int(price * rng.uniform(0.5, 0.95))
                rows.append(offer(part, supplier, cut, pack=pack, stock=stock, quantity_min=float(rng.randint(2, 6))))
        offers[part] = rows
    sellers = {
        name: Supplier(
            supplier=name,
            delivery=rng.choice([0, rng.randint(50, 900)]),
            delivery_free_over=rng.choice([None, rng.randint(200, 6000)]),
            order_min=rng.choice([0, 0, rng.randint(100, 3000)]),
        )
        for name in NAMES[:3]
        if rng.random() < 0.9
    }
    wants = [Want(part, rng.choice([1, 1, 2, 5])) for part in parts]
    return offers, sellers, wants, rng.choice([None, None, 1, 2])
