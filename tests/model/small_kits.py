"""Kits of two lights of so few parts that every build of each is looked at by the exact check. All are invented."""

import itertools
from dataclasses import replace

import plain_parts
import priced_parts
from kits import kit_of

from optimise.model.choice import ChannelChoice, Choice, Evaluation
from optimise.model.exact import evaluate
from optimise.parts import Catalogue
from optimise.scenario import Scenario

WAYS = (("d", 1), ("d2", 1), ("d2", 2))
"""Drivers with the emitters that each may have in a string."""


def few_parts() -> Catalogue:
    """Return two emitters, drivers and batteries, and one of all else: at most two emitters hang on a driver."""
    parts = priced_parts.parts()
    small = parts.drivers[0].model_copy(update={"power_max": 8.0, "output_max": 15.0})
    large = parts.drivers[1].model_copy(update={"power_max": 15.0, "output_max": 30.0})
    return replace(
        parts,
        drivers=(small, large),
        panels=parts.panels[:1],
        diffusers=(),
        cables=parts.cables[:1],
        fuses=parts.fuses[:1],
        mounts=parts.mounts[:1],
    )


TRADED = {**priced_parts.PRICES, "b": 2000, "b2": 3300}
"""Prices at which the lighter battery is the dearer one, so that no light is the best by cost and by mass."""


def traded() -> Catalogue:
    """Return the few parts at those prices."""
    return replace(few_parts(), offers=priced_parts.offers_of(TRADED))


def job(lux: float = 6000.0) -> Scenario:
    return plain_parts.SCENARIO.model_copy(update={"light": plain_parts.SCENARIO.light.asking(lux)})


def kit(*lights: tuple[float, int], **limits: object) -> Scenario:
    """Return a kit of so many times 6000 lx each, so many equal ones, with limits on all of it."""
    asked = kit_of(job(), lights)
    return asked.model_copy(update={"limits": asked.limits.model_copy(update=limits)})


def builds(catalogue: Catalogue, scenario: Scenario, most: int = 3) -> list[Evaluation]:
    """Return every build of up to so many emitters and one battery that passes the exact check, as goods alone cost."""
    found = []
    for emitter, battery in itertools.product(catalogue.emitters, catalogue.batteries):
        for numbers in itertools.product(range(most + 1), repeat=len(WAYS)):
            channels = [
                ChannelChoice(driver, string, 1, 0.5, number)
                for number, (driver, string) in zip(numbers, WAYS, strict=True)
                if number
            ]
            if 0 < sum(channel.emitters for channel in channels) <= most:
                found.append(
                    Choice(
                        *(emitter.part, tuple(sorted(channels)), "p", None, battery.part, 1, 1),
                        *("c", "f", "k", "m"),
                    )
                )
    plain = replace(catalogue, suppliers=())
    return [each for each in (evaluate(choice, plain, scenario) for choice in found) if each.passes]
