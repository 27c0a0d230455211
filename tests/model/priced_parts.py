"""The plain parts, two of most kinds, with mounts, and prices for all of them. All are invented."""

from collections.abc import Mapping
from dataclasses import replace

import plain_parts
from random_shops import offer

from optimise.parts import Catalogue, Mount, Offer

PRICES = {"e": 900, "e2": 1100, "d": 800, "d2": 950, "p": 700, "t": 650, "cloth": 400, "film": 600}
PRICES |= {"b": 3000, "b2": 2500, "c": 15, "c2": 10, "f": 90, "f2": 80, "k": 120, "m": 500}
"""Cents of a piece, a sheet, or 0.1 m of cable."""
BY_LENGTH: Mapping[str, object] = {"sold_by": "length", "pack": 0.1}


def offers_of(prices: Mapping[str, int], supplier: str = "north") -> dict[str, tuple[Offer, ...]]:
    """Return an offer of each part by the piece, of cables in steps of 0.1 m."""
    return {
        code: (offer(code, supplier, price, **(BY_LENGTH if code in ("c", "c2") else {})),)
        for code, price in prices.items()
    }


def parts() -> Catalogue:
    """Return the catalogue: of two of a kind the second is another one in a figure or two."""
    plain = plain_parts.catalogue(plain_parts.EMITTER)
    emitter, driver, battery = plain.emitters[0], plain.drivers[0], plain.batteries[0]
    cable, fuse = plain.cables[0], plain.fuses[0]
    return replace(
        plain,
        emitters=(emitter, emitter.model_copy(update={"part": "e2", "flux": 1300.0, "mass": 0.03})),
        drivers=(driver, driver.model_copy(update={"part": "d2", "power_max": 60.0, "output_max": 60.0, "mass": 0.15})),
        batteries=(battery, battery.model_copy(update={"part": "b2", "capacity": 18000.0, "mass": 0.6})),
        cables=(
            cable,
            cable.model_copy(update={"part": "c2", "area": 1.0e-6, "rating": 10.0, "mass_per_length": 0.07}),
        ),
        fuses=(fuse, fuse.model_copy(update={"part": "f2", "rating": 5.0})),
        mounts=(Mount(part="m", load=5.0, mass=0.2), Mount(part="m2", load=2.0, mass=0.1)),
        offers=offers_of(PRICES),
    )
