"""A world so small that all of its builds are looked at in a moment, by the exact check. All parts are invented."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from itertools import product

from plain_parts import EMITTER, SHEETS, asking, catalogue

from optimise.model.choice import ChannelChoice, Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.parts import Catalogue, Offer, Supplier
from optimise.scenario import Scenario

PRICES = {
    "e": 300,
    "f": 200,
    "d": 900,
    "g": 700,
    "p": 1500,
    "cloth": 400,
    "film": 800,
    "b": 4000,
    "c": 150,
    "f10": 100,
    "f5": 100,
    "k": 250,
}
SCENARIO = asking(
    light={"illuminance": 500.0},
    look={"diffused": True},
    power={"runtime": 3600.0},
    limits={"mount": False},
    search={"drive_step": 0.5},
)


def priced(parts: Catalogue, prices: Mapping[str, int]) -> Catalogue:
    """Return a catalogue in which each part is sold singly, by one supplier, at so many cents (cable by the metre)."""
    cables = {cable.part for cable in parts.cables}
    offers = {
        code: (Offer(part=code, supplier="s", price=price, pack=1.0, sold_by="length" if code in cables else "each"),)
        for code, price in sorted(prices.items())
    }
    return replace(parts, offers=offers, suppliers=(Supplier(supplier="s"),))


def world(prices: Mapping[str, int] = PRICES) -> Catalogue:
    """Return two emitters, two drivers of one current, a board, two sheets, and two fuses of one price.

    A driver has one string of one or two pieces, for no piece runs at half of its current.
    """
    parts = catalogue(EMITTER)
    driver, fuse = parts.drivers[0], parts.fuses[0]
    piece = EMITTER.model_copy(update={"beam": 120.0, "heat_fraction": 0.6, "current_min": 0.3})
    driver = driver.model_copy(update={"output_max": 25.0, "power_max": 13.0})
    return priced(
        replace(
            parts,
            emitters=(
                piece.model_copy(update={"flux_per_kelvin": -0.002}),
                piece.model_copy(update={"part": "f", "flux": 700.0, "mass": 0.015}),
            ),
            drivers=(driver, driver.model_copy(update={"part": "g", "efficiency": 0.8, "mass": 0.15})),
            panels=parts.panels[:1],
            diffusers=SHEETS,
            fuses=tuple(
                fuse.model_copy(update={"part": f"f{amperes}", "rating": float(amperes)}) for amperes in (10, 5)
            ),
        ),
        prices,
    )


def every_choice(parts: Catalogue, most: int = 2) -> Iterator[Choice]:
    """Yield every choice of this world with so many drivers at the most.

    As many pieces on more drivers cost, weigh and draw more; and more than four pieces are never needed.
    """
    kinds = [(driver.part, series) for driver in parts.drivers for series in (1, 2)]
    numbers = [some for some in product(range(most + 1), repeat=len(kinds)) if 0 < sum(some) <= most]
    for emitter, some, panel, sheet, fuse in product(
        parts.emitters, numbers, parts.panels, parts.diffusers, parts.fuses
    ):
        channels = tuple(
            ChannelChoice(driver, series, 1, 0.5, number)
            for (driver, series), number in zip(kinds, some, strict=True)
            if number
        )
        yield Choice(emitter.part, channels, panel.part, sheet.part, "b", 1, 1, "c", fuse.part, "k", None)


@cache
def all_builds() -> tuple[Evaluation, ...]:
    """Return all builds of the world that pass."""
    parts = world()
    found = (evaluate(choice, parts, SCENARIO) for choice in every_choice(parts))
    return tuple(build for build in found if build.passes)


def scenario(**limits: object) -> Scenario:
    return SCENARIO.model_copy(update={"limits": SCENARIO.limits.model_copy(update=limits)})
